// The take's sound: it begins at its first note, slower or faster at the same pitch, one measure
// round and round, against an earlier take; and the next take is fetched before it is asked for.
// Without this the page still has a plain sound element.

import { all, one } from "./level-rows.js";

const SPEEDS_KEPT = "standlight-desk-speed";
const BEFORE_A_MEASURE_S = 0.08;

let loop = null; // { from, to } in seconds, of the sound that plays
let marked = null; // where a loop between two points begins
let earlierPlays = false;
let turning = 0; // the frame that watches a loop
let begun = null; // { sound, address }: the next take, playing before its page is there

const ahead = new Map(); // address of a take to its sound, fetched beforehand

// --- which sound -----------------------------------------------------------

const main = () => one("sound");
export const playing = () => (earlierPlays && one("earlier-sound")) || main();
const start = (sound) => Number(sound.dataset.start) || 0;
const options = () => [...(one("loop-measure")?.options ?? [])].slice(1);

function spanOf(option) {
  const side = earlierPlays ? "earlier" : "take";
  const from = Number(option.dataset[`${side}From`]);
  const to = Number(option.dataset[`${side}To`]);
  return to > from ? { from, to } : null;
}

function startPlaying(sound, seconds) {
  sound.currentTime = Math.max(0, seconds);
  // A browser may refuse to start sound before the first key or press: then space starts it.
  sound.play().catch(() => {});
}

// --- playing ---------------------------------------------------------------

export function playFromFirstNote() {
  const sound = playing();
  if (sound) startPlaying(sound, loop ? loop.from : start(sound));
}

export function playOrStop() {
  const sound = playing();
  if (!sound) return;
  if (sound.paused) playFromFirstNote();
  else sound.pause();
}

// From a second of the take on the Desk; the loop and the earlier take are left.
export function playFrom(seconds) {
  if (!main()) return false;
  setLoop(null);
  hearEarlier(false);
  startPlaying(main(), seconds);
  return true;
}

// From the start of a measure of the passage, counted from 0; false where it is not known when.
export function playMeasure(index) {
  const option = options()[index];
  return Boolean(option?.dataset.takeTo) && playFrom(Number(option.dataset.takeFrom) - BEFORE_A_MEASURE_S);
}

// --- speed -----------------------------------------------------------------

function keepSpeed(value) {
  try { sessionStorage.setItem(SPEEDS_KEPT, value); } catch { /* private window: not kept */ }
}

function keptSpeed() {
  try { return sessionStorage.getItem(SPEEDS_KEPT); } catch { return null; }
}

function setSpeed() {
  const speed = one("speed");
  if (!speed) return;
  for (const sound of [main(), one("earlier-sound")]) {
    if (!sound) continue;
    sound.preservesPitch = true;
    sound.defaultPlaybackRate = sound.playbackRate = Number(speed.value);
  }
}

function stepSpeed(step) {
  const speed = one("speed");
  if (!speed) return false;
  const place = speed.selectedIndex + step;
  if (place >= 0 && place < speed.options.length) speed.selectedIndex = place;
  keepSpeed(speed.value);
  setSpeed();
  return true;
}

// --- the loop --------------------------------------------------------------

function setLoop(span) {
  loop = span;
  marked = null;
  const select = one("loop-measure");
  if (select && !span) select.value = "";
  showLoop();
  cancelAnimationFrame(turning);
  if (loop) watch();
}

function watch() {
  const sound = playing();
  if (!loop || !sound) return;
  const past = sound.currentTime >= loop.to || sound.ended;
  if (past && (!sound.paused || sound.ended)) startPlaying(sound, loop.from);
  turning = requestAnimationFrame(watch);
}

function loopMeasures(first, last) {
  const [from, to] = [first, last].map((index) => options()[index] && spanOf(options()[index]));
  if (!from || !to) return false;
  setLoop({ from: Math.max(0, from.from - BEFORE_A_MEASURE_S), to: to.to, first, last });
  one("loop-measure").value = first === last ? String(first) : "";
  showLoop();
  playFromFirstNote();
  return true;
}

function sounding() {
  const now = playing().currentTime;
  const at = options().findIndex((option) => { const span = spanOf(option); return span && now < span.to; });
  return at < 0 ? 0 : at;
}

function moveLoop(step) {
  if (!options().length) return false;
  const at = loop?.first === undefined ? sounding() : loop.first + step;
  loopMeasures(Math.min(Math.max(at, 0), options().length - 1), Math.min(Math.max(at, 0), options().length - 1));
  return true;
}

// A loop where no measures are known: the first press marks its start, the next its end.
function loopPoints() {
  const sound = playing();
  if (loop) setLoop(null);
  else if (marked === null) marked = sound.currentTime;
  else if (sound.currentTime > marked + 0.2) setLoop({ from: marked, to: sound.currentTime });
  showLoop();
}

function loopKey() {
  if (!playing()) return false;
  if (!options().length) loopPoints();
  else if (loop) setLoop(null);
  else moveLoop(0);
  return true;
}

function showLoop() {
  const button = one("loop-points");
  if (button) button.textContent = loop ? "Stop the loop" : marked === null ? "Loop from here" : "Loop to here";
  for (const music of all("music")) {
    music.querySelectorAll(".looped").forEach((mark) => mark.remove());
    if (loop?.first === undefined) continue;
    measuresIn(music).slice(loop.first, loop.last + 1).forEach(shade);
  }
}

// --- the music -------------------------------------------------------------

// The drawn measures, where as many are drawn as there are times for.
function measuresIn(music) {
  const drawn = [...music.querySelectorAll("g.measure")];
  return drawn.length === options().length ? drawn : [];
}

function shade(measure) {
  const box = staffBox(measure);
  const mark = document.createElementNS("http://www.w3.org/2000/svg", "rect");
  for (const side of ["x", "y", "width", "height"]) mark.setAttribute(side, box[side]);
  mark.setAttribute("class", "looped");
  measure.prepend(mark);
}

// The staves' own lines: what hangs below a measure is not pressed for it.
function staffBox(measure) {
  const boxes = [...measure.querySelectorAll("g.staff > path")].map((line) => line.getBBox());
  const left = Math.min(...boxes.map((b) => b.x)), top = Math.min(...boxes.map((b) => b.y));
  const right = Math.max(...boxes.map((b) => b.x + b.width)), foot = Math.max(...boxes.map((b) => b.y + b.height));
  const over = (foot - top) / 4;
  return { x: left, y: top - over, width: right - left, height: foot - top + 2 * over };
}

function measureAt(music, x, y) {
  return measuresIn(music).findIndex((measure) => {
    const boxes = [...measure.querySelectorAll("g.staff > path")].map((line) => line.getBoundingClientRect());
    if (!boxes.length) return false;
    const top = Math.min(...boxes.map((b) => b.top)), foot = Math.max(...boxes.map((b) => b.bottom));
    const over = (foot - top) / 2;
    return boxes.some((b) => x >= b.left && x < b.right) && y >= top - over && y <= foot + over;
  });
}

function pressMusic(event, music) {
  const at = measureAt(music, event.clientX, event.clientY);
  if (at < 0) return;
  if (event.shiftKey && loop?.first !== undefined) loopMeasures(Math.min(loop.first, at), Math.max(loop.first, at));
  else if (loop?.first === at && loop.last === at) setLoop(null);
  else loopMeasures(at, at);
}

// --- against an earlier take -----------------------------------------------

function hearEarlier(on) {
  const button = one("compare");
  if (!button) return false;
  earlierPlays = on;
  button.setAttribute("aria-pressed", String(on));
  button.textContent = on ? button.dataset.back : button.dataset.there;
  (on ? main() : one("earlier-sound"))?.pause();
  return true;
}

// The other take goes on at the same measure, or as long after its first note.
function compare() {
  const from = playing();
  if (!from || !one("compare")) return false;
  const span = options().map(spanOf);
  const at = span.findIndex((one) => one && from.currentTime < one.to && from.currentTime >= one.from);
  const since = from.currentTime - start(from);
  const was = loop;
  setLoop(null);
  hearEarlier(!earlierPlays);
  setSpeed();
  if (was?.first !== undefined && loopMeasures(was.first, was.last)) return true;
  const there = at >= 0 ? spanOf(options()[at]) : null;
  startPlaying(playing(), there ? there.from - BEFORE_A_MEASURE_S : start(playing()) + Math.max(0, since));
  return true;
}

// --- where the take begins -------------------------------------------------

function startHere(form) {
  const sound = main();
  const seconds = sound.currentTime.toFixed(2);
  form.elements.seconds.value = seconds;
  keepStart(form);
}

function keepStart(form) {
  const sound = main();
  sound.dataset.start = form.elements.seconds.value;
  fetch(form.action, { method: "POST", body: new FormData(form), redirect: "manual" }).catch(() => {});
  playFromFirstNote();
}

// --- the next take, beforehand ---------------------------------------------

async function fetchAhead() {
  const next = one("next-sound")?.dataset.nextSound;
  if (!next || ahead.has(next)) return;
  for (const [address, sound] of ahead) {
    if (address !== main()?.dataset.address) { URL.revokeObjectURL(sound); ahead.delete(address); }
  }
  try {
    const answer = await fetch(next);
    if (answer.ok) ahead.set(next, URL.createObjectURL(await answer.blob()));
  } catch { /* not there yet: it will be fetched when it is played */ }
}

function useAhead() {
  const sound = main();
  const kept = sound && ahead.get(sound.dataset.address);
  if (kept && sound.src !== kept) sound.src = kept;
}

// The answer is on its way: the next take begins now, and its page follows.
function beginAhead() {
  const next = one("next-sound");
  const kept = next && ahead.get(next.dataset.nextSound);
  if (!kept || !main()) return;
  hearEarlier(false);
  setLoop(null);
  begun = { sound: main(), address: next.dataset.nextSound, was: main().dataset.address };
  begun.sound.src = kept;
  setSpeed();
  startPlaying(begun.sound, Number(next.dataset.start) || 0);
}

// The page has come: the sound that plays takes the place of its own, without a gap. Moved in the
// same breath as the page is drawn, it is not stopped.
function carryOver() {
  const fresh = main();
  if (!begun || !fresh || fresh === begun.sound) return;
  if (fresh.dataset.address !== begun.address) {
    begun.sound.pause();
    begun = null;
    return;
  }
  for (const name of ["start", "address"]) begun.sound.dataset[name] = fresh.dataset[name];
  fresh.replaceWith(begun.sound);
}

// Nothing was sent: the take of the page is back.
function giveBack() {
  if (!begun) return;
  begun.sound.pause();
  begun.sound.src = begun.was;
  begun = null;
}

// --- keys, presses, arriving -----------------------------------------------

const KEYS = {
  " ": () => { playOrStop(); return true; },
  l: loopKey,
  "[": () => moveLoop(-1),
  "]": () => moveLoop(1),
  ",": () => stepSpeed(-1),
  ".": () => stepSpeed(1),
  e: compare,
};

// True when the key is one of the sound's.
export const soundKey = (key) => Boolean(KEYS[key]?.());

// A new take has come: nothing of the last one's loop stays, but the speed does. True when its
// sound plays already.
export function arrive() {
  const plays = begun !== null && begun.sound === main();
  begun = null;
  earlierPlays = false;
  setLoop(null);
  useAhead();
  const speed = one("speed");
  if (speed && keptSpeed()) speed.value = keptSpeed();
  setSpeed();
  for (const hidden of all("player")) hidden.hidden = false;
  const sound = main();
  if (!sound) fetchAhead();
  else if (sound.readyState >= HTMLMediaElement.HAVE_FUTURE_DATA) fetchAhead();
  else sound.addEventListener("canplay", fetchAhead, { once: true });
  return plays;
}

// The sheet was drawn anew under a take that goes on.
export const redrawn = showLoop;

document.addEventListener("click", (event) => {
  const music = event.target.closest("[data-music]");
  if (music) pressMusic(event, music);
  else if (event.target.closest("[data-loop-points]")) loopPoints();
  else if (event.target.closest("[data-compare]")) compare();
  else if (event.target.closest("[data-start-here]")) startHere(event.target.closest("form"));
});
document.addEventListener("change", (event) => {
  if (event.target.matches("[data-speed]")) stepSpeed(0);
  else if (event.target.matches("[data-loop-measure]")) {
    const at = event.target.value;
    if (at === "") setLoop(null);
    else loopMeasures(Number(at), Number(at));
  } else return;
  event.target.blur(); // the Desk's keys go on
});
document.addEventListener("submit", (event) => {
  if (!event.target.matches("[data-keep-start]") || !main()) return;
  event.preventDefault();
  keepStart(event.target);
});
document.addEventListener("htmx:beforeRequest", (event) => {
  if (event.target.matches("[data-answer], [data-moves-on]")) beginAhead();
});
document.addEventListener("htmx:afterSwap", carryOver);
for (const failed of ["htmx:responseError", "htmx:sendError"]) document.addEventListener(failed, giveBack);
