// The microphone as it is: no echo, noise or loudness processing, for that destroys dynamics.

const WANTED = {
  echoCancellation: false,
  noiseSuppression: false,
  autoGainControl: false,
  channelCount: 1,
};
const KINDS = ["audio/webm;codecs=opus", "audio/mp4", "audio/ogg;codecs=opus"];
const BITS_A_SECOND = 128000;
const PIECE_MS = 1000;
// Chosen by ear at a desk; common practice, no source.
const QUIET_DB = -35;
const LOUD_DB = -1;
const LOWEST_DB = -60;

const TROUBLE = {
  NotAllowedError: "The microphone is blocked. Allow it beside the address of this page, or send a file instead.",
  NotFoundError: "No microphone was found. Plug one in, or send a file instead.",
  NotReadableError: "Another program holds the microphone. Close it, or send a file instead.",
};

export const canRecord = () =>
  Boolean(navigator.mediaDevices?.getUserMedia && window.MediaRecorder && kind());

const kind = () => KINDS.find((name) => MediaRecorder.isTypeSupported(name));

export async function openMicrophone() {
  try {
    return await navigator.mediaDevices.getUserMedia({ audio: WANTED });
  } catch (error) {
    throw new Error(TROUBLE[error.name] || "The microphone does not answer. Send a file instead.");
  }
}

export const closeMicrophone = (stream) => stream.getTracks().forEach((track) => track.stop());

// Calls `onPiece(bytes)` for each second; `finished` resolves after the last piece.
export function recording(stream, onPiece) {
  const recorder = new MediaRecorder(stream, { mimeType: kind(), audioBitsPerSecond: BITS_A_SECOND });
  let chain = Promise.resolve();
  recorder.addEventListener("dataavailable", ({ data }) => {
    if (data.size) chain = chain.then(async () => onPiece(await data.arrayBuffer()));
  });
  const finished = new Promise((resolve) =>
    recorder.addEventListener("stop", () => resolve(chain), { once: true }),
  );
  return {
    finished,
    mediaType: recorder.mimeType || kind(),
    settings: stream.getAudioTracks()[0].getSettings(),
    start: () => recorder.state === "inactive" && recorder.start(PIECE_MS),
    stop: () => recorder.state !== "inactive" && recorder.stop(),
  };
}

// Draws the level into `line` until stopped; `peak()` is the loudest so far in dB below full.
export function meter(stream, line) {
  const room = new AudioContext();
  const analyser = room.createAnalyser();
  analyser.fftSize = 2048;
  room.createMediaStreamSource(stream).connect(analyser);
  const samples = new Float32Array(analyser.fftSize);
  let loudest = -Infinity;
  let frame = 0;
  const draw = () => {
    analyser.getFloatTimeDomainData(samples);
    const now = 20 * Math.log10(Math.max(...samples.map(Math.abs), 1e-6));
    loudest = Math.max(loudest, now);
    line.style.transform = `scaleX(${Math.max(0, 1 - now / LOWEST_DB).toFixed(3)})`;
    frame = requestAnimationFrame(draw);
  };
  draw();
  return {
    peak: () => loudest,
    stop: () => {
      cancelAnimationFrame(frame);
      room.close();
      line.style.transform = "";
    },
  };
}

export function levelWords(peakDb) {
  if (peakDb > LOUD_DB) return "Too loud for this microphone: move it away, or play farther from it.";
  if (peakDb < QUIET_DB) return "Very quiet: come closer, or check that the microphone is on.";
  return "The sound level is good.";
}
