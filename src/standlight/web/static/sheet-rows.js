// Buttons with data-add-row put one more row at the end of their list, without a trip to the school.
import { addRow } from "./sheet-fields.js";

document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-add-row]");
  const list = button?.parentElement.querySelector("[data-rows]");
  if (!list) return;
  event.preventDefault();
  const row = addRow(list);
  row.querySelector("input:not([type=hidden]), textarea, select")?.focus();
  list.dispatchEvent(new Event("input", { bubbles: true }));
});
