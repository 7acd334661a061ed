// @ts-check
/**
 * Photos on the phone until the server has them: kept by their SHA-256, sent last, in pieces
 * (docs/phone-protocol.md). A place of their own in the browser's storage, so that counting never
 * waits for them. Nothing here needs a page.
 *
 * @typedef {{id: string, bytes: ArrayBuffer, kind: string, refused: string | null}} Photo
 * @typedef {{ask: (path: string, how: RequestInit) => Promise<{answer: Response, text: string}>}} Asking
 */
import { connect, got } from "./store.js";

export const LARGEST = 8 * 2 ** 20; // what the server takes
export const KINDS = ["image/jpeg", "image/png", "image/webp"];
const PIECE = 256 * 1024;

/** @param {IDBFactory} indexedDB @param {SubtleCrypto} subtle @param {string} [name] */
export function openPhotos(indexedDB, subtle, name = "benchwalk-photos") {
  const store = connect(indexedDB, name);
  const all = () => store.read(["records"], (t) => got(t.objectStore("records").getAll()));
  const put = (/** @type {Photo} */ photo) => store.write(["records"], (t) => void t.objectStore("records").put(photo));

  return {
    /**
     * Keeps a photo; its name once it is on the disk.
     * @param {Blob} blob
     */
    async keep(blob) {
      const bytes = await blob.arrayBuffer();
      const digest = new Uint8Array(await subtle.digest("SHA-256", bytes));
      const id = [...digest].map((b) => b.toString(16).padStart(2, "0")).join("");
      await put({ id, bytes, kind: blob.type, refused: null });
      return id;
    },

    /**
     * Photos that the server has not said it holds.
     * @returns {Promise<Photo[]>}
     */
    async waiting() {
      return (await all()).filter((/** @type {Photo} */ p) => p.refused === null);
    },

    /**
     * Sends what waits, each from where it stopped; a photo goes from the phone only when the
     * server says that it has all of it.
     * @param {Asking} outbox
     */
    async send(outbox) {
      for (const photo of await this.waiting()) {
        const refused = await sendOne(outbox, photo);
        if (refused === null) await store.write(["records"], (t) => void t.objectStore("records").delete(photo.id));
        else if (refused !== "later") await put({ ...photo, refused });
      }
    },
  };
}

/**
 * Null: the server has it; "later": not now; else why it never will.
 * @param {Asking} outbox @param {Photo} photo
 */
async function sendOne(outbox, photo) {
  const path = `/api/v1/photos/${photo.id}`, of = photo.bytes.byteLength;
  let said = read(await outbox.ask(path, {}));
  while (said.have !== null && !said.done && said.have < of) {
    const piece = photo.bytes.slice(said.have, said.have + PIECE);
    const next = read(await outbox.ask(`${path}?at=${said.have}&of=${of}`, { method: "PUT", body: piece }));
    if (next.have !== null && next.have <= said.have && !next.done) return "later"; // it does not get on
    said = next;
  }
  return said.done ? null : (said.refused ?? "later");
}

/** @param {{answer: Response, text: string}} heard @returns {{have: number | null, done: boolean, refused: string | null}} */
function read({ answer, text }) {
  if (answer.status === 413) return { have: null, done: false, refused: "too_large" };
  if (answer.status === 422) return { have: null, done: false, refused: "not_a_photo" };
  if (answer.status !== 200 && answer.status !== 409) return { have: null, done: false, refused: null };
  const said = parsed(text);
  return { have: Number.isInteger(said?.have) ? said.have : null, done: said?.done === true, refused: null };
}

/** @param {string} text @returns {any} */
function parsed(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null; // the page of a captive portal
  }
}
