// @ts-check
/**
 * What a phone holds until the server has said that it has it too (docs/phone-protocol.md).
 *
 * Nothing here needs a page: storage, network, clock, chance and waiting are given, so that the
 * same file runs in a page, in a worker and in a test.
 */
import { corrected, offset } from "./clock.js";
import { readAnswers } from "./answers.js";
import { connect, got } from "./store.js";
import { uuid7 } from "./ids.js";

export const VERSION = 1;
const DAY = 86_400_000;
const KEPT = 30 * DAY;
const MOST = 500;
const BYTES = 900_000;
const OFFERS = 20;
const FIRST_WAIT = 2_000;
const LONGEST_WAIT = 300_000;
const GIVEN_UP = 30_000;
const ALL = ["records", "outbox", "sent", "aside", "meta"];
const LEFT = new Set(["applied", "duplicate", "stale"]);
const TAKEN_FIRST = new Set(["walk", "planting", "card", "flag", "visit"]);

/** Another rev than the one that was edited is held: read it again. */
export class StaleEdit extends Error {}

/**
 * @typedef {{kind: string, id: string, rev: number, base: number, by: string, seen_at: string,
 *   offset_s: number | null, void: string | null, body: Record<string, any>}} Item
 * @typedef {Item & {rank: number, order: number, tries: number, saved_at: number}} Row
 * @typedef {{indexedDB: IDBFactory, fetch: typeof fetch, now: () => number, random: () => number,
 *   wait: (ms: number, signal?: AbortSignal) => Promise<void>, name?: string, address?: string, app?: string | null}} Given
 */

/** @param {Given} given */
export async function openOutbox(given) {
  const outbox = new Outbox(given);
  await outbox.forget();
  return outbox;
}

/** @param {any} row @returns {Item} */
const item = ({ kind, id, rev, base, by, seen_at, offset_s, void: gone, body }) =>
  ({ kind, id, rev, base, by, seen_at, offset_s, void: gone, body });

class Outbox {
  /** @param {Given} given */
  constructor({ indexedDB, fetch, now, random, wait, name = "benchwalk", address = "", app = null }) {
    this.store = connect(indexedDB, name);
    this.fetch = fetch;
    this.now = now;
    this.random = random;
    this.wait = wait;
    this.address = address;
    this.app = app;
    this.most = MOST;
    this.failures = 0;
    /** @type {Set<() => void>} */
    this.listeners = new Set();
    this.awake = new AbortController();
  }

  /** @param {() => void} listener */
  onChange(listener) {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  changed() {
    for (const listener of this.listeners) listener();
  }

  /** @param {string} key */
  async meta(key) {
    return this.store.read(["meta"], async (t) => (await got(t.objectStore("meta").get(key)))?.value ?? null);
  }

  /** @param {Record<string, any>} values */
  async note(values) {
    await this.store.write(["meta"], async (t) => noteIn(t, values));
    this.changed();
  }

  /** @param {{token: string, device: string, operation: string | null}} what */
  async pair({ token, device, operation }) {
    await this.note({ token, device, operation, needs: null });
  }

  /** @param {string} [token] */
  async signedIn(token) {
    await this.note({ needs: null, ...(token ? { token } : {}) });
    this.wake();
  }

  /** @param {any} plan */
  async savePlan(plan) {
    await this.note({ plan });
  }

  async plan() {
    return this.meta("plan");
  }

  /** Loads the plan and keeps it; what is kept stays where the answer is no plan. */
  async loadPlan() {
    const { answer, text } = await this.ask("/api/v1/plan", {});
    if (answer.status === 401) await this.note({ needs: "pin" });
    const plan = answer.ok ? parsed(text) : null;
    const whose = await this.meta("operation");
    if (plan?.version !== VERSION || !plan.operation?.uid || (whose !== null && plan.operation.uid !== whose)) return null;
    // pairing gives a token and no operation: the first plan that the token fetches names it
    await this.note({ plan, operation: plan.operation.uid });
    return plan;
  }

  /**
   * Keeps a record and its outbox row in one strict transaction; resolves once both are there.
   * @param {{kind: string, id?: string, on?: number, body: Record<string, any>, by: string,
   *   base?: number, void?: string | null, regulated?: boolean, seen_at?: string}} said
   * @returns {Promise<{id: string, rev: number}>}
   */
  async save({ kind, id, on, base = 0, body, by, void: gone = null, regulated = false, seen_at }) {
    const key = id ?? uuid7(corrected(this.now(), await this.meta("offset_s")), this.random);
    const rev = await this.store.write(ALL, async (t) => {
      const held = await got(t.objectStore("records").get(key));
      if (on !== undefined && on !== (held?.rev ?? 0)) throw new StaleEdit(`${kind} ${key}: rev ${held?.rev}, not ${on}`);
      const offset_s = (await got(t.objectStore("meta").get("offset_s")))?.value ?? null;
      const at = seen_at ?? new Date(corrected(this.now(), offset_s)).toISOString();
      const waiting = await got(t.objectStore("outbox").get(key));
      const row = { kind, id: key, rev: Math.max(held?.rev ?? 0, base) + 1, base: Math.max(base, await known(t, key)), by, seen_at: at,
        offset_s, void: gone, body, tries: 0, saved_at: waiting?.saved_at ?? this.now(),
        order: waiting?.order ?? (await counted(t)), rank: rank(kind, regulated, body) };
      t.objectStore("records").put({ kind, id: key, rev: row.rev, by, seen_at: at, void: gone, body });
      t.objectStore("outbox").put(row);
      if (regulated) await first(t, body);
      return row.rev;
    });
    this.changed();
    this.wake();
    return { id: key, rev };
  }

  /** @param {string} id */
  async record(id) {
    return this.store.read(["records"], (t) => got(t.objectStore("records").get(id)));
  }

  /** @param {string} kind */
  async records(kind) {
    const all = await this.store.read(["records"], (t) => got(t.objectStore("records").getAll()));
    return all.filter((/** @type {any} */ r) => r.kind === kind);
  }

  /** Rows in the order of sending, as many as the next request takes. */
  async next() {
    const rows = await this.store.read(["outbox"], (t) => got(t.objectStore("outbox").getAll()));
    rows.sort((/** @type {Row} */ a, /** @type {Row} */ b) => a.tries - b.tries || a.rank - b.rank || a.order - b.order);
    const taken = [];
    let bytes = 0;
    for (const row of rows.slice(0, this.most)) {
      bytes += JSON.stringify(item(row)).length * 3;
      if (taken.length && bytes > BYTES) break;
      taken.push(row);
    }
    return { taken, unsent: rows.length };
  }

  /**
   * One request at most.
   * @returns {Promise<{state: string, applied?: number, kept?: number, error?: string}>}
   */
  async send() {
    const needs = await this.meta("needs");
    if (needs) return { state: needs === "load" ? "old_version" : "signed_out" };
    const { taken, unsent } = await this.next();
    if (!taken.length) return { state: "nothing" };
    try {
      return await this.offer(taken, unsent);
    } catch (error) {
      await this.failed(taken);
      return { state: "waiting", error: String(error) };
    }
  }

  /** @param {Row[]} taken @param {number} unsent */
  async offer(taken, unsent) {
    const sent = this.now();
    const message = { version: VERSION, epoch: await this.meta("epoch"), sent_at: new Date(sent).toISOString(), unsent, ...(this.app ? { app: this.app } : {}), items: taken.map(item) };
    const { answer, text } = await this.ask("/api/v1/sync", { method: "POST", body: JSON.stringify(message) });
    if (answer.status === 401) return this.stop("pin", "signed_out");
    if (answer.status === 422 && parsed(text)?.error === "version") return this.stop("load", "old_version");
    if (answer.status !== 200) throw new Error(`status ${answer.status}`);
    const said = readAnswers(text, await this.meta("operation"));
    const result = await this.take(said, { offset_s: offset(sent, this.now(), said.received_at), heard_at: this.now() });
    this.failures = 0;
    this.most = Math.min(MOST, this.most * 2);
    this.changed();
    return { state: "sent", ...result };
  }

  /** @param {string} needs @param {string} state */
  async stop(needs, state) {
    await this.note({ needs });
    return { state };
  }

  /**
   * Only an answer that names the id and the rev that is held lets go of a row.
   * @param {import("./answers.js").Said} said
   * @param {{offset_s: number | null, heard_at: number}} heard
   */
  async take(said, { offset_s, heard_at }) {
    return this.store.write(ALL, async (t) => {
      const count = { applied: 0, kept: 0 };
      for (const answer of said.answers) {
        const row = await got(t.objectStore("outbox").get(answer.id));
        if (!row) continue;
        if (row.rev !== answer.rev) await learned(t, row, answer);
        else if (LEFT.has(answer.answer)) {
          move(t, row, "sent", { sent_at: heard_at });
          count.applied += 1;
        } else if (answer.reason === "missing_reference" && row.tries < OFFERS) {
          t.objectStore("outbox").put({ ...row, tries: row.tries + 1 });
        } else {
          move(t, row, "aside", { answer: answer.answer, reason: answer.reason, aside_at: heard_at });
          count.kept += 1;
        }
      }
      await renewed(t, said.epoch, this.now());
      noteIn(t, { epoch: said.epoch, heard_at, ...(offset_s === null ? {} : { offset_s }) });
      return count;
    });
  }

  /** @param {Row[]} taken */
  async failed(taken) {
    this.failures += 1;
    if (taken.length === 1 && this.failures > 2) {
      // alone and refused again and again: the others go before it
      await this.store.write(["outbox"], async (t) => {
        const row = await got(t.objectStore("outbox").get(taken[0].id));
        if (row?.rev === taken[0].rev) t.objectStore("outbox").put({ ...row, tries: Math.min(row.tries + 1, OFFERS - 1) });
      });
    }
    this.most = Math.max(1, Math.floor(taken.length / 2));
    this.changed();
  }

  /** @param {string} path @param {RequestInit} how */
  async ask(path, how) {
    const end = new AbortController();
    const answered = new AbortController();
    const timer = this.wait(GIVEN_UP, answered.signal).then(() => end.abort(new Error("no answer")));
    const headers = { Authorization: `Bearer ${await this.meta("token")}`, "Content-Type": "application/json" };
    try {
      const fetch = this.fetch;
      const answer = await fetch(this.address + path, { ...how, headers, signal: end.signal, cache: "no-store", credentials: "omit", redirect: "error" });
      return { answer, text: await answer.text() };
    } finally {
      answered.abort();
      timer.catch(() => undefined);
    }
  }

  /** How long until the next try [ms]: doubled each time, a random share of it. */
  delay() {
    return this.random() * Math.min(LONGEST_WAIT, FIRST_WAIT * 2 ** Math.min(this.failures, 12));
  }

  /** @param {AbortSignal} signal */
  async keepSending(signal) {
    signal.addEventListener("abort", () => this.wake());
    while (!signal.aborted) {
      this.awake = new AbortController();
      const { state } = await this.send();
      if (state === "sent" || signal.aborted) continue;
      await this.wait(state === "waiting" ? this.delay() : LONGEST_WAIT, this.awake.signal).catch(() => undefined);
    }
  }

  wake() {
    this.awake.abort();
  }

  async status() {
    return this.store.read(ALL, async (t) => {
      const outbox = await got(t.objectStore("outbox").getAll());
      const aside = await got(t.objectStore("aside").getAll());
      const noted = Object.fromEntries((await got(t.objectStore("meta").getAll())).map((/** @type {any} */ m) => [m.key, m.value]));
      const oldest = outbox.reduce((/** @type {number | null} */ o, /** @type {Row} */ r) => (o === null || r.saved_at < o ? r.saved_at : o), null);
      const conflicts = aside.filter((/** @type {any} */ a) => a.answer === "conflict").length;
      return { unsent: outbox.length, oldest_at: oldest, warn: oldest !== null && this.now() - oldest > DAY, conflicts,
        refused: aside.length - conflicts, heard_at: noted.heard_at ?? null, epoch: noted.epoch ?? null,
        needs: noted.needs ?? null, offset_s: noted.offset_s ?? null };
    });
  }

  async keptAside() {
    return this.store.read(["aside"], (t) => got(t.objectStore("aside").getAll()));
  }

  /** @param {string} id @param {number} rev */
  async offerAgain(id, rev) {
    await this.store.write(["aside", "outbox"], async (t) => {
      const row = await got(t.objectStore("aside").get([id, rev]));
      const waiting = await got(t.objectStore("outbox").get(id));
      if (!row || waiting) return;
      t.objectStore("outbox").put({ ...row, tries: 0 });
      t.objectStore("aside").delete([id, rev]);
    });
    this.changed();
    this.wake();
  }

  async exportFile() {
    return this.store.read(ALL, async (t) => {
      const rows = [...(await got(t.objectStore("outbox").getAll())), ...(await got(t.objectStore("aside").getAll()))];
      const noted = Object.fromEntries((await got(t.objectStore("meta").getAll())).map((/** @type {any} */ m) => [m.key, m.value]));
      return { file: "benchwalk-phone", version: VERSION, operation: noted.operation ?? null, device: noted.device ?? null,
        epoch: noted.epoch ?? null, made_at: new Date(this.now()).toISOString(), items: rows.map(item) };
    });
  }

  /** What was sent more than 30 days ago goes; nothing else ever does by itself. */
  async forget() {
    await this.store.write(["sent"], async (t) => {
      const old = await got(t.objectStore("sent").getAll());
      for (const row of old) if (this.now() - row.sent_at > KEPT) t.objectStore("sent").delete(row.id);
    });
  }
}

/** @param {IDBTransaction} t @param {Record<string, any>} values */
function noteIn(t, values) {
  for (const [key, value] of Object.entries(values)) t.objectStore("meta").put({ key, value });
}

/**
 * The newest rev of a record that the server is known to hold.
 * @param {IDBTransaction} t @param {string} id
 */
async function known(t, id) {
  const sent = await got(t.objectStore("sent").get(id));
  const waiting = await got(t.objectStore("outbox").get(id));
  return Math.max(sent?.rev ?? 0, waiting?.base ?? 0);
}

/**
 * A rev that was edited meanwhile is known to be there.
 * @param {IDBTransaction} t @param {Row} row @param {any} answer
 */
async function learned(t, row, answer) {
  if (!LEFT.has(answer.answer) || answer.rev > row.rev) return;
  t.objectStore("outbox").put({ ...row, base: Math.max(row.base, answer.rev) });
}

/** @param {IDBTransaction} t @param {Row} row @param {string} to @param {Record<string, any>} more */
function move(t, row, to, more) {
  t.objectStore(to).put({ ...row, ...more });
  t.objectStore("outbox").delete(row.id);
}

/**
 * A restored server is offered again what it was told before.
 * @param {IDBTransaction} t @param {number} epoch @param {number} now
 */
async function renewed(t, epoch, now) {
  const before = (await got(t.objectStore("meta").get("epoch")))?.value ?? null;
  if (before === null || before === epoch) return;
  for (const row of await got(t.objectStore("sent").getAll())) {
    const waiting = await got(t.objectStore("outbox").get(row.id));
    if (!waiting) t.objectStore("outbox").put({ ...row, tries: 0, saved_at: now });
    t.objectStore("sent").delete(row.id);
  }
}

/** @param {IDBTransaction} t */
async function counted(t) {
  const n = ((await got(t.objectStore("meta").get("saved")))?.value ?? 0) + 1;
  noteIn(t, { saved: n });
  return n;
}

/**
 * Regulated finds, then what others stand on, then counts, then what has photos.
 * @param {string} kind @param {boolean} regulated @param {any} body
 */
function rank(kind, regulated, body) {
  if (regulated) return 1;
  if (TAKEN_FIRST.has(kind)) return 2;
  return body.photo_sha256 ? 4 : 3;
}

/**
 * What a regulated find stands on goes before it.
 * @param {IDBTransaction} t @param {any} body
 */
async function first(t, body) {
  for (const row of await got(t.objectStore("outbox").getAll())) {
    const visit = row.kind === "visit" && row.body.walk_id === body.walk_id && row.body.unit_id === body.unit_id;
    if (visit || (TAKEN_FIRST.has(row.kind) && Object.values(body).includes(row.id))) t.objectStore("outbox").put({ ...row, rank: 0 });
  }
}

/** @param {string} text @returns {any} */
function parsed(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

