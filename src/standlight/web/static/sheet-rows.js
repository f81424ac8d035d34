// Buttons with data-add-row put one more row at the end of their list, without a trip to the school.
import { addRow } from "./sheet-fields.js";

const listOf = (button) => button.parentElement.querySelector("[data-rows]");
const isFull = (list) => Boolean(list.dataset.most) && list.children.length >= Number(list.dataset.most);

export function prepareRows() {
  for (const button of document.querySelectorAll("[data-add-row]")) button.hidden = isFull(listOf(button));
}

document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-add-row]");
  if (!button) return;
  event.preventDefault();
  const list = listOf(button);
  const row = addRow(list);
  row.querySelector("input:not([type=hidden]), textarea, select")?.focus();
  list.dispatchEvent(new Event("input", { bubbles: true }));
  prepareRows();
});
