// Places to hear again, by a press or by the key that stands beside each: the place is shown on
// the music and the take plays from there. Without this each place is a link into the sound.

import { all } from "./level-rows.js";
import { playFrom } from "./player.js";

const WRITING = "input[type=text], textarea, select";

function show(jump) {
  for (const note of document.querySelectorAll(".notation .here")) note.classList.remove("here");
  const notes = jump.dataset.notes.split(" ").filter(Boolean);
  const found = notes.flatMap((index) => [...document.querySelectorAll(`.notation [id="n${index}"]`)]);
  for (const note of found) note.classList.add("here");
  // The music stands twice, wide and narrow: the one that is not shown has no place to go to.
  const seen = found.find((note) => note.getClientRects().length);
  seen?.scrollIntoView({ block: "nearest", behavior: "instant" });
}

function go(jump) {
  show(jump);
  playFrom(Number(jump.dataset.from));
}

document.addEventListener("click", (event) => {
  const jump = event.target.closest?.("[data-jump]");
  if (!jump || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  go(jump);
});

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.target.matches(WRITING)) return;
  const jump = all("jump").find((link) => link.dataset.key && link.dataset.key === event.key);
  if (!jump) return;
  event.preventDefault();
  go(jump);
});
