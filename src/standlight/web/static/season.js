// Elements with data-item can be dragged to a row with data-week. While one hangs over a week, the
// week's hours say what they would be; letting go sends the page's own form. Without this script, and
// by keyboard, the page of each piece of work does the same.
const form = document.querySelector("[data-move]");
const said = document.querySelector("[data-drag-said]");
const rows = [...document.querySelectorAll("tr[data-week]")];
let held = null;
let over = null;

const hours = (minutes) => `${Math.ceil(minutes / 6 - 1e-9) / 10}`;

function words(row, change) {
  const minutes = Number(row.dataset.minutes) + change;
  const much = minutes > Number(row.dataset.room) ? ", too much" : "";
  return `${hours(minutes)} of ${hours(Number(row.dataset.room))} hours${much}`;
}

function show(row, change) {
  const place = row.querySelector("[data-hours]");
  if (!place) return;
  place.dataset.before ??= place.textContent;
  place.textContent = change === null ? place.dataset.before : words(row, change);
}

function leave() {
  if (!over) return;
  over.classList.remove("here");
  show(over, over.dataset.week === held?.dataset.at ? -Number(held.dataset.minutes) : null);
  over = null;
}

function end() {
  if (!held) return;
  leave();
  for (const row of rows) {
    row.classList.remove("may", "may-not", "here");
    show(row, null);
  }
  held.classList.remove("held");
  held = null;
}

function begin(item, event) {
  held = item;
  event.dataTransfer.effectAllowed = "move";
  event.dataTransfer.setData("text/plain", item.textContent.trim());
  item.classList.add("held");
  const fits = new Set(item.dataset.weeks.split(" "));
  for (const row of rows) {
    const shut = row.classList.contains("shut") || row.classList.contains("past");
    row.classList.toggle("may", fits.has(row.dataset.week) && !shut);
    row.classList.toggle("may-not", shut);
  }
  show(rows[Number(item.dataset.at)], -Number(item.dataset.minutes));
}

function enter(row, event) {
  if (!held || row.classList.contains("may-not")) return;
  event.preventDefault();
  if (row === over) return;
  leave();
  over = row;
  row.classList.add("here");
  const change = row.dataset.week === held.dataset.at ? 0 : Number(held.dataset.minutes);
  show(row, change);
  said.textContent = words(row, change);
}

function drop(row, event) {
  if (!held || row !== over) return;
  event.preventDefault();
  if (row.dataset.week !== held.dataset.at) {
    form.action = held.dataset.moveTo;
    form.querySelector("[name=monday]").value = row.dataset.monday;
    form.submit();
  }
  end();
}

if (form && matchMedia("(pointer: fine)").matches) {
  for (const hint of document.querySelectorAll("[data-drag-hint]")) hint.hidden = false;
  for (const item of document.querySelectorAll("[data-item]")) {
    item.draggable = true;
    item.addEventListener("dragstart", (event) => begin(item, event));
    item.addEventListener("dragend", end);
  }
  for (const row of rows) {
    row.addEventListener("dragover", (event) => enter(row, event));
    row.addEventListener("drop", (event) => drop(row, event));
  }
}
