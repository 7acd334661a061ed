// @ts-check
/**
 * This phone: what it has not sent, what was kept aside, who holds it.
 * @typedef {import("./app.js").Ctx} Ctx @typedef {import("./app.js").Screen} Screen
 */
import { button, h } from "./dom.js";
import { settings } from "./screens_begin.js";
import { clock, date } from "./words.js";

const SAID = ["malformed", "unknown_kind", "unknown_person", "missing_reference", "broken_rule", "not_yours", "revoked", "unknown_phone"];

/** @param {Ctx} ctx @returns {Screen} */
export function phoneScreen(ctx) {
  const { say, phone } = ctx;
  const lines = h("ul.plain", {});
  const aside = h("div", {});
  const photos = h("p", {});
  const refresh = () => {
    lines.replaceChildren(...statusLines(ctx).map((text) => h("li", {}, text)));
  };
  showAside(ctx, aside);
  showPhotos(ctx, photos);
  const shift = phone.shift ? [h("p", {}, say("phone.holds", { name: phone.shift.name })), h("div.pair", {}, h("a.b", { href: "#/shift" }, say("phone.another_person")), button(say("phone.end_shift"), async () => {
    await phone.endShift();
    ctx.go("shift");
  }))] : [h("p", {}, h("a.b.wide", { href: "#/shift" }, say("phone.sign_in")))];
  return { title: say("phone.this_phone"), back: phone.walk ? ["stops", say("phone.stops")] : ["walks", say("phone.walks")], refresh,
    body: [h("h1", {}, say("phone.this_phone")), lines, h("div.pair", {}, button(say("phone.try_now"), () => ctx.outbox.wake(), "go"), button(say("phone.file"), () => toFile(ctx))),
      phone.status.needs === "pin" ? h("p", {}, h("a.b.wide", { href: "#/pair" }, say("phone.pair_title"))) : null, photos, aside, h("h2", {}, say("phone.who")), ...shift, ...settings(ctx)] };
}

/** @param {Ctx} ctx */
function statusLines(ctx) {
  const { say, phone, locale } = ctx;
  const { status, plan } = phone;
  const zone = plan?.operation.zone ?? "UTC";
  const at = (/** @type {number} */ ms) => `${date(new Intl.DateTimeFormat("sv-SE", { timeZone: zone }).format(new Date(ms)), locale)}, ${clock(ms, zone)}`;
  const minutes = status.offset_s === null ? 0 : Math.round(Math.abs(status.offset_s) / 60);
  return [say(status.unsent === 1 ? "phone.unsent.one" : "phone.unsent.other", { n: status.unsent }),
    status.unsent ? say("phone.safe") : null,
    status.heard_at ? say("phone.last_sent", { at: at(status.heard_at) }) : say("phone.never_sent"),
    status.warn ? say("phone.warn_day") : null,
    status.needs === "pin" ? say("phone.needs_pin_long") : status.needs === "load" ? say("phone.needs_load") : null,
    plan ? say("phone.plan_of", { at: at(Date.parse(plan.made_at)) }) : null,
    minutes > 1 ? say("phone.clock_off", { n: minutes }) : null,
    say(globalThis.isSecureContext && navigator.serviceWorker?.controller ? "phone.offline_ready" : globalThis.isSecureContext ? "phone.offline_soon" : "phone.wifi_only"),
  ].filter((line) => line !== null);
}

/** @param {Ctx} ctx @param {HTMLElement} box */
async function showAside(ctx, box) {
  const { say, outbox } = ctx;
  const rows = await outbox.keptAside();
  if (!rows.length) return box.replaceChildren();
  const again = (/** @type {any} */ r) => async () => {
    await outbox.offerAgain(r.id, r.rev);
    await showAside(ctx, box);
  };
  const why = (/** @type {any} */ r) => (r.answer === "conflict" ? say("phone.conflict") : say("phone.aside_why", { reason: SAID.includes(r.reason) ? say(`phone.refused_${r.reason}`) : r.reason }));
  box.replaceChildren(h("h2", {}, say("phone.aside_n", { n: rows.length })), h("p", {}, say("phone.aside_what")),
    h("ul.list", {}, rows.map((/** @type {any} */ r) => h("li", {}, h("p", {}, `${say(`phone.kind_${r.kind}`)} · ${why(r)}`), button(say("phone.offer_again"), again(r), "wide")))));
}

/** @param {Ctx} ctx @param {HTMLElement} box */
async function showPhotos({ phone, say }, box) {
  const n = phone.photos ? (await phone.photos.waiting()).length : 0;
  box.textContent = n ? say("phone.photos_left", { n }) : "";
}

/**
 * The outbox as a file; the phone keeps all of it.
 * @param {Ctx} ctx
 */
async function toFile(ctx) {
  const { outbox, phone } = ctx;
  const text = JSON.stringify(await outbox.exportFile());
  const href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  const link = h("a", { href, download: `benchwalk-${phone.instant().slice(0, 16).replaceAll(":", "")}.json` });
  link.click();
  setTimeout(() => URL.revokeObjectURL(href), 60_000);
  ctx.told(ctx.say("phone.file_saved"));
}
