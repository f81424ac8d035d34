// The shelf of the podium: taps and remarks that the school does not have yet, kept by this browser.
// Where the browser keeps nothing (some private windows) a shelf in memory stands in.

const NAME = "standlight-podium";
const STORE = "acts";

function opened() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "key" });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function keptShelf(base) {
  // Strict: a tap counts as kept only when it is on the disk, for the tablet may be switched off.
  const act = (mode, work) =>
    new Promise((resolve, reject) => {
      const transaction = base.transaction([STORE], mode, { durability: "strict" });
      const request = work(transaction.objectStore(STORE));
      transaction.oncomplete = () => resolve(request.result);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  return {
    put: (row) => act("readwrite", (store) => store.put(row)),
    all: () => act("readonly", (store) => store.getAll()),
    remove: (key) => act("readwrite", (store) => store.delete(key)),
  };
}

function memoryShelf() {
  const rows = new Map();
  return {
    put: async (row) => void rows.set(row.key, row),
    all: async () => [...rows.values()],
    remove: async (key) => void rows.delete(key),
  };
}

export const shelf = opened().then(keptShelf, memoryShelf);
