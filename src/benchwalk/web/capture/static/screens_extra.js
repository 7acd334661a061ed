// @ts-check
/**
 * Cards, flags, notes, sightings.
 * @typedef {import("./app.js").Ctx} Ctx @typedef {import("./app.js").Screen} Screen
 */
import { STATES, UNREAD, found, hanging, readingOf, tooOld, wrongSquares } from "./cards.js";
import { button, choice, field, h, write } from "./dom.js";
import { pressFilter } from "./keys.js";
import { said } from "./look.js";
import { COLOURS, colourWord, pestWords } from "./screens_count.js";
import { KINDS, LARGEST } from "./photos.js";
import { clock, date } from "./words.js";

const CAUSES = ["pest", "disease", "abiotic", "spray_injury", "not_known"];

/** @param {Ctx} ctx @param {string} at */
const when = ({ phone, locale }, at) => {
  const { zone } = phone.plan.operation;
  return `${date(new Intl.DateTimeFormat("sv-SE", { timeZone: zone }).format(new Date(at)), locale)}, ${clock(at, zone)}`;
};

/** @param {Ctx} ctx @returns {Screen} */
export function cards(ctx) {
  const { say, phone } = ctx;
  const list = h("ul.list", {});
  const find = h("input", { autocomplete: "off", autocapitalize: "characters", spellcheck: "false", on: { input: () => fill(find.value) } });
  const fill = (/** @type {string} */ typed) => {
    const stations = found(phone.unit.stations, typed);
    list.replaceChildren(...(stations.length ? stations.flatMap((s) => stationRows(ctx, s)) : [h("li", {}, h("p.empty", {}, say("phone.no_card")))]));
  };
  fill("");
  return { title: say("phone.cards"), back: ["count", say("phone.back")], body: [h("h1", {}, say("phone.cards")), field(say("phone.card_code"), find, say("phone.card_code_hint")), list] };
}

/** @param {Ctx} ctx @param {any} station */
function stationRows(ctx, station) {
  const { say, phone, names } = ctx;
  const hangs = hanging(station, phone.of("card"));
  const read = new Set(phone.readings.map((r) => r.body.card_id));
  const rows = hangs.map((card) => h("li", {}, h("a.b.wide", { href: `#/card/${card.id}` }, h("b", {}, station.code), ` ${names.method(card.method)}`,
    h("small", {}, [card.hung_at ? say("phone.hung_at", { at: when(ctx, card.hung_at) }) : null, read.has(card.id) ? say("phone.card_read") : null].filter(Boolean).join(" · ")))));
  return hangs.length ? rows : [h("li", {}, h("p", {}, h("b", {}, station.code), ` ${say("phone.nothing_hangs")}`))];
}

/** @param {Ctx} ctx @param {string} id @returns {Screen} */
export function card(ctx, id) {
  const { phone } = ctx;
  const here = phone.unit.stations.flatMap((/** @type {any} */ station) => hanging(station, phone.of("card")).map((c) => ({ station, card: c }))).find((/** @type {any} */ x) => x.card.id === id);
  return here ? new Reading(ctx, here.station, here.card).screen() : cards(ctx);
}

class Reading {
  /** @param {Ctx} ctx @param {any} station @param {import("./cards.js").Hanging} card */
  constructor(ctx, station, card) {
    this.ctx = ctx;
    this.station = station;
    this.card = card;
    this.method = ctx.phone.plan.methods[card.method] ?? {};
    this.old = tooOld(card, this.method, ctx.phone.at());
    this.targets = ctx.phone.targetsOf((m) => m === this.method);
    /** @type {Record<string, import("./look.js").Count>} */ this.counts = {};
    this.state = "ok";
    /** @type {any[]} */ this.states = [];
    this.filter = pressFilter();
    this.saved = ctx.phone.readings.find((r) => r.body.card_id === card.id) ?? null;
  }

  screen() {
    const { say, names } = this.ctx;
    const title = `${this.station.code} · ${names.method(this.card.method)}`;
    const hung = h("p", {}, this.card.hung_at ? say("phone.hung_at", { at: when(this.ctx, this.card.hung_at) }) : say("phone.hung_unknown"));
    const body = this.old === null ? this.form() : this.tooLate();
    return { title, back: /** @type {[string, string]} */ (["cards", say("phone.cards")]), body: [h("h1", {}, title), hung, ...body] };
  }

  tooLate() {
    const { say, phone } = this.ctx;
    const reason = `${this.method.void_after_h} h`;
    const save = async () => {
      const body = said({ kind: "reading", walk_id: phone.walk?.id, unit_id: phone.unitId, seen_at: phone.instant(), why: "sample", plants: 0, card_id: this.card.id, state: "unreadable", note: null, examined: [] });
      await phone.say({ kind: "observation", body, void: say("phone.disc_void_reason", { h: /** @type {number} */ (this.old), most: reason }) });
      await this.take(this.card, false);
      this.ctx.go("cards");
    };
    return [h("p.caution", {}, say("phone.disc_late", { h: /** @type {number} */ (this.old), most: reason })), button(say("phone.disc_void"), save, "wide.go")];
  }

  form() {
    const { say } = this.ctx;
    this.states = STATES.map((s) => button(say(`phone.state_${s}`), () => this.turn(s), "", { "aria-pressed": String(s === this.state) }));
    this.since = choice([["hung", say("phone.since_hung")], ["last", say("phone.since_last")]], "hung", () => this.showSince());
    this.what = choice([["all", say("phone.count_all")], ["new", say("phone.count_new")]], "all");
    this.squares = h("input", { inputmode: "numeric", autocomplete: "off" });
    this.of = h("input", { inputmode: "numeric", autocomplete: "off", value: this.method.squares ?? "" });
    this.whatField = field(say("phone.counted"), this.what);
    this.readable = h("div.stack", {}, field(say("phone.since"), this.since), this.whatField,
      h("div.pair", {}, field(say("phone.squares"), this.squares), field(say("phone.squares_of"), this.of)), h("p.hint", {}, say("phone.squares_hint")), h("div.bands", {}, this.targets.map((t) => this.key(t))),
      this.targets.length ? null : h("p.empty", {}, say("phone.no_card_targets")));
    const already = this.saved ? [h("p.told", {}, say("phone.card_again"))] : [];
    const hang = h("label.check", {}, (this.fresh = h("input", { type: "checkbox" })), h("span", {}, say("phone.new_card")));
    return [...already, h("h2", {}, say("phone.card_state")), h("div.three", { role: "group", "aria-label": say("phone.card_state") }, this.states), this.readable, hang,
      h("div.stack", {}, button(say("phone.card_save"), () => this.save(), "wide.go"))];
  }

  /** @param {import("./look.js").Target} target */
  key(target) {
    const { names, say } = this.ctx;
    const key = `${target.taxon} ${target.stage}`;
    const figure = h("span.n.nil", {}, "0");
    const show = (/** @type {number} */ n) => {
      this.counts[key] = { how: "counted", number: Math.max(0, (this.counts[key]?.number ?? 0) + n) };
      write(figure, String(this.counts[key].number));
      figure.className = this.counts[key].number ? "n" : "n nil";
    };
    const on = { pointerdown: (/** @type {PointerEvent} */ e) => this.filter.down(e, key) && show(1), click: (/** @type {MouseEvent} */ e) => this.filter.click(e, key) && show(1) };
    return h("section.band", {}, h("h2", {}, pestWords(names, target)), h("div.ks", {}, h("button.key", { type: "button", on }, h("span.s", {}, say("phone.add_one")), figure),
      h("div.side", {}, button("+10", () => show(10), "tool", { "aria-label": `${pestWords(names, target)}: +10` }), button("−1", () => show(-1), "tool", { "aria-label": `${pestWords(names, target)}: −1` }))));
  }

  /** @param {string} state */
  turn(state) {
    this.state = state;
    STATES.forEach((s, i) => this.states[i].setAttribute("aria-pressed", String(s === state)));
    this.readable.hidden = UNREAD.includes(state);
  }

  showSince() {
    this.whatField.hidden = this.since.value === "last";
  }

  /**
   * What was typed as a number: null where nothing was, NaN where it is none.
   * @param {any} input
   */
  number(input) {
    const text = input.value.trim();
    return text === "" ? null : Number(text);
  }

  async save() {
    const { phone, say } = this.ctx;
    const unread = UNREAD.includes(this.state);
    const squares = this.number(this.squares);
    const of = squares === null ? null : this.number(this.of);
    const wrong = unread ? null : wrongSquares(squares, of);
    if (wrong) return this.ctx.told(say(wrong));
    const said = { card: this.card, walk_id: /** @type {any} */ (phone.walk).id, unit_id: /** @type {string} */ (phone.unitId), seen_at: phone.instant(), state: this.state,
      since: this.since.value, counted: this.what.value, squares, of, counts: this.counts };
    const body = readingOf(said, this.targets);
    const before = this.saved ? { id: this.saved.id, on: this.saved.rev } : {};
    await phone.say({ kind: "observation", ...before, body, regulated: phone.isRegulated(body) });
    if (this.fresh.checked) await this.take(this.card, true);
    this.ctx.go("cards");
  }

  /**
   * The card is taken down, and a new one hung where one was.
   * @param {import("./cards.js").Hanging} card @param {boolean} hang
   */
  async take(card, hang) {
    const { phone } = this.ctx;
    const at = phone.instant();
    const body = said({ station_id: this.station.id, method: card.method, hung_at: card.hung_at, taken_at: at });
    await phone.say({ kind: "card", id: card.id, base: card.rev, body });
    if (hang) await phone.say({ kind: "card", body: { station_id: this.station.id, method: card.method, hung_at: at } });
  }
}

/** @param {Ctx} ctx @returns {Screen} */
export function flag(ctx) {
  const { say, phone } = ctx;
  const marked = new Set(phone.looks.map((l) => l.body.flag_id));
  const own = phone.of("flag").filter((f) => !f.void && f.body.unit_id === phone.unitId).map((f) => ({ id: f.id, ...f.body }));
  const cleared = new Set(phone.looks.filter((l) => l.body.flag_mark === "cleared").map((l) => l.body.flag_id));
  const open = [...phone.unit.flags, ...own].filter((f) => !cleared.has(f.id));
  const mark = (/** @type {string} */ id, /** @type {"set" | "confirmed" | "cleared"} */ m, /** @type {string | null} */ why) => async () => {
    await phone.change((d) => ({ ...d, flag: { id, mark: m }, why: why ?? d.why }));
    ctx.go("count");
  };
  const rows = open.map((f) => h("li", {}, h("p", {}, h("b", {}, colourWord(ctx, f.colour)), ` ${[f.reason, f.position].filter(Boolean).join(", ")}`, marked.has(f.id) ? ` · ${say("phone.flag_seen")}` : ""),
    h("div.pair", {}, button(say("phone.flag_confirmed"), mark(f.id, "confirmed", "flagged")), button(say("phone.flag_cleared"), mark(f.id, "cleared", "flagged")))));
  const now = phone.draft?.flag ? [h("p.told", {}, say(`phone.flag_now_${phone.draft.flag.mark}`)), button(say("phone.flag_undo"), async () => {
    await phone.change((d) => ({ ...d, flag: null }));
    ctx.again();
  }, "wide")] : [];
  return { title: say("phone.flag"), back: ["count", say("phone.back")],
    body: [h("h1", {}, say("phone.flag")), ...now, rows.length ? h("ul.list", {}, rows) : h("p", {}, say("phone.no_flags")), ...newFlag(ctx, mark)] };
}

/** @param {Ctx} ctx @param {(id: string, m: "set", why: null) => () => Promise<void>} mark */
function newFlag(ctx, mark) {
  const { say, phone } = ctx;
  const colour = choice(COLOURS.map((c) => [c, say(`phone.colour_${c}`)]), COLOURS[0]);
  const reason = h("input", { autocomplete: "off", maxlength: 200, required: true });
  const position = h("input", { autocomplete: "off", maxlength: 60 });
  const put = async () => {
    if (!reason.value.trim()) return ctx.told(say("phone.flag_why_needed"));
    const body = said({ unit_id: phone.unitId, colour: colour.value, reason: reason.value.trim(), position: position.value.trim() || null });
    const made = await phone.say({ kind: "flag", body });
    await mark(made.id, "set", null)();
  };
  return [h("h2", {}, say("phone.flag_put")), h("div.stack", {}, field(say("phone.flag_colour"), colour), field(say("phone.flag_reason"), reason), field(say("phone.position"), position), button(say("phone.flag_put"), put, "wide.go"))];
}

/** @param {Ctx} ctx @returns {Screen} */
export function note(ctx) {
  const { say, phone } = ctx;
  const text = h("textarea", { rows: 4, maxlength: 1000 }, phone.draft?.note ?? "");
  const position = h("input", { autocomplete: "off", maxlength: 60, value: phone.draft?.position ?? "" });
  const save = async () => {
    await phone.change((d) => ({ ...d, note: text.value.trim() || null, position: position.value.trim() || null }));
    ctx.go("count");
  };
  return { title: say("phone.note"), back: ["count", say("phone.back")],
    body: [h("h1", {}, say("phone.note")), h("p", {}, say("phone.note_of", { n: phone.draft?.n ?? "" })), h("div.stack", {}, field(say("phone.note"), text), field(say("phone.position"), position), button(say("phone.save"), save, "wide.go"))] };
}

/** @param {Ctx} ctx @returns {Screen} */
export function sighting(ctx) {
  const { say, phone, names } = ctx;
  const units = phone.plan.units.map((/** @type {any} */ u) => /** @type {[string, string]} */ ([u.id, names.unit(u)]));
  const unit = choice(units, phone.unitId ?? phone.stops().find((x) => x.state !== "todo")?.unit.id ?? units[0]?.[0]);
  const taxa = Object.keys(phone.plan.taxa).map((t) => /** @type {[string, string]} */ ([t, names.taxon(t)])).sort((a, b) => a[1].localeCompare(b[1], ctx.locale));
  const cause = choice(CAUSES.map((c) => [c, say(`phone.cause_${c}`)]), "not_known");
  const taxon = choice([["", say("phone.unknown")], ...taxa], "");
  const words = h("textarea", { rows: 3, maxlength: 1000 });
  const position = h("input", { autocomplete: "off", maxlength: 60 });
  const photo = h("input", { type: "file", accept: KINDS.join(","), capture: "environment" });
  const save = async () => {
    const file = photo.files?.[0] ?? null;
    const bad = file ? wrongPhoto(ctx, file) : null;
    if (bad) return ctx.told(say("phone.photo_bad", { why: bad }));
    if (!words.value.trim() && !taxon.value) return ctx.told(say("phone.sighting_empty"));
    const photo_sha256 = file ? await phone.photos.keep(file) : null;
    const body = said({ photo_sha256, unit_id: unit.value, walk_id: phone.walk?.id ?? null, seen_at: phone.instant(), cause: cause.value, taxon: taxon.value || null, words: words.value.trim() || null, position: position.value.trim() || null });
    await phone.say({ kind: "sighting", body, regulated: Boolean(phone.plan.taxa[taxon.value]?.regulated) });
    ctx.go(phone.unitId ? "count" : "stops");
  };
  return { title: say("phone.sighting"), back: phone.unitId ? ["count", say("phone.back")] : ["stops", say("phone.stops")],
    body: [h("h1", {}, say("phone.sighting")), h("div.stack", {}, field(say("phone.unit"), unit), field(say("phone.cause"), cause), field(say("phone.taxon"), taxon), field(say("phone.words"), words), field(say("phone.position"), position), phone.photos ? field(say("phone.photo"), photo, say("phone.photo_hint")) : null, button(say("phone.save"), save, "wide.go"))] };
}

/**
 * Why a file is no photo for the office; null: it is.
 * @param {Ctx} ctx @param {File} file
 */
function wrongPhoto({ say }, file) {
  if (!KINDS.includes(file.type)) return say("phone.photo_kind");
  return file.size > LARGEST ? say("phone.photo_large", { n: LARGEST / 2 ** 20 }) : null;
}
