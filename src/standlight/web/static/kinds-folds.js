/* Tells the form which of its folds stand open, so that they do after a press: data-fold. */
(() => {
  document.addEventListener(
    "toggle",
    (event) => {
      if (!event.target.matches("[data-fold]")) return;
      const state = event.target.parentElement.querySelector(":scope > [data-fold-state]");
      state.value = event.target.open ? "yes" : "";
    },
    true,
  );
})();
