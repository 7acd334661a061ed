// @ts-check
/**
 * Counting on plants: keys, parts, advice, undo.
 * @typedef {import("./app.js").Ctx} Ctx @typedef {import("./app.js").Screen} Screen
 */
import { adviceFor, missedBy, tablesOf } from "./advice.js";
import { button, choice, field, h, write } from "./dom.js";
import { pressFilter, targetOf } from "./keys.js";
import { WHYS, hasCounts, keyOf, partsOf, toggled, untouched } from "./look.js";
import { isFast, leftOut, outlier } from "./walk.js";
import { StorageFull } from "./store.js";

const MODES = /** @type {const} */ (["ten", "present", "more"]);
const CLEAN = 5;
export const COLOURS = ["red", "orange", "yellow", "blue", "white", "pink"];

/** @param {Ctx} ctx @returns {Screen} */
export function count(ctx) {
  const { phone, say } = ctx;
  const view = new Counting(ctx);
  const none = phone.targets.length === 0 ? [h("p.empty", {}, say("phone.no_targets"))] : [];
  const body = [view.head, view.advice, view.tools, view.parts, ...none, view.bands, view.links];
  return { title: say("phone.count"), back: ["stops", say("phone.stops")], body, foot: view.bar, refresh: () => view.refresh() };
}

class Counting {
  /** @param {Ctx} ctx */
  constructor(ctx) {
    this.ctx = ctx;
    /** @type {"one" | "ten" | "present" | "more"} */ this.mode = "one";
    this.filter = pressFilter();
    this.targets = ctx.phone.targets;
    /** @type {any[]} */ this.modes = [];
    /** @type {[string, any][]} */ this.partKeys = [];
    /** @type {Map<string, any>} */ this.figures = new Map();
    this.head = this.makeHead();
    this.advice = h("section.advice", { role: "status", hidden: true });
    this.tools = this.makeTools();
    this.parts = this.makeParts();
    this.bands = h("div.bands", {}, ctx.phone.bands.map((band) => this.makeBand(band)));
    this.links = this.makeLinks();
    this.bar = this.makeBar();
  }

  makeHead() {
    const { phone, names, say } = this.ctx;
    this.plant = h("p.plant");
    this.of = h("p.sub");
    const plantings = phone.plantingsHere();
    const crops = plantings.map((p) => /** @type {[string, string]} */ ([p.id, names.crop(p.crop)]));
    const crop = crops.length > 1
      ? h("label.crop", {}, h("span.vh", {}, say("phone.which_crop")), choice([["", say("phone.which_crop")], ...crops], phone.draft?.planting_id ?? "", (id) => this.change((d) => ({ ...d, planting_id: id || null }))))
      : h("p.sub", {}, plantings.map((p) => [names.crop(p.crop), p.phase && p.phase !== "not_said" ? names.phase(p.phase) : null].filter(Boolean).join(", ")).join(", "));
    return h("section.ph-unit", { "aria-label": say("phone.unit_and_plant") }, h("div", {}, h("h1", {}, names.unit(phone.unit)), crop), h("div", {}, this.plant, this.of));
  }

  makeTools() {
    const { say } = this.ctx;
    this.modes = MODES.map((mode) => button(say(`phone.mode_${mode}`), () => this.turn(mode), "tool", { "aria-pressed": "false" }));
    return h("div.tools", { role: "group", "aria-label": say("phone.modes") }, this.modes);
  }

  makeParts() {
    const { say, names } = this.ctx;
    this.lookedAt = h("p");
    this.partKeys = partsOf(this.targets).map((method) => [method, button(names.part(method), () => this.part(method), "part", { "aria-pressed": "false" })]);
    if (!this.partKeys.length) return h("section.parts");
    return h("section.parts", { "aria-label": say("phone.parts") }, this.lookedAt,
      h("div", { role: "group", "aria-labelledby": "dnc" }, h("span", { id: "dnc" }, say("phone.did_not_check")), this.partKeys.map(([, b]) => b)));
  }

  /** @param {import("./keys.js").Band} band */
  makeBand(band) {
    const { names, say } = this.ctx;
    const keys = band.keys.map((target) => this.makeKey(target, band.keys.filter((t) => t.stage === target.stage).length > 1));
    const good = band.enemy ? h("em", {}, say("phone.beneficial")) : null;
    return h(`section.band${band.keys.length === 1 ? ".half" : ""}${band.enemy ? ".good" : ""}`, {}, h("h2", {}, h("span", {}, names.taxon(band.taxon)), " ", good), h("div.ks", {}, keys));
  }

  /** @param {import("./look.js").Target} target @param {boolean} twice the stage is counted on two parts */
  makeKey(target, twice) {
    const { names, say } = this.ctx;
    const key = keyOf(target);
    const figure = h("span.n");
    const stage = twice ? `${names.stage(target.stage)}, ${names.part(target.method)}` : names.stage(target.stage);
    const on = {
      pointerdown: (/** @type {PointerEvent} */ e) => this.filter.down(e, key) && this.press(key),
      click: (/** @type {MouseEvent} */ e) => this.filter.click(e, key) && this.press(key),
    };
    this.figures.set(key, figure);
    return h("button.key", { type: "button", on, "data-key": key }, h("span.vh", {}, `${names.taxon(target.taxon)}, `), h("span.s", {}, stage),
      h("span.vh", {}, ": "), figure, h("span.vh", {}, `; ${say("phone.add_one")}`));
  }

  makeLinks() {
    const { say, phone } = this.ctx;
    const why = choice(WHYS.map((w) => [w, say(`phone.why_${w}`)]), phone.draft?.why ?? "sample", (w) => this.change((d) => ({ ...d, why: w })));
    const cards = phone.unit.stations.filter((/** @type {any} */ s) => s.kind !== "sensor").length;
    this.why = why;
    const some = this.targets.some((t) => phone.plan.methods[t.method]?.item !== "plant");
    const link = (/** @type {string} */ to, /** @type {string} */ words) => h("a.b", { href: `#/${to}` }, words);
    return h("section.links", { "aria-label": say("phone.more") }, h("label.why", {}, h("span", {}, say("phone.why")), why), link("where", say("phone.where")),
      link("flag", say("phone.flag")), some ? link("parts", say("phone.parts_change")) : null, cards ? link("cards", say("phone.cards_n", { n: cards })) : null, link("note", say("phone.note")), link("sighting", say("phone.sighting")), link("unit-end", say("phone.unit_end")));
  }

  makeBar() {
    const { say } = this.ctx;
    this.undoWhat = h("small");
    this.cleanWhat = h("small");
    this.undo = h("button.b", { type: "button", on: { click: () => this.does(() => this.ctx.phone.undo(), true) } }, say("phone.undo"), " ", this.undoWhat);
    this.clean = h("button.b", { type: "button", on: { click: () => this.cleaned() } }, say("phone.clean", { n: CLEAN }), " ", this.cleanWhat);
    this.next = h("button.b.go", { type: "button", on: { click: () => this.does(() => this.ctx.phone.nextPlant(), true) } }, say("phone.next"), " ", h("small", {}, say("phone.next_note")));
    return h("section.ph-bar", { "aria-label": say("phone.plant") }, this.undo, this.clean, this.next);
  }

  // what is pressed

  /** @param {"ten" | "present" | "more"} mode */
  turn(mode) {
    this.mode = this.mode === mode ? "one" : mode;
    this.refresh();
  }

  /** @param {string} key */
  press(key) {
    const mode = this.mode;
    this.mode = "one";
    if (mode === "more" && (this.ctx.phone.next?.counts[key]?.number ?? null) === null) return this.tell("phone.more_first");
    this.does(() => this.ctx.phone.press(key, mode));
  }

  /** @param {string} method */
  part(method) {
    const { phone } = this.ctx;
    if (phone.next && hasCounts(phone.next, method)) return this.tell("phone.part_has_counts");
    this.change((d) => toggled(d, method));
  }

  cleaned() {
    if (!this.ctx.phone.draft || !untouched(this.ctx.phone.draft)) return this.tell("phone.clean_not");
    this.does(() => this.ctx.phone.clean(CLEAN), true);
  }

  /** @param {(draft: any) => any} how */
  change(how) {
    this.does(() => this.ctx.phone.change(how));
  }

  /** @param {string} key */
  tell(key) {
    this.ctx.told(this.ctx.say(key));
    this.refresh();
  }

  /** @param {() => Promise<unknown>} work @param {boolean} [once] not twice while it runs */
  async does(work, once = false) {
    if (once && this.busy) return;
    this.busy ||= once;
    try {
      await work();
      this.ctx.told(null);
    } catch (no) {
      this.ctx.told(this.ctx.say(no instanceof StorageFull ? "phone.full" : "phone.not_saved"));
      throw no;
    } finally {
      if (once) this.busy = false;
      this.refresh();
    }
  }

  // what is shown

  refresh() {
    const { phone, say, names } = this.ctx;
    const draft = phone.draft;
    if (!draft || !phone.unit) return;
    this.showPlant(draft);
    for (const [key, figure] of this.figures) showFigure(figure, draft.counts[key] ?? null, draft.unchecked.some((m) => key.startsWith(`${m} `)), say);
    MODES.forEach((mode, i) => this.modes[i].setAttribute("aria-pressed", String(this.mode === mode)));
    const examined = this.partKeys.filter(([m]) => !draft.unchecked.includes(m)).map(([m]) => partWords(names, m, draft.items[m] ?? null));
    this.lookedAt.replaceChildren(`${say("phone.looked_at")} `, h("b", {}, examined.join("; ") || say("phone.nothing")));
    for (const [method, b] of this.partKeys) b.setAttribute("aria-pressed", String(draft.unchecked.includes(method)));
    if (this.why.value !== draft.why) this.why.value = draft.why;
    this.showBar(draft);
    this.showAdvice();
  }

  /** @param {import("./look.js").Draft} draft */
  showPlant(draft) {
    const { phone, say } = this.ctx;
    const planned = phone.walk?.body.route.find((/** @type {any} */ r) => r.unit_id === phone.unitId)?.plants ?? null;
    write(this.plant, draft.plants > 1 ? say("phone.plants_to", { from: draft.n, to: draft.n + draft.plants - 1 }) : say("phone.plant_n", { n: draft.n }));
    write(this.of, [planned ? say("phone.of", { n: planned }) : null, draft.on ? say("phone.open_again") : null, draft.why === "sample" ? null : say(`phone.why_${draft.why}`)].filter(Boolean).join(", "));
  }

  /** @param {import("./look.js").Draft} draft */
  showBar(draft) {
    const { phone, say } = this.ctx;
    write(this.undoWhat, undoWords(this.ctx, phone.undoes));
    write(this.cleanWhat, say("phone.clean_note", { from: draft.n, to: draft.n + CLEAN - 1 }));
    this.undo.setAttribute("aria-disabled", String(phone.undoes === null));
    this.clean.setAttribute("aria-disabled", String(!untouched(draft) || draft.on > 0));
  }

  showAdvice() {
    const { phone, say, names } = this.ctx;
    const { each, stop } = adviceFor(this.targets, tablesOf(phone.plan, phone.unit, phone.today()), phone.looks);
    const started = phone.stop?.visit?.body.started_at;
    const fast = started && isFast(phone.looks, started);
    const sure = each.filter((e) => e.advice === "sure_over" || e.advice === "sure_under");
    const going = each.filter((e) => e.advice === "keep_counting");
    const lines = sure.map((e) => say(`phone.${e.advice}`, { pest: pestWords(names, e.target) }));
    if (going.length && sure.length) lines.push(say("phone.keep_counting", { pest: going.map((e) => pestWords(names, e.target)).join(", ") }));
    if (fast) lines.push(say("phone.fast"));
    const text = lines.join("\n");
    if (this.advised === `${stop}${text}`) return;
    this.advised = `${stop}${text}`;
    this.advice.hidden = lines.length === 0;
    this.advice.replaceChildren(h("div", {}, stop ? h("b", {}, say("phone.may_stop")) : null, lines.map((l) => h("span", {}, l))), stop ? h("a", { href: "#/unit-end" }, say("phone.stop_here")) : "");
  }
}

/**
 * A flag's colour; the operation's own words for one stay as they are.
 * @param {Ctx} ctx @param {string} code
 */
export const colourWord = ({ say }, code) => (COLOURS.includes(code) ? say(`phone.colour_${code}`) : code);

/** @param {Ctx["names"]} names @param {import("./look.js").Target} target */
export const pestWords = (names, target) => `${names.taxon(target.taxon)}: ${names.stage(target.stage)}`;

/** @param {Ctx["names"]} names @param {string} method @param {number | null} items */
const partWords = (names, method, items) => (items === null ? names.part(method) : `${names.part(method)} ×${items}`);

/** @param {any} figure @param {import("./look.js").Count | null} count @param {boolean} unchecked @param {Ctx["say"]} say */
function showFigure(figure, count, unchecked, say) {
  const text = count === null ? (unchecked ? "–" : "0") : count.how === "present" ? say("phone.seen") : count.how === "at_least" ? `${count.number}+` : String(count.number);
  write(figure, text);
  figure.className = `n${count === null ? " nil" : ""}${count?.how === "present" ? " word" : ""}`;
}

/** @param {Ctx} ctx @param {any} undoes */
function undoWords({ say, names, phone }, undoes) {
  if (undoes === null) return say("phone.undo_none");
  if (undoes.what === "look") return say("phone.undo_look", { n: undoes.n });
  if (undoes.what === "batch") return say("phone.undo_batch", { from: undoes.n, to: undoes.n + undoes.plants - 1 });
  const target = targetOf(phone.targets, undoes.key);
  const figure = (/** @type {any} */ c) => (c === null ? "0" : c.how === "present" ? say("phone.seen") : c.how === "at_least" ? `${c.number}+` : String(c.number));
  return say("phone.undo_press", { pest: target ? pestWords(names, target) : "", from: figure(undoes.from), to: figure(undoes.to) });
}

/** @param {Ctx} ctx @returns {Screen} */
export function unitEnd(ctx) {
  const { say, phone, names } = ctx;
  const left = leftOut(phone.unit, phone.looks, phone.readings, phone.targets);
  const odd = outlier(phone.looks);
  const unfinished = phone.draft && !untouched(phone.draft);
  const lines = [...left.parts.map((p) => say("phone.left_part", { part: names.part(p.method), n: p.plants })), ...left.cards.map((/** @type {string} */ code) => say("phone.left_card", { code })),
    ...left.flags.map((/** @type {any} */ f) => say("phone.left_flag", { flag: [colourWord(ctx, f.colour), f.reason, f.position].filter(Boolean).join(", ") }))];
  const question = odd ? [h("section.caution", {}, h("p", {}, say("phone.odd", { pest: pestWords(names, /** @type {any} */ (odd)), number: odd.number, next: odd.next })),
    button(say("phone.odd_open"), async () => {
      await phone.openAgain(odd.look);
      ctx.go("count");
    }, "wide"))] : [];
  const half = unfinished ? [h("section.caution", {}, h("p", {}, say("phone.half", { n: phone.draft?.n ?? "" })), button(say("phone.half_write"), async () => {
    await phone.nextPlant();
    ctx.again();
  }, "wide.go"), button(say("phone.half_on"), () => ctx.go("count"), "wide"))] : [];
  const leave = (/** @type {string | null} */ reason) => async () => {
    const nothing = reason !== null && phone.looks.length === 0 && phone.readings.length === 0;
    await (nothing ? phone.skip(/** @type {string} */ (phone.unitId), reason) : phone.leave(reason));
    ctx.go("stops");
  };
  const ends = unfinished ? [] : [...(left.plants || phone.readings.length ? [button(say("phone.unit_done"), leave(null), "wide.go")] : []), h("h2", {}, say("phone.cut_short")),
    h("ul.list.two", {}, ["time", "sign", "wet", "crew", "heat", "other"].map((c) => h("li", {}, button(names.reason(c), leave(c), "wide"))))];
  return { title: say("phone.unit_end"), back: ["count", say("phone.back")],
    body: [h("h1", {}, say("phone.unit_end")), h("p", {}, `${names.unit(phone.unit)} · ${say("phone.plants", { n: left.plants })}`), ...question, ...half,
      lines.length ? h("ul.plain", {}, lines.map((l) => h("li", {}, l))) : h("p", {}, say("phone.left_nothing")), h("div.stack", {}, ends)] };
}

/**
 * How many leaves, flowers ... of each plant are looked at.
 * @param {Ctx} ctx @returns {Screen}
 */
export function parts(ctx) {
  const { say, phone, names } = ctx;
  const methods = partsOf(phone.targets).filter((m) => phone.plan.methods[m]?.item !== "plant");
  const inputs = methods.map((m) => h("input", { inputmode: "numeric", autocomplete: "off", value: phone.draft?.items[m] ?? "" }));
  const save = async () => {
    const typed = inputs.map((i) => (i.value.trim() === "" ? null : Number(i.value)));
    if (typed.some((n) => n !== null && !(Number.isInteger(n) && n > 0))) return ctx.told(say("phone.items_wrong"));
    await phone.change((d) => ({ ...d, items: { ...d.items, ...Object.fromEntries(methods.map((m, i) => [m, typed[i]])) } }));
    ctx.go("count");
  };
  return { title: say("phone.parts_change"), back: ["count", say("phone.back")],
    body: [h("h1", {}, say("phone.parts_title")), h("div.stack", {}, methods.map((m, i) => field(say("phone.items_of", { part: names.part(m) }), inputs[i])), h("p.hint", {}, say("phone.parts_hint")), button(say("phone.save"), save, "wide.go"))] };
}

/** @param {Ctx} ctx @returns {Screen} */
export function where(ctx) {
  const { say, phone, names, locale } = ctx;
  const all = phone.targetsOf(() => true);
  const tables = tablesOf(phone.plan, phone.unit, phone.today());
  const rows = [...new Set(all.map((t) => t.taxon))].map((taxon) => {
    const mine = all.filter((t) => t.taxon === taxon);
    const words = phone.plan.where?.[taxon]?.[locale] ?? [...new Set(mine.map((t) => names.method(t.method)))].join("; ");
    const no = new Set(tables.filter((x) => x.taxon === taxon && x.refused && x.refused !== "not_on_plants").map((x) => say(`phone.refuse_${x.refused}`)));
    return h("li", {}, h("b", {}, names.taxon(taxon)), `: ${[...new Set(mine.map((t) => names.stage(t.stage)))].join(", ")}`, h("p", {}, words),
      no.size ? h("p.hint", {}, say("phone.no_advice", { why: [...no].join("; ") })) : null,
      tables.filter((x) => x.taxon === taxon && missedBy(x)).map((x) => h("p.hint", {}, say("phone.missed", { stage: names.stage(x.stage), ...missedBy(x) }))));
  });
  return { title: say("phone.where"), back: ["count", say("phone.back")], body: [h("h1", {}, say("phone.where")), rows.length ? h("ul.plain", {}, rows) : h("p.empty", {}, say("phone.no_targets"))] };
}
