/* Keeps what is typed in the form with data-draft on this device until it is kept at the school;
   a browser that died offers it again, in the element with data-draft-offer. */
(() => {
  const REST_MS = 400;
  const PASSED_OVER = /^(csrfmiddlewaretoken|press|told|bin)$|\.open$/;
  const place = location.pathname + location.search;
  const formOf = () => document.querySelector("[data-draft]");
  const entriesOf = (form) => [...new FormData(form)].filter(([name]) => !PASSED_OVER.test(name));
  let timer = 0;

  // Unlike localStorage, which a dying browser may not have written for seconds.
  const opened = new Promise((resolve, reject) => {
    const asked = indexedDB.open("standlight-kinds", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("drafts");
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });

  async function inStore(mode, ask) {
    const store = (await opened).transaction("drafts", mode, { durability: "strict" }).objectStore("drafts");
    const asked = ask(store);
    return new Promise((resolve, reject) => {
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    });
  }

  // A device that keeps nothing (a full disk, a private window): leaving the page still asks.
  const keep = () => {
    timer = 0;
    const entries = entriesOf(formOf());
    inStore("readwrite", (store) => store.put(entries, place)).catch(() => {});
  };
  const forget = () => inStore("readwrite", (store) => store.delete(place)).catch(() => {});
  const soon = () => (timer ||= setTimeout(keep, REST_MS));

  function putBack(entries) {
    const form = document.createElement("form");
    form.method = "post";
    const token = formOf().querySelector("[name=csrfmiddlewaretoken]").value;
    for (const [name, value] of [...entries, ["csrfmiddlewaretoken", token], ["press", "look"]]) {
      const field = document.createElement("textarea");
      Object.assign(field, { name, value });
      form.append(field);
    }
    form.hidden = true;
    document.body.append(form);
    form.submit();
  }

  async function offer(form) {
    const entries = await inStore("readonly", (store) => store.get(place)).catch(() => null);
    if (!entries || JSON.stringify(entries) === JSON.stringify(entriesOf(form))) return;
    const shown = document.querySelector("[data-draft-offer]");
    shown.hidden = false;
    shown.querySelector("[data-draft-back]").addEventListener("click", () => putBack(entries));
    shown.querySelector("[data-draft-drop]").addEventListener("click", () => {
      forget();
      shown.hidden = true;
    });
  }

  const form = formOf();
  if (!form) return;
  offer(form);
  if (form.querySelector("[name=told]")) soon();
  document.addEventListener("input", (event) => event.target.closest("[data-draft]") && soon());
  document.addEventListener("htmx:afterSettle", (event) => event.detail.target.id === "editor" && soon());
  document.addEventListener("submit", (event) => {
    if (!event.target.closest("[data-draft]")) return;
    // Kept, or shown again with its faults and everything typed: either way it is on the page.
    clearTimeout(timer);
    forget();
  });
})();
