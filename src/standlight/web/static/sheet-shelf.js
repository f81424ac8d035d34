// The shelf of sheets: answers that the school does not have yet, kept by this browser with every
// key stroke. A draft is one window's; its answers lie beside it by question, its sounds too.
// At a station, and where the browser keeps nothing, a shelf in memory stands in.
// The form and the queue write the same rows: `change` makes of a row what `next` makes of it, in one
// piece, so that neither writes over what the other wrote in between; nothing made takes it away.

const NAME = "standlight-sheets";
const STORES = { drafts: "draft", answers: ["draft", "question"], sounds: ["draft", "question"] };
const INSIDE = ["answers", "sounds"];

function opened() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      for (const [store, keyPath] of Object.entries(STORES)) request.result.createObjectStore(store, { keyPath });
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function keptShelf(base) {
  // Strict: an answer counts as kept only when it is on the disk, for the browser may be killed.
  const act = (stores, mode, work) =>
    new Promise((resolve, reject) => {
      const transaction = base.transaction(stores, mode, { durability: "strict" });
      const request = work(transaction);
      transaction.oncomplete = () => resolve(request && request.result);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  const range = (draft) => IDBKeyRange.bound([draft], [draft, []]);
  return {
    durable: true,
    put: (store, row) => act([store], "readwrite", (t) => t.objectStore(store).put(row)),
    get: (store, key) => act([store], "readonly", (t) => t.objectStore(store).get(key)),
    remove: (store, key) => act([store], "readwrite", (t) => t.objectStore(store).delete(key)),
    drafts: () => act(["drafts"], "readonly", (t) => t.objectStore("drafts").getAll()),
    inside: (store, draft) => act([store], "readonly", (t) => t.objectStore(store).getAll(range(draft))),
    forget: (draft) =>
      act(Object.keys(STORES), "readwrite", (t) => {
        for (const store of INSIDE) t.objectStore(store).delete(range(draft));
        return t.objectStore("drafts").delete(draft);
      }),
    change: async (store, key, next) => {
      let after;
      await act([store], "readwrite", (t) => {
        const rows = t.objectStore(store);
        const asked = rows.get(key);
        asked.onsuccess = () => {
          after = next(asked.result);
          if (after) rows.put(after);
          else rows.delete(key);
        };
      });
      return after;
    },
  };
}

function memoryShelf() {
  const rows = { drafts: new Map(), answers: new Map(), sounds: new Map() };
  const keyOf = (store, row) => (store === "drafts" ? row.draft : `${row.draft} ${row.question}`);
  const word = (key) => (Array.isArray(key) ? key.join(" ") : key);
  const inside = async (store, draft) => [...rows[store].values()].filter((row) => row.draft === draft);
  return {
    durable: false,
    put: async (store, row) => void rows[store].set(keyOf(store, row), row),
    get: async (store, key) => rows[store].get(word(key)),
    remove: async (store, key) => void rows[store].delete(word(key)),
    drafts: async () => [...rows.drafts.values()],
    inside,
    forget: async (draft) => {
      for (const store of INSIDE) for (const row of await inside(store, draft)) rows[store].delete(keyOf(store, row));
      rows.drafts.delete(draft);
    },
    change: async (store, key, next) => {
      const after = next(rows[store].get(word(key)));
      if (after) rows[store].set(word(key), after);
      else rows[store].delete(word(key));
      return after;
    },
  };
}

const shared = document.querySelector("[data-at-station], [data-station]");
export const shelf = shared ? Promise.resolve(memoryShelf()) : opened().then(keptShelf, memoryShelf);
