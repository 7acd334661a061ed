// @ts-check
/** The page: opens the outbox, shows the screen that the address names, and sends meanwhile. */
import { waiting } from "./clock.js";
import { h } from "./dom.js";
import { openOutbox } from "./outbox.js";
import { openPhotos } from "./photos.js";
import { Phone } from "./phone.js";
import { locale_of, namer, speaker } from "./words.js";
import * as begin from "./screens_begin.js";
import * as counting from "./screens_count.js";
import * as extras from "./screens_extra.js";
import * as stops from "./screens_stops.js";
import { phoneScreen } from "./screens_phone.js";

/**
 * @typedef {{phone: Phone, outbox: any, say: ReturnType<typeof speaker>, names: ReturnType<typeof namer>, locale: string,
 *   go: (to: string) => void, again: () => void, told: (text: string | null) => void, setting: (name: string, value: string) => void,
 *   setting_of: (name: string) => string | null, fetch: typeof fetch}} Ctx
 * @typedef {{title: string, back?: [string, string] | null, body: any[], foot?: any, refresh?: () => void, foot_class?: string}} Screen
 */

/** @type {Record<string, (ctx: Ctx, arg: string) => Screen>} */
const SCREENS = { pair: begin.pair, shift: begin.shift, walks: begin.walks, "new-walk": begin.newWalk, stops: stops.stops, skip: stops.skip,
  "walk-end": stops.walkEnd, count: counting.count, "unit-end": counting.unitEnd, where: counting.where, parts: counting.parts, cards: extras.cards,
  card: extras.card, flag: extras.flag, note: extras.note, sighting: extras.sighting, phone: phoneScreen };
const BEFORE_PAIRING = ["pair"];
const BEFORE_SHIFT = ["pair", "shift", "phone"];

class App {
  /** @param {any} words @param {any} outbox @param {Phone} phone */
  constructor(words, outbox, phone) {
    this.words = words;
    this.outbox = outbox;
    this.phone = phone;
    /** @type {Screen | null} */ this.screen = null;
    this.where = "";
    this.main = document.querySelector("main");
    addEventListener("hashchange", () => this.show());
    phone.listeners.add(() => this.refresh());
  }

  get locale() {
    return localStorage.getItem("locale") ?? locale_of(navigator.languages, Object.keys(this.words));
  }

  /** @returns {Ctx} */
  ctx() {
    const { phone, outbox, locale, words } = this;
    const say = speaker(words, locale);
    const names = namer(phone.plan ?? { taxa: {}, stages: {}, methods: {}, crops: {} }, locale, say, words);
    return { phone, outbox, say, names, locale, fetch: (...a) => fetch(...a), go: (to) => this.go(to), again: () => this.show(),
      told: (text) => this.tell(text), setting: (name, value) => this.set(name, value), setting_of: (name) => localStorage.getItem(name) };
  }

  /** @param {string} name @param {string} value */
  set(name, value) {
    localStorage.setItem(name, value);
    this.show();
  }

  /** @param {string} to */
  go(to) {
    if (location.hash === `#/${to}`) this.show();
    else location.hash = `#/${to}`;
  }

  /**
   * Where the address may lead as things stand.
   * @param {string} wanted
   */
  allowed(wanted) {
    const { phone } = this;
    if (!phone.token) return BEFORE_PAIRING.includes(wanted) ? wanted : "pair";
    if (!phone.plan || !phone.shift) return BEFORE_SHIFT.includes(wanted) ? wanted : "shift";
    const start = phone.walk ? (phone.draft && phone.unit ? "count" : "stops") : "walks";
    if (!(wanted in SCREENS)) return start;
    const needsUnit = ["count", "unit-end", "where", "parts", "cards", "card", "flag", "note"].includes(wanted);
    if (needsUnit && !phone.unit) return start;
    return ["stops", "skip", "walk-end"].includes(wanted) && !phone.walk ? "walks" : wanted;
  }

  show() {
    const [named, arg = ""] = location.hash.replace(/^#\/?/, "").split("/");
    const wanted = begin.codeIn(location.hash) ? "pair" : named;
    const where = this.allowed(wanted);
    const ctx = this.ctx();
    document.documentElement.lang = this.locale;
    document.body.className = `phone ${localStorage.getItem("theme") === "dim" ? "dim" : "sun"}`;
    const screen = SCREENS[where](ctx, decodeURIComponent(arg));
    const same = where === this.where;
    this.where = where;
    this.screen = screen;
    document.title = `${screen.title} · benchwalk`;
    this.main?.replaceChildren(this.top(ctx, screen), this.alert(), ...screen.body.filter((node) => node !== null), screen.foot ?? "");
    this.refresh();
    // with large text the foot would hide what it belongs to: it scrolls along then
    screen.foot?.classList.toggle("loose", screen.foot.offsetHeight > innerHeight * 0.3);
    if (!same) {
      scrollTo(0, 0);
      const head = this.main?.querySelector("h1");
      head?.setAttribute("tabindex", "-1");
      head?.focus();
    }
  }

  alert() {
    this.alertBox = h("div.alert", { role: "alert" });
    return this.alertBox;
  }

  /** @param {string | null} text */
  tell(text) {
    this.alertBox?.replaceChildren(...(text ? [h("p", {}, text)] : []));
    if (text) this.alertBox?.scrollIntoView({ block: "nearest" });
  }

  /** @param {Ctx} ctx @param {Screen} screen */
  top(ctx, screen) {
    const back = screen.back ? h("a", { href: `#/${screen.back[0]}` }, screen.back[1]) : h("span.brand", {}, "benchwalk");
    this.unsent = ctx.phone.token ? h("a.unsent", { href: "#/phone" }) : h("span");
    return h("header.ph-top", {}, back, h("span"), this.unsent);
  }

  refresh() {
    const { status, token } = this.phone;
    if (this.unsent && status && token) this.sayUnsent(status);
    this.screen?.refresh?.();
  }

  /** @param {any} status */
  sayUnsent(status) {
    const { say } = this.ctx();
    const aside = status.conflicts + status.refused;
    const lines = [say(status.unsent === 1 ? "phone.unsent.one" : "phone.unsent.other", { n: status.unsent }),
      aside ? say("phone.aside_n", { n: aside }) : status.needs === "pin" ? say("phone.needs_pin") : status.warn ? say("phone.warn_day") : say(status.unsent ? "phone.kept_here" : status.heard_at ? "phone.all_sent" : "phone.nothing_yet")];
    const text = lines.join("\n");
    if (this.unsent.dataset.text === text) return;
    this.unsent.dataset.text = text;
    this.unsent.replaceChildren(h("span", {}, lines[0]), h("br"), h("span", {}, lines[1]));
  }
}

/** The page's own files are kept for a start without network. */
async function keepFiles() {
  if (!("serviceWorker" in navigator)) return;
  await navigator.serviceWorker.register("/phone/sw.js", { scope: "/phone/", updateViaCache: "none" });
}

/** Which files the phone keeps; null where the browser keeps none, or not yet. */
async function keptVersion() {
  const names = globalThis.caches ? await caches.keys() : [];
  return names.find((name) => name.startsWith("benchwalk-phone-"))?.slice("benchwalk-phone-".length) ?? null;
}

let sending = false;

/**
 * Photos go last, once nothing else waits.
 * @param {Phone} phone
 */
async function sendPhotos({ photos, status, outbox, token }) {
  if (sending || !photos || !token || status?.unsent || status?.needs) return;
  sending = true;
  try {
    await photos.send(outbox);
  } catch (no) {
    console.info(String(no)); // no network: they stay, and go with the next word to the office
  } finally {
    sending = false;
  }
}

async function start() {
  const kept = keepFiles();
  const words = await (await fetch("/phone/words.json")).json();
  const now = () => Date.now(), random = Math.random;
  const outbox = await openOutbox({ indexedDB, fetch: (...a) => fetch(...a), now, random, wait: waiting, app: await keptVersion() });
  // photos are named by their digest, which a browser makes on a secure page only
  const photos = globalThis.crypto?.subtle ? openPhotos(indexedDB, crypto.subtle) : null;
  const phone = new Phone(outbox, { now, random, photos });
  await phone.open();
  const app = new App(words, outbox, phone);
  // what waits is sent whatever the screen does
  addEventListener("online", () => {
    outbox.wake();
    sendPhotos(phone);
  });
  outbox.keepSending(new AbortController().signal);
  phone.listeners.add(() => sendPhotos(phone));
  sendPhotos(phone);
  app.show();
  document.documentElement.dataset.ready = "yes";
  if (phone.token) outbox.loadPlan().then((/** @type {any} */ plan) => plan && Object.assign(phone, { plan })).catch(() => undefined);
  navigator.storage?.persist?.();
  await kept;
  await navigator.serviceWorker?.ready;
  outbox.app = await keptVersion();
}

start();
