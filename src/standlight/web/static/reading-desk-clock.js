// A moment of a recording (data-seek, in seconds) is a button: pressed, the sound plays from there.
const sound = document.querySelector("[data-given-sound]");
for (const moment of sound ? document.querySelectorAll("[data-seek]") : []) {
  moment.disabled = false;
  moment.addEventListener("click", () => {
    sound.currentTime = Number(moment.dataset.seek);
    sound.play().catch(() => {});
  });
}
