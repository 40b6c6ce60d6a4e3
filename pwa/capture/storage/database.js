// @ts-check
/**
 * The phone's database: how it is laid out, and transactions on it. A promise from here resolves
 * when its transaction is complete, never earlier; nothing else is awaited inside one. A lost
 * connection is opened again and the work tried once more.
 */

const VERSION = 2;
const TRIES = 3;

/** @param {IDBDatabase} db @param {number} from the version it has, 0 for none */
function lay(db, from) {
  if (from < 1) {
    db.createObjectStore("meta");
    db.createObjectStore("sessions", { keyPath: "id" });
    db.createObjectStore("setups", { autoIncrement: true }).createIndex("session", "session");
    const records = db.createObjectStore("records", { keyPath: "id" });
    records.createIndex("session", "session");
    records.createIndex("state", ["session", "state"]);
    const fixes = db.createObjectStore("fixes", { keyPath: ["session", "first"] });
    fixes.createIndex("state", ["session", "state"]);
  }
  if (from < 2) {
    const photos = db.createObjectStore("photos", { keyPath: ["session", "sha256"] });
    photos.createIndex("session", "session");
    photos.createIndex("state", ["session", "state"]);
    // apart from what is known of them: counting or settling never copies a picture
    db.createObjectStore("photo_bytes");
  }
}

/** @typedef {"meta" | "sessions" | "setups" | "records" | "fixes" | "photos" | "photo_bytes"} StoreName */

/** @param {{ indexedDB: IDBFactory, name: string }} source */
export function openDatabase({ indexedDB, name }) {
  /** @type {Promise<IDBDatabase> | null} */
  let opening = null;
  /** @type {Set<IDBTransaction>} under way */
  const open = new Set();
  /** while the page lies in the page cache @type {Promise<void> | null} */
  let left = null;
  let comeBack = () => {};

  async function database() {
    await left;
    opening ??= new Promise((resolve, reject) => {
      const request = indexedDB.open(name, VERSION);
      request.onupgradeneeded = (event) => lay(request.result, event.oldVersion);
      request.onerror = () => reject(request.error);
      request.onsuccess = () => {
        const db = request.result;
        const forget = () => {
          opening = null;
        };
        db.onclose = forget;
        db.onversionchange = () => {
          db.close();
          forget();
        };
        resolve(db);
      };
    });
    return opening.catch((error) => {
      opening = null;
      throw error;
    });
  }

  /**
   * @template T
   * @param {StoreName[]} stores
   * @param {"readonly" | "readwrite"} mode
   * @param {(tx: IDBTransaction, give: (value: T) => void) => void} work
   * @param {"strict" | "relaxed"} [durability] strict: on the disk, a flat battery can't take it
   * @returns {Promise<T>}
   */
  async function run(stores, mode, work, durability = "relaxed") {
    for (let attempt = 1; ; attempt += 1) {
      try {
        const db = await database();
        return await new Promise((resolve, reject) => {
          const tx = db.transaction(stores, mode, { durability });
          open.add(tx);
          /** @type {T} */
          let result;
          tx.oncomplete = () => {
            open.delete(tx);
            resolve(result);
          };
          tx.onabort = () => {
            open.delete(tx);
            reject(tx.error ?? new DOMException("aborted", "AbortError"));
          };
          work(tx, (value) => {
            result = value;
          });
        });
      } catch (error) {
        const full = error instanceof DOMException && error.name === "QuotaExceededError";
        const clash = error instanceof DOMException && error.name === "ConstraintError";
        if (full || clash) throw error;
        if (left) {
          attempt = 0; // it was us: once more when the page is back
          continue;
        }
        if (attempt === TRIES) throw error;
        const stale = await opening?.catch(() => null);
        stale?.close();
        opening = null;
      }
    }
  }

  /**
   * @template T
   * @param {StoreName} storeName
   * @param {(store: IDBObjectStore) => IDBRequest} query
   * @returns {Promise<T>}
   */
  const read = (storeName, query) =>
    run([storeName], "readonly", (tx, give) => {
      const request = query(tx.objectStore(storeName));
      request.onsuccess = () => give(request.result);
    });

  /**
   * The page is left and may be kept. Frozen with it, a transaction would hold up the page that
   * comes after it: what is under way is done later, and nothing begins until `back`.
   */
  function leave() {
    if (left) return;
    left = new Promise((resolve) => {
      comeBack = resolve;
    });
    for (const tx of open) {
      try {
        tx.abort();
      } catch {
        // it is committing already: that goes on without this page
      }
    }
    void opening?.then((db) => db.close(), () => {});
    opening = null;
  }

  /** The page is shown again. */
  function back() {
    left = null;
    comeBack();
  }

  return { run, read, leave, back };
}

/** @typedef {ReturnType<typeof openDatabase>} Database */

/**
 * Every key `[session, …]` of one session.
 * @param {string} session
 */
export const allOf = (session) => IDBKeyRange.bound([session], [session, []]);

/** @param {string} session @param {string} state */
export const inState = (session, state) => IDBKeyRange.only([session, state]);
