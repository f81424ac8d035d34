// When what was given cannot be saved, or the sound is gone: a sentence, and nothing is cleared.

const GONE = "This take is no longer here. It may have been taken away while you listened. Go back to the list.";
const SIGNED_OUT = "You may be signed out. Sign in again in another window, then save once more. What you gave is still here.";
const NO_NETWORK = "The school's computer cannot be reached. What you gave is still here: save once more in a moment.";
const NO_SOUND = "The sound cannot be played. It may have been taken away because its time is over. You can still save levels and answer.";

function tell(words) {
  const room = document.querySelector("[data-sheet]");
  if (!room) return;
  const line = room.querySelector("[data-trouble]") ?? document.createElement("p");
  line.dataset.trouble = "";
  line.className = "slip";
  line.setAttribute("role", "alert");
  line.textContent = words;
  room.prepend(line);
  line.scrollIntoView({ block: "nearest" });
}

document.addEventListener("htmx:responseError", ({ detail }) => tell(detail.xhr.status === 404 ? GONE : SIGNED_OUT));
document.addEventListener("htmx:sendError", () => tell(NO_NETWORK));
// Errors of sound do not bubble: they are met on their way down.
document.addEventListener("error", ({ target }) => {
  if (target.matches?.("audio[data-sound]")) tell(NO_SOUND);
}, true);
