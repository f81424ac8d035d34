"""The baseline's child, run by its own Python: jobs.json in, out.json out.

pyin bounded by the part's range, or by the range of its documentation's example (C2 to C7,
wider where the part is) when the job says ``documented``; chroma and onset strength of the take
against those of the written part at its marked tempo, joined by librosa's DTW; a note begins
where the path first meets it, and its pitch is the median of pyin's frames in its middle.
"""

import json
import sys
import time

import librosa
import numpy as np

RATE_HZ, HOP = 22_050, 256
PITCH_FRAME, LOW_PITCH_FRAME, LOW_HZ = 2048, 4096, 65.0
ONSET_WEIGHT = 0.5
OTHER_CENTS = 50.0
RANGE_SEMITONES = 4
DOCUMENTED = (36, 96)
DECAY_FRAMES = 4.0
SILENT_DB = 40
KEYS = ("outcome", "onset_s", "offset_s", "midi_heard", "deviation_cents")


def written(notes, tempo_qpm):
    """Chroma and onset curve of the part at the marked tempo, and each note's first frame."""
    frame_s = HOP / RATE_HZ
    first = notes[0][0]
    starts = [int(round((onset - first) * 60.0 / tempo_qpm / frame_s)) for onset, _, _ in notes]
    ends = [int(round((onset + length - first) * 60.0 / tempo_qpm / frame_s))
            for onset, length, _ in notes]  # fmt: skip
    chroma, strokes = np.full((12, max(ends) + 1), 1e-3), np.zeros(max(ends) + 1)
    for (_, _, midi), start, end in zip(notes, starts, ends, strict=True):
        chroma[midi % 12, start : max(end, start + 1)] = 1.0
        tail = np.exp(-np.arange(len(strokes) - start) / DECAY_FRAMES)
        strokes[start:] = np.maximum(strokes[start:], tail)
    return chroma / np.linalg.norm(chroma, axis=0), strokes, starts


def features(sound):
    """Chroma (columns of length 1) and onset strength (0 to 1, dying away) of a take."""
    chroma = librosa.feature.chroma_cqt(y=sound, sr=RATE_HZ, hop_length=HOP)
    strength = librosa.onset.onset_strength(y=sound, sr=RATE_HZ, hop_length=HOP)
    strength = np.clip(strength / max(np.percentile(strength, 98), 1e-6), 0.0, 1.0)
    for frame in range(1, len(strength)):
        strength[frame] = max(strength[frame], strength[frame - 1] * np.exp(-1.0 / DECAY_FRAMES))
    count = min(chroma.shape[1], len(strength))
    chroma = chroma[:, :count] + 1e-3
    return chroma / np.linalg.norm(chroma, axis=0), strength[:count]


def aligned(notes, tempo_qpm, sound):
    """Onset of each written note in seconds."""
    part, strokes, starts = written(notes, tempo_qpm)
    sound, (begin, _) = librosa.effects.trim(sound, top_db=SILENT_DB)
    take, strength = features(sound)
    _, path = librosa.sequence.dtw(
        X=np.vstack([part, ONSET_WEIGHT * strokes]), Y=np.vstack([take, ONSET_WEIGHT * strength]),
        metric="euclidean",
    )  # fmt: skip
    path = path[::-1]
    frames = [int(path[np.searchsorted(path[:, 0], start), 1]) for start in starts]
    return [(frame * HOP + int(begin)) / RATE_HZ for frame in frames]


def read(job):
    """One take: every note's onset, end, pitch and outcome."""
    sound, _ = librosa.load(job["wav"], sr=RATE_HZ, mono=True)
    notes = job["notes"]
    midis = [midi for _, _, midi in notes]
    low, high = min(midis) - RANGE_SEMITONES, max(midis) + RANGE_SEMITONES
    if job["documented"]:
        low, high = min(low, DOCUMENTED[0]), max(high, DOCUMENTED[1])
    low_hz, high_hz = librosa.midi_to_hz(low), min(librosa.midi_to_hz(high), RATE_HZ / 2.2)
    frame = PITCH_FRAME if low_hz > LOW_HZ else LOW_PITCH_FRAME
    f0_hz, voiced, _ = librosa.pyin(
        sound, fmin=low_hz, fmax=high_hz, sr=RATE_HZ, frame_length=frame, hop_length=HOP
    )
    onsets = aligned(notes, job["tempo_qpm"], sound)
    ends = [*onsets[1:], len(sound) / RATE_HZ]
    told, right = [], []
    for midi, onset_s, end_s in zip(midis, onsets, ends, strict=True):
        first, last = (onset_s + share * (end_s - onset_s) for share in (0.2, 0.8))
        frames = slice(int(first * RATE_HZ / HOP), max(int(last * RATE_HZ / HOP), 1))
        heard = f0_hz[frames][voiced[frames]]
        if not len(heard) or end_s - onset_s < 2 * HOP / RATE_HZ:
            told.append(dict.fromkeys(KEYS) | {"outcome": "missing"})
            continue
        heard_midi = float(librosa.hz_to_midi(np.median(heard)))
        cents = 100.0 * (heard_midi - midi)
        played = abs(cents) <= OTHER_CENTS
        if played:
            right.append(cents)
        outcome = "played" if played else "other_pitch"
        values = (outcome, onset_s, end_s, heard_midi, cents if played else None)
        told.append(dict(zip(KEYS, values, strict=True)))
    return {"notes": told, "tuning_cents": float(np.median(right)) if right else None}


def main(jobs_path, out_path):
    """Read every job, timing each; the first is read once before to warm up."""
    with open(jobs_path) as file:
        jobs = json.load(file)
    read(jobs[0])
    answers = []
    for job in jobs:
        start = time.perf_counter()
        answer = read(job)
        answers.append({**answer, "work_s": time.perf_counter() - start})
    with open(out_path, "w") as file:
        json.dump(answers, file)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
