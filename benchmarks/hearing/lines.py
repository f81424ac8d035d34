"""Written lines to be played: passages of real parts from the tests' scores, and made ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np

from benchmarks.hearing.timbres import ALL, Timbre
from standlight.music import Note
from standlight.score import Score, cut_passage, read_passage, read_score
from standlight.score.values import Passage

SCORES = Path(__file__).resolve().parents[2] / "tests" / "scores" / "real"

MADE_SHARE = 0.25
"""So many takes play made lines, the rest real parts (our choice)."""

SECONDS = (14.0, 25.0)
"""How long a take's music lasts, about; the issue speaks of takes of 20 s."""

USUAL_TEMPO_QPM = 100.0
"""Marked tempo where the score has none (our choice)."""

FEWEST_NOTES, MOST_NOTES = 12, 110
SHORTEST_NOTE_S = 0.075
"""A window that would hold quicker notes is not drawn: the trials name them as unreadable."""

LONGEST_REST_S = 4.0
LEAST_SOUNDING = 0.55
TRIES = 60

_MAJOR = (0, 2, 4, 5, 7, 9, 11)
_RHYTHMS = ("1 1 1 1", "2 2", "1 1 2", "1 1/2 1/2 1 1", "3/2 1/2 2", "1/2 1/2 1/2 1/2 1 1",
            "1/2 1/2 1/2 1/2 1/2 1/2 1/2 1/2", "3/2 1/2 1 1", "1 1/4 1/4 1/4 1/4 1/2 1/2 1",
            "4", "3 1", "1/2 1 1/2 1 1")  # fmt: skip
_STEPS, _STEP_SHARES = (-4, -2, -1, 0, 1, 2, 4), (0.06, 0.14, 0.27, 0.08, 0.25, 0.14, 0.06)


@dataclass(frozen=True, slots=True)
class Line:
    """A passage, the sound that plays it, and its marked tempo in quarters a minute."""

    passage: Passage
    timbre: Timbre
    tempo_qpm: float
    source: str


@cache
def scores() -> dict[str, tuple[bytes, Score]]:
    """The tests' real scores by name, bytes and read."""
    found = {}
    for file in sorted(SCORES.glob("*.mxl")):
        data = file.read_bytes()
        found[file.name] = (data, read_score(data, name=file.name))
    return found


@cache
def parts_for(names: tuple[str, ...]) -> tuple[tuple[str, int], ...]:
    """Score name and part index of every part for an instrument among ``names``."""
    return tuple(
        (name, part.index)
        for name, (_, score) in scores().items()
        for part in score.parts
        if part.instrument in names
    )


def draw_line(rng: np.random.Generator, family: str, tempo_factor: float) -> Line:
    """A line for ``family`` that lasts about `SECONDS` at ``tempo_factor`` of the marked tempo."""
    timbres = [timbre for timbre in ALL if timbre.family == family]
    timbre = timbres[int(rng.integers(len(timbres)))]
    if rng.random() >= MADE_SHARE:
        for _ in range(TRIES):
            line = _real(rng, timbre, tempo_factor)
            if line is not None:
                return line
    return made_line(rng, timbre, tempo_factor)


def made_line(
    rng: np.random.Generator, timbre: Timbre, tempo_factor: float, seconds: float | None = None
) -> Line:
    """A tonal line of whole measures, mostly in steps, some slurs and some staccato."""
    wanted_s = rng.uniform(*SECONDS) if seconds is None else seconds
    tempo = float(rng.integers(72, 121))
    measures = max(2, round(wanted_s * tempo * tempo_factor / 60.0 / 4.0))
    tonic = int(rng.integers(timbre.low, timbre.low + 12))
    scale = [m for m in range(timbre.low, timbre.high + 1) if (m - tonic) % 12 in _MAJOR]
    place, notes, slurs = len(scale) // 2, [], rng.random() < 0.5
    for measure in range(measures):
        onset = Fraction(4 * measure)
        for value in map(Fraction, str(rng.choice(_RHYTHMS)).split()):
            place = int(np.clip(place + rng.choice(_STEPS, p=_STEP_SHARES), 0, len(scale) - 1))
            joined = slurs and notes and notes[-1].midi != scale[place] and rng.random() < 0.35
            short = not joined and value <= 1 and rng.random() < 0.1
            marks = frozenset(["slurred"] * bool(joined) + ["staccato"] * short)
            notes.append(Note(onset, value, scale[place], measure, marks=marks))
            onset += value
    passage = Passage("", timbre.names[0], "", (), tuple(notes), Fraction(4 * measures), tempo)
    return Line(passage, timbre, tempo, "made")


def _real(rng: np.random.Generator, timbre: Timbre, tempo_factor: float) -> Line | None:
    """One random window of a real part, or None when it does not suit."""
    places = parts_for(timbre.names)
    if not places:
        return None
    name, index = places[int(rng.integers(len(places)))]
    data, score = scores()[name]
    first = int(rng.integers(len(score.measures)))
    marked = score.measures[first].tempo_qpm or USUAL_TEMPO_QPM
    quarter_s = 60.0 / (marked * tempo_factor)
    wanted_s, last = rng.uniform(*SECONDS), first
    start = score.measures[first].onset_quarters
    while last + 1 < len(score.measures):
        end = score.measures[last].onset_quarters + score.measures[last].length_quarters
        if float(end - start) * quarter_s >= wanted_s:
            break
        last += 1
    notes = [n for n in score.parts[index].notes if first <= n.measure <= last]
    if not suits(notes, quarter_s):
        return None
    passage = read_passage(cut_passage(data, index, first, last))
    if not suits(passage.notes, quarter_s):
        return None
    return Line(passage, timbre, marked, f"{name} part {index}, measures {passage.printed}")


def suits(notes: Sequence[Note], quarter_s: float) -> bool:
    """True for one playable line: enough notes, none too quick, little rest, no chord."""
    if not FEWEST_NOTES <= len(notes) <= MOST_NOTES:
        return False
    onsets = np.array([float(note.onset_quarters) for note in notes]) * quarter_s
    lengths = np.array([float(note.duration_quarters) for note in notes]) * quarter_s
    steps = np.diff(onsets)
    rests = onsets[1:] - (onsets + lengths)[:-1]
    span = onsets[-1] + lengths[-1] - onsets[0]
    return bool(
        all(note.midi is not None and "tremolo" not in note.marks for note in notes)
        and steps.min() > SHORTEST_NOTE_S
        and rests.max() < LONGEST_REST_S
        and rests.min() > -0.01
        and lengths.sum() > LEAST_SOUNDING * span
        and SECONDS[0] * 0.7 < span < SECONDS[1] * 1.3
    )


def shifted(passage: Passage, semitones: int) -> Passage:
    """``passage`` written ``semitones`` higher; what was played stays where it was."""
    moved = tuple(replace(note, midi=note.midi + semitones) for note in passage.notes)
    return replace(passage, notes=moved)
