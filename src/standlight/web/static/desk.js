// The Desk by keys: 1 to 4, n and h give a level and move on, arrows move, Enter saves or sends,
// a (b, c, s, t) takes a line of the bank, w writes one; the sound has its own keys (player.js).
// The page is whole without this: radio rows, buttons, a sound element.

import { takeLine } from "./answer.js";
import { activate, all, choose, chosenIn, move, one, rows } from "./level-rows.js";
import { arrive, playFromFirstNote, redrawn, soundKey } from "./player.js";

const WRITING = "input[type=text], textarea, select";
const PRESSING = "button, a, summary, audio, input[type=checkbox]";

let touched = false;

// --- the rows of levels ----------------------------------------------------

function give(key) {
  if (!choose(key)) return false;
  touched = true;
  return true;
}

function save() {
  const open = rows().find((row) => !chosenIn(row));
  if (open) activate(open);
  else one("levels").requestSubmit();
}

// --- the answer ------------------------------------------------------------

function take(offer) {
  takeLine(offer);
  one("send").focus();
}

function takeByKey(key) {
  const offer = all("offer").find((button) => button.dataset.key === key);
  if (offer) take(offer);
  return Boolean(offer);
}

// --- keys ------------------------------------------------------------------

function onSaved(event) {
  if (event.key === "w") one("next-step").focus();
  else if (event.key === "Enter") {
    if (touched) save();
    else one("answer").requestSubmit();
  } else return takeByKey(event.key) || (one("change").open && give(event.key));
  return true;
}

function onOpen(event) {
  if (event.key === "Enter") save();
  else return give(event.key);
  return true;
}

function onKey(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || !one("desk")) return;
  const at = event.target;
  if (event.key === "Escape" && at.matches(WRITING)) at.blur();
  if (at.matches(WRITING)) return;
  const pressing = at.matches(PRESSING);
  const levels = one("levels");
  let done = true;
  if (event.key === " " && pressing) return;
  if (event.key === "ArrowDown" || event.key === "ArrowUp") {
    if (at.matches("audio")) return;
    move(event.key === "ArrowDown" ? 1 : -1);
  } else if (event.key === "Enter" && pressing) {
    return;
  } else {
    done = (levels && ("saved" in levels.dataset ? onSaved(event) : onOpen(event))) || soundKey(event.key);
  }
  if (done) event.preventDefault();
}

// --- leaving and arriving --------------------------------------------------

// Levels given but not yet saved are kept when the page is left in the middle.
function keepOnLeaving() {
  const form = one("levels");
  if (!form || !touched) return;
  navigator.sendBeacon(form.action, new FormData(form));
  touched = false;
}

function settle() {
  touched = false;
  activate(rows().find((row) => !chosenIn(row)) ?? rows()[0]);
}

document.addEventListener("keydown", onKey);
document.addEventListener("click", (event) => {
  const offer = event.target.closest("[data-offer]");
  if (!offer) return;
  event.preventDefault();
  take(offer);
});
document.addEventListener("change", (event) => {
  if (!event.target.matches("[data-criterion] input")) return;
  touched = true;
  activate(event.target.closest("[data-criterion]"));
});
document.addEventListener("focusin", (event) => activate(event.target.closest("[data-criterion]")));
document.addEventListener("htmx:afterSettle", (event) => {
  settle();
  if (event.target.matches("[data-sheet]")) {
    one("heard")?.focus();
    redrawn();
    return;
  }
  if (!arrive()) playFromFirstNote();
});
document.addEventListener("htmx:historyRestore", () => { settle(); arrive(); });
addEventListener("pagehide", keepOnLeaving);
settle();
arrive();
playFromFirstNote();
