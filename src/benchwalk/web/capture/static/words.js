// @ts-check
/** Words in the reader's language: sentences from the catalogue, names of things from the plan. */

/** @typedef {Record<string, string>} Sentences */

/**
 * @param {Record<string, Sentences>} words by language
 * @param {string} locale
 */
export function speaker(words, locale) {
  const here = words[locale];
  return (/** @type {string} */ key, /** @type {Record<string, string | number>} */ values = {}) => {
    const text = here[key];
    if (text === undefined) throw new Error(`no words for ${key}`);
    return text.replace(/\{(\w+)\}/g, (_, name) => String(values[name]));
  };
}

/**
 * The first of the reader's languages that there are words for.
 * @param {readonly string[]} wanted @param {string[]} there
 */
export const locale_of = (wanted, there) => wanted.map((w) => w.slice(0, 2)).find((w) => there.includes(w)) ?? "en";

/**
 * Names of what a plan speaks of; the operation's own name comes first.
 * @param {any} plan @param {string} locale @param {ReturnType<typeof speaker>} say @param {Record<string, Sentences>} words
 */
export function namer(plan, locale, say, words) {
  const name = (/** @type {any} */ term, /** @type {string} */ code) => term?.names?.own?.[0] ?? term?.names?.[locale] ?? term?.names?.en ?? code;
  const known = (/** @type {string} */ key, /** @type {string} */ other) => (words[locale][key] === undefined ? other : say(key));
  return {
    taxon: (/** @type {string} */ code) => capital(name(plan.taxa[code], code)),
    stage: (/** @type {string} */ code) => name(plan.stages[code], code),
    method: (/** @type {string} */ code) => name(plan.methods[code], code),
    crop: (/** @type {string} */ code) => name(plan.crops[code], code),
    part: (/** @type {string} */ method) => partName(plan.methods[method], name(plan.methods[method], method), known),
    unit: (/** @type {any} */ unit) => [unit.house, unit.name].filter(Boolean).join(" / "),
    reason: (/** @type {string} */ code) => known(`reason.${code}`, code),
    phase: (/** @type {string} */ code) => known(`phone.phase.${code}`, code.replaceAll("_", " ")),
  };
}

/** @param {any} method @param {string} own @param {(key: string, other: string) => string} known */
function partName(method, own, known) {
  return known(`phone.part.${method?.part}`, own);
}

/** @param {string} text */
export const capital = (text) => text.charAt(0).toLocaleUpperCase() + text.slice(1);

/**
 * A time of day where the operation is, as 18:00.
 * @param {number | string} at @param {string} zone
 */
export function clock(at, zone) {
  return new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", timeZone: zone }).format(new Date(at));
}

const DAYS = { en: ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"], es: ["dom", "lun", "mar", "mié", "jue", "vie", "sáb"] };
const MONTHS = {
  en: ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"],
  es: ["ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"],
};

/**
 * Thu 7 May, jue 7 may.
 * @param {string} day 2026-05-07 @param {string} locale
 */
export function date(day, locale) {
  const at = new Date(`${day}T00:00:00Z`);
  const own = /** @type {"en" | "es"} */ (locale in DAYS ? locale : "en");
  return `${DAYS[own][at.getUTCDay()]} ${at.getUTCDate()} ${MONTHS[own][at.getUTCMonth()]}`;
}
