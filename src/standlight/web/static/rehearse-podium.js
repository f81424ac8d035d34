// One block fills the screen; taps and remarks are kept here first and sent when there is network.
// Each carries a key and a time of its own, so that a repeat is harmless. Without this script the
// page shows every block under the other, and its forms do the same.

import { shelf } from "./rehearse-shelf.js";

const podium = document.querySelector("[data-podium]");
const AGAIN_MS = 15000;
const ANSWER_WITHIN_MS = 20000;
const AT_ONCE = 100;
const WORDS = { done: "Done", not_done: "Not done", open: "" };
const { owner, send } = podium.dataset;
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

async function own() {
  const rows = await (await shelf).all();
  return rows.filter((row) => row.owner === owner).sort((one, other) => one.at - other.at);
}

const mine = async () => (await own()).filter((row) => !row.stopped);

async function keep(row) {
  await (await shelf).put({ key: crypto.randomUUID(), owner, send, at: Date.now(), ...row });
  await say();
  drain();
}

async function say(words = "") {
  const left = (await mine()).length;
  waiting.textContent = words || (left ? `${left} kept on this tablet, sent when there is network` : "");
}

const token = () => podium.querySelector("[name=csrfmiddlewaretoken]").value;

// Who signed in anew has another token than the page that this tablet kept.
async function freshToken() {
  const answer = await fetch(location.href, { cache: "no-store" });
  if (!answer.ok || answer.redirected) return false;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const found = page.querySelector("[data-podium] [name=csrfmiddlewaretoken]");
  if (!found) return false;
  for (const field of podium.querySelectorAll("[name=csrfmiddlewaretoken]")) field.value = found.value;
  return true;
}

function post(address, rows) {
  const taps = rows.filter((row) => row.state).map(({ key, block, state, at }) => ({ key, block, state, at }));
  const remarks = rows.filter((row) => row.remark).map(({ key, remark, at }) => ({ ...remark, key, at }));
  return fetch(address, {
    method: "POST",
    body: JSON.stringify({ taps, remarks }),
    headers: { "Content-Type": "application/json", "X-CSRFToken": token() },
    redirect: "manual",
    cache: "no-store",
    signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
  });
}

async function sendAll(address, rows) {
  let answer = await post(address, rows);
  if (answer.status === 403 && (await freshToken())) answer = await post(address, rows);
  if (answer.type === "opaqueredirect" || answer.status === 403) return say("Sign in again to send what is kept here.");
  if (answer.status >= 500) throw new Error("no answer");
  const gone = Object.fromEntries(rows.map((row) => [row.key, "That plan is not there any more."]));
  const { kept, refused } = answer.ok ? await answer.json() : { kept: [], refused: gone };
  const here = await shelf;
  for (const key of kept) await here.remove(key);
  for (const row of rows.filter((one) => one.key in refused)) {
    // A tap that is refused says nothing any more; words stay here until somebody has read them.
    if (row.remark) await here.put({ ...row, stopped: refused[row.key] });
    else await here.remove(row.key);
  }
  if (answer.ok) keepPage();
  await sayStopped();
  return say();
}

async function sayStopped() {
  const rows = (await own()).filter((row) => row.stopped);
  stopped.hidden = !rows.length;
  stopped.querySelector("[data-stopped-words]").textContent = rows
    .map((row) => `Measure ${row.remark.first}: ${row.remark.said}. (${row.stopped})`)
    .join(" ");
}

stopped.querySelector("[data-forget]").addEventListener("click", async () => {
  for (const row of await own()) if (row.stopped) await (await shelf).remove(row.key);
  sayStopped();
});

async function oneRound() {
  for (const [address, rows] of grouped(await mine())) {
    for (let at = 0; at < rows.length; at += AT_ONCE) await sendAll(address, rows.slice(at, at + AT_ONCE));
  }
}

function grouped(rows) {
  const places = new Map();
  for (const row of rows) places.set(row.send, [...(places.get(row.send) ?? []), row]);
  return places;
}

// One page of this browser sends at a time, where the browser can tell.
const alone = (work) => (navigator.locks ? navigator.locks.request("standlight-podium", work) : work());

async function drain() {
  try {
    await alone(oneRound);
  } catch {
    await say();
  }
}

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
    mark(block, state);
    if (state !== "open") show(shown + 1);
    await keep({ block: block.dataset.block, state });
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
  const rows = (await mine()).filter((row) => row.send === send && row.state);
  for (const row of rows) {
    const block = blocks.find((one) => one.dataset.block === row.block);
    if (block) mark(block, row.state);
  }
  if (rows.length) showFirstOpen();
  await say();
  await sayStopped();
  drain();
  setInterval(async () => (await mine()).length && drain(), AGAIN_MS);
}

addEventListener("online", drain);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && drain());
addEventListener("load", keepPage);
begin();
