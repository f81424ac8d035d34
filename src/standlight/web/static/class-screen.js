// Big number keys on the class's screen, for a board that is touched; and Enter keeps nothing there.

const pad = document.querySelector("[data-pad]");
if (pad) {
  const fields = [...pad.parentElement.querySelectorAll(".measure-number")];
  let on = fields[0];
  pad.hidden = false;
  for (const field of fields) field.addEventListener("focus", () => (on = field));
  pad.addEventListener("click", ({ target }) => {
    const key = target.closest("[data-key]")?.dataset.key;
    if (!key) return;
    if (key === "clear") on.value = "";
    else if (key === "back") on.value = on.value.slice(0, -1);
    else if (on.value.length < on.maxLength) on.value += key;
  });
}

// Enter in a number says which measure, not what happened there: that is tapped.
const form = document.querySelector(".class-screen");
form?.addEventListener("submit", (event) => {
  const chosen = Boolean(event.submitter?.value);
  form.querySelector("[data-ask]").hidden = chosen;
  if (!chosen) event.preventDefault();
});
