// A moment of a recording (data-seek, in seconds) is a button: pressed, the sound plays from there.
// “Pin here” beside a field for a moment (data-clock) writes down where the sound is now.
const sound = document.querySelector("[data-given-sound]");
for (const moment of sound ? document.querySelectorAll("[data-seek]") : []) {
  moment.disabled = false;
  moment.addEventListener("click", () => {
    sound.currentTime = Number(moment.dataset.seek);
    sound.play().catch(() => {});
  });
}
for (const pin of sound ? document.querySelectorAll("[data-pin-here]") : []) {
  pin.hidden = false;
  pin.addEventListener("click", () => {
    const at = Math.floor(sound.currentTime);
    const seconds = String(at % 60).padStart(2, "0");
    pin.closest(".row").querySelector("[data-clock]").value = `${Math.floor(at / 60)}:${seconds}`;
  });
}
