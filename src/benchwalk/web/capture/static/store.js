// @ts-check
/** IndexedDB in strict transactions, opened again where the browser closed it. */

/** There is no room; nothing of the transaction was kept. */
export class StorageFull extends Error {}

/** @template T @param {IDBRequest<T>} request @returns {Promise<any>} */
export function got(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/**
 * Resolves when the transaction is on the disk.
 * @param {IDBTransaction} t @returns {Promise<void>}
 */
export function done(t) {
  return new Promise((resolve, reject) => {
    t.oncomplete = () => resolve();
    t.onabort = () => reject(t.error ?? new Error("the transaction was given up"));
  });
}

/** @param {IDBFactory} indexedDB @param {string} name */
export function connect(indexedDB, name) {
  /** @type {Promise<IDBDatabase> | null} */
  let opened = null;

  const open = () => {
    const request = indexedDB.open(name, 1);
    request.onupgradeneeded = () => {
      for (const store of ["records", "outbox", "sent"]) request.result.createObjectStore(store, { keyPath: "id" });
      request.result.createObjectStore("aside", { keyPath: ["id", "rev"] });
      request.result.createObjectStore("meta", { keyPath: "key" });
    };
    return got(request).then((/** @type {IDBDatabase} */ db) => {
      db.onclose = () => (opened = null);
      db.onversionchange = () => {
        opened = null;
        db.close();
      };
      return db;
    });
  };

  const begin = async (/** @type {string[]} */ stores, /** @type {IDBTransactionMode} */ mode) => {
    const start = async () => {
      opened ??= open();
      return (await opened).transaction(stores, mode, { durability: "strict" });
    };
    try {
      return await start();
    } catch (error) {
      // a closed connection (memory was short) begins nothing, so that trying again repeats nothing
      opened = null;
      if (/** @type {any} */ (error)?.name === "QuotaExceededError") throw error;
      return start();
    }
  };

  /** @template T @param {string[]} stores @param {IDBTransactionMode} mode @param {(t: IDBTransaction) => Promise<T> | T} work @returns {Promise<T>} */
  const run = async (stores, mode, work) => {
    const t = await begin(stores, mode);
    const finished = done(t);
    try {
      const result = await work(t);
      await finished;
      return result;
    } catch (error) {
      finished.catch(() => undefined);
      try {
        t.abort();
      } catch {
        // it has ended by itself
      }
      const quota = [error, t.error].some((e) => /** @type {any} */ (e)?.name === "QuotaExceededError");
      throw quota ? new StorageFull("there is no room on this phone") : error;
    }
  };

  return {
    /** @template T @param {string[]} stores @param {(t: IDBTransaction) => Promise<T> | T} work */
    read: (stores, work) => run(stores, "readonly", work),
    /** @template T @param {string[]} stores @param {(t: IDBTransaction) => Promise<T> | T} work */
    write: (stores, work) => run(stores, "readwrite", work),
  };
}
