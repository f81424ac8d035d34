// Rows of levels by key, the same at the Desk and at its reading side: one row is active, a key
// gives its level, and the next row is then active.

export const one = (hook, root = document) => root.querySelector(`[data-${hook}]`);
export const all = (hook, root = document) => [...root.querySelectorAll(`[data-${hook}]`)];

export const rows = () => all("criterion");
export const chosenIn = (row) => row.querySelector("input:checked");
export const activeRow = () => rows().find((row) => "active" in row.dataset);

export function activate(row) {
  if (!row) return;
  for (const other of rows()) delete other.dataset.active;
  row.dataset.active = "";
}

// True where there are rows at all.
export function move(step) {
  const list = rows();
  const place = list.indexOf(activeRow());
  activate(list[Math.min(Math.max(place + step, 0), list.length - 1)]);
  return list.length > 0;
}

// True when the active row has a level for the key.
export function choose(key) {
  const choice = activeRow()?.querySelector(`input[data-key="${CSS.escape(key)}"]`);
  if (!choice) return false;
  choice.checked = true;
  move(1);
  return true;
}
