// The shelf: takes, their one-second pieces and turns to send, kept by this browser until the
// school has them. Where the browser keeps nothing (some private windows) a shelf in memory
// stands in, and `durable` is false.

const NAME = "standlight-takes";
const STORES = { takes: "key", pieces: ["take", "number"], turns: "owner" };

function opened() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      for (const [store, keyPath] of Object.entries(STORES)) {
        request.result.createObjectStore(store, { keyPath });
      }
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function keptShelf(base) {
  // Strict: a piece counts as kept only when it is on the disk, for the browser may be killed.
  const act = (stores, mode, work) =>
    new Promise((resolve, reject) => {
      const transaction = base.transaction(stores, mode, { durability: "strict" });
      const request = work(transaction);
      transaction.oncomplete = () => resolve(request && request.result);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  const range = (take) => IDBKeyRange.bound([take, 0], [take, Infinity]);
  return {
    durable: true,
    put: (store, row) => act([store], "readwrite", (t) => t.objectStore(store).put(row)),
    get: (store, key) => act([store], "readonly", (t) => t.objectStore(store).get(key)),
    all: (store) => act([store], "readonly", (t) => t.objectStore(store).getAll()),
    remove: (store, key) => act([store], "readwrite", (t) => t.objectStore(store).delete(key)),
    pieces: (take) => act(["pieces"], "readonly", (t) => t.objectStore("pieces").getAll(range(take))),
    count: (take) => act(["pieces"], "readonly", (t) => t.objectStore("pieces").count(range(take))),
    forget: (take) =>
      act(["takes", "pieces"], "readwrite", (t) => {
        t.objectStore("pieces").delete(range(take));
        return t.objectStore("takes").delete(take);
      }),
  };
}

function memoryShelf() {
  const rows = { takes: new Map(), pieces: new Map(), turns: new Map() };
  const keyOf = { takes: (row) => row.key, turns: (row) => row.owner, pieces: (row) => `${row.take} ${row.number}` };
  const piecesOf = (take) => [...rows.pieces.values()].filter((piece) => piece.take === take);
  return {
    durable: false,
    put: async (store, row) => void rows[store].set(keyOf[store](row), row),
    get: async (store, key) => rows[store].get(Array.isArray(key) ? key.join(" ") : key),
    all: async (store) => [...rows[store].values()],
    remove: async (store, key) => void rows[store].delete(key),
    pieces: async (take) => piecesOf(take),
    count: async (take) => piecesOf(take).length,
    forget: async (take) => {
      for (const piece of piecesOf(take)) rows.pieces.delete(`${take} ${piece.number}`);
      rows.takes.delete(take);
    },
  };
}

export const shelf = opened().then(keptShelf, memoryShelf);
