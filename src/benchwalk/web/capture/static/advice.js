// @ts-check
/**
 * Whether a count may stop, by the table the server made (docs/phone-protocol.md). Advice only:
 * it never holds a key back.
 *
 * @typedef {"keep_counting" | "sure_under" | "sure_over" | "no_table"} Advice
 * @typedef {{taxon: string, stage: string, method: string, n_min?: number, items?: number | null,
 *   under?: (number | null)[] | null, over?: (number | null)[] | null, refused?: string | null,
 *   missed?: [number, number] | null}} Table
 */
import { keyOf } from "./look.js";

/**
 * The sum of a target over the sample looks of a unit, and on how many plants. Looks that did not
 * examine the part, or not on so many items a plant as the table is made for, are left out; a count
 * that is no number leaves the sum unknown: null.
 * @param {import("./walk.js").Kept[]} looks @param {import("./look.js").Target} target @param {number | null} [items]
 */
export function sumOf(looks, target, items = null) {
  let n = 0, sum = 0, lower = false;
  for (const look of looks) {
    if (look.body.why !== "sample") continue;
    const tally = tallyIn(look, target, items);
    if (tally === null) continue;
    if (tally.how === "present") return null;
    lower ||= tally.how === "at_least";
    n += look.body.plants;
    sum += tally.number;
  }
  return { n, sum, lower };
}

/** @param {import("./walk.js").Kept} look @param {import("./look.js").Target} target @param {number | null} items */
function tallyIn(look, target, items) {
  const examined = look.body.examined.find((/** @type {any} */ e) => e.method === target.method);
  if (items !== null && examined?.items !== items * look.body.plants) return null;
  return examined?.tallies.find((/** @type {any} */ t) => t.taxon === target.taxon && t.stage === target.stage) ?? null;
}

/**
 * What the table says at this sum on this many plants. A sum that is a lower bound can be sure of
 * over, never of under.
 * @param {Table | null} table @param {{n: number, sum: number, lower: boolean} | null} seen
 * @returns {Advice}
 */
export function adviceOf(table, seen) {
  if (!table || table.refused || !table.under || !table.over) return "no_table";
  if (seen === null || seen.n < (table.n_min ?? 1)) return "keep_counting";
  const under = at(table.under, seen.n), over = at(table.over, seen.n);
  if (over !== null && seen.sum >= over) return "sure_over";
  return under !== null && seen.sum <= under && !seen.lower ? "sure_under" : "keep_counting";
}

/**
 * The limit at n plants; past the table's end there is none.
 * @param {(number | null)[]} limits @param {number} n
 */
const at = (limits, n) => limits[n - 1] ?? null;

/**
 * The word for a unit: all of its targets together. Every target sure (or without a table) is "you
 * may stop"; one that is over is said at once.
 * @param {import("./look.js").Target[]} targets @param {Table[]} tables @param {import("./walk.js").Kept[]} looks
 */
export function adviceFor(targets, tables, looks) {
  const by = new Map(tables.map((t) => [keyOf(t), t]));
  const each = targets.map((target) => {
    const table = by.get(keyOf(target)) ?? null;
    return { target, advice: adviceOf(table, sumOf(looks, target, table?.items ?? null)) };
  });
  const judged = each.filter((e) => e.advice !== "no_table");
  return { each, stop: judged.length > 0 && judged.every((e) => e.advice !== "keep_counting") };
}

/**
 * The tables of a unit, on the days that they hold.
 * @param {any} plan @param {any} unit @param {string} day @returns {Table[]}
 */
export function tablesOf(plan, unit, day) {
  const { from, until } = plan.stops_valid ?? { from: day, until: day };
  return day >= from && day <= until ? (unit.stops ?? []) : [];
}

/**
 * Of a hundred walks of a unit at twice the threshold, how many the table calls under: where the
 * pest is clumped, and where all of it sits on a few plants. Null where that is at most five.
 * @param {Table} table @returns {{clumped: number, spot: number} | null}
 */
export function missedBy({ missed }) {
  if (!missed || Math.max(...missed) <= 0.05) return null;
  return { clumped: Math.round(100 * missed[0]), spot: Math.round(100 * missed[1]) };
}
