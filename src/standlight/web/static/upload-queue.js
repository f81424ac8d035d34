// The queue: kept takes go up in numbered pieces, then the turn, however often it takes.
// Every request may be repeated without harm, so whatever is not answered is asked again,
// later and later, at random moments, so that a class of thirty does not knock all at once.
// Says in words what is still on its way in every element with `data-queue-words`.

import { shelf } from "./upload-queue-shelf.js";

const FIRST_WAIT_MS = 500;
const LONGEST_WAIT_MS = 30000;
const ANSWER_WITHIN_MS = 20000;
const AGAIN_LATER = new Set([408, 429]);

export const news = new EventTarget();
const left = new Map(); // take -> pieces still to send, as the school last said
let running = false;
let again = false;
let failures = 0;
let wake = () => {};

class Refused extends Error {}
class Unanswered extends Error {}

async function ask(method, place, permit, body) {
  let answer;
  try {
    answer = await fetch(`/upload/${place}`, {
      method,
      body,
      headers: { "Upload-Permit": permit },
      credentials: "omit",
      signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
    });
  } catch {
    throw new Unanswered("no answer");
  }
  if (answer.status >= 500 || AGAIN_LATER.has(answer.status)) throw new Unanswered(`${answer.status}`);
  let told = {};
  try {
    told = await answer.json();
  } catch {
    // A page of a proxy or a sign-in wall in between: not our answer, so ask again later.
    throw new Unanswered("another page answered");
  }
  failures = 0;
  if (!answer.ok) throw new Refused(told.error || `refused (${answer.status})`);
  return told;
}

async function deliver(take) {
  const kept = await shelf;
  const n_pieces = await kept.count(take.key);
  const ending = JSON.stringify({
    n_pieces,
    media_type: take.mediaType,
    settings: take.settings,
    number: take.number,
  });
  for (;;) {
    const { missing } = await ask("PUT", `${take.key}/whole`, take.permit, ending);
    left.set(take.key, missing.length);
    tell();
    if (!missing.length) return;
    for (const number of missing) {
      const piece = await kept.get("pieces", [take.key, number]);
      if (!piece) throw new Refused("a piece of this take is gone from this device");
      await ask("PUT", `${take.key}/${number}`, take.permit, piece.bytes);
      left.set(take.key, left.get(take.key) - 1);
      tell();
    }
  }
}

async function oneTake(kept, take) {
  try {
    if (take.state === "leaving") await ask("DELETE", take.key, take.permit);
    else await deliver(take);
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    if (take.state !== "leaving") {
      await kept.put("takes", { ...take, state: "refused", error: error.message });
      news.dispatchEvent(new CustomEvent("refused", { detail: { ...take, error: error.message } }));
      return;
    }
  }
  left.delete(take.key);
  await kept.forget(take.key);
  if (take.state === "kept") news.dispatchEvent(new CustomEvent("whole", { detail: take }));
}

async function oneTurn(kept, turn) {
  try {
    await ask("PUT", `${turn.take}/send`, turn.permit, JSON.stringify(turn.told));
    await kept.remove("turns", turn.owner);
    news.dispatchEvent(new CustomEvent("sent", { detail: turn }));
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    await kept.put("turns", { ...turn, error: error.message });
    news.dispatchEvent(new CustomEvent("turn-refused", { detail: { ...turn, error: error.message } }));
  }
}

async function oneRound() {
  const kept = await shelf;
  for (;;) {
    const takes = (await kept.all("takes")).filter((take) => ["kept", "leaving"].includes(take.state));
    if (!takes.length) break;
    await oneTake(kept, takes[0]);
    await tell();
  }
  for (const turn of (await kept.all("turns")).filter((one) => !one.error)) await oneTurn(kept, turn);
}

// One page of this browser sends at a time, where the browser can tell.
const alone = (work) =>
  navigator.locks ? navigator.locks.request("standlight-upload", work) : work();

function pause(milliseconds) {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, milliseconds);
    wake = () => {
      clearTimeout(timer);
      resolve();
    };
  });
}

// Asked for while a round is ending, it goes one round more: what was kept just now is sent too.
export async function drain() {
  again = true;
  if (running) return wake();
  running = true;
  try {
    while (again) {
      again = false;
      try {
        await alone(oneRound);
        if ((await waiting()).any) again = true;
      } catch (error) {
        if (!(error instanceof Unanswered)) throw error;
        again = true;
        const wait = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** failures);
        failures += 1;
        await tell();
        await pause(wait * (0.5 + Math.random()));
      }
    }
  } finally {
    running = false;
    tell();
  }
}

async function waiting() {
  const kept = await shelf;
  const takes = await kept.all("takes");
  const turns = (await kept.all("turns")).filter((turn) => !turn.error);
  const going = takes.filter((take) => take.state === "kept");
  let pieces = 0;
  for (const take of going) pieces += left.get(take.key) ?? (await kept.count(take.key));
  const refused = takes.filter((take) => take.state === "refused");
  const any = going.length > 0 || turns.length > 0 || takes.some((take) => take.state === "leaving");
  return { any, takes: going.length, pieces, turns: turns.length, refused };
}

function words(now) {
  if (now.pieces || now.takes) {
    const count = now.pieces === 1 ? "1 piece" : `${now.pieces} pieces`;
    const line = now.pieces ? `${count} still to send.` : "The last piece is on its way.";
    const network = navigator.onLine && failures < 3 ? "" : " There is no network now; it goes by itself later.";
    return `${line}${network} Keep this page open or come back later.`;
  }
  if (now.turns) return "Your take is here. Sending it to your director. Keep this page open.";
  if (now.refused.length) return `A take could not be sent: ${now.refused[0].error}.`;
  return "";
}

async function tell() {
  const places = document.querySelectorAll("[data-queue-words]");
  if (!places.length) return;
  const now = await waiting();
  const line = words(now);
  for (const place of places) {
    if (place.firstChild?.data !== line) {
      place.textContent = line;
      if (!now.any && now.refused.length) place.append(" ", clearButton());
    }
    place.hidden = !line;
  }
}

function clearButton() {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "plain";
  button.textContent = "Throw it away";
  button.addEventListener("click", async () => {
    const kept = await shelf;
    for (const take of (await waiting()).refused) await kept.forget(take.key);
    tell();
  });
  return button;
}

export async function keepTake(take) {
  await (await shelf).put("takes", { ...take, state: "kept" });
  drain();
}

export async function letGo(take) {
  const kept = await shelf;
  await kept.put("takes", { ...take, state: "leaving" });
  drain();
}

export async function sendTurn(turn) {
  await (await shelf).put("turns", turn);
  drain();
}

addEventListener("online", () => {
  failures = 0;
  drain();
});
addEventListener("offline", tell);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && drain());
tell();
drain();
