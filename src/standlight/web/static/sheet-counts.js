// Live counts: words in a text with limits (data-words), answered questions of a group (data-some-of).
import { isFilled } from "./sheet-fields.js";

// As the school counts them: scripts without spaces by so many characters a word.
const SCRIPTS = [
  [/[\u3040-\u30ff\u3400-\u4dbf\u4e00-\u9fff\u{20000}-\u{2ffff}]/gu, 2],
  [/[\u0e01-\u0eff\u1000-\u109f\u1780-\u17ff]/gu, 4],
];

export function wordsIn(text) {
  const runs = text.split(/\s+/u).filter(Boolean);
  return runs.reduce((sum, run) => sum + Math.max(1, SCRIPTS.reduce((n, [script, size]) => n + Math.ceil((run.match(script) || []).length / size), 0)), 0);
}

function countWords(text) {
  const place = text.parentElement.querySelector("[data-words-now]");
  if (!place) return;
  const { least, most } = text.dataset;
  const count = wordsIn(text.value);
  let words = count ? `. Now ${count}` : "";
  if (count && least && count < Number(least)) words += `: ${least - count} more to go`;
  if (most && count > Number(most)) words += `: ${count - most} too many`;
  place.textContent = words;
}

function countGroup(group) {
  const entries = [...group.children].filter((one) => one.matches("[data-question], [data-some-of]"));
  const done = entries.filter((one) => (one.matches("[data-question]") ? isFilled(one) : countGroup(one))).length;
  const least = Number(group.dataset.least);
  const most = Number(group.dataset.most);
  let words = `${done} answered so far.`;
  if (done > most) words = `${done} answered: ${done - most} too many. Empty ${done - most}.`;
  else if (done >= least && least) words = done === most ? `${done} answered. That is all.` : `${done} answered. That is enough.`;
  else if (done) words = `${done} answered, ${least - done} more to go.`;
  const place = group.querySelector(":scope > .how-many [data-some-state]");
  if (place && place.textContent !== words) place.textContent = words;
  return done >= least;
}

export function recount(root = document) {
  for (const text of root.querySelectorAll("[data-words]")) countWords(text);
  for (const group of root.querySelectorAll("[data-some-of]")) countGroup(group);
}

document.addEventListener("input", (event) => {
  if (event.target.matches?.("[data-words]")) countWords(event.target);
  for (let at = event.target.closest?.("[data-some-of]"); at; at = at.parentElement.closest("[data-some-of]")) countGroup(at);
});
recount();
