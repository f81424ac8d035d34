"""Takes of percussion with known strokes: snare drum, mallets, timpani."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from benchmarks.hearing.lines import Line, made_line
from benchmarks.hearing.phones import draw_phone
from benchmarks.hearing.playing import HESITATION_S, TEMPO_FACTORS
from benchmarks.hearing.rooms import NOISES, draw_room
from benchmarks.hearing.takes import (
    SNR_DB,
    MadeTake,
    TrueAdded,
    TrueNote,
    Truth,
    generator,
    recorded,
)
from benchmarks.hearing.timbres import Timbre
from benchmarks.hearing.tones import RATE_HZ, Clip, attack, fonts, struck
from standlight.music import Note
from standlight.score.values import Passage

SNARE = Timbre("snare", "percussion", ("Snare drum",), 0, 38, 40, 0, 0.001)
BARS = (
    Timbre("xylophone", "percussion", ("Xylophone",), 13, 65, 96, 0, 0.002),
    Timbre("glockenspiel", "percussion", ("Glockenspiel / bells",), 9, 79, 100, 0, 0.002),
    Timbre("marimba", "percussion", ("Marimba (4.3 octave)",), 12, 48, 84, 0, 0.002),
)
TIMPANI = Timbre("timpani", "percussion", ("Timpani (pair 29/26 in)",), 47, 41, 53, 0, 0.004)
KINDS = ("snare", "mallets", "timpani")
RING_S = {"snare": 0.35, "xylophone": 0.5, "glockenspiel": 1.4, "marimba": 0.8, "timpani": 1.2}
DRUM_CHANNEL = 9

PARTIALS = {
    "xylophone": (1.0, 3.0, 6.0), "glockenspiel": (1.0, 2.76, 5.40),
    "marimba": (1.0, 4.0, 9.2), "timpani": (1.0, 1.5, 1.98, 2.44),
}  # fmt: skip
"""Frequencies over the first: tuned bars 1:3:6 and 1:4:9.2, a free bar 1:2.76:5.40, the kettle's
preferred modes (Fletcher & Rossing, The Physics of Musical Instruments, from memory)."""

SPREADS_S = (0.004, 0.008, 0.014, 0.020)
FAULT_SHARE = 0.6
"""A take has one missing and one added stroke so often each."""

QUICKEST_S = 0.06
_BEATS = ("1", "1/2 1/2", "1/4 1/4 1/4 1/4", "1/2 1/4 1/4", "1/4 1/4 1/2", "3/4 1/4", "r1",
          "r1/2 1/2", "1/8 1/8 1/8 1/8 1/8 1/8 1/8 1/8")  # fmt: skip


def make_strokes(seed: int, kind: str, number: int) -> MadeTake:
    """Percussion take ``number``; the instrument goes by turns through `KINDS`.

    ``kind`` only seeds, so that it may be a maker for `takes.take`.
    """
    rng, kind = generator(seed, kind, number), KINDS[number % len(KINDS)]
    factor = float(rng.uniform(*TEMPO_FACTORS))
    line = _line(rng, kind, factor)
    onsets, planned = _times(rng, line, factor)
    notes, extra = list(range(len(onsets))), []
    if rng.random() < FAULT_SHARE:
        notes.remove(_lonely(rng, line.passage.notes))
    if rng.random() < FAULT_SHARE:
        place = _widest(rng, onsets)
        extra.append(float(onsets[place] + 0.5 * (onsets[place + 1] - onsets[place])))
    strokes = [(float(onsets[index]), line.passage.notes[index].midi, index) for index in notes]
    if extra:
        strokes.append((extra[0], line.passage.notes[place].midi, None))
    strokes.sort(key=lambda stroke: stroke[0])
    dry, sounding = _sounded(rng, line.timbre, strokes)
    off_ms = 1000.0 * (onsets - planned)[notes]
    truth = _truth(line, strokes, off_ms, RING_S[line.timbre.key])
    room, noise_kind, snr_db = draw_room(rng), str(rng.choice(NOISES)), float(rng.uniform(*SNR_DB))
    phone = draw_phone(rng)
    file, late_s = recorded(rng, dry, room, noise_kind, snr_db, phone)
    return MadeTake(
        name=f"{seed}/drums/{number}", line=line, truth=truth.later(late_s), file=file,
        dry=dry.astype(np.float32), phone=phone.name, room=room.name, snr_db=snr_db,
        sounding=sounding, beginner=False,
    )  # fmt: skip


def _line(rng: np.random.Generator, kind: str, factor: float) -> Line:
    """A made line for the kind of instrument, about 18 s."""
    if kind == "mallets":
        line = made_line(rng, BARS[int(rng.integers(len(BARS)))], factor, 18.0)
        plain = tuple(replace(note, marks=frozenset()) for note in line.passage.notes)
        return replace(line, passage=replace(line.passage, notes=plain))
    tempo, timbre = float(rng.integers(72, 121)), SNARE if kind == "snare" else TIMPANI
    pair = (int(rng.integers(41, 46)), int(rng.integers(46, 51)))
    slow = 60.0 / (tempo * factor) / 8.0 < QUICKEST_S or kind == "timpani"
    beats = round(18.0 * tempo * factor / 60.0)
    onset, notes = Fraction(0), []
    for _ in range(beats):
        for word in str(rng.choice(_BEATS[: -1 if slow else None])).split():
            value = Fraction(word.lstrip("r"))
            if not word.startswith("r"):
                sound = {"midi": None, "drum": "snare"} if kind == "snare" else {
                    "midi": pair[int(rng.random() < 0.4)]}  # fmt: skip
                notes.append(Note(onset, value, measure=int(onset // 4), **sound))
            onset += value
    passage = Passage("", timbre.names[0], "", (), tuple(notes), onset, tempo)
    return Line(passage, timbre, tempo, "made")


def _times(rng: np.random.Generator, line: Line, factor: float) -> tuple[np.ndarray, np.ndarray]:
    """Onsets as played and on the smooth beat, seconds, one a written note."""
    quarters = np.array([float(note.onset_quarters) for note in line.passage.notes])
    depth, phase = rng.uniform(0.0, 0.04), rng.uniform(0, 6.28)
    fine = np.linspace(quarters[0], quarters[-1], 2000)
    pace = 60.0 / (line.tempo_qpm * factor) * np.exp(depth * np.sin(0.15 * fine + phase))
    clock = np.append(0.0, np.cumsum(pace[:-1] * np.diff(fine)))
    planned = rng.uniform(0.4, 1.2) + np.interp(quarters, fine, clock)
    if rng.random() < 0.1:
        planned[len(planned) // 2 :] += rng.uniform(*HESITATION_S)
    gaps = np.diff(planned, prepend=planned[0] - 1, append=planned[-1] + 1)
    reach = 0.3 * np.minimum(gaps[:-1], gaps[1:])
    off = rng.normal(0.0, float(rng.choice(SPREADS_S)), len(planned))
    return planned + np.clip(off, -reach, reach), planned


def _lonely(rng: np.random.Generator, notes: tuple[Note, ...]) -> int:
    """Index of a note to leave out: not at the ends, not beside one an eighth of a quarter off."""
    free = [
        index
        for index in range(2, len(notes) - 2)
        if notes[index].onset_quarters - notes[index - 1].onset_quarters >= Fraction(1, 4)
    ]
    return int(rng.choice(free))


def _widest(rng: np.random.Generator, onsets: np.ndarray) -> int:
    """Place of one of the wider gaps between strokes."""
    gaps = np.diff(onsets)
    wide = np.flatnonzero(gaps >= np.percentile(gaps, 60))
    return int(rng.choice(wide))


def _sounded(
    rng: np.random.Generator, timbre: Timbre, strokes: list[tuple[float, int | None, int | None]]
) -> tuple[np.ndarray, str]:
    """The dry take, float ``(n,)``, and what sounded it."""
    found, velocities = fonts(), np.clip(rng.normal(86, 8, len(strokes)), 40, 120).astype(int)
    drum, key = timbre.key == "snare", int(rng.choice((38, 40)))
    pick, plain = int(rng.integers(2)), rng.random() < 0.25 or not found
    if plain:
        clips = [_additive(rng, timbre, midi, int(v))
                 for (_, midi, _), v in zip(strokes, velocities, strict=True)]  # fmt: skip
    else:
        keys = [key if drum else int(midi) for _, midi, _ in strokes]
        clips = struck(found[pick % len(found)], DRUM_CHANNEL if drum else 0, timbre.program, keys,
                       [int(v) for v in velocities], RING_S[timbre.key])  # fmt: skip
    dry = np.zeros(int((strokes[-1][0] + rng.uniform(0.5, 1.2)) * RATE_HZ))
    for (onset_s, _, _), clip in zip(strokes, clips, strict=True):
        first = max(0, int(round((onset_s - clip.onset_s) * RATE_HZ)))
        piece = clip.samples[: len(dry) - first]
        dry[first : first + len(piece)] += piece
    return dry, "additive" if plain else found[pick % len(found)].stem


def _additive(rng: np.random.Generator, timbre: Timbre, midi: int | None, velocity: int) -> Clip:
    """One stroke: noise and two skins' modes, or the partials of a bar or kettle dying away."""
    time_s = np.arange(int(RING_S[timbre.key] * RATE_HZ)) / RATE_HZ
    if midi is None:
        wave = rng.normal(size=len(time_s)) * np.exp(-time_s / 0.035)
        wave += sum(np.sin(2 * np.pi * f * time_s) * np.exp(-time_s / 0.05) for f in (180.0, 330.0))
    else:
        f0_hz, dying_s = 440.0 * 2.0 ** ((midi - 69) / 12.0), RING_S[timbre.key] / 5.0
        wave = 0.3 * rng.normal(size=len(time_s)) * np.exp(-time_s / 0.004)
        for number, ratio in enumerate(PARTIALS[timbre.key]):
            if ratio * f0_hz < 0.45 * RATE_HZ:
                wave += 0.5**number * np.sin(2 * np.pi * ratio * f0_hz * time_s) * np.exp(
                    -time_s * (1 + number) / dying_s
                )
    wave = 0.1 * 10 ** ((velocity - 86) / 40) * wave * np.clip(time_s / timbre.attack_s, 0, 1)
    return Clip(wave, *attack(wave), cents=float("nan"))


def _truth(line: Line, strokes: list, off_ms: np.ndarray, ring_s: float) -> Truth:
    """Every written stroke played or missing; how uneven the played ones are (robust, ms)."""
    notes = {index: TrueNote(index, "missing") for index in range(len(line.passage.notes))}
    added = []
    for onset_s, midi, index in strokes:
        if index is None:
            added.append(TrueAdded(onset_s, onset_s + ring_s, midi or 0.0, "added_time", None))
        else:
            notes[index] = TrueNote(index, "played", onset_s, onset_s + ring_s, midi)
    spread = 1.4826 * float(np.median(np.abs(off_ms - np.median(off_ms))))
    return Truth(tuple(notes[i] for i in sorted(notes)), tuple(added), (), (), 0.0, 0.0, spread)
