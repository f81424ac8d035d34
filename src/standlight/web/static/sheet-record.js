// A small recorder inside a sheet: record, stop, listen; what was recorded last is the answer.

import { canRecord, closeMicrophone, openMicrophone, recording } from "./recorder-microphone.js";

const LONGEST_MS = 9.5 * 60 * 1000; // the school's decoder takes ten minutes

// `onSound(place, bytes, mediaType)` is called with every finished recording and every file.
export function prepareSounds(onSound) {
  if (canRecord()) for (const room of document.querySelectorAll("[data-record-here]")) room.hidden = false;
  let running = null;

  async function record(place) {
    const button = place.querySelector("[data-record-button]");
    const say = (words) => (place.querySelector("[data-record-state]").textContent = words);
    let stream;
    try {
      stream = await openMicrophone();
    } catch (error) {
      return say(error.message);
    }
    const pieces = [];
    const made = recording(stream, (bytes) => pieces.push(bytes));
    running = { place, stop: made.stop };
    button.textContent = "Stop";
    button.dataset.on = "";
    document.body.setAttribute("data-busy", "");
    say("Recording.");
    made.start();
    const clock = setTimeout(made.stop, LONGEST_MS);
    await made.finished;
    clearTimeout(clock);
    closeMicrophone(stream);
    running = null;
    document.body.removeAttribute("data-busy");
    delete button.dataset.on;
    button.textContent = "Record again";
    if (!pieces.length) return say("Nothing was recorded. Try again.");
    say("Recorded. Listen to it. Record again if you like.");
    const blob = new Blob(pieces, { type: made.mediaType });
    const player = place.querySelector("[data-record-play]");
    player.src = URL.createObjectURL(blob);
    player.hidden = false;
    onSound(place, await blob.arrayBuffer(), made.mediaType);
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest?.("[data-record-button]");
    if (!button) return;
    if (running) running.stop();
    else record(button.closest("[data-sound]"));
  });
  document.addEventListener("change", async (event) => {
    const file = event.target.matches?.("[data-sound] input[type=file]") && event.target.files[0];
    if (!file) return;
    const bytes = await file.arrayBuffer();
    onSound(event.target.closest("[data-sound]"), bytes, file.type || "application/octet-stream");
    event.target.value = "";
  });
}
