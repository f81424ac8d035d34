// The recorder: count-in, record, listen, keep or let go, choose one, send.
// What is not kept never leaves this device.

import { count, settings } from "./count-in.js";
import { canRecord, closeMicrophone, levelWords, meter, openMicrophone, recording } from "./recorder-microphone.js";
import "./recorder-offline.js";
import { leaveStation } from "./recorder-station.js";
import { takeLine } from "./recorder-takes.js";
import { keepTake, letGo, news, sendTurn } from "./upload-queue.js";
import { shelf } from "./upload-queue-shelf.js";

const LEVEL_CHECK_MS = 4000;
const LONGEST_MS = 9.5 * 60 * 1000; // the school's decoder takes ten minutes
const HINT = "Press the round button. You hear a count-in; the last beat is quiet, then start.";

const room = document.querySelector("[data-recorder]");
if (room) begin(room);

function begin(room) {
  const find = (name) => room.querySelector(`[data-${name}]`);
  const { permit, owner } = room.dataset;
  const form = document.querySelector("[data-send]");
  const list = form.querySelector("[data-takes]");
  const most = Number(room.dataset.takesKept);
  const oneTake = room.dataset.oneTake !== undefined; // what is recorded is kept
  const closed = room.dataset.closed !== undefined; // nothing can begin here now
  const starting = settings(document.querySelector("[data-count-in]"));
  const say = (words) => (find("state").textContent = words);
  let running = null; // the recording in the making
  let fresh = null; // the take that was just made

  if (canRecord()) room.hidden = false;
  else document.querySelector("[data-file]").open = true;

  // Recording.

  find("record").addEventListener("click", () => (running ? running.stop() : record()));

  async function record() {
    let stopped = false;
    running = { stop: () => (stopped = true) };
    if (fresh) await drop();
    let stream;
    try {
      stream = await openMicrophone();
    } catch (error) {
      running = null;
      document.querySelector("[data-file]").open = true;
      return say(error.message);
    }
    const kept = await shelf;
    const take = { key: crypto.randomUUID(), owner, permit, state: "fresh", madeAt: Date.now() };
    let pieces = 0;
    const made = recording(stream, (bytes) => kept.put("pieces", { take: take.key, number: pieces++, bytes }));
    Object.assign(take, { mediaType: made.mediaType, settings: made.settings });
    await kept.put("takes", take);
    const release = hold(take.key);
    const level = meter(stream, find("level"));
    shown(true);
    say("Count-in. Press the button to stop.");
    const counting = count(find("count"), { ...starting, quiet: 1, atQuiet: () => setTimeout(made.start, 60) });
    running.stop = () => {
      stopped = true;
      counting.stop();
      made.stop();
    };
    if (stopped) running.stop();
    const clock = setTimeout(() => running?.stop(), LONGEST_MS);
    if (await counting.done) {
      made.start(); // already running, unless the beat is very short
      find("count").replaceChildren();
      say("Recording. Press the button when you are done.");
      await made.finished;
    } else {
      await Promise.race([made.finished, new Promise((resolve) => setTimeout(resolve, 300))]);
    }
    clearTimeout(clock);
    level.stop();
    closeMicrophone(stream);
    release();
    running = null;
    shown(false);
    if (pieces) await offer(take, level.peak());
    else {
      await kept.forget(take.key);
      say(HINT);
    }
  }

  function shown(isRunning) {
    find("record").classList.toggle("running", isRunning);
    find("record-words").textContent = isRunning ? "Stop" : "Record";
    document.body.toggleAttribute("data-busy", isRunning);
    if (isRunning) document.querySelector(".music")?.scrollIntoView({ block: "start" });
  }

  // A take on this device: listen, then keep it or let it go.

  async function offer(take, peakDb) {
    const { url, seconds } = await heard(take);
    fresh = { take, url, seconds };
    find("fresh-sound").src = url;
    find("fresh-words").textContent = `You made a take of about ${seconds} second${seconds === 1 ? "" : "s"}. Listen to it.`;
    find("fresh").hidden = false;
    fill();
    say("Not kept yet. Press the round button to record again.");
    if (peakDb !== undefined) find("level-words").textContent = levelWords(peakDb);
    if (oneTake && !list.children.length) find("keep").click();
  }

  async function heard(take) {
    const pieces = await (await shelf).pieces(take.key);
    const blob = new Blob(pieces.map((piece) => piece.bytes), { type: take.mediaType });
    return { url: URL.createObjectURL(blob), seconds: pieces.length };
  }

  function fill() {
    const full = list.children.length >= most;
    find("record").disabled = closed || (oneTake && full);
    find("keep").disabled = full;
    find("keep").textContent = full ? `${most} takes are kept. Let one go first` : "Keep this take";
    form.querySelector("[data-no-takes]").hidden = list.children.length > 0;
    form.querySelector("[data-after-take]").hidden = list.children.length === 0;
  }

  async function drop() {
    const { take, url } = fresh;
    fresh = null;
    find("fresh").hidden = true;
    await (await shelf).forget(take.key);
    URL.revokeObjectURL(url);
    say(HINT);
  }

  find("drop").addEventListener("click", async () => {
    await drop();
    nextWaiting();
  });

  find("keep").addEventListener("click", async () => {
    const { take, url, seconds } = fresh;
    fresh = null;
    find("fresh").hidden = true;
    const numbers = [...list.children].map((line) => Number(line.dataset.number) || 0);
    take.number = Math.max(0, ...numbers) + 1;
    line({ ...take, state: "kept" }, url, seconds);
    await keepTake(take);
    say(oneTake ? "Your take is kept. Listen to it below, and send it." : HINT);
    nextWaiting();
  });

  function line(take, url, seconds) {
    const made = takeLine(take, url, seconds, async () => {
      made.remove();
      await letGo(take);
      fill();
    });
    made.querySelector("button").hidden = oneTake && take.state !== "refused";
    list.append(made);
    fill();
  }

  // Takes that an earlier page left on this device.

  async function nextWaiting() {
    const takes = (await (await shelf).all("takes")).filter((take) => take.owner === owner && take.state === "fresh");
    for (const take of takes.sort((one, other) => one.madeAt - other.madeAt)) {
      if (fresh || running || (await held(take.key))) continue;
      if (await (await shelf).count(take.key)) return offer(take);
      await (await shelf).forget(take.key);
    }
  }

  async function earlier() {
    for (const take of await (await shelf).all("takes")) {
      if (take.owner !== owner || !["kept", "refused"].includes(take.state)) continue;
      if (list.querySelector(`[data-take="${take.key}"]`)) continue;
      const { url, seconds } = await heard(take);
      line(take, url, seconds);
    }
    const turn = await (await shelf).get("turns", owner);
    if (turn && !turn.error) sending();
    fill();
    nextWaiting();
  }

  news.addEventListener("whole", ({ detail }) => note(detail.key, ""));
  news.addEventListener("refused", ({ detail }) => {
    note(detail.key, `This take could not be sent: ${detail.error}.`);
    for (const button of list.querySelectorAll(`[data-take="${detail.key}"] button`)) button.hidden = false;
  });

  function note(key, words) {
    const place = list.querySelector(`[data-take="${key}"] [data-way]`);
    if (place) place.textContent = words;
  }

  // The sound level.

  find("check-level").addEventListener("click", async ({ target }) => {
    target.disabled = true;
    try {
      const stream = await openMicrophone();
      const level = meter(stream, find("level"));
      find("level-words").textContent = "Play or sing your loudest note.";
      await new Promise((resolve) => setTimeout(resolve, LEVEL_CHECK_MS));
      level.stop();
      closeMicrophone(stream);
      find("level-words").textContent = levelWords(level.peak());
    } catch (error) {
      find("level-words").textContent = error.message;
    }
    target.disabled = false;
  });

  // Sending the turn.

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const filled = new FormData(form);
    const self_levels = {};
    for (const [name, value] of filled) if (name.startsWith("level-")) self_levels[name.slice(6)] = value;
    const told = { self_levels };
    for (const name of ["words", "spot_first", "spot_last", "spot_words"]) told[name] = filled.get(name) ?? "";
    sending();
    await sendTurn({ owner, permit, take: filled.get("take"), told });
    if (room.dataset.atStation !== undefined && (await shelf).durable) leaveStation(room.dataset.thanks, owner);
  });

  function sending() {
    for (const place of document.querySelectorAll("[data-recorder], [data-file], [data-send]")) place.hidden = true;
    finale("Your turn is on its way.", "It is safe on this device until it has arrived.");
  }

  function finale(title, words) {
    document.querySelector("[data-finale]")?.remove();
    const place = document.createElement("section");
    place.dataset.finale = "";
    const head = document.createElement("h2");
    const text = document.createElement("p");
    head.textContent = title;
    text.textContent = words;
    text.setAttribute("role", "status");
    place.append(head, text);
    room.after(place);
    head.scrollIntoView({ block: "center" });
  }

  news.addEventListener("sent", ({ detail }) => {
    if (detail.owner !== owner) return;
    if (room.dataset.atStation !== undefined) leaveStation(room.dataset.thanks, owner);
    else finale("Sent.", "Your director hears it next. You can close this page.");
  });

  news.addEventListener("turn-refused", async ({ detail }) => {
    if (detail.owner !== owner) return;
    await (await shelf).remove("turns", owner);
    for (const place of document.querySelectorAll("[data-recorder], [data-file], [data-send]")) place.hidden = false;
    finale("Not sent yet.", `${detail.error}.`);
  });

  // In another page of the same browser a take may be in the making: leave it alone.
  function hold(key) {
    let release = () => {};
    navigator.locks?.request(`standlight-${key}`, () => new Promise((resolve) => (release = resolve)));
    return () => release();
  }

  const held = async (key) =>
    navigator.locks
      ? navigator.locks.request(`standlight-${key}`, { ifAvailable: true }, (lock) => lock === null)
      : false;

  earlier();
}
