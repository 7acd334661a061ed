// @ts-check
/** Elements in one call. No markup is ever made of text, so nothing said can become a page. */

/** @typedef {Node | string | number | null | undefined | false} Child */

/**
 * @param {string} tag `button.key`: a tag and its classes
 * @param {Record<string, any>} [props] attributes; `on`: listeners by name
 * @param {...(Child | Child[])} children
 * @returns {any}
 */
export function h(tag, props = {}, ...children) {
  const [name, ...classes] = tag.split(".");
  const node = document.createElement(name);
  if (classes.length) node.className = classes.join(" ");
  for (const [key, value] of Object.entries(props)) set(node, key, value);
  node.append(...children.flat().filter((c) => c !== null && c !== undefined && c !== false).map((c) => (c instanceof Node ? c : String(c))));
  return node;
}

/** @param {HTMLElement} node @param {string} key @param {any} value */
function set(node, key, value) {
  if (key === "on") for (const [event, f] of Object.entries(value)) node.addEventListener(event, f);
  else if (key.startsWith("aria-")) node.setAttribute(key, String(value));
  else if (value === true) node.setAttribute(key, "");
  else if (value !== false && value !== null && value !== undefined) node.setAttribute(key, String(value));
}

const SVG = "http://www.w3.org/2000/svg";

/** @param {string} tag @param {Record<string, any>} [props] @param {...Node} children @returns {SVGElement} */
export function s(tag, props = {}, ...children) {
  const node = document.createElementNS(SVG, tag);
  for (const [key, value] of Object.entries(props)) node.setAttribute(key, String(value));
  node.append(...children);
  return node;
}

/**
 * Text put in where it changed, so that a screen reader hears only news.
 * @param {Node} node @param {string} text
 */
export function write(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

let made = 0;

/**
 * A label and its field.
 * @param {string} text @param {any} field @param {string} [hint]
 */
export function field(text, field, hint) {
  field.id ||= `f${++made}`;
  return h("div.field", {}, h("label", { for: field.id }, text), field, hint && h("p.hint", {}, hint));
}

/**
 * A native list to choose from.
 * @param {[string, string][]} options value and words
 * @param {string | null} chosen @param {(value: string) => void} [changed]
 */
export function choice(options, chosen, changed) {
  const made = options.map(([value, text]) => h("option", { value, selected: value === chosen }, text));
  return h("select", { on: { change: (/** @type {any} */ e) => changed?.(e.target.value) } }, made);
}

/** @param {string} text @param {() => unknown} press @param {string} [classes] @param {Record<string, any>} [more] */
export function button(text, press, classes = "", more = {}) {
  return h(`button${classes && "."}${classes}`, { type: "button", on: { click: press }, ...more }, text);
}
