// @ts-check
/**
 * The walk as a line of stops; leaving one out; the end.
 * @typedef {import("./app.js").Ctx} Ctx @typedef {import("./app.js").Screen} Screen
 */
import { button, choice, field, h, s } from "./dom.js";
import { SKIPS } from "./walk.js";
import { clock, date } from "./words.js";

/** @param {Ctx} ctx @returns {Screen} */
export function stops(ctx) {
  const { say, phone } = ctx;
  const all = phone.stops();
  const left = all.filter((x) => x.state === "todo" && !x.elsewhere);
  const next = all.find((x) => x.state === "open") ?? left.find((x) => !x.shut) ?? null;
  const head = h("section.walkhead", {}, h("h1", {}, `${say("phone.walk")}, ${date(phone.walk?.body.walk_on, ctx.locale)}`),
    h("p", {}, `${phone.shift?.name} · ${say("phone.stops_done", { n: all.length, done: all.length - left.length - all.filter((x) => x.state === "open").length })}`));
  const rows = all.map((stop, i) => row(ctx, stop, i, all.length, stop === next));
  const on = next ? button(say("phone.go_on", { unit: next.unit.name }), () => enter(ctx, next), "b.go")
    : h("a.b.go", { href: "#/walk-end" }, say("phone.end_walk"));
  const foot = h("footer.ph-end", {}, h("a.b", { href: "#/sighting" }, say("phone.sighting")), on);
  const end = next ? [h("p.after", {}, h("a.b", { href: "#/walk-end" }, say("phone.end_walk")))] : [];
  return { title: say("phone.walk"), back: ["walks", say("phone.walks")], body: [head, h("ol.stops", {}, rows), ...end], foot };
}

/** @param {Ctx} ctx @param {any} stop */
async function enter(ctx, stop) {
  if (stop.shut) return ctx.go(`skip/${stop.unit.id}`);
  await ctx.phone.enter(stop.unit.id);
  ctx.go("count");
}

/** @param {Ctx} ctx @param {any} stop @param {number} i @param {number} of @param {boolean} here */
function row(ctx, stop, i, of, here) {
  const { say, names, phone } = ctx;
  const planned = phone.walk?.body.route.find((/** @type {any} */ r) => r.unit_id === stop.unit.id)?.plants ?? null;
  const looked = stop.plants > 0 || stop.state !== "todo";
  const plants = stop.state === "skipped" ? ctx.say("phone.not_looked", { reason: names.reason(stop.visit.body.reason) })
    : looked ? say(planned ? "phone.plants_of" : "phone.plants", { n: stop.plants, of: planned ?? stop.plants }) : planned ? say("phone.plants_due", { n: planned }) : cropOf(ctx, stop.unit);
  const cards = stop.unit.stations.reduce((/** @type {number} */ n, /** @type {any} */ st) => n + st.cards.length, 0);
  const lines = [plants, cards && !looked ? say("phone.cards_n", { n: cards }) : null].filter(Boolean).join(", ");
  const shut = stop.shut ? [h("span.shut", {}, shutWords(ctx, stop.shut)), h("br"), h("em", {}, say("phone.known_at", { time: clock(phone.plan.made_at, phone.plan.operation.zone) }))] : [h("em", {}, lines)];
  const notices = (stop.unit.notices ?? []).map((/** @type {any} */ n) => h("em.notice", {}, noticeWords(ctx, n)));
  const skip = stop.state === "todo" && !stop.elsewhere && !stop.shut ? h("a.skip-one", { href: `#/skip/${stop.unit.id}` }, say("phone.skip")) : null;
  const main = h("button.stop", { type: "button", on: { click: () => enter(ctx, stop) } }, rail(stop, i, of, here), h("span.what", {}, h("b", {}, names.unit(stop.unit)), ...shut, ...notices), h("span.st", {}, stateWord(ctx, stop, here)));
  return h(`li${here ? ".here" : ""}`, {}, main, skip);
}

/** @param {Ctx} ctx @param {any} unit */
const cropOf = (ctx, unit) => unit.plantings.map((/** @type {any} */ p) => ctx.names.crop(p.crop)).join(", ");

/** @param {Ctx} ctx @param {any} shut */
function shutWords(ctx, shut) {
  const { say, phone } = ctx;
  return shut.until ? say("phone.no_entry_until", { time: clock(shut.until, phone.plan.operation.zone) }) : say("phone.no_entry");
}

/**
 * What shuts nothing by itself, and should be known at the door.
 * @param {Ctx} ctx @param {{why: string, at: string}} notice
 */
function noticeWords({ say, phone, locale }, { why, at }) {
  const { zone } = phone.plan.operation;
  const day = new Intl.DateTimeFormat("sv-SE", { timeZone: zone }).format(new Date(at));
  return say(`phone.notice_${why}`, { at: `${date(day, locale)}, ${clock(at, zone)}` });
}

/** @param {Ctx} ctx @param {any} stop @param {boolean} here */
function stateWord({ say }, stop, here) {
  if (stop.elsewhere) return say("phone.s_elsewhere");
  if (stop.state === "open") return say("phone.s_here");
  if (stop.state === "todo") return stop.shut ? say("phone.s_shut") : say(here ? "phone.s_next" : "phone.s_todo");
  return say(`phone.s_${stop.state}`);
}

/**
 * A stop on the line: filled done, ringed here, open to do, a bar across where nobody enters.
 * @param {any} stop @param {number} i @param {number} of @param {boolean} here
 */
function rail(stop, i, of, here) {
  const done = ["done", "cut_short"].includes(stop.state) || stop.elsewhere;
  const line = s("line", { x1: 13, x2: 13, y1: i ? "0" : "50%", y2: i < of - 1 ? "100%" : "50%", class: "rail-line" });
  const mark = stop.shut || stop.state === "skipped" ? s("rect", { x: 0, y: -5, width: 26, height: 10, class: stop.shut ? "full" : "hollow" })
    : here || stop.state === "open" ? s("circle", { cx: 13, r: 10.5, class: "ring" }) : s("circle", { cx: 13, r: 7, class: done ? "full" : "hollow" });
  const node = h("span.rail", {});
  node.append(s("svg", { "aria-hidden": "true" }, line, s("svg", { y: "50%", overflow: "visible" }, mark)));
  return node;
}

/** @param {Ctx} ctx @param {string} unitId @returns {Screen} */
export function skip(ctx, unitId) {
  const { say, phone, names } = ctx;
  const stop = phone.stops().find((x) => x.unit.id === unitId);
  if (!stop) return stops(ctx);
  const shut = stop.shut ? [h("p.caution", {}, h("b", {}, shutWords(ctx, stop.shut)), " ", say("phone.known_at", { time: clock(phone.plan.made_at, phone.plan.operation.zone) }))] : [];
  const reasons = SKIPS.map((code) => h("li", {}, button(names.reason(code), () => skipping(ctx, unitId, code), "wide")));
  return { title: say("phone.skip_why"), back: ["stops", say("phone.stops")],
    body: [h("h1", {}, say("phone.skip_why")), h("p", {}, names.unit(stop.unit)), ...shut, h("ul.list.two", {}, reasons)] };
}

/** @param {Ctx} ctx @param {string} unitId @param {string} code */
async function skipping(ctx, unitId, code) {
  const { say, phone } = ctx;
  if (code !== "another_crop") {
    await phone.skip(unitId, code);
    return ctx.go("stops");
  }
  const crops = Object.keys(phone.plan.crops).sort((a, b) => ctx.names.crop(a).localeCompare(ctx.names.crop(b), ctx.locale));
  const list = choice([["", "–"], ...crops.map((c) => /** @type {[string, string]} */ ([c, ctx.names.crop(c)]))], "");
  const save = (/** @type {boolean} */ count) => async () => {
    if (!list.value) return ctx.told(say("phone.choose_crop"));
    await phone.anotherCrop(unitId, list.value);
    if (!count) await phone.skip(unitId, code);
    else await phone.enter(unitId);
    ctx.go(count ? "count" : "stops");
  };
  document.querySelector("ul.list")?.replaceWith(h("div.stack", {}, h("p", {}, say("phone.another_crop_what")), field(say("phone.crop_now"), list),
    button(say("phone.crop_count"), save(true), "wide.go"), button(say("phone.crop_skip"), save(false), "wide")));
}

/** @param {Ctx} ctx @returns {Screen} */
export function walkEnd(ctx) {
  const { say, phone, names } = ctx;
  const left = phone.stops().filter((x) => ["todo", "open"].includes(x.state) && !x.elsewhere);
  const end = (/** @type {string} */ reason) => async () => {
    await phone.endWalk(reason);
    ctx.go("walks");
  };
  const half = phone.unfinished.map((d) => h("section.caution", {}, h("p", {}, `${names.unit(phone.stops().find((x) => x.unit.id === d.unit_id)?.unit)}. ${say("phone.half", { n: d.n })}`),
    button(say("phone.half_on"), async () => {
      await phone.enter(d.unit_id);
      ctx.go("count");
    }, "wide")));
  const said = half.length ? half : left.length
    ? [h("p", {}, say("phone.left_n", { n: left.length })), h("ul.plain", {}, left.map((x) => h("li", {}, names.unit(x.unit)))), h("h2", {}, say("phone.left_why")),
      h("ul.list.two", {}, SKIPS.filter((c) => c !== "another_crop").map((c) => h("li", {}, button(names.reason(c), end(c), "wide"))))]
    : [h("p", {}, say("phone.left_none")), button(say("phone.end_walk"), end("other"), "wide.go")];
  return { title: say("phone.end_walk"), back: ["stops", say("phone.stops")], body: [h("h1", {}, say("phone.end_walk")), ...said] };
}

