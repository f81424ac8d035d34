// The podium's worker: while there is no network, a reload still shows the podium page. Only pages
// that the school's answer allows are kept, for a day at most; an answer that leads to the sign-in
// page, or none at all, takes them away again. Signing out does too (rehearse-leave.js).

const KEPT = "standlight-podium-1";
const PAGE = /^\/rehearse\/podium\/\d+\/$/;
const PART = /^\/static\//;
const LONGEST_MS = 24 * 3600 * 1000;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

const pathOf = (request) => new URL(request.url ?? request, self.location.href).pathname;

async function keep(request, answer) {
  const page = PAGE.test(pathOf(request));
  const shelf = await caches.open(KEPT);
  if (page && (answer.redirected || answer.type === "opaqueredirect" || answer.status === 404)) {
    await caches.delete(KEPT);
    return;
  }
  const may = page ? answer.headers.get("Keep-Offline") === "yes" : PART.test(pathOf(request));
  if (answer.ok && !answer.redirected && may) await shelf.put(request, answer);
}

async function keepOne(address) {
  try {
    await keep(address, await fetch(address));
  } catch {
    // No network at this moment: the page asks again when it is opened next.
  }
}

// All of a page's parts; the page is told when everything is there.
async function keepAll(addresses, page) {
  await Promise.all(addresses.map(keepOne));
  const shelf = await caches.open(KEPT);
  const found = await Promise.all(addresses.map((address) => shelf.match(address, { ignoreVary: true })));
  if (found.every(Boolean)) page?.postMessage({ kept: true });
}

async function fromNetworkFirst(event) {
  try {
    const answer = await fetch(event.request);
    event.waitUntil(keep(event.request, answer.clone()));
    return answer;
  } catch (error) {
    const kept = await caches.match(event.request, { cacheName: KEPT, ignoreVary: true });
    const made = Date.parse(kept?.headers.get("Date") ?? "");
    if (kept && !(Date.now() - made > LONGEST_MS && PAGE.test(pathOf(event.request)))) return kept;
    throw error;
  }
}

self.addEventListener("message", (event) => {
  if (event.data.keep) event.waitUntil(keepAll(event.data.keep, event.source));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const place = new URL(request.url);
  if (place.origin !== self.location.origin || request.method !== "GET") return;
  if (PAGE.test(place.pathname) || PART.test(place.pathname)) event.respondWith(fromNetworkFirst(event));
});
