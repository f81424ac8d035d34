// Keeps this page for a moment without network. Never at a station, for it is shared.

const place = document.querySelector("[data-offline]");
const tools = navigator.serviceWorker;

async function keepPage() {
  await tools.register("/recording-worker.js");
  const { active } = await tools.ready;
  const parts = performance.getEntriesByType("resource").map((entry) => entry.name);
  const ours = parts.filter((name) => name.startsWith(location.origin) && !name.includes("/upload/"));
  active.postMessage({ keep: [location.href, ...ours] });
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
