// A sheet saves itself: every change is on this device at once and at the school within seconds.
// What an earlier window left here comes back into the page; what another window wrote is shown.

import { recount } from "./sheet-counts.js";
import { fill, pairsOf, servedPairsOf } from "./sheet-fields.js";
import { preparePins } from "./sheet-pins.js";
import { prepareRows } from "./sheet-rows.js";
import { prepareSounds } from "./sheet-record.js";
import { alone, drain, news } from "./sheet-queue.js";
import { shelf } from "./sheet-shelf.js";

const REST_MS = 1500;
const MOST_REST_MS = 3000;
const SAVED = "Saved. Nobody reads it until you send it.";
const form = document.querySelector("[data-sheet]");
if (form) begin(form);

async function begin(form) {
  const { owner, save, after } = form.dataset;
  const kept = await shelf;
  const draft = { draft: crypto.randomUUID(), owner, form: form.dataset.form, save, sheet: form.dataset.sheet, send: false, at: Date.now() };
  const questions = new Map([...form.querySelectorAll("[data-question]")].map((one) => [one.dataset.question, one]));
  const seen = new Map([...questions].map(([key, one]) => [key, one.querySelector(`[name="seen.${CSS.escape(key)}"]`).value]));
  const last = new Map(); // question -> its fields as they were last kept, as text
  const state = form.querySelector("[data-sheet-state]");
  const slip = form.querySelector("[data-sheet-slip]");
  const say = (words) => state.textContent !== words && (state.textContent = words);
  let timer = 0;
  let first = 0;
  let writing = Promise.resolve();
  let sending = false;

  form.querySelector("[data-sheet-save]").hidden = true;
  hold(draft.draft);
  // On a slow machine somebody types before this script begins: that is a change like any other.
  for (const [key, one] of questions) last.set(key, JSON.stringify(servedPairsOf(one)));
  const stale = await alone(adopt);
  for (const key of questions.keys()) keep(key);
  await writing;
  // Once: what was sent is forgotten here. Words typed by now are kept, and come back after it.
  if (stale) return location.reload();
  drain();
  recount();
  preparePins();
  prepareRows();
  prepareSounds(keepSound);
  if (form.dataset.sheet && !state.textContent) say(SAVED);

  // Keeping what is typed: on the device at once, at the school after a short rest.

  function keep(key) {
    const fields = pairsOf(questions.get(key));
    const text = JSON.stringify(fields);
    if (text === last.get(key)) return;
    last.set(key, text);
    const stamp = crypto.randomUUID();
    writing = writing.then(async () => {
      await putDraft();
      const row = { draft: draft.draft, question: key, fields, stamp, at: Date.now() };
      const after = (before) => ({ ...row, seen: before?.seen ?? seen.get(key) ?? "", tried: before?.tried ?? [] });
      await kept.change("answers", [draft.draft, key], after);
    });
    say("Kept on this device. Saving.");
    soon();
  }

  async function putDraft(changes = {}) {
    await kept.change("drafts", draft.draft, (known = draft) => {
      Object.assign(draft, { sheet: known.sheet || draft.sheet, send: known.send, sent: known.sent }, changes);
      return { ...draft, stopped: false };
    });
  }

  function soon() {
    const now = Date.now();
    first ||= now;
    clearTimeout(timer);
    timer = setTimeout(go, Math.max(0, Math.min(REST_MS, first + MOST_REST_MS - now)));
  }

  async function go() {
    first = 0;
    clearTimeout(timer);
    await writing;
    drain();
  }

  const changed = (event) => {
    const question = event.target.closest?.("[data-question]");
    if (question && event.target.type !== "file") keep(question.dataset.question);
  };
  form.addEventListener("input", changed);
  form.addEventListener("change", changed);
  addEventListener("pagehide", go);

  async function keepSound(place, bytes, mediaType) {
    const holder = place.querySelector("[data-sound-key]");
    const { soundTo } = place.dataset;
    const question = decodeURIComponent(soundTo.split("/").at(-2));
    await putDraft();
    const sound = { draft: draft.draft, question: holder.name, asked: question, bytes, mediaType };
    await kept.put("sounds", { ...sound, stamp: crypto.randomUUID() });
    say("Your recording is kept on this device. Sending it.");
    drain();
  }

  // What windows that are gone left on this device.

  function hold(key) {
    navigator.locks?.request(`standlight-sheet-${key}`, () => new Promise(() => {}));
  }

  async function isHeld(key) {
    return navigator.locks ? navigator.locks.request(`standlight-sheet-${key}`, { ifAvailable: true }, (lock) => lock === null) : false;
  }

  async function adopt() {
    let stale = false;
    const mine = (await kept.drafts()).filter((one) => one.owner === owner && one.form === draft.form && one.draft !== draft.draft);
    for (const one of mine.sort((a, b) => a.at - b.at)) {
      if (one.send || (await isHeld(one.draft))) continue;
      const rows = await kept.inside("answers", one.draft);
      const sounds = await kept.inside("sounds", one.draft);
      for (const row of rows) {
        const question = questions.get(row.question);
        if (!question) continue;
        const early = earlyWords(question, row.question);
        fill(question, row.fields);
        for (const [box, words] of early) if (box.value !== words) box.value = `${box.value}\n${words}`.trim();
        last.set(row.question, JSON.stringify(early.length ? row.fields : pairsOf(question)));
        await putDraft();
        await kept.put("answers", { ...row, draft: draft.draft, refused: false });
      }
      for (const sound of sounds) {
        await putDraft();
        await kept.put("sounds", { ...sound, draft: draft.draft });
      }
      await kept.forget(one.draft);
      // Another page sent it while this one was on its way: this one was served without it.
      stale ||= !rows.length && Object.entries(one.sent || {}).some(([key, stamp]) => seen.has(key) && seen.get(key) !== stamp);
      if (rows.length || sounds.length) say("Here is what you wrote before. Saving it.");
    }
    return stale;
  }

  // Text boxes in which somebody typed before an older window's words come back into them.
  function earlyWords(question, key) {
    if (JSON.stringify(pairsOf(question)) === last.get(key)) return [];
    const boxes = [...question.querySelectorAll("textarea, input[type=text]")];
    return boxes.filter((box) => box.value.trim() && box.value !== box.defaultValue).map((box) => [box, box.value]);
  }

  // What the school answers.

  news.addEventListener("taken", ({ detail }) => {
    if (detail.draft !== draft.draft) return;
    for (const [key, stamp] of Object.entries(detail.stamps)) {
      seen.set(key, stamp);
      questions.get(key).querySelector(`[name="seen.${CSS.escape(key)}"]`).value = stamp;
    }
  });
  news.addEventListener("saved", async ({ detail }) => {
    if (detail.draft !== draft.draft) return;
    draft.sheet = detail.sheet;
    for (const clash of detail.clashes) showClash(clash);
    for (const [key, words] of Object.entries(detail.refused)) tellAt(key, words);
    for (const key of Object.keys(detail.stamps)) if (!detail.refused[key]) tellAt(key, "");
    if (detail.sent) return sent();
    if (detail.open.length) return notYet(detail.open);
    say(Object.keys(detail.refused).length ? "Not all of it is saved. Look above." : SAVED);
    if (sending && Object.keys(detail.refused).length) stopSending();
  });
  news.addEventListener("offline", () => {
    if (sending) say("Kept on this device. It is sent when there is network. You can close this page.");
    else say(kept.durable ? "Kept on this device; sent when there is network." : "No network. Keep this page open.");
  });
  news.addEventListener("signed-out", () => say("Kept on this device. Sign in again to save it."));
  news.addEventListener("refused", ({ detail }) => {
    if (detail.draft !== draft.draft) return;
    stopSending();
    slip.textContent = `${detail.words} Your text is still here.`;
    slip.hidden = false;
  });
  news.addEventListener("sound", ({ detail }) => {
    const holder = form.querySelector(`[name="${CSS.escape(detail.question)}"]`);
    if (detail.draft !== draft.draft || !holder) return;
    holder.value = detail.sound;
    const key = holder.closest("[data-question]").dataset.question;
    draft.sheet = detail.sheet;
    if (detail.stamp) {
      seen.set(key, detail.stamp);
      last.set(key, JSON.stringify(pairsOf(questions.get(key))));
    } else keep(key);
    recount();
    say(`Your recording is saved. ${SAVED.replace("Saved. ", "")}`);
  });
  news.addEventListener("sound-refused", ({ detail }) => {
    const holder = form.querySelector(`[name="${CSS.escape(detail.question)}"]`);
    if (detail.draft === draft.draft && holder) tellAt(holder.closest("[data-question]").dataset.question, detail.words);
  });

  function tellAt(key, words) {
    const question = questions.get(key);
    if (!question) return;
    let place = question.querySelector("[data-told]");
    if (!place && !words) return;
    if (!place) {
      place = document.createElement("p");
      place.className = "slip";
      place.dataset.told = "";
      place.setAttribute("role", "alert");
      question.append(place);
    }
    place.textContent = words;
    place.hidden = !words;
    if (words) question.querySelector("details")?.setAttribute("open", "");
  }

  function showClash({ question, words }) {
    const place = questions.get(question).querySelector("[data-clash]");
    const head = document.createElement("p");
    head.textContent = "You changed this in another window too. There it said:";
    const text = document.createElement("blockquote");
    text.dir = "auto";
    text.textContent = words;
    const foot = document.createElement("p");
    foot.textContent = "Both are kept. What stands in this window is the one that counts now.";
    const done = document.createElement("button");
    Object.assign(done, { type: "button", className: "plain", textContent: "I have seen it" });
    done.addEventListener("click", () => (place.hidden = true));
    place.replaceChildren(head, text, foot, done);
    place.hidden = false;
  }

  // Handing in.

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    slip.hidden = true;
    sending = true;
    form.querySelector("[data-sheet-send]").disabled = true;
    for (const key of questions.keys()) keep(key);
    await writing;
    await putDraft({ send: true });
    say("Sending.");
    go();
  });

  function stopSending() {
    sending = false;
    form.querySelector("[data-sheet-send]").disabled = false;
  }

  function notYet(open) {
    stopSending();
    for (const key of questions.keys()) tellAt(key, "");
    const loose = [];
    for (const [key, words] of open) questions.has(key) ? tellAt(key, words) : loose.push(words);
    slip.textContent = ["Not sent yet. Look at what is still open below.", ...loose].join(" ");
    slip.hidden = false;
    say(SAVED);
    const where = open.map(([key]) => questions.get(key)).find(Boolean) || slip;
    where.scrollIntoView({ block: "center" });
  }

  function sent() {
    say("Sent.");
    location.assign(after);
  }
}
