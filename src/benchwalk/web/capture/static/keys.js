// @ts-check
/**
 * Keys of a unit's targets, and which hits on glass are presses.
 *
 * @typedef {import("./look.js").Target} Target
 * @typedef {{taxon: string, enemy: boolean, keys: Target[]}} Band
 */
import { keyOf } from "./look.js";

export const BOUNCE = 70; // [ms], own choice: a wet glove chatters; nobody taps 14 times a second
const CLICK_AFTER = 700; // [ms] a click this soon after its own hit is the same press

/**
 * Targets that can stand in one look: stages of a pest that overlap ("motile" and "adult") would
 * count an animal twice, and the records refuse them; the first of them is kept.
 * @param {Target[]} targets @param {Record<string, {bits: number}>} stages
 */
export function apart(targets, stages) {
  /** @type {Target[]} */
  const kept = [];
  for (const target of targets) {
    const alike = kept.filter((k) => k.taxon === target.taxon && k.method === target.method);
    if (!alike.some((k) => overlap(stages[k.stage]?.bits, stages[target.stage]?.bits))) kept.push(target);
  }
  return kept;
}

/**
 * Bits go beyond 31, where the & of JavaScript ends.
 * @param {number} [a] @param {number} [b]
 */
const overlap = (a, b) => (BigInt(a ?? 0) & BigInt(b ?? 0)) !== 0n;

/**
 * One band a pest, beneficials last.
 * @param {Target[]} targets @param {Record<string, {kind: string}>} taxa
 * @returns {Band[]}
 */
export function bandsOf(targets, taxa) {
  const names = [...new Set(targets.map((t) => t.taxon))];
  const bands = names.map((taxon) => ({ taxon, enemy: taxa[taxon]?.kind === "enemy", keys: targets.filter((t) => t.taxon === taxon) }));
  return [...bands.filter((b) => !b.enemy), ...bands.filter((b) => b.enemy)];
}

/** @param {Target[]} targets @param {string} key */
export const targetOf = (targets, key) => targets.find((t) => keyOf(t) === key) ?? null;

/**
 * Tells presses from bounces: one press a hit of the first finger, another on the same key not
 * within `bounce` of the last hit there. A click counts where no hit came before it (a keyboard, a
 * screen reader).
 * @param {number} [bounce] [ms]
 */
export function pressFilter(bounce = BOUNCE) {
  /** @type {Map<string, number>} */
  const last = new Map();
  return {
    /** @param {{isPrimary: boolean, button: number, timeStamp: number}} hit @param {string} key */
    down(hit, key) {
      if (!hit.isPrimary || hit.button !== 0) return false;
      const before = last.get(key) ?? -Infinity;
      last.set(key, hit.timeStamp);
      return hit.timeStamp - before >= bounce;
    },
    /** @param {{timeStamp: number}} hit @param {string} key */
    click(hit, key) {
      return hit.timeStamp - (last.get(key) ?? -Infinity) > CLICK_AFTER;
    },
  };
}
