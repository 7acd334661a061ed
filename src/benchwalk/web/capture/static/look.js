// @ts-check
/**
 * One plant while it is looked at, and what is said of it in the end (docs/phone.md).
 *
 * A draft is plain data, kept at every press. Nothing here needs a page.
 *
 * @typedef {{taxon: string, stage: string, method: string}} Target
 * @typedef {{how: "counted" | "at_least" | "present", number: number | null}} Count
 * @typedef {{id: string, mark: "set" | "confirmed" | "cleared"}} FlagMark
 * @typedef {{id: string, on: number, by: string, walk_id: string, unit_id: string, planting_id: string | null,
 *   n: number, plants: number, why: string, counts: Record<string, Count>, unchecked: string[],
 *   items: Record<string, number | null>, log: Step[], flag: FlagMark | null, position: string | null,
 *   note: string | null, began: number, seen_at: string | null}} Draft
 * @typedef {{key: string, was: Count | null}} Step
 * @typedef {{method: string, items?: number, of_items?: number, tallies: Tally[]}} Examined
 * @typedef {{taxon: string, stage: string, how: string, number?: number}} Tally
 */

export const WHYS = ["sample", "flagged", "edge", "indicator", "recheck", "search"];
const UNDOES = 200;

/** @param {Target} target */
export const keyOf = ({ taxon, stage, method }) => `${method} ${taxon} ${stage}`;

/**
 * The methods of targets, each once, in their order.
 * @param {Target[]} targets
 */
export const partsOf = (targets) => [...new Set(targets.map((t) => t.method))];

/**
 * A plant of which nothing is said yet: what the targets ask for is taken as examined.
 * @param {{id: string, by: string, walk_id: string, unit_id: string, n: number, began: number,
 *   planting_id?: string | null, items?: Record<string, number | null>}} said
 * @returns {Draft}
 */
export function newDraft({ id, by, walk_id, unit_id, n, began, planting_id = null, items = {} }) {
  return { id, on: 0, by, walk_id, unit_id, planting_id, n, plants: 1, why: "sample", counts: {}, unchecked: [], items,
    log: [], flag: null, position: null, note: null, began, seen_at: null };
}

/** @param {Draft} draft */
export const untouched = (draft) => Object.keys(draft.counts).length === 0 && !draft.flag && !draft.note;

/** @param {Draft} draft @param {string} key @param {Count} count @returns {Draft} */
function counted(draft, key, count) {
  const was = draft.counts[key] ?? null;
  const unchecked = draft.unchecked.filter((method) => !key.startsWith(`${method} `));
  return { ...draft, unchecked, counts: { ...draft.counts, [key]: count }, log: [...draft.log, { key, was }].slice(-UNDOES) };
}

/**
 * A key pressed: one more, or ten.
 * @param {Draft} draft @param {string} key @param {number} by @returns {Draft}
 */
export function add(draft, key, by = 1) {
  const before = draft.counts[key] ?? null;
  const how = before?.how === "at_least" ? "at_least" : "counted";
  return counted(draft, key, { how, number: (before?.number ?? 0) + by });
}

/**
 * There, and nobody counted.
 * @param {Draft} draft @param {string} key @returns {Draft}
 */
export const seen = (draft, key) => counted(draft, key, { how: "present", number: null });

/**
 * There are more than were counted; nothing changes where none was.
 * @param {Draft} draft @param {string} key @returns {Draft}
 */
export function more(draft, key) {
  const number = draft.counts[key]?.number ?? null;
  return number === null ? draft : counted(draft, key, { how: "at_least", number });
}

/** @param {Draft} draft @returns {Draft} */
export function undone(draft) {
  const step = draft.log.at(-1);
  if (!step) return draft;
  const { [step.key]: _, ...others } = draft.counts;
  return { ...draft, counts: step.was === null ? others : { ...others, [step.key]: step.was }, log: draft.log.slice(0, -1) };
}

/**
 * A part said not to be examined, or examined after all; a part that has counts was examined.
 * @param {Draft} draft @param {string} method @returns {Draft}
 */
export function toggled(draft, method) {
  const off = draft.unchecked.includes(method);
  if (!off && hasCounts(draft, method)) return draft;
  return { ...draft, unchecked: off ? draft.unchecked.filter((m) => m !== method) : [...draft.unchecked, method] };
}

/** @param {Draft} draft @param {string} method */
export const hasCounts = (draft, method) => Object.keys(draft.counts).some((key) => key.startsWith(`${method} `));

/**
 * What is said of the plant: a line for each part examined, and in it a tally for each target,
 * zero where nothing was pressed. A part that was not examined has no line and so no zero.
 * @param {Draft} draft @param {Target[]} targets @param {string} seen_at
 * @returns {Record<string, any>} the body of an observation
 */
export function bodyOf(draft, targets, seen_at) {
  const { walk_id, unit_id, why, plants, planting_id, position, note, flag } = draft;
  const examined = partsOf(targets).filter((method) => !draft.unchecked.includes(method)).map((method) => examinedIn(draft, targets, method));
  const body = { kind: "look", walk_id, unit_id, seen_at, why, plants, planting_id, position, note, examined,
    flag_id: flag?.id ?? null, flag_mark: flag?.mark ?? null };
  return said(body);
}

/** @param {Draft} draft @param {Target[]} targets @param {string} method @returns {Examined} */
function examinedIn(draft, targets, method) {
  const tallies = targets.filter((t) => t.method === method).map((t) => tallyOf(t, draft.counts[keyOf(t)] ?? null));
  const items = draft.items[method] ?? null;
  return said({ method, items: items === null ? null : items * draft.plants, tallies });
}

/** @param {Target} target @param {Count | null} count @returns {Tally} */
export function tallyOf({ taxon, stage }, count) {
  const { how, number } = count ?? { how: "counted", number: 0 };
  return said({ taxon, stage, how, number });
}

/**
 * Without what is empty.
 * @param {Record<string, any>} body @returns {any}
 */
export function said(body) {
  return Object.fromEntries(Object.entries(body).filter(([, value]) => value !== null && value !== undefined));
}

/**
 * A look that was said, open again: its next saying is a new rev of the same look.
 * @param {{id: string, rev: number, by: string, seen_at: string, body: Record<string, any>}} record
 * @param {Target[]} targets @param {number} n @param {number} began
 * @returns {Draft}
 */
export function reopened(record, targets, n, began) {
  const { body } = record;
  const examined = new Map(body.examined.map((/** @type {Examined} */ e) => [e.method, e]));
  const draft = newDraft({ id: record.id, by: record.by, walk_id: body.walk_id, unit_id: body.unit_id, n, began, planting_id: body.planting_id ?? null });
  /** @type {Record<string, Count>} */
  const counts = {};
  for (const [method, { tallies }] of examined) {
    for (const t of tallies) {
      if (t.how === "present" || t.number > 0) counts[keyOf({ ...t, method })] = { how: t.how, number: t.number ?? null };
    }
  }
  const items = Object.fromEntries([...examined].map(([method, e]) => [method, e.items === undefined ? null : e.items / body.plants]));
  return { ...draft, on: record.rev, plants: body.plants, why: body.why, counts, items,
    unchecked: partsOf(targets).filter((method) => !examined.has(method)), position: body.position ?? null, note: body.note ?? null,
    flag: body.flag_id ? { id: body.flag_id, mark: body.flag_mark } : null, seen_at: body.seen_at };
}
