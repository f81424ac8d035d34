// Pins: a pad of big keys for measures, the measure drawn when it is there, the clock of the recording.

const WAIT_MS = 500;
const pictures = new WeakMap();

// A pad shows where the form begins with it, and elsewhere while its number is being filled in.
function padOn(pin, field) {
  for (const pad of document.querySelectorAll("[data-pad]")) {
    const own = pad.parentElement === pin;
    if (own || !pad.closest("[data-question]")?.matches("[data-pad-first]")) pad.hidden = !own;
  }
  for (const one of pin.querySelectorAll("[data-pad-on]")) one.removeAttribute("data-pad-on");
  field.setAttribute("data-pad-on", "");
}

function numbersOf(pin) {
  return [...pin.querySelectorAll(":scope > .numbers-row .measure-number")];
}

function press(pin, key) {
  const field = pin.querySelector(":scope > .numbers-row [data-pad-on]") || numbersOf(pin)[0];
  if (key === "clear") field.value = "";
  else if (key === "back") field.value = field.value.slice(0, -1);
  else if (field.value.length < field.maxLength) field.value += key;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

export function preparePins(root = document) {
  const first = document.querySelector("[data-sheet] [data-question]");
  if (first?.querySelector(":scope > fieldset > [data-pad]")) first.setAttribute("data-pad-first", "");
  for (const pad of root.querySelectorAll("[data-pad]")) {
    const pin = pad.parentElement;
    const fields = numbersOf(pin);
    // The page's own keys stand in for the telephone's, which would cover half of the page.
    if (matchMedia("(pointer: coarse)").matches) for (const field of fields) field.inputMode = "none";
    if (pad.closest("[data-pad-first]") && fields[0]) padOn(pin, fields[0]);
  }
  for (const button of root.querySelectorAll("[data-pin-here]")) button.hidden = false;
  for (const field of root.querySelectorAll("[data-measure]")) if (field.value) showMeasure(field);
}

function showMeasure(field) {
  const pin = field.closest(".pin");
  const figure = pin.querySelector("[data-music]");
  if (!figure) return;
  clearTimeout(pictures.get(figure));
  const number = field.value.trim();
  if (!/^\d{1,5}$/.test(number)) return void (figure.hidden = true);
  const picture = figure.querySelector("img");
  const title = pin.querySelector("[data-piece]")?.value || "";
  pictures.set(
    figure,
    setTimeout(() => {
      picture.onload = () => (figure.hidden = false);
      picture.onerror = () => (figure.hidden = true);
      picture.alt = `Measure ${number} of your part`;
      figure.querySelector("figcaption").textContent = `Measure ${number} of your part`;
      picture.src = `${figure.dataset.music.replace("measure-0.", `measure-${number}.`)}?piece=${encodeURIComponent(title)}`;
    }, WAIT_MS),
  );
}

document.addEventListener("focusin", (event) => {
  if (event.target.matches?.(".measure-number")) padOn(event.target.closest(".pin"), event.target);
});
document.addEventListener("click", (event) => {
  const key = event.target.closest?.("[data-key]");
  if (key) press(key.closest(".pin"), key.dataset.key);
  const button = event.target.closest?.("[data-pin-here]");
  const sound = document.querySelector("[data-listen]");
  if (button && sound) {
    const field = button.parentElement.querySelector("[data-clock]");
    const seconds = Math.floor(sound.currentTime);
    field.value = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
});
document.addEventListener("input", (event) => {
  if (event.target.matches?.("[data-measure]")) showMeasure(event.target);
});
document.addEventListener("change", (event) => {
  if (!event.target.matches?.("[data-piece]")) return;
  const field = event.target.closest(".pin").querySelector("[data-measure]");
  if (field?.value) showMeasure(field);
});
preparePins();
