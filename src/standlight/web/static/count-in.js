// Count-in, tempo and first note, made on the spot: nothing to load, nothing to record over.
// `data-count-in` carries beats, seconds a beat, and tones in Hz.

const CLICK_S = 0.03;
const TONE_S = 1.6;
const CHORD_TONE_S = 0.7;
const BEATS_TO_HEAR = 8;

let context = null;

export function audio() {
  context ??= new AudioContext();
  context.resume();
  return context;
}

function sound(hz, at, seconds, loudness, attack) {
  const room = audio();
  const gain = room.createGain();
  gain.gain.setValueAtTime(0.0001, at);
  gain.gain.exponentialRampToValueAtTime(loudness, at + attack);
  gain.gain.exponentialRampToValueAtTime(0.0001, at + seconds);
  gain.connect(room.destination);
  const source = room.createOscillator();
  source.frequency.value = hz;
  source.connect(gain);
  source.start(at);
  source.stop(at + seconds + 0.02);
}

const click = (at, first) => sound(first ? 1600 : 1100, at, CLICK_S, 0.5, 0.002);

export function settings(place) {
  return {
    beats: Number(place.dataset.beats),
    measure: Number(place.dataset.measure),
    beatS: Number(place.dataset.beatS),
    flashEvery: Number(place.dataset.flashEvery),
    tones: (place.dataset.tones || "").split(" ").filter(Boolean).map(Number),
    silent: () => place.querySelector("[data-silent]").checked,
  };
}

// Counts `beats` beats in `shown`; the last `quiet` of them have no click. Resolves at the
// end with true, or with false when `stop` was called on what comes back.
export function count(shown, { beats, measure, beatS, flashEvery, silent, quiet = 0, atQuiet = () => {} }) {
  const room = audio();
  const start = room.currentTime + 0.15;
  const startMs = performance.now() + 150;
  const marks = Array.from({ length: beats }, (_, beat) => {
    const mark = document.createElement("span");
    mark.textContent = beat >= beats - quiet ? "\u00b7" : String((beat % measure) + 1);
    mark.className = "later";
    return mark;
  });
  shown.replaceChildren(...marks.flatMap((mark) => [mark, " "]));
  if (!silent()) for (let beat = 0; beat < beats - quiet; beat += 1) click(start + beat * beatS, beat % measure === 0);
  const timers = marks.map((mark, beat) =>
    setTimeout(() => {
      // Never more than three changes a second, however fast the music is.
      if (beat % flashEvery === 0) {
        marks.forEach((other) => (other.className = other === mark ? "now" : "later"));
      }
      if (quiet && beat === beats - quiet) atQuiet();
    }, startMs + beat * beatS * 1000 - performance.now()),
  );
  let finish;
  const done = new Promise((resolve) => (finish = resolve));
  timers.push(setTimeout(() => finish(true), startMs + beats * beatS * 1000 - performance.now()));
  return {
    done,
    stop: () => {
      timers.forEach(clearTimeout);
      context?.close();
      context = null;
      shown.replaceChildren();
      finish(false);
    },
  };
}

function playTones(tones) {
  let at = audio().currentTime + 0.05;
  tones.slice(0, -1).forEach((hz) => {
    sound(hz, at, CHORD_TONE_S, 0.25, 0.03);
    at += CHORD_TONE_S;
  });
  sound(tones.at(-1), at, TONE_S, 0.3, 0.05);
}

const place = document.querySelector("[data-count-in]");
if (place && window.AudioContext) {
  const known = settings(place);
  const shown = document.createElement("p");
  shown.className = "count";
  place.hidden = false;
  place.after(shown);
  let counting = null;
  place.querySelector("[data-hear-tempo]").addEventListener("click", async () => {
    counting?.stop();
    counting = count(shown, { ...known, beats: Math.max(known.beats, BEATS_TO_HEAR) });
    if (await counting.done) shown.replaceChildren();
    counting = null;
  });
  place.querySelector("[data-hear-tone]")?.addEventListener("click", () => playTones(known.tones));
}
