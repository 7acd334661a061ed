// @ts-check
/**
 * What the phone knows and does on a shift: who holds it, the walk, the unit, the plant. No page
 * is needed. Everything that shows is on the disk first.
 *
 * @typedef {import("./look.js").Draft} Draft
 * @typedef {import("./walk.js").Kept} Kept
 * @typedef {{person: string, name: string, token: string, ends_at: string}} Shift
 */
import { corrected } from "./clock.js";
import { apart, bandsOf } from "./keys.js";
import { uuid7 } from "./ids.js";
import * as look from "./look.js";
import * as walks from "./walk.js";

export class Phone {
  /** @param {any} outbox @param {{now: () => number, random: () => number, photos: any}} given */
  constructor(outbox, { now, random, photos }) {
    this.photos = photos;
    this.outbox = outbox;
    this.now = now;
    this.random = random;
    /** @type {any} */ this.plan = null;
    /** @type {string | null} */ this.token = null;
    /** @type {string | null} */ this.device = null;
    /** @type {Shift[]} */ this.shifts = [];
    /** @type {string | null} */ this.who = null;
    /** @type {Kept | null} */ this.walk = null;
    /** @type {string | null} */ this.unitId = null;
    /** @type {Draft | null} */ this.draft = null;
    /** @type {Draft | null} */ this.next = null;
    /** @type {Draft[]} plants half done in other units */ this.parked = [];
    /** @type {Kept[]} */ this.records = [];
    /** @type {any} */ this.status = null;
    this.offset = null;
    /** @type {Promise<void> | null} */ this.saving = null;
    /** @type {Promise<unknown>} */ this.line = Promise.resolve();
    /** @type {Set<() => void>} */ this.listeners = new Set();
    this.heard = 0;
    outbox.onChange(() => this.hear());
  }

  async open() {
    const { outbox } = this;
    [this.token, this.device, this.plan] = await Promise.all([outbox.meta("token"), outbox.meta("device"), outbox.plan()]);
    this.shifts = (await outbox.meta("shifts")) ?? [];
    this.who = await outbox.meta("who");
    this.walk = await outbox.meta("walk");
    this.unitId = await outbox.meta("unit");
    this.draft = this.next = await outbox.meta("draft");
    this.parked = (await outbox.meta("parked")) ?? [];
    await this.readAgain();
    await this.dropSaid();
  }

  /** A plant whose look was said before the phone could forget the draft: the next one begins. */
  async dropSaid() {
    const held = this.draft && (await this.outbox.record(this.draft.id));
    if (held && this.draft && held.rev > this.draft.on) await this.keep({ draft: this.shift && this.unit && this.walk ? this.fresh() : null });
  }

  async readAgain() {
    const kinds = ["walk", "visit", "observation", "flag", "card", "planting", "sighting"];
    this.records = (await Promise.all(kinds.map((kind) => this.outbox.records(kind)))).flat();
    await this.hear();
  }

  async hear() {
    const asked = ++this.heard;
    const status = await this.outbox.status();
    if (asked < this.heard) return; // a later question answers for this one
    this.status = status;
    this.offset = status.offset_s;
    for (const listener of this.listeners) listener();
  }

  /** @param {string} kind @returns {Kept[]} */
  of(kind) {
    return this.records.filter((r) => r.kind === kind);
  }

  /** The instant by the server's clock. */
  at() {
    return corrected(this.now(), this.offset);
  }

  instant() {
    return new Date(this.at()).toISOString();
  }

  /** The day it is where the operation is. */
  today() {
    return new Intl.DateTimeFormat("sv-SE", { timeZone: this.plan.operation.zone }).format(new Date(this.at()));
  }

  newId() {
    return uuid7(this.at(), this.random);
  }

  /**
   * Keeps what the page stands on; it holds once this resolves.
   * @param {Record<string, any>} what
   */
  async keep(what) {
    await this.outbox.note(what);
    if ("draft" in what) this.draft = this.next = what.draft;
    if ("parked" in what) this.parked = what.parked;
    if ("unit" in what) this.unitId = what.unit;
    if ("walk" in what) this.walk = what.walk;
    if ("who" in what) this.who = what.who;
    if ("shifts" in what) this.shifts = what.shifts;
  }

  /**
   * A record said: on the disk with its outbox row when this resolves.
   * @param {any} what
   */
  async say(what) {
    if (!this.shift) throw new Error("nobody has signed in");
    const given = { by: this.shift.person, ...what };
    const { id, rev } = await this.outbox.save(given);
    const record = { id, rev, kind: given.kind, by: given.by, seen_at: given.seen_at ?? this.instant(), void: given.void ?? null, body: given.body };
    this.records = [...this.records.filter((r) => r.id !== id), record];
    return record;
  }

  // who

  /** The shift of who holds the phone; null: nobody, or it is over. */
  get shift() {
    return this.open_shifts.find((s) => s.person === this.who) ?? null;
  }

  /** Everybody who signed in on this phone and whose shift is not over. */
  get open_shifts() {
    return this.shifts.filter((s) => Date.parse(s.ends_at) > this.at());
  }

  /** @param {{shift: string, person: string, name: string, ends_at: string}} said */
  async signIn(said) {
    const shift = { person: said.person, name: said.name, token: said.shift, ends_at: said.ends_at };
    await this.keep({ shifts: [...this.open_shifts.filter((s) => s.person !== shift.person), shift], who: shift.person });
    await this.outbox.signedIn();
  }

  /**
   * Another of those who signed in takes the phone; a plant half done stays with who began it.
   * @param {string} person
   */
  async handTo(person) {
    await this.keep({ who: person, draft: this.draft && this.draft.by !== person && look.untouched(this.draft) ? null : this.draft });
  }

  async endShift() {
    await this.keep({ shifts: this.shifts.filter((s) => s.person !== this.who), who: null });
  }

  // walks

  /** Walks of today and of those not ended: the plan's and the phone's own. */
  walks() {
    const own = this.of("walk").filter((w) => !w.void);
    const planned = this.plan.walks.filter((/** @type {any} */ w) => !own.some((o) => o.id === w.id)).map(asWalk);
    const today = this.today();
    return [...planned, ...own].filter((w) => w.body.walk_on === today).sort((a, b) => (a.id < b.id ? -1 : 1));
  }

  /** @param {Kept} walk */
  async openWalk(walk) {
    await this.keep({ walk, unit: null });
  }

  /** @param {string[]} units */
  async beginWalk(units) {
    const body = walks.newWalk(this.today(), /** @type {Shift} */ (this.shift).person, this.device ?? null, units);
    const walk = await this.say({ kind: "walk", body });
    await this.openWalk(walk);
  }

  stops() {
    if (!this.walk) return [];
    return walks.stopsOf(this.plan, this.walk, this.of("visit"), this.of("observation"), new Date(this.at()));
  }

  // a unit

  get unit() {
    return this.plan?.units.find((/** @type {any} */ u) => u.id === this.unitId) ?? null;
  }

  get stop() {
    return this.stops().find((s) => s.unit.id === this.unitId) ?? null;
  }

  /** What is looked for on plants here. */
  get targets() {
    return this.targetsOf((/** @type {any} */ m) => m.kind === "plant");
  }

  /** @param {(method: any) => boolean} which */
  targetsOf(which) {
    const here = (this.unit?.targets ?? []).filter((/** @type {any} */ t) => which(this.plan.methods[t.method] ?? {}));
    return apart(here, this.plan.stages);
  }

  get bands() {
    return bandsOf(this.targets, this.plan.taxa);
  }

  get looks() {
    return this.walk && this.unitId ? walks.looksOf(this.of("observation"), this.walk.id, this.unitId) : [];
  }

  get readings() {
    return this.of("observation").filter((o) => !o.void && o.body.kind === "reading" && o.body.walk_id === this.walk?.id && o.body.unit_id === this.unitId);
  }

  /**
   * A unit is entered: its visit is open from now, and a plant begins.
   * @param {string} unitId
   */
  async enter(unitId) {
    const walk = /** @type {Kept} */ (this.walk);
    const visit = this.stops().find((s) => s.unit.id === unitId)?.visit ?? null;
    const elsewhere = this.stops().find((s) => s.unit.id === unitId)?.elsewhere;
    await this.keep({ unit: unitId });
    if (!visit && !elsewhere) await this.say({ kind: "visit", body: walks.opened(walk.id, unitId, this.instant()) });
    else if (visit && visit.body.state !== "open") await this.reopenVisit(visit);
    if (!isOf(this.draft, walk.id, unitId)) await this.park(walk.id, unitId);
  }

  /**
   * A plant half done elsewhere waits there; the one half done here, if any, goes on.
   * @param {string} walkId @param {string} unitId
   */
  async park(walkId, unitId) {
    const half = this.draft && !look.untouched(this.draft) ? [this.draft] : [];
    const mine = this.parked.find((d) => isOf(d, walkId, unitId)) ?? null;
    await this.keep({ parked: [...this.parked.filter((d) => d !== mine), ...half], draft: mine ?? this.fresh() });
  }

  /** Plants of this walk that are half done. */
  get unfinished() {
    const touched = this.draft && !look.untouched(this.draft) ? [this.draft] : [];
    return [...this.parked, ...touched].filter((d) => d.walk_id === this.walk?.id);
  }

  /** @param {Kept} visit */
  async reopenVisit(visit) {
    const { reason: _, ended_at: __, ...body } = visit.body;
    await this.say({ kind: "visit", id: visit.id, on: visit.rev, body: { started_at: this.instant(), ...body, state: "open" } });
  }

  /**
   * The next plant of this unit.
   * @returns {Draft}
   */
  fresh() {
    const plantings = this.plantingsHere();
    const last = this.looks.at(-1)?.body.planting_id ?? null;
    const planting_id = plantings.length === 1 ? plantings[0].id : plantings.some((p) => p.id === last) ? last : null;
    const n = this.looks.reduce((sum, l) => sum + l.body.plants, 0) + 1;
    const items = Object.fromEntries(look.partsOf(this.targets).map((m) => [m, this.itemsOf(m)]));
    return look.newDraft({ id: this.newId(), by: /** @type {Shift} */ (this.shift).person, walk_id: /** @type {Kept} */ (this.walk).id,
      unit_id: /** @type {string} */ (this.unitId), planting_id, n, items, began: this.at() });
  }

  /**
   * Items of a part a plant, as last looked at here, else as the plan says; null: the plant itself.
   * @param {string} method
   */
  itemsOf(method) {
    if (this.plan.methods[method]?.item === "plant") return null;
    const before = this.looks.filter((l) => l.body.examined.some((/** @type {any} */ e) => e.method === method)).at(-1);
    const items = before?.body.examined.find((/** @type {any} */ e) => e.method === method).items;
    if (before && items !== undefined) return items / before.body.plants;
    return (this.unit?.targets ?? []).find((/** @type {any} */ t) => t.method === method)?.items ?? null;
  }

  /** Plantings the office knows of and those seen here today. */
  plantingsHere() {
    const seen = this.of("planting").filter((p) => !p.void && p.body.unit_id === this.unitId);
    return [...(this.unit?.plantings ?? []), ...seen.map((p) => ({ id: p.id, crop: p.body.crop, phase: "not_said" }))];
  }

  // a plant

  /**
   * A change of the plant: presses that come while one is being written go in the next writing.
   * Resolves once it is on the disk.
   * @param {(draft: Draft) => Draft} how
   */
  change(how) {
    if (!this.next) throw new Error("no plant is begun");
    this.next = how(this.next);
    const wanted = this.next;
    return this.written(wanted);
  }

  /** @param {Draft} wanted */
  async written(wanted) {
    while (this.next && this.draft !== this.next) {
      this.saving ??= this.writeNext();
      await this.saving;
      if (this.draft === wanted) return;
    }
  }

  async writeNext() {
    const now = this.next;
    try {
      await this.outbox.note({ draft: now });
      this.draft = now;
    } catch (no) {
      this.next = this.draft;
      throw no;
    } finally {
      this.saving = null;
    }
    for (const listener of this.listeners) listener();
  }

  /** @param {string} key @param {"one" | "ten" | "present" | "more"} [mode] */
  press(key, mode = "one") {
    return this.change((d) => (mode === "present" ? look.seen(d, key) : mode === "more" ? look.more(d, key) : look.add(d, key, mode === "ten" ? 10 : 1)));
  }

  /**
   * One thing after the other: what begins waits for what was begun.
   * @template T @param {() => Promise<T>} work @returns {Promise<T>}
   */
  inLine(work) {
    const done = this.line.then(work, work);
    this.line = done.catch(() => undefined);
    return done;
  }

  /** The plant is said, zeros for what was examined too; the next begins. */
  nextPlant() {
    return this.inLine(async () => {
      if (this.next !== this.draft) await this.written(/** @type {Draft} */ (this.next));
      await this.sayLook(/** @type {Draft} */ (this.draft));
      await this.keep({ draft: this.fresh() });
    });
  }

  /** @param {Draft} draft */
  async sayLook(draft) {
    const body = look.bodyOf(draft, this.targets, draft.seen_at ?? this.instant());
    await this.say({ kind: "observation", id: draft.id, on: draft.on, by: draft.by, body, regulated: this.isRegulated(body) });
  }

  /** @param {any} body */
  isRegulated(body) {
    const found = body.examined.flatMap((/** @type {any} */ e) => e.tallies).filter((/** @type {any} */ t) => t.how === "present" || t.number > 0);
    return found.some((/** @type {any} */ t) => this.plan.taxa[t.taxon]?.regulated);
  }

  /**
   * Plants looked at together where nothing was found.
   * @param {number} plants
   */
  clean(plants) {
    return this.inLine(async () => {
      const draft = { .../** @type {Draft} */ (this.draft), plants };
      if (!look.untouched(draft)) throw new Error("something is counted on this plant");
      await this.sayLook(draft);
      await this.keep({ draft: this.fresh() });
    });
  }

  /** What undo would take back: the last press, else the last look of this unit. Null: nothing. */
  get undoes() {
    const step = this.draft?.log.at(-1) ?? null;
    if (step && this.draft) return { what: /** @type {const} */ ("press"), key: step.key, from: this.draft.counts[step.key] ?? null, to: step.was };
    const last = this.draft?.on ? null : this.looks.at(-1) ?? null;
    if (!last) return null;
    const n = this.looks.reduce((sum, l) => sum + l.body.plants, 0) - last.body.plants + 1;
    return { what: /** @type {"batch" | "look"} */ (last.body.plants > 1 ? "batch" : "look"), look: last, n, plants: last.body.plants };
  }

  undo() {
    return this.inLine(async () => {
      const undoes = this.undoes;
      if (undoes?.what === "press") await this.change(look.undone);
      else if (undoes?.what === "batch") await this.takeBack(undoes.look);
      else if (undoes?.what === "look") await this.keep({ draft: look.reopened(undoes.look, this.targets, undoes.n, this.at()) });
    });
  }

  /** @param {Kept} last */
  async takeBack(last) {
    await this.say({ kind: "observation", id: last.id, on: last.rev, by: last.by, body: last.body, void: "undone" });
    await this.keep({ draft: this.fresh() });
  }

  /**
   * The look with a count worth a question, open again.
   * @param {Kept} which
   */
  async openAgain(which) {
    const before = this.looks.slice(0, this.looks.indexOf(which));
    const n = before.reduce((sum, l) => sum + l.body.plants, 0) + 1;
    await this.keep({ draft: look.reopened(which, this.targets, n, this.at()) });
  }

  // ends

  /**
   * The unit is left: done, or cut short and why.
   * @param {string | null} reason
   */
  async leave(reason) {
    const stop = this.stop;
    if (stop?.visit) {
      const started = stop.visit.body.started_at;
      const body = walks.closed(stop.visit, this.instant(), reason, Boolean(started) && walks.isFast(this.looks, started));
      await this.say({ kind: "visit", id: stop.visit.id, on: stop.visit.rev, body });
    }
    await this.keep({ draft: null, unit: null });
  }

  /**
   * A unit nobody looked at, and why.
   * @param {string} unitId @param {string} reason @param {string | null} note
   */
  async skip(unitId, reason, note = null) {
    const walk = /** @type {Kept} */ (this.walk);
    const visit = this.stops().find((s) => s.unit.id === unitId)?.visit;
    await this.say({ kind: "visit", ...(visit ? { id: visit.id, on: visit.rev } : {}), body: walks.skipped(walk.id, unitId, reason, note) });
    await this.keep({ draft: this.draft?.unit_id === unitId ? null : this.draft, unit: this.unitId === unitId ? null : this.unitId });
  }

  /**
   * The walk is over: what was not walked is said, each unit with the reason.
   * @param {string} reason
   */
  async endWalk(reason) {
    for (const stop of this.stops()) {
      if (stop.state === "todo" && !stop.elsewhere) await this.skip(stop.unit.id, reason);
      else if (stop.state === "open") {
        await this.keep({ unit: stop.unit.id });
        const nothing = this.looks.length === 0 && this.readings.length === 0;
        await (nothing ? this.skip(stop.unit.id, reason) : this.leave(reason));
      }
    }
    await this.keep({ walk: null, unit: null, draft: null });
  }

  /**
   * Another crop stands there than the office knows.
   * @param {string} unitId @param {string} crop
   */
  async anotherCrop(unitId, crop) {
    const phases = [{ from_on: this.today(), phase: "not_said" }];
    return this.say({ kind: "planting", body: { unit_id: unitId, crop, provisional: true, phases } });
  }
}

/** @param {any} planned @returns {Kept} */
function asWalk(planned) {
  const { id, walk_on, scout_id, route } = planned;
  return { id, rev: 0, kind: "walk", by: scout_id, seen_at: "", void: null, body: { walk_on, scout_id, route } };
}

/** @param {Draft | null} draft @param {string} walkId @param {string} unitId */
const isOf = (draft, walkId, unitId) => draft?.walk_id === walkId && draft.unit_id === unitId;
