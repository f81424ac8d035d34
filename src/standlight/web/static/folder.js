// Buttons with data-without-scripts do by hand what a choice does by itself here; also in rows that come later.
function tidy(root) {
  for (const button of root.querySelectorAll("[data-without-scripts]")) button.hidden = true;
}

tidy(document);
document.addEventListener("htmx:load", (event) => tidy(event.detail.elt));
