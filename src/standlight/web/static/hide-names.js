// Elements with data-hide-names swap every name on the page for its place, at a press or the key "h".
const button = document.querySelector("[data-hide-names]");

function swap() {
  const hide = !document.querySelector("[data-name]").hidden;
  for (const name of document.querySelectorAll("[data-name]")) name.hidden = hide;
  for (const place of document.querySelectorAll("[data-instead]")) place.hidden = !hide;
  button.textContent = hide ? button.dataset.show : button.dataset.hide;
}

if (button && document.querySelector("[data-name]")) {
  button.addEventListener("click", (event) => {
    event.preventDefault();
    swap();
  });
  document.addEventListener("keydown", (event) => {
    const typing = event.target.closest("input, select, textarea");
    if (event.key === "h" && !typing && !event.ctrlKey && !event.metaKey && !event.altKey) swap();
  });
}
