// The queue of the podium: taps and remarks that this browser keeps go to the school, from any page
// of their director. Each has a key of its own, so that a repeat is harmless. On a shared tablet only
// an answer that was meant for their owner takes anything away.

import { shelf } from "./rehearse-shelf.js";

const ANSWER_WITHIN_MS = 20000;
const AT_ONCE = 100;
// Such a refusal may be about one row: the half that it is not in goes through.
const ABOUT_ONE = [400, 413, 500];
const FINAL = [400, 404];
const SIGN_IN = "Sign in again to send what is kept here.";
const ANOTHER = "Somebody else is signed in on this tablet. Sign in again to send what is kept here.";

const OWNER = "[data-podium-owner]";
const TOKEN = "[name=csrfmiddlewaretoken]";
const owner = document.querySelector(OWNER).dataset.podiumOwner;

// An answer after which everything stays here; with words when the director can do something.
class Stays extends Error {}

export async function own() {
  const rows = await (await shelf).all();
  return rows.filter((row) => row.owner === owner).sort((one, other) => one.at - other.at);
}

export const unsent = async () => (await own()).filter((row) => !row.stopped);

// Resolves when the row is kept: on the disk, or where the disk refuses it in this page's memory.
export async function put(row) {
  await (await shelf).put({ key: crypto.randomUUID(), owner, at: Date.now(), ...row });
}

export async function forget(asked = () => true) {
  for (const row of await own()) if (asked(row)) await (await shelf).remove(row.key);
}

// Who signed in anew has another token than the page that this tablet kept.
async function freshToken() {
  const answer = await fetch(location.href, { cache: "no-store" });
  if (!answer.ok || answer.redirected) throw new Stays(SIGN_IN);
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const found = page.querySelector(TOKEN);
  if (!found || page.querySelector(OWNER)?.dataset.podiumOwner !== owner) throw new Stays(ANOTHER);
  for (const field of document.querySelectorAll(TOKEN)) field.value = found.value;
}

function post(address, rows) {
  const taps = rows.filter((row) => row.state).map(({ key, block, state, at }) => ({ key, block, state, at }));
  const remarks = rows.filter((row) => row.remark).map(({ key, remark, at }) => ({ ...remark, key, at }));
  return fetch(address, {
    method: "POST",
    body: JSON.stringify({ owner, taps, remarks }),
    headers: { "Content-Type": "application/json", "X-CSRFToken": document.querySelector(TOKEN).value },
    redirect: "manual",
    cache: "no-store",
    signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
  });
}

async function settle(rows, { kept, refused }) {
  const here = await shelf;
  for (const key of kept) await here.remove(key);
  for (const row of rows.filter((one) => one.key in refused)) {
    // A tap that is refused says nothing any more; words stay here until somebody has read them.
    if (row.remark) await here.put({ ...row, stopped: refused[row.key] });
    else await here.remove(row.key);
  }
}

async function send(address, rows) {
  let answer = await post(address, rows);
  if (answer.status === 403) {
    await freshToken();
    answer = await post(address, rows);
  }
  if (answer.type === "opaqueredirect" || answer.status === 403) throw new Stays(SIGN_IN);
  // Another page answered where it is no data: a musician is signed in, a network asks for its own.
  const told = await answer.json().catch(() => ({}));
  if (answer.ok && told.kept) return settle(rows, told);
  if (told.owner && String(told.owner) !== owner) throw new Stays(ANOTHER);
  if (ABOUT_ONE.includes(answer.status) && rows.length > 1) return sendHalves(address, rows);
  if (!FINAL.includes(answer.status) || !told.owner) throw new Stays("");
  return settle(rows, { kept: [], refused: Object.fromEntries(rows.map((row) => [row.key, told.error])) });
}

async function sendHalves(address, rows) {
  const middle = Math.ceil(rows.length / 2);
  await each([rows.slice(0, middle), rows.slice(middle)], (half) => send(address, half));
}

// Does every piece of work, then tells the first that stays; without network it stops at once.
async function each(works, act) {
  let first = null;
  for (const work of works) {
    try {
      await act(work);
    } catch (error) {
      if (!(error instanceof Stays)) throw error;
      first ??= error;
    }
  }
  if (first) throw first;
}

async function oneRound() {
  const places = new Map();
  for (const row of await unsent()) places.set(row.send, [...(places.get(row.send) ?? []), row]);
  const sendings = [...places].flatMap(([address, rows]) =>
    Array.from({ length: Math.ceil(rows.length / AT_ONCE) }, (_, n) => [address, rows.slice(n * AT_ONCE, (n + 1) * AT_ONCE)]),
  );
  await each(sendings, ([address, rows]) => send(address, rows));
  return sendings.length > 0;
}

// One page of this browser sends at a time, where the browser can tell.
const alone = (work) => (navigator.locks ? navigator.locks.request("standlight-podium", work) : work());

// One try. ``sent`` when something went and nothing is left; ``words`` when the director is needed.
export async function drain() {
  try {
    return { sent: await alone(oneRound), words: "" };
  } catch (error) {
    return { sent: false, words: error instanceof Stays ? error.message : "" };
  }
}
