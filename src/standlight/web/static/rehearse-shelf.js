// The shelf of the podium: taps and remarks that the school does not have yet, kept by this browser.
// Where the browser keeps nothing (some private windows), or a row cannot be put on the disk (it is
// full, the browser has closed it), a shelf in memory stands in, so that it can still be sent.

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

// Rows that lie in this page's memory only say so: whoever closes the page loses them.
function memoryShelf() {
  const rows = new Map();
  return {
    put: async (row) => void rows.set(row.key, { ...row, inMemory: true }),
    all: async () => [...rows.values()],
    remove: async (key) => void rows.delete(key),
  };
}

function carefulShelf(disk) {
  const memory = memoryShelf();
  const tried = (act, otherwise) => act.catch(() => otherwise);
  return {
    async put(row) {
      try {
        await disk.put({ ...row, inMemory: false });
        await memory.remove(row.key);
      } catch {
        await memory.put(row);
      }
    },
    async all() {
      const held = await memory.all();
      const keys = new Set(held.map((row) => row.key));
      return [...(await tried(disk.all(), [])).filter((row) => !keys.has(row.key)), ...held];
    },
    // A row that cannot be removed is sent once more, which is harmless.
    async remove(key) {
      await memory.remove(key);
      await tried(disk.remove(key));
    },
  };
}

export const shelf = opened().then((base) => carefulShelf(keptShelf(base)), memoryShelf);
