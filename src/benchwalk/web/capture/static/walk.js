// @ts-check
/**
 * A walk: its stops, its visits, and what is left out of it. Pure: records in, records out.
 *
 * @typedef {{id: string, rev: number, kind: string, by: string, seen_at: string, void: string | null, body: Record<string, any>}} Kept
 * @typedef {{unit: any, visit: Kept | null, elsewhere: boolean, state: "todo" | "open" | "done" | "cut_short" | "skipped", plants: number, shut: any}} Stop
 */

export const FAST = 3; // [s] a plant, the issue's own floor until one is learned
export const SKIPS = ["closed", "sign", "wet", "locked", "time", "empty", "another_crop", "heat", "crew", "dark", "other"];
export const OUT_BY = 10; // own choice: a count this many times the next highest is asked about
const OUT_FROM = 20; // own choice: and not below this number

/**
 * Units in the order stored; those that are no longer there are left out.
 * @param {any} plan @param {Kept} walk
 */
export function unitsOf(plan, walk) {
  const units = new Map(plan.units.map((/** @type {any} */ u) => [u.id, u]));
  const route = [...(walk.body.route ?? [])].sort((a, b) => a.place - b.place);
  return route.map((r) => units.get(r.unit_id)).filter(Boolean);
}

/**
 * @param {any} plan @param {Kept} walk @param {Kept[]} visits @param {Kept[]} looks @param {Date} now
 * @returns {Stop[]}
 */
export function stopsOf(plan, walk, visits, looks, now) {
  const planned = plan.walks.find((/** @type {any} */ w) => w.id === walk.id);
  return unitsOf(plan, walk).map((unit) => {
    const visit = visits.find((v) => v.body.walk_id === walk.id && v.body.unit_id === unit.id && !v.void) ?? null;
    const elsewhere = !visit && Boolean(planned?.visits.includes(unit.id));
    const state = visit ? (visit.body.state === "open" ? "open" : visit.body.state) : "todo";
    return { unit, visit, elsewhere, state, plants: plantsOf(looks, walk.id, unit.id), shut: shutNow(unit, now) };
  });
}

/**
 * Plants looked at in a unit on this walk.
 * @param {Kept[]} looks @param {string} walk @param {string} unit
 */
export function plantsOf(looks, walk, unit) {
  return looksOf(looks, walk, unit).reduce((n, look) => n + look.body.plants, 0);
}

/**
 * In the order they were made, without what was taken back.
 * @param {Kept[]} looks @param {string} walk @param {string} unit
 */
export function looksOf(looks, walk, unit) {
  const mine = looks.filter((l) => !l.void && l.body.kind === "look" && l.body.walk_id === walk && l.body.unit_id === unit);
  return mine.sort((a, b) => (a.id < b.id ? -1 : 1));
}

/**
 * The closure that binds a unit now, as known when the plan was made.
 * @param {any} unit @param {Date} now
 */
export function shutNow(unit, now) {
  const open = (/** @type {any} */ c) => (!c.from || new Date(c.from) <= now) && (!c.until || new Date(c.until) > now);
  return (unit.closures ?? []).find(open) ?? null;
}

/**
 * A walk of one's own: every unit chosen, in the order given.
 * @param {string} day @param {string} scout @param {string | null} device @param {string[]} units
 */
export function newWalk(day, scout, device, units) {
  const route = units.map((unit_id, i) => ({ unit_id, place: i + 1, depth: "full" }));
  return { walk_on: day, scout_id: scout, ...(device ? { device_id: device } : {}), route };
}

/** @param {string} walk_id @param {string} unit_id @param {string} at */
export const opened = (walk_id, unit_id, at) => ({ walk_id, unit_id, state: "open", started_at: at });

/** @param {string} walk_id @param {string} unit_id @param {string} reason @param {string | null} note */
export const skipped = (walk_id, unit_id, reason, note) => ({ walk_id, unit_id, state: "skipped", reason, ...(note ? { note } : {}) });

/**
 * A visit at its end: done, or cut short and why.
 * @param {Kept} visit @param {string} at @param {string | null} reason @param {boolean} fast
 */
export function closed(visit, at, reason, fast) {
  const { reason: _, ...before } = visit.body;
  return { ...before, state: reason ? "cut_short" : "done", ...(reason ? { reason } : {}), ended_at: at, fast };
}

/**
 * Whether a unit was gone through faster than a plant can be looked at.
 * @param {Kept[]} looks of the unit on this walk @param {string} startedAt
 */
export function isFast(looks, startedAt) {
  const plants = looks.reduce((n, look) => n + look.body.plants, 0);
  const times = looks.map((look) => Date.parse(look.body.seen_at));
  return plants > 2 && (Math.max(...times) - Date.parse(startedAt)) / 1000 < FAST * plants;
}

/**
 * What a unit's end leaves out: parts never examined, cards nobody read, flags nobody looked at.
 * @param {any} unit @param {Kept[]} looks of the unit @param {Kept[]} readings of the unit @param {import("./look.js").Target[]} targets
 */
export function leftOut(unit, looks, readings, targets) {
  const examined = (/** @type {string} */ m) => looks.reduce((n, l) => n + (l.body.examined.some((/** @type {any} */ e) => e.method === m) ? l.body.plants : 0), 0);
  const plants = looks.reduce((n, l) => n + l.body.plants, 0);
  const parts = [...new Set(targets.map((t) => t.method))].map((method) => ({ method, plants: plants - examined(method) }));
  const read = new Set(readings.map((r) => r.body.card_id));
  const cards = unit.stations.flatMap((/** @type {any} */ s) => s.cards.filter((/** @type {any} */ c) => !read.has(c.id)).map(() => s.code));
  const met = new Set(looks.map((l) => l.body.flag_id));
  return { plants, parts: parts.filter((p) => p.plants > 0), cards, flags: unit.flags.filter((/** @type {any} */ f) => !met.has(f.id)) };
}

/**
 * The one count worth a question: far above every other of its kind here. Null: none.
 * @param {Kept[]} looks of the unit, in order
 */
export function outlier(looks) {
  /** @type {Map<string, {number: number, look: Kept, taxon: string, stage: string}[]>} */
  const by = new Map();
  for (const look of looks) {
    for (const { method, tallies } of look.body.examined) {
      for (const { taxon, stage, number } of tallies) {
        const key = `${method} ${taxon} ${stage}`;
        if (number !== undefined) by.set(key, [...(by.get(key) ?? []), { number, look, taxon, stage }]);
      }
    }
  }
  const far = [...by.values()].flatMap((held) => farthest(held) ?? []);
  return far.sort((a, b) => b.number - a.number)[0] ?? null;
}

/** @param {{number: number, look: Kept, taxon: string, stage: string}[]} counts */
function farthest(counts) {
  const [most, next] = [...counts].sort((a, b) => b.number - a.number);
  const far = next !== undefined && most.number >= OUT_FROM && most.number >= OUT_BY * Math.max(next.number, 1);
  return far ? { ...most, next: next.number } : null;
}
