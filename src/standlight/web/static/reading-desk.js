// The reading Desk by keys: 1 to 4 and 0 give a level and move on, r writes a reply, a (b, c) and
// s (t, u) take a line of the bank, Enter sends, n and p go on and back, l lists everyone.
// Levels and half a reply are kept when the page is left. Whole without this: links and a form.

import { activate, all, choose, chosenIn, move, one, rows } from "./level-rows.js";

const WRITING = "input[type=text], input[type=search], textarea, select";
const PRESSING = "button, a, summary, audio, input[type=checkbox]";

const desk = one("reading");
const reply = one("reply");
const lines = [...reply.querySelectorAll("input[type=text]")];
const keptAs = desk.dataset.keptAs;
let touched = false;

// --- the rows of levels ----------------------------------------------------

function give(key) {
  if (!choose(key)) return false;
  touched = true;
  return true;
}

// --- the reply -------------------------------------------------------------

function take(offer) {
  document.getElementById(offer.dataset.offer).value = one("line", offer).textContent;
  keepLines();
  one("send").focus();
}

function write() {
  lines[0].focus();
  return true;
}

function takeByKey(key) {
  const offer = all("offer").find((button) => button.dataset.key === key);
  if (offer) take(offer);
  return Boolean(offer);
}

const isWritten = () => lines.some((line) => line.value !== line.defaultValue);

function keepLines() {
  const held = Object.fromEntries(lines.map((line) => [line.name, line.value]));
  sessionStorage.setItem(keptAs, JSON.stringify(held));
}

function bringBackLines() {
  const held = JSON.parse(sessionStorage.getItem(keptAs) ?? "{}");
  for (const line of lines) if (held[line.name] && !line.value) line.value = held[line.name];
}

// --- going on --------------------------------------------------------------

function go(where) {
  const link = one(where);
  if (link) location.assign(link.href);
  return Boolean(link);
}

function sendOrGo() {
  if (touched || isWritten()) reply.requestSubmit();
  else go("next") || go("list");
  return true;
}

function keepLevels() {
  if (!touched) return;
  navigator.sendBeacon(desk.dataset.levelsTo, new FormData(reply));
  touched = false;
}

// --- keys ------------------------------------------------------------------

const ACTS = {
  r: () => write(),
  ArrowDown: () => move(1),
  ArrowUp: () => move(-1),
  Enter: () => sendOrGo(),
  n: () => go("next"),
  ArrowRight: () => go("next"),
  p: () => go("previous"),
  ArrowLeft: () => go("previous"),
  l: () => go("list"),
};

const done = (key) => (key in ACTS ? ACTS[key]() : give(key) || takeByKey(key));

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const at = event.target;
  if (event.key === "Escape" && at.matches(WRITING)) at.blur();
  if (at.matches(WRITING)) return;
  if (at.matches(PRESSING) && (event.key === "Enter" || event.key === " ")) return;
  if (at.matches("audio") && event.key.startsWith("Arrow")) return;
  // A table that is wider than its place scrolls by the arrows once it has the focus.
  if (at.matches(".wide") && event.key.startsWith("Arrow")) return;
  if (done(event.key)) event.preventDefault();
});
document.addEventListener("click", (event) => {
  const offer = event.target.closest("[data-offer]");
  if (!offer) return;
  event.preventDefault();
  take(offer);
});
reply.addEventListener("input", keepLines);
reply.addEventListener("change", (event) => {
  const row = event.target.closest("[data-criterion]");
  if (!row) return;
  touched = true;
  activate(row);
});
document.addEventListener("focusin", (event) => activate(event.target.closest("[data-criterion]")));
reply.addEventListener("submit", () => {
  touched = false;
  sessionStorage.removeItem(keptAs);
});
addEventListener("pagehide", keepLevels);
bringBackLines();
activate(rows().find((row) => !chosenIn(row)) ?? rows()[0]);
