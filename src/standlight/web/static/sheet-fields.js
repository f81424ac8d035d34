// The fields of a question as names and values, both ways; rows are added where a list needs them.

const SKIPPED = new Set(["hidden", "file", "submit", "button"]);

export const fieldsOf = (question) =>
  [...question.querySelectorAll("[name]")].filter(
    (field) => !field.name.startsWith("seen.") && field.type !== "file" && field.type !== "submit",
  );

// Name and value of everything filled, as a posted form would carry it.
export function pairsOf(question) {
  return fieldsOf(question)
    .filter((field) => !["checkbox", "radio"].includes(field.type) || field.checked)
    .map((field) => [field.name, field.value]);
}

// The same as the page was served with, whatever was typed before a script began.
export function servedPairsOf(question) {
  return fieldsOf(question)
    .filter((field) => !["checkbox", "radio"].includes(field.type) || field.defaultChecked)
    .map((field) => [field.name, field.matches("select") ? servedOption(field) : field.defaultValue]);
}

function servedOption(select) {
  const options = [...select.options];
  return (options.find((option) => option.defaultSelected) || options[0])?.value ?? "";
}

// True when a person has put something in; what the page fills by itself does not count.
export function isFilled(question) {
  return fieldsOf(question).some((field) => {
    if (field.matches("[data-piece], [data-row-count]")) return false;
    if (field.matches("[data-sound-key]")) return Boolean(field.value);
    if (SKIPPED.has(field.type)) return false;
    if (["checkbox", "radio"].includes(field.type)) return field.checked && Boolean(field.value) && !field.name.endsWith(".without");
    return Boolean(field.value.trim());
  });
}

// Puts kept pairs back into the page.
export function fill(question, pairs) {
  const count = pairs.find(([name]) => name.endsWith(".rows"));
  const list = question.querySelector("[data-rows]");
  if (count && list) while (list.children.length < Number(count[1])) addRow(list);
  const given = new Map();
  for (const [name, value] of pairs) given.set(name, [...(given.get(name) || []), value]);
  for (const field of fieldsOf(question)) {
    const values = given.get(field.name) || [];
    if (field.matches("[data-row-count]")) continue;
    if (["checkbox", "radio"].includes(field.type)) field.checked = values.includes(field.value);
    else field.value = values[0] ?? "";
  }
  if (isFilled(question)) question.querySelector("details")?.setAttribute("open", "");
}

// One more row: a copy of the last one, emptied, with its own number in every name.
export function addRow(list) {
  const last = list.lastElementChild;
  const number = list.children.length;
  const row = last.cloneNode(true);
  const own = `${list.dataset.rows}.`;
  const renamed = (text) => {
    const at = text.indexOf(`${own}${number - 1}.`);
    return at < 0 ? text : text.slice(0, at) + `${own}${number}.` + text.slice(at + `${own}${number - 1}.`.length);
  };
  for (const element of row.querySelectorAll("[name], [id], [for], [aria-describedby]")) {
    for (const attribute of ["name", "id", "for", "aria-describedby"]) {
      const text = element.getAttribute(attribute);
      if (text) element.setAttribute(attribute, renamed(text));
    }
    if (["checkbox", "radio"].includes(element.type)) element.checked = element.defaultChecked = element.value === "" && element.type === "radio";
    else if (element.matches("select:not([data-piece])")) element.selectedIndex = 0;
    else if (element.matches("input, textarea")) element.value = element.defaultValue = "";
  }
  for (const one of row.querySelectorAll("[data-sound-kept]")) one.remove();
  list.append(row);
  list.parentElement.querySelector("[data-row-count]").value = list.children.length;
  return row;
}
