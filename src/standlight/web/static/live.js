// One musician at the stand by keys and thumbs: space starts a quiet clock, a key or a tap gives a
// level and readies the next row, Enter saves. The page is whole without this.

import { activate, chosenIn, choose, move, one, rows } from "./level-rows.js";

const WRITING = "input[type=text], input[type=number], textarea, select";
const PRESSING = "button, a, summary";
const stand = one("stand");

let started = 0;

function start() {
  if (started) return;
  started = performance.now();
  one("start").hidden = true;
  setInterval(() => {
    const seconds = Math.floor((performance.now() - started) / 1000);
    one("clock").textContent = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  }, 500);
}

function save() {
  const open = rows().find((row) => !chosenIn(row));
  if (open) activate(open);
  else stand.requestSubmit();
}

// The row after the one just given, or the button that saves.
function on(row) {
  activate(row);
  move(1);
  if (rows().every(chosenIn)) one("save").focus({ preventScroll: true });
}

if (stand) {
  one("timing").hidden = false;
  one("start").addEventListener("click", start);
  activate(rows().find((row) => !chosenIn(row)) ?? rows()[0]);
  document.addEventListener("change", (event) => {
    const row = event.target.closest("[data-criterion]");
    if (row) on(row);
  });
  document.addEventListener("focusin", (event) => activate(event.target.closest("[data-criterion]")));
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const at = event.target;
    if (at.matches(WRITING)) {
      if (event.key === "Escape") at.blur();
      return;
    }
    const saving = "save" in at.dataset;
    if (event.key === " " && (!at.matches(PRESSING) || saving)) start();
    else if (event.key === "ArrowDown" || event.key === "ArrowUp") move(event.key === "ArrowDown" ? 1 : -1);
    else if (event.key === "Enter" && (!at.matches(PRESSING) || saving)) save();
    else if (!choose(event.key)) return;
    else if (rows().every(chosenIn)) one("save").focus({ preventScroll: true });
    event.preventDefault();
  });
}
