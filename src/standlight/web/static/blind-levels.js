// Levels by key where a take is heard under a code, by a guest or to calibrate: 1 to 4, n and h
// give a level and move on, arrows move, Enter saves, Space plays. Whole without this.

import { activate, choose, chosenIn, move, one, rows } from "./level-rows.js";

const WRITING = "input[type=text], textarea, select";
const PRESSING = "button, a, summary, audio";

function save() {
  const open = rows().find((row) => !chosenIn(row));
  if (open) activate(open);
  else one("levels").requestSubmit();
  return true;
}

function playOrStop() {
  const sound = one("sound");
  if (sound?.paused) sound.play().catch(() => {});
  else sound?.pause();
  return Boolean(sound);
}

const ACTS = {
  ArrowDown: () => move(1),
  ArrowUp: () => move(-1),
  Enter: save,
  " ": playOrStop,
};

function onKey(event) {
  const at = event.target;
  if (event.ctrlKey || event.metaKey || event.altKey || at.matches(WRITING)) return;
  if (at.matches(PRESSING) && event.key in ACTS) return;
  const act = ACTS[event.key];
  if (act ? act() : choose(event.key)) event.preventDefault();
}

document.addEventListener("keydown", onKey);
document.addEventListener("focusin", (event) => activate(event.target.closest("[data-criterion]")));
document.addEventListener("change", (event) => activate(event.target.closest("[data-criterion]")));
activate(rows().find((row) => !chosenIn(row)) ?? rows()[0]);
one("sound")?.play().catch(() => {}); // where the browser allows it
