// @ts-check
/**
 * The offset of the phone's clock, from one answer: server minus phone [s].
 *
 * The server's time lies between sending and hearing; the middle is taken, and is wrong by at most
 * half of the way there and back. An answer that took longer than `slow` says too little.
 * @param {number} sent the phone's clock when the request left [ms]
 * @param {number} heard the phone's clock when the answer was there [ms]
 * @param {string | null | undefined} said the server's instant in the answer
 * @param {number} slow [ms]
 * @returns {number | null} null: this answer says nothing of it
 */
export function offset(sent, heard, said, slow = 10_000) {
  const server = Date.parse(said ?? "");
  if (Number.isNaN(server) || heard < sent || heard - sent > slow) return null;
  return (server - (sent + heard) / 2) / 1000;
}

/**
 * The instant by the server's clock as far as it is known.
 * @param {number} phone the phone's clock [ms]
 * @param {number | null} offsetS
 * @returns {number} [ms]
 */
export function corrected(phone, offsetS) {
  return offsetS === null ? phone : phone + offsetS * 1000;
}

/**
 * Waits, as `wait` of the outbox is meant: resolves after a time, rejects when it is called off.
 * @param {number} ms
 * @param {AbortSignal} [signal]
 * @returns {Promise<void>}
 */
export function waiting(ms, signal) {
  return new Promise((resolve, reject) => {
    const off = () => {
      clearTimeout(timer);
      reject(new Error("called off"));
    };
    const timer = setTimeout(() => {
      signal?.removeEventListener("abort", off);
      resolve();
    }, ms);
    if (signal?.aborted) off();
    else signal?.addEventListener("abort", off, { once: true });
  });
}
