// The recording worker: while there is no network, a reload still shows the musician's page
// and its queue. Pages (of checks and of work) are kept only when the school's answer allows it, and all are
// forgotten at sign-in, sign-out and at a station. Takes themselves lie elsewhere.

const KEPT = "standlight-kept-1";
const FORGET = /^\/(sign-in|sign-out|card|station)\//;
const PAGE = /^\/my\/(check\/\d+\/|work\/\d+\/([^/]+\/)?)?$/;
const PART = /^\/(static\/|my\/check\/\d+\/music-|my\/work\/\d+\/measure-)/;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

const forget = () => caches.delete(KEPT);

async function keep(request, answer) {
  const path = new URL(request.url ?? request, self.location.href).pathname;
  const may = PAGE.test(path) ? answer.headers.get("Keep-Offline") === "yes" : PART.test(path);
  if (!answer.ok || answer.redirected || !may) return;
  const shelf = await caches.open(KEPT);
  await shelf.put(request, answer);
}

async function keepOne(address) {
  try {
    await keep(address, await fetch(address));
  } catch {
    // No network at this moment: the page asks again when it is opened next.
  }
}

async function fromNetworkFirst(event) {
  try {
    const answer = await fetch(event.request);
    event.waitUntil(keep(event.request, answer.clone()));
    return answer;
  } catch (error) {
    const kept = await caches.match(event.request, { ignoreVary: true });
    if (kept) return kept;
    throw error;
  }
}

self.addEventListener("message", (event) => {
  if (event.data.forget) event.waitUntil(forget());
  if (event.data.keep) event.waitUntil(Promise.all(event.data.keep.map(keepOne)));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const place = new URL(request.url);
  if (place.origin !== self.location.origin) return;
  if (request.mode === "navigate" && FORGET.test(place.pathname)) event.waitUntil(forget());
  if (request.method !== "GET") return;
  if (PAGE.test(place.pathname) || PART.test(place.pathname)) event.respondWith(fromNetworkFirst(event));
});
