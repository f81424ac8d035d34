// Keeps this page for a moment without network, those it links to with data-keep-page, and what
// they are made of (data-keep-also). Never at a station, for it is shared.

const place = document.querySelector("[data-offline]");
const tools = navigator.serviceWorker;

async function keepPage() {
  await tools.register("/recording-worker.js");
  const { active } = await tools.ready;
  const parts = performance.getEntriesByType("resource").map((entry) => entry.name);
  const ours = parts.filter((name) => name.startsWith(location.origin) && !name.includes("/upload/"));
  const links = [...document.querySelectorAll("a[data-keep-page]")].map((link) => link.href);
  const also = (place.dataset.keepAlso || "").split(" ").filter(Boolean);
  active.postMessage({ keep: [...new Set([location.href, ...ours, ...links, ...also])] });
}

async function forgetPages() {
  const known = await tools.getRegistration("/");
  known?.active?.postMessage({ forget: true });
}

if (place && tools) {
  if (place.hasAttribute("data-station")) forgetPages();
  else addEventListener("load", keepPage);
  document.querySelector("[data-sign-out]")?.addEventListener("submit", forgetPages);
}
