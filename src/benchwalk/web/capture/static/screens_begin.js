// @ts-check
/**
 * Pairing, who takes the phone, and which walk.
 * @typedef {import("./app.js").Ctx} Ctx @typedef {import("./app.js").Screen} Screen
 */
import { button, field, h } from "./dom.js";
import { date } from "./words.js";

/**
 * The code that the address of a pairing's picture holds.
 * @param {string} hash @returns {string | null}
 */
export const codeIn = (hash) => /^#([\w-]{20,})$/.exec(hash)?.[1] ?? null;

/** @param {Ctx} ctx @returns {Screen} */
export function pair(ctx) {
  const { say } = ctx;
  const given = codeIn(location.hash) ?? "";
  const code = h("input", { autocomplete: "off", autocapitalize: "characters", spellcheck: "false", value: given, required: true });
  const label = h("input", { autocomplete: "off", value: say("phone.label_first"), maxlength: 64, required: true });
  const form = h("form.stack", { on: { submit: (/** @type {Event} */ e) => asked(e, ctx, () => pairing(ctx, code.value, label.value)) } },
    field(say("phone.pair_code"), code, say("phone.pair_hint")), field(say("phone.label"), label, say("phone.label_hint")),
    h("button.go.wide", {}, say("phone.pair")));
  return { title: say("phone.pair_title"), back: null, body: [h("h1", {}, say("phone.pair_title")), form, ...settings(ctx)] };
}

/** @param {Ctx} ctx @param {string} code @param {string} label */
async function pairing(ctx, code, label) {
  const { outbox, phone } = ctx;
  const said = await post(ctx, "/api/v1/pair", { code: code.trim(), label: label.trim() }, null);
  // what waits on this phone belongs to the operation it was counted in, and goes to no other
  const { unsent, conflicts, refused } = await outbox.status();
  const operation = unsent + conflicts + refused > 0 ? await outbox.meta("operation") : null;
  await outbox.pair({ token: said.token, device: said.device, operation });
  await outbox.loadPlan();
  await phone.open();
  history.replaceState(null, "", "#/shift");
  ctx.again();
}

/** @param {Ctx} ctx @returns {Screen} */
export function shift(ctx) {
  const { say, phone } = ctx;
  const name = h("input", { autocomplete: "off", autocapitalize: "none", spellcheck: "false", required: true });
  const pin = h("input", { inputmode: "numeric", type: "password", autocomplete: "off", required: true });
  const form = h("form.stack", { on: { submit: (/** @type {Event} */ e) => asked(e, ctx, () => signing(ctx, name.value, pin.value)) } },
    field(say("phone.name"), name), field(say("phone.pin"), pin), h("button.go.wide", {}, say("phone.sign_in")), h("p.hint", {}, say("phone.shift_hint")));
  const others = phone.open_shifts.map((s) => h("li", {}, button(s.name, async () => {
    await phone.handTo(s.person);
    ctx.go("walks");
  }, "wide")));
  const taken = others.length ? [h("h2", {}, say("phone.on_shift")), h("ul.list", {}, others)] : [];
  const back = /** @type {[string, string] | null} */ (phone.shift ? ["phone", say("phone.back")] : null);
  const again = phone.status?.needs === "pin" ? [h("p.told", {}, say("phone.pin_again"))] : [];
  return { title: say("phone.who"), back, body: [h("h1", {}, say("phone.who")), ...again, ...taken, form, ...settings(ctx)] };
}

/** @param {Ctx} ctx @param {string} name @param {string} pin */
async function signing(ctx, name, pin) {
  const { phone, outbox } = ctx;
  const said = await post(ctx, "/api/v1/shift", { name: name.trim(), pin: pin.trim() }, phone.token);
  await phone.signIn(said);
  const plan = await outbox.loadPlan();
  if (plan) phone.plan = plan;
  if (!phone.plan) throw new Error("no plan came");
  ctx.go(phone.walk ? "stops" : "walks");
}

/**
 * Language and light, wherever nobody has signed in yet.
 * @param {Ctx} ctx
 */
export function settings(ctx) {
  const { say, locale, setting } = ctx;
  const dim = ctx.setting_of("theme") === "dim";
  const pick = (/** @type {boolean} */ on) => ({ "aria-pressed": on });
  return [h("h2", {}, say("phone.language")),
    h("div.pair", {}, button("English", () => setting("locale", "en"), "", { lang: "en", ...pick(locale === "en") }),
      button("Español", () => setting("locale", "es"), "", { lang: "es", ...pick(locale === "es") })),
    h("h2", {}, say("phone.light")),
    h("div.pair", {}, button(say("phone.sun"), () => setting("theme", "sun"), "", pick(!dim)), button(say("phone.dim"), () => setting("theme", "dim"), "", pick(dim)))];
}

/**
 * A form sent once; what went wrong is said in words.
 * @param {Event} event @param {Ctx} ctx @param {() => Promise<void>} work
 */
async function asked(event, ctx, work) {
  event.preventDefault();
  const form = /** @type {HTMLFormElement} */ (event.target);
  if (form.dataset.busy) return;
  form.dataset.busy = "yes";
  ctx.told(null);
  try {
    await work();
  } catch (no) {
    ctx.told(no instanceof Refused ? no.message : ctx.say("phone.no_answer"));
  } finally {
    delete form.dataset.busy;
  }
}

class Refused extends Error {}

/** @param {Ctx} ctx @param {string} path @param {any} body @param {string | null} token @returns {Promise<any>} */
async function post(ctx, path, body, token) {
  const headers = { "Content-Type": "application/json", "Accept-Language": ctx.locale, ...(token ? { Authorization: `Bearer ${token}` } : {}) };
  const answer = await ctx.fetch(path, { method: "POST", headers, body: JSON.stringify(body), cache: "no-store", credentials: "omit", redirect: "error" });
  const said = await answer.json();
  if (!answer.ok) throw new Refused(said.message ?? ctx.say("phone.refused", { status: answer.status }));
  return said;
}

/** @param {Ctx} ctx @returns {Screen} */
export function walks(ctx) {
  const { say, phone } = ctx;
  const open = phone.walk;
  const mine = phone.walks().map((walk) => h("li", {}, button(walkName(ctx, walk), async () => {
    await phone.openWalk(walk);
    ctx.go("stops");
  }, walk.id === open?.id ? "wide.go" : "wide")));
  const list = mine.length ? h("ul.list", {}, mine) : h("p.empty", {}, say("phone.no_walk"));
  return { title: say("phone.walks"), back: ["phone", say("phone.this_phone")],
    body: [h("h1", {}, say("phone.walks")), h("p", {}, `${phone.plan.operation.name} · ${date(phone.today(), ctx.locale)} · ${phone.shift?.name}`), list],
    foot: h("footer.ph-end", {}, h("a.b", { href: "#/new-walk" }, say("phone.own_walk"))) };
}

/** @param {Ctx} ctx @param {import("./walk.js").Kept} walk */
function walkName(ctx, walk) {
  const { phone, say } = ctx;
  const units = phone.plan.units.filter((/** @type {any} */ u) => walk.body.route?.some((/** @type {any} */ r) => r.unit_id === u.id));
  const houses = [...new Set(units.map((/** @type {any} */ u) => u.house ?? u.name))].join(", ");
  const who = phone.plan.people.find((/** @type {any} */ p) => p.id === walk.body.scout_id)?.name;
  return [say("phone.walk_of", { where: houses, n: units.length }), who].filter(Boolean).join(" · ");
}

/** @param {Ctx} ctx @returns {Screen} */
export function newWalk(ctx) {
  const { say, phone, names } = ctx;
  const boxes = phone.plan.units.map((/** @type {any} */ u) => h("input", { type: "checkbox", checked: true, value: u.id }));
  const rows = phone.plan.units.map((/** @type {any} */ u, /** @type {number} */ i) => h("li", {}, h("label.check", {}, boxes[i], h("span", {}, names.unit(u)))));
  const all = (/** @type {boolean} */ on) => boxes.forEach((/** @type {any} */ b) => (b.checked = on));
  const start = async () => {
    const units = boxes.filter((/** @type {any} */ b) => b.checked).map((/** @type {any} */ b) => b.value);
    if (!units.length) return ctx.told(say("phone.no_unit_chosen"));
    await phone.beginWalk(units);
    ctx.go("stops");
  };
  return { title: say("phone.own_walk"), back: ["walks", say("phone.back")],
    body: [h("h1", {}, say("phone.own_walk")), h("p", {}, say("phone.own_walk_what")),
      h("div.pair", {}, button(say("phone.all"), () => all(true)), button(say("phone.none"), () => all(false))), h("ul.list", {}, rows)],
    foot: h("footer.ph-end", {}, button(say("phone.start"), start, "b.go")) };
}
