// An answer at the Desk: a line of the bank takes the measures chosen beside it, and a spoken
// answer is recorded into the form's own file field. Without this the page sends the same form.

import { all, one } from "./level-rows.js";
import { canRecord, closeMicrophone, openMicrophone, recording } from "./recorder-microphone.js";

const WRITING = "input[type=text], textarea, select";
const TICK_MS = 250;

// --- the measures inside a line ---------------------------------------------

// What the server fills in, said in the same words.
function measuresWords(field) {
  const spot = document.querySelector(`[data-spot="${field}"]`);
  const printed = (name) => {
    const select = spot?.querySelector(`[data-${name}]`);
    return select?.value ? select.selectedOptions[0].textContent : "";
  };
  const from = printed("from") || printed("to");
  const to = printed("to") || from;
  if (!from) return one("answer").dataset.passage;
  return from === to ? `measure ${from}` : `measures ${from} to ${to}`;
}

const filled = (template, field) => {
  const text = template.replaceAll(/\{\s*measures\s*\}/gi, measuresWords(field));
  return template.startsWith("{") ? text.charAt(0).toUpperCase() + text.slice(1) : text;
};

export function takeLine(offer) {
  const line = one("line", offer);
  const field = document.getElementById(offer.dataset.offer);
  const { template } = line.dataset;
  field.value = template ? filled(template, field.id) : line.textContent;
  field.dataset.template = template ?? "";
  field.dataset.filled = field.value;
}

// Other measures chosen afterwards go into a line that nobody has changed.
document.addEventListener("change", (event) => {
  const spot = event.target.closest?.("[data-spot]");
  const field = spot && document.getElementById(spot.dataset.spot);
  if (!field?.dataset.template || field.value !== field.dataset.filled) return;
  field.value = filled(field.dataset.template, field.id);
  field.dataset.filled = field.value;
});

// --- speaking ----------------------------------------------------------------

let running = null;

async function speak(place) {
  const say = (words) => (one("voice-state", place).textContent = words);
  const button = one("voice-button", place);
  running = { stop: () => {} };
  let stream;
  try {
    stream = await openMicrophone();
  } catch (error) {
    running = null;
    return say(error.message);
  }
  // The take itself would be heard in the answer.
  for (const sound of document.querySelectorAll("audio")) sound.pause();
  const pieces = [];
  const made = recording(stream, (bytes) => pieces.push(bytes));
  running = { stop: made.stop };
  const longest = Number(place.dataset.longestS) * 1000;
  const began = performance.now();
  button.textContent = "Stop";
  document.body.setAttribute("data-busy", "");
  made.start();
  const clock = setInterval(() => {
    const left = longest - (performance.now() - began);
    if (left <= 0) made.stop();
    say(`Speak. ${Math.max(0, Math.ceil(left / 1000))} s left.`);
  }, TICK_MS);
  await made.finished;
  clearInterval(clock);
  closeMicrophone(stream);
  running = null;
  document.body.removeAttribute("data-busy");
  button.textContent = "Speak again";
  if (!pieces.length) return say("Nothing was recorded. Try again.");
  keep(place, new Blob(pieces, { type: made.mediaType }));
  say("Recorded. It goes with the answer.");
}

function keep(place, blob) {
  const carried = new DataTransfer();
  carried.items.add(new File([blob], "spoken", { type: blob.type }));
  one("voice-file", place).files = carried.files;
  const player = one("voice-play", place);
  player.src = URL.createObjectURL(blob);
  player.hidden = false;
  const caption = place.querySelector("[data-caption-needed]");
  if (caption && !caption.value) caption.focus();
  else one("send")?.focus();
}

function speakOrStop() {
  const place = one("voice");
  if (!place || !canRecord()) return false;
  place.open = true;
  if (running) running.stop();
  else speak(place);
  return true;
}

document.addEventListener("click", (event) => {
  if (event.target.closest?.("[data-voice-button]")) speakOrStop();
});
document.addEventListener("keydown", (event) => {
  if (event.key !== "v" || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.matches(WRITING)) return;
  if (speakOrStop()) event.preventDefault();
});

function settle() {
  if (canRecord()) for (const here of all("voice-here")) here.hidden = false;
}
// A form that leaves while somebody speaks takes what was said until then with the next press.
document.addEventListener("submit", (event) => {
  if (!running || !event.target.matches("[data-answer]")) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  running.stop();
}, true);
document.addEventListener("htmx:afterSettle", settle);
document.addEventListener("htmx:historyRestore", settle);
settle();
