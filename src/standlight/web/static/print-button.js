// Elements with data-print open the browser's print dialog; hidden where scripts do not run.
for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
