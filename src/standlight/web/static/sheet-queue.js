// The queue of sheets: what this browser keeps goes to the school, however often it takes.
// A save carries a stamp, so that a repeat is harmless, and the stamp that the window had seen, so
// that the school can tell when another window wrote in between. Any page of the musician sends.

import { shelf } from "./sheet-shelf.js";

const FIRST_WAIT_MS = 700;
const LONGEST_WAIT_MS = 30000;
const ANSWER_WITHIN_MS = 20000;
const SOUND_WITHIN_MS = 120000;

export const news = new EventTarget();
const tell = (kind, detail) => news.dispatchEvent(new CustomEvent(kind, { detail }));
const place = document.querySelector("[data-owner]");
const owner = place?.dataset.owner || "";
const token = () => document.querySelector("[name=csrfmiddlewaretoken]")?.value || "";
let running = null;
let again = false;
let failures = 0;
let wake = () => {};

export class Refused extends Error {}
class Unanswered extends Error {}
class SignedOut extends Error {}

async function ask(address, method, body, headers, withinMs) {
  let answer;
  try {
    answer = await fetch(address, {
      method,
      body,
      headers: { "X-CSRFToken": token(), ...headers },
      redirect: "manual",
      cache: "no-store",
      signal: AbortSignal.timeout(withinMs),
    });
  } catch {
    throw new Unanswered("no answer");
  }
  if (answer.type === "opaqueredirect" || answer.status === 403) throw new SignedOut("signed out");
  if (answer.status >= 500 || answer.status === 408 || answer.status === 429) throw new Unanswered(`${answer.status}`);
  let told = {};
  try {
    told = await answer.json();
  } catch {
    if (answer.status === 404) throw new Refused("This work is not open for you any more.");
    throw new Unanswered("another page answered");
  }
  failures = 0;
  if (!answer.ok) throw new Refused(told.error || `It was refused (${answer.status}).`);
  return told;
}

async function sendSounds(kept, draft) {
  for (const sound of await kept.inside("sounds", draft.draft)) {
    const address = draft.save.replace(/save\/$/, `sound/${encodeURIComponent(sound.asked)}/`);
    const headers = { "Content-Type": sound.mediaType, "Sheet-Key": draft.sheet };
    let told;
    try {
      told = await ask(address, "POST", sound.bytes, headers, SOUND_WITHIN_MS);
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      await kept.remove("sounds", [draft.draft, sound.question]);
      tell("sound-refused", { draft: draft.draft, question: sound.question, words: error.message });
      continue;
    }
    draft.sheet = told.sheet;
    // Send may have been pressed while the recording went: only the sheet's name is new here.
    await kept.change("drafts", draft.draft, (latest) => latest && { ...latest, sheet: told.sheet });
    await kept.change("sounds", [draft.draft, sound.question], unless(sound.stamp));
    tell("sound", { draft: draft.draft, question: sound.question, ...told });
  }
}

// A row stays unless it still says what was sent: a key stroke may have come since.
const unless = (stamp) => (row) => (row?.stamp === stamp ? null : row);

// One draft: its sounds, then its answers, then the order to hand it in.
async function oneDraft(kept, key) {
  let draft = await kept.get("drafts", key);
  if (!draft) return;
  await sendSounds(kept, draft);
  draft = await kept.get("drafts", key);
  if (!draft) return; // signed out meanwhile
  const rows = (await kept.inside("answers", key)).filter((row) => !row.refused);
  if (!rows.length && !draft.send) return;
  const saves = {};
  for (const row of rows) {
    saves[row.question] = { fields: row.fields, stamp: row.stamp, seen: row.seen, tried: row.tried };
    // Should the answer get lost, the next save of this question must know that this one may be there.
    const tried = (latest) => latest && { ...latest, tried: [...new Set([...(latest.tried || []), row.stamp])] };
    await kept.change("answers", [key, row.question], tried);
  }
  const body = JSON.stringify({ sheet: draft.sheet, send: draft.send, saves });
  const told = await ask(draft.save, "PUT", body, { "Content-Type": "application/json" }, ANSWER_WITHIN_MS);
  // First what was sent, then its rows away: a page of this sheet that was served before knows by it.
  const sent = Object.fromEntries(rows.filter((row) => !told.refused[row.question]).map((row) => [row.question, row.stamp]));
  await kept.change("drafts", key, (latest) => latest && { ...latest, sent: { ...latest.sent, ...sent } });
  // The page knows these stamps before their rows go: what is typed from now on has seen them.
  tell("taken", { draft: key, stamps: told.stamps });
  for (const row of rows) {
    const refused = row.question in told.refused;
    await kept.change("answers", [key, row.question], (latest) => {
      if (!latest) return null;
      if (refused) return { ...latest, refused: latest.stamp === row.stamp };
      return unless(row.stamp)(latest) && { ...latest, seen: row.stamp, tried: [] };
    });
  }
  const open = told.open.length || Object.keys(told.refused).length;
  if (told.sent) await kept.forget(key);
  else await kept.change("drafts", key, (latest) => latest && { ...latest, sheet: told.sheet, send: latest.send && !open });
  tell("saved", { draft: key, ...told });
}

// Drafts with nothing left to send belong to closed windows, or to open ones that have all saved.
async function waiting(kept) {
  const mine = (await kept.drafts()).filter((draft) => draft.owner === owner && !draft.stopped);
  const found = [];
  for (const draft of mine.sort((one, other) => one.at - other.at)) {
    const rows = await kept.inside("answers", draft.draft);
    const sounds = await kept.inside("sounds", draft.draft);
    if (draft.send || sounds.length || rows.some((row) => !row.refused)) found.push(draft);
  }
  return found;
}

async function oneRound() {
  const kept = await shelf;
  for (const draft of await waiting(kept)) {
    try {
      await oneDraft(kept, draft.draft);
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      await kept.change("drafts", draft.draft, (latest) => latest && { ...latest, stopped: true, send: false });
      tell("refused", { draft: draft.draft, words: error.message });
    }
  }
}

// One page of this browser works on the shelf at a time, where the browser can tell.
export const alone = (work) => (navigator.locks ? navigator.locks.request("standlight-sheets", work) : work());

function pause(milliseconds) {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, milliseconds);
    wake = () => {
      clearTimeout(timer);
      resolve();
    };
  });
}

// Sends until nothing waits; resolves to true then, to false when the musician has to sign in.
export function drain() {
  again = true;
  wake();
  running ??= run();
  return running;
}

async function run() {
  try {
    return await untilQuiet();
  } finally {
    running = null;
  }
}

async function untilQuiet() {
  while (again) {
    again = false;
    try {
      await alone(oneRound);
      tell("quiet", { left: (await waiting(await shelf)).length });
    } catch (error) {
      if (error instanceof SignedOut) {
        tell("signed-out", {});
        return false;
      }
      if (!(error instanceof Unanswered)) throw error;
      tell("offline", {});
      const wait = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** failures);
      failures += 1;
      again = true;
      await pause(wait * (0.5 + Math.random()));
    }
  }
  return true;
}

// One try, for who leaves: true when nothing is left here.
export async function drainOnce() {
  try {
    await alone(oneRound);
  } catch {
    return false;
  }
  return !(await waiting(await shelf)).length;
}

export async function forgetOwn() {
  const kept = await shelf;
  for (const draft of await kept.drafts()) if (draft.owner === owner) await kept.forget(draft.draft);
}

const said = document.querySelector("[data-sheets-waiting]");
async function sayWaiting() {
  if (!said) return;
  const count = (await waiting(await shelf)).length;
  said.hidden = !count;
  said.textContent = count
    ? `${count === 1 ? "A page you wrote is" : `${count} pages you wrote are`} kept on this device. ${count === 1 ? "It is" : "They are"} sent when there is network.`
    : "";
}

if (owner) {
  for (const kind of ["quiet", "offline", "refused", "signed-out"]) news.addEventListener(kind, sayWaiting);
  addEventListener("online", () => {
    failures = 0;
    drain();
  });
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && drain());
  // Signing out leaves no text here. What cannot be sent at this moment is asked about first.
  document.querySelector("[data-sign-out]")?.addEventListener("submit", async (event) => {
    event.preventDefault();
    const { target } = event;
    const ask = "Some of your text is not sent yet. If you sign out now, it is gone. Sign out?";
    if (!(await drainOnce()) && !confirm(ask)) return;
    await forgetOwn();
    target.submit();
  });
  // A page with a form first takes up what lies here for it, then it drains by itself.
  if (!document.querySelector("[data-sheet]")) drain();
}
