/* Asks before a page with unsaved typing is left: for the form with data-unsaved. */
(() => {
  let typed = false;
  document.addEventListener("input", (event) => {
    if (event.target.closest("[data-unsaved]")) typed = true;
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-unsaved] button[name=press]");
    if (button && button.value !== "save") typed = true;
  });
  document.addEventListener("submit", (event) => {
    if (event.target.closest("[data-unsaved]")) typed = false;
  });
  window.addEventListener("beforeunload", (event) => {
    if (typed) event.preventDefault();
  });
})();
