// @ts-check
/**
 * A UUID version 7 (RFC 9562, section 5.7): 48 bits of milliseconds, then random bits.
 * @param {number} ms milliseconds since 1970, by the corrected clock
 * @param {() => number} random a number in [0, 1), as Math.random
 * @returns {string}
 */
export function uuid7(ms, random) {
  const hex = Math.max(0, Math.floor(ms)).toString(16).padStart(12, "0").slice(-12);
  const bits = (/** @type {number} */ n) => Math.floor(random() * 2 ** n);
  const free = [0x7000 | bits(12), 0x8000 | bits(14), bits(16), bits(16), bits(16)];
  const [a, b, c, d, e] = free.map((n) => n.toString(16).padStart(4, "0"));
  return `${hex.slice(0, 8)}-${hex.slice(8)}-${a}-${b}-${c}${d}${e}`;
}
