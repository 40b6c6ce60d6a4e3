// @ts-check
/**
 * The phone's durable memory. A promise from here resolves when its transaction is complete,
 * never earlier: only then may the screen say that something is stored.
 */
import { allOf, inState, openDatabase } from "./database.js";
import { photoStore } from "./store-photos.js";

/** @typedef {import("./keeping").Store} Store */
/** @typedef {import("./rows").State} State */
/** @typedef {import("./rows").SessionRow} SessionRow */
/** @typedef {import("./rows").RecordRow} RecordRow */
/** @typedef {import("./rows").Fix} Fix */
/** @typedef {import("./rows").ChunkRow} ChunkRow */
/** @typedef {import("./rows").Counts} Counts */

export const FIX_COLUMNS = /** @type {const} */ ([
  "t_ms", "lat", "lon", "accuracy_m", "speed_mps", "heading_deg", "altitude_m",
  "fix_ms", "wall_ms", "mono_ms", "page",
]);

const MOST_COUNTED = 500;

/**
 * How many of these fixes an earlier try, that seemed to fail, has stored after all.
 * @param {ChunkRow | undefined} chunk the last one @param {Fix[]} fixes
 */
function alreadyStored(chunk, fixes) {
  const isLast = (/** @type {Fix} */ fix) =>
    FIX_COLUMNS.every((name) => chunk?.columns[name]?.at(-1) === fix[name]);
  return fixes.findLastIndex(isLast) + 1;
}

/**
 * @param {IDBTransaction} tx @param {string} name @param {string} session
 * @param {State} from @param {State} to
 */
function setState(tx, name, session, from, to) {
  const cursor = tx.objectStore(name).index("state").openCursor(inState(session, from));
  cursor.onsuccess = () => {
    cursor.result?.update({ ...cursor.result.value, state: to });
    cursor.result?.continue();
  };
}

/**
 * @param {object} source
 * @param {IDBFactory} source.indexedDB
 * @param {string} [source.name]
 * @param {() => Promise<StorageEstimate>} [source.estimate] room and use, where the browser tells
 */
export function openStore({ indexedDB, name = "ebbline-capture", estimate = async () => ({}) }) {
  const database = openDatabase({ indexedDB, name });
  const { run, read } = database;

  /** @type {Store} */
  const store = {
    meta: (key) => read("meta", (store) => store.get(key)),
    setMeta: (key, value) =>
      run(["meta"], "readwrite", (tx) => void tx.objectStore("meta").put(value, key), "strict"),

    session: (id) => read("sessions", (store) => store.get(id)),
    async sessions() {
      /** @type {SessionRow[]} */
      const rows = await read("sessions", (store) => store.getAll());
      return rows.sort((a, b) => b.created_ms - a.created_ms);
    },
    addSession: (row) =>
      run(["sessions", "setups"], "readwrite", (tx) => {
        tx.objectStore("sessions").add(row);
        tx.objectStore("setups").add({ session: row.id, at_ms: Date.now(), setup: row.setup });
      }, "strict"),
    changeSession: (id, change) =>
      run(["sessions", "setups"], "readwrite", (tx, give) => {
        const request = tx.objectStore("sessions").get(id);
        request.onsuccess = () => {
          const before = request.result;
          const row = change(before);
          give(row);
          tx.objectStore("sessions").put(row);
          if (JSON.stringify(row.setup) === JSON.stringify(before.setup)) return;
          tx.objectStore("setups").add({ session: id, at_ms: Date.now(), setup: row.setup });
        };
      }, "strict"),

    startOver: (id) =>
      run(["sessions", "records", "fixes", "photos"], "readwrite", (tx) => {
        const sessions = tx.objectStore("sessions");
        const request = sessions.get(id);
        request.onsuccess = () => {
          const row = request.result;
          // what was told of later revisions is the base of nothing any more
          if (row) sessions.put({ ...row, revision: null, base_setup: null, setup_unsent: 1 });
        };
        for (const name of ["records", "fixes", "photos"]) setState(tx, name, id, "held", "unsent");
      }, "strict"),
    retryRefused: (id) =>
      run(["records", "fixes", "photos"], "readwrite", (tx) => {
        for (const name of ["records", "fixes", "photos"]) setState(tx, name, id, "refused", "unsent");
      }),

    addRecord: (row) =>
      run(["records"], "readwrite", (tx) => {
        tx.objectStore("records").add(row);
        tx.commit?.(); // from here on it needs this page no more
      }, "strict"),
    releaseDrafts: (session, now_ms, wait_ms) =>
      run(["records"], "readwrite", (tx) => {
        const request = tx.objectStore("records").index("state").openCursor(inState(session, "draft"));
        request.onsuccess = () => {
          const at = request.result;
          if (!at) return;
          // one from the future was taken before the clock was set back
          const waited_ms = Math.abs(now_ms - at.value.stored_ms);
          if (waited_ms > wait_ms) at.update({ ...at.value, state: "unsent" });
          at.continue();
        };
      }),
    finishDraft: (id, doc) =>
      run(["records"], "readwrite", (tx, give) => {
        const store = tx.objectStore("records");
        const request = store.get(id);
        request.onsuccess = () => {
          /** @type {RecordRow | undefined} */
          const row = request.result;
          give(row?.state === "draft");
          if (row?.state === "draft") store.put({ ...row, doc, state: "unsent" });
        };
      }, "strict"),
    async records(session) {
      /** @type {RecordRow[]} */
      const rows = await read("records", (store) => store.index("session").getAll(session));
      return rows.sort((a, b) => a.stored_ms - b.stored_ms);
    },
    async recordsIn(session, most, state = "unsent") {
      /** @type {RecordRow[]} by their ids, which are random */
      const rows = await read("records", (store) => store.index("state").getAll(inState(session, state)));
      return rows.sort((a, b) => a.stored_ms - b.stored_ms).slice(0, most);
    },
    settleRecords: (held, refused) =>
      run(["records"], "readwrite", (tx) => {
        const store = tx.objectStore("records");
        /** @param {string} id @param {Partial<RecordRow>} change */
        const change = (id, change) => {
          const request = store.get(id);
          request.onsuccess = () => {
            if (request.result) store.put({ ...request.result, ...change });
          };
        };
        for (const id of held) change(id, { state: "held" });
        for (const { id, problem } of refused) change(id, { state: "refused", problem });
      }),

    addFixes: (session, device, fixes, along_m, durability) =>
      run(["fixes"], "readwrite", (tx) => {
        const store = tx.objectStore("fixes");
        const request = store.openCursor(allOf(session), "prev");
        request.onsuccess = () => {
          let seq = request.result ? request.result.value.last + 1 : 0;
          const fresh = fixes.slice(alreadyStored(request.result?.value, fixes));
          for (let from = 0; from < fresh.length; ) {
            let to = from + 1;
            const back = () => /** @type {Fix} */ (fresh[to]).t_ms < /** @type {Fix} */ (fresh[to - 1]).t_ms;
            while (to < fresh.length && !back()) to += 1;
            const part = fresh.slice(from, to);
            /** @type {Record<string, any[]>} */
            const columns = { seq: part.map((_, i) => seq + i) };
            for (const column of FIX_COLUMNS) columns[column] = part.map((fix) => fix[column]);
            store.add({
              session, device, columns, along_m,
              first: seq, last: seq + part.length - 1, state: "unsent",
            });
            seq += part.length;
            from = to;
          }
        };
      }, durability),
    chunks: (session) => read("fixes", (store) => store.getAll(allOf(session))),
    lastChunk: (session) =>
      run(["fixes"], "readonly", (tx, give) => {
        const request = tx.objectStore("fixes").openCursor(allOf(session), "prev");
        request.onsuccess = () => give(request.result?.value ?? null);
      }),
    unsentChunks: (session, most) =>
      read("fixes", (store) => store.index("state").getAll(inState(session, "unsent"), most)),
    settleChunks: (session, changes) =>
      run(["fixes"], "readwrite", (tx) => {
        const store = tx.objectStore("fixes");
        for (const { first, change } of changes) {
          const request = store.get([session, first]);
          request.onsuccess = () => {
            if (request.result) store.put({ ...request.result, ...change });
          };
        }
      }),

    counts: (session) =>
      run(["records", "fixes", "photos"], "readonly", (tx, give) => {
        const counts = { records: 0, chunks: 0, refused: 0, drafts: 0, photos: 0 };
        give(counts);
        /** @param {string} from @param {State} state @param {keyof Counts} into */
        const count = (from, state, into) => {
          const request = tx.objectStore(from).index("state").count(inState(session, state));
          request.onsuccess = () => {
            counts[into] += request.result;
          };
        };
        count("records", "unsent", "records");
        count("records", "draft", "drafts");
        count("fixes", "unsent", "chunks");
        count("photos", "unsent", "photos");
        for (const from of ["records", "fixes", "photos"]) count(from, "refused", "refused");
      }),
    heldCounts: (session) =>
      run(["records", "fixes", "photos"], "readonly", (tx, give) => {
        const held = { records: 0, fixes: 0, photos: 0 };
        give(held);
        for (const name of /** @type {const} */ (["records", "photos"])) {
          const request = tx.objectStore(name).index("state").count(inState(session, "held"));
          request.onsuccess = () => {
            held[name] = request.result;
          };
        }
        // seq runs from 0 without a hole, so all but the few that are not held need no reading
        const fixes = tx.objectStore("fixes");
        const last = fixes.openCursor(allOf(session), "prev");
        last.onsuccess = () => {
          held.fixes += last.result ? last.result.value.last + 1 : 0;
        };
        for (const state of ["unsent", "refused"]) {
          const rest = fixes.index("state").getAll(inState(session, state), MOST_COUNTED);
          rest.onsuccess = () => {
            if (rest.result.length === MOST_COUNTED) give(null);
            for (const chunk of rest.result) held.fixes -= chunk.last - chunk.first + 1;
          };
        }
      }),

    leave: database.leave,
    back: database.back,

    ...photoStore(database, estimate),
  };
  return store;
}
