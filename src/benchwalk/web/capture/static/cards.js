// @ts-check
/**
 * Cards, discs and traps: what is found by its short code, and what a reading says. Pure.
 *
 * @typedef {{id: string, rev: number, method: string, hung_at: string | null}} Hanging
 * @typedef {"ok" | "wet" | "full" | "missing" | "fallen" | "unreadable"} State
 */
import { said, tallyOf } from "./look.js";

export const STATES = /** @type {State[]} */ (["ok", "wet", "full", "missing", "fallen", "unreadable"]);
export const UNREAD = /** @type {string[]} */ (["missing", "fallen", "unreadable"]);
const HOUR = 3_600_000;

/**
 * Codes without what a hurried hand leaves out: case, spaces, hyphens.
 * @param {string} text
 */
const plain = (text) => text.toLowerCase().replace(/[\s-]/g, "");

/**
 * Stations of a unit whose code is meant by what was typed.
 * @param {any[]} stations @param {string} typed
 */
export function found(stations, typed) {
  const wanted = plain(typed);
  return stations.filter((s) => s.kind !== "sensor" && plain(s.code).includes(wanted));
}

/**
 * What hangs at a station now: the plan's cards, and what the phone itself hung and took since.
 * @param {any} station @param {import("./walk.js").Kept[]} cards the phone's own records of cards
 * @returns {Hanging[]}
 */
export function hanging(station, cards) {
  const own = new Map(cards.filter((c) => c.body.station_id === station.id).map((c) => [c.id, c]));
  const old = station.cards.filter((/** @type {Hanging} */ c) => !own.has(c.id));
  const now = [...own.values()].filter((c) => !c.void && !c.body.taken_at).map((c) => ({ id: c.id, rev: c.rev, method: c.body.method, hung_at: c.body.hung_at ?? null }));
  return [...old, ...now];
}

/**
 * Hours that a disc is past the last at which it may be read; null: it may be read, or never spoils.
 * @param {Hanging} card @param {{void_after_h?: number | null}} method @param {number} at [ms]
 */
export function tooOld(card, method, at) {
  if (!method.void_after_h || !card.hung_at) return null;
  const hours = (at - Date.parse(card.hung_at)) / HOUR;
  return hours > method.void_after_h ? Math.floor(hours) : null;
}

/**
 * A reading: what was counted, on how many squares of those printed; of a card that is gone or
 * cannot be read only its state, and so no count.
 * @param {{card: Hanging, walk_id: string, unit_id: string, station_id?: string, seen_at: string, state: string, since: string,
 *   counted: string, squares: number | null, of: number | null, counts: Record<string, import("./look.js").Count>, note?: string | null}} r
 * @param {{taxon: string, stage: string, method: string}[]} targets
 */
export function readingOf(r, targets) {
  const base = { kind: "reading", walk_id: r.walk_id, unit_id: r.unit_id, seen_at: r.seen_at, why: "sample", plants: 0, card_id: r.card.id, state: r.state, note: r.note || null };
  if (UNREAD.includes(r.state)) return said({ ...base, examined: [] });
  const tallies = targets.map((t) => tallyOf(t, full(r.counts[`${t.taxon} ${t.stage}`] ?? null, r.state)));
  const examined = [said({ method: r.card.method, items: r.squares, of_items: r.squares === null ? null : r.of, tallies })];
  return said({ ...base, since: r.since, counted: r.since === "last" ? "new" : r.counted, examined });
}

/**
 * A full card is counted as at least.
 * @param {import("./look.js").Count | null} count @param {string} state
 */
const full = (count, state) => (count && state === "full" && count.how === "counted" && (count.number ?? 0) > 0 ? /** @type {import("./look.js").Count} */ ({ ...count, how: "at_least" }) : count);

/**
 * Why squares cannot be so; null: they can.
 * @param {number | null} squares @param {number | null} of
 */
export function wrongSquares(squares, of) {
  if (squares === null && of === null) return null;
  const whole = (/** @type {number | null} */ n) => n !== null && Number.isInteger(n) && n > 0;
  return whole(squares) && whole(of) && /** @type {number} */ (squares) <= /** @type {number} */ (of) ? null : "phone.squares_wrong";
}
