// One block fills the screen; taps and remarks are kept here first and sent when there is network.
// Each carries a key and a time of its own, so that a repeat is harmless. Without this script the
// page shows every block under the other, and its forms do the same.

import { drain, forget, own, put, unsent } from "./rehearse-queue.js";

const podium = document.querySelector("[data-podium]");
const AGAIN_MS = 15000;
const WORDS = { done: "Done", not_done: "Not done", open: "" };
const { send } = podium.dataset;
const blocks = [...podium.querySelectorAll("[data-block]")];
const waiting = podium.querySelector("[data-waiting]");
const stopped = podium.querySelector("[data-stopped]");
const steps = podium.querySelector("[data-steps]");
let shown = 0;
let opened = Date.now();

// ---- one block at a time

function show(place) {
  shown = Math.max(0, Math.min(blocks.length - 1, place));
  blocks.forEach((block, at) => (block.hidden = at !== shown));
  steps.querySelector("[data-back]").disabled = shown === 0;
  steps.querySelector("[data-on]").disabled = shown === blocks.length - 1;
  opened = Date.now();
  tick();
  scrollTo(0, 0);
}

function tick() {
  const clock = blocks[shown]?.querySelector("[data-clock]");
  if (!clock) return;
  clock.hidden = false;
  clock.textContent = `${Math.floor((Date.now() - opened) / 60000)} of `;
}

function mark(block, state) {
  block.dataset.state = state;
  block.querySelector("[data-said-state]").textContent = WORDS[state];
}

// ---- kept here, then sent

async function keep(row) {
  await put({ send, ...row });
  await say();
  sendKept();
}

async function say(words = "") {
  const left = await unsent();
  const held = left.filter((row) => row.inMemory).length;
  const here = held
    ? `Leave this page open: this tablet could not keep ${held}. Sent when there is network.`
    : `${left.length} kept on this tablet, sent when there is network`;
  waiting.textContent = left.length ? words || here : "";
}

async function sendKept() {
  const { sent, words } = await drain();
  if (sent) keepPage();
  await sayStopped();
  await say(words);
}

async function sayStopped() {
  const rows = (await own()).filter((row) => row.stopped);
  stopped.hidden = !rows.length;
  stopped.querySelector("[data-stopped-words]").textContent = rows
    .map((row) => `Measure ${row.remark.first}: ${row.remark.said}. (${row.stopped})`)
    .join(" ");
}

stopped.querySelector("[data-forget]").addEventListener("click", async () => {
  await forget((row) => row.stopped);
  sayStopped();
});

// ---- the page itself, for a moment without network

const tools = navigator.serviceWorker;

tools?.addEventListener("message", (event) => {
  if (event.data.kept) podium.querySelector("[data-ready]").hidden = false;
});

async function keepPage() {
  if (!tools) return;
  await tools.register(podium.dataset.worker);
  const { active } = await tools.ready;
  const parts = performance.getEntriesByType("resource").map((entry) => entry.name);
  const ours = parts.filter((name) => name.startsWith(`${location.origin}/static/`));
  active.postMessage({ keep: [...new Set([location.href, ...ours])] });
}

// ---- taps and remarks

podium.addEventListener("submit", async (event) => {
  const form = event.target;
  const block = form.closest("[data-block]");
  if (!block) return;
  event.preventDefault();
  const pressed = event.submitter;
  if (form.hasAttribute("data-taps")) {
    const state = block.dataset.state === pressed.value ? "open" : pressed.value;
    // First kept, then shown: what stands as done here is not lost when the tablet goes off.
    await keep({ block: block.dataset.block, state });
    mark(block, state);
    if (state !== "open") show(blocks.indexOf(block) + 1);
    return;
  }
  const cells = new FormData(form);
  const [aim = "", strategy = ""] = (pressed?.value ?? "").split(":");
  const words = cells.get("words").trim();
  const kept = form.querySelector("[data-kept]");
  if (!words && !aim && !strategy) {
    kept.textContent = "Tap a word, or write one.";
    return;
  }
  const section = cells.get("section");
  const said = [aim || strategy ? pressed.textContent : "", words].filter(Boolean).join(". ");
  const remark = { piece: cells.get("piece"), first: cells.get("first"), last: cells.get("last"), words, section, aim, strategy, said };
  await keep({ remark });
  const where = remark.last && remark.last !== remark.first ? `Measures ${remark.first} to ${remark.last}` : `Measure ${remark.first}`;
  const who = section ? `, ${form.querySelector(`[name=section] option[value="${section}"]`).textContent}` : "";
  kept.textContent = `Kept: ${where}${who}: ${said}`;
  form.querySelector("[name=words]").value = "";
  const line = document.createElement("li");
  const strong = document.createElement("strong");
  strong.textContent = where;
  line.append(strong, ` ${said}`);
  podium.querySelector("[data-said-list]").prepend(line);
  podium.querySelector("[data-said]").hidden = false;
});

steps?.querySelector("[data-back]").addEventListener("click", () => show(shown - 1));
steps?.querySelector("[data-on]").addEventListener("click", () => show(shown + 1));

function showFirstOpen() {
  const open = blocks.findIndex((block) => block.dataset.state === "open");
  show(open < 0 ? blocks.length - 1 : open);
}

async function begin() {
  if (blocks.length) {
    steps.hidden = false;
    showFirstOpen();
    setInterval(tick, 5000);
  }
  const rows = (await unsent()).filter((row) => row.send === send && row.state);
  for (const row of rows) {
    const block = blocks.find((one) => one.dataset.block === row.block);
    if (block) mark(block, row.state);
  }
  if (rows.length) showFirstOpen();
  await say();
  await sayStopped();
  sendKept();
  setInterval(async () => (await unsent()).length && sendKept(), AGAIN_MS);
}

addEventListener("online", sendKept);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && sendKept());
addEventListener("load", keepPage);
begin();
