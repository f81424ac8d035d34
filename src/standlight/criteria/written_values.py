"""Rhythm by written value: which values are rushed or dragged, which enter early or late."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from standlight.criteria.figures import mean_interval
from standlight.criteria.places import VALUE_NAMES
from standlight.criteria.values import Reading
from standlight.sound.curves import TempoPoint, stretches_of, tempo_curve
from standlight.sound.values import HeardNote, Performance

FEWEST_OF_A_VALUE = 4
"""Notes of one written value needed for a figure (our choice)."""

LONG_JND_PERCENT = 2.5
"""Just noticeable displacement of one start in percent of the time between starts, for more
than 240 ms (Friberg & Sundberg 1995, abstract)."""

SHORT_JND_MS = 6.0
"""The same for 240 ms or less (Friberg & Sundberg 1995, abstract)."""

USUAL_LATE_MS = 30.0
"""Lower end of the asynchrony among good players, 30 to 50 ms (Rasch 1979, from memory):
values that enter nearer to the beat on average are called on it."""


def by_written_value(key: str, performance: Performance) -> tuple[Reading, ...]:
    """For each written value that is there often enough: how long it lasts, how it enters.

    Lengths run from start to start against the player's own local tempo, so a take that is
    slow as a whole has no short values. None when the passage has one value only: then there
    is nothing to compare.
    """
    entries = _entries(performance)
    if len(entries) < 2:
        return ()
    lengths = _lengths(performance)
    readings = []
    for value in sorted(entries, reverse=True):
        readings += [
            _length(key, value, lengths.get(value, []), performance),
            _entry(key, value, entries[value]),
        ]
    return tuple(readings)


def _entries(performance: Performance) -> dict[Fraction, list[float]]:
    """Asynchronies in ms by written value, values that have a name and occur often enough."""
    found: dict[Fraction, list[float]] = {}
    for written, heard in zip(performance.passage.notes, performance.notes, strict=True):
        if heard.asynchrony_ms is not None and written.duration_quarters in VALUE_NAMES:
            found.setdefault(written.duration_quarters, []).append(heard.asynchrony_ms)
    return {value: ms for value, ms in found.items() if len(ms) >= FEWEST_OF_A_VALUE}


def _lengths(performance: Performance) -> dict[Fraction, list[float]]:
    """Played over written time from start to start, percent, by written value."""
    points = tempo_curve(performance)
    if not points:
        return {}
    found: dict[Fraction, list[float]] = {}
    for stretch, notes in enumerate(stretches_of(performance)):
        own = [point for point in points if point.stretch == stretch]
        if own:
            for value, percent in _of_stretch(performance, notes, own):
                found.setdefault(value, []).append(percent)
    return found


def _of_stretch(
    performance: Performance, notes: tuple[HeardNote, ...], points: list[TempoPoint]
) -> list[tuple[Fraction, float]]:
    """Value and length in percent of each note that the next written note follows at once."""
    written = performance.passage.notes
    at = np.array([point.quarters for point in points])
    quarter_s = np.array([60.0 / point.tempo_qpm for point in points])
    found = []
    for note, after in zip(notes, notes[1:], strict=False):
        value = written[note.index].duration_quarters
        step = written[after.index].onset_quarters - written[note.index].onset_quarters
        if after.index != note.index + 1 or step != value or value not in VALUE_NAMES:
            continue
        middle = float(written[note.index].onset_quarters) + float(value) / 2.0
        expected_s = float(value) * float(np.interp(middle, at, quarter_s))
        found.append((value, 100.0 * (after.onset_s - note.onset_s) / expected_s))
    return found


def _length(
    key: str, value: Fraction, percents: list[float], performance: Performance
) -> Reading:
    """Mean length of one value; rushed or dragged beyond what is noticed and beyond chance."""
    name = f"length of {VALUE_NAMES[value]}"
    if len(percents) < FEWEST_OF_A_VALUE:
        because = f"only {len(percents)} of them lead at once to another heard note"
        return Reading(key, name, None, None, None, "percent", len(percents), because=because)
    mean, low, high = mean_interval(percents)
    tempo = performance.tempo_qpm or performance.marked_tempo_qpm
    length_ms = 60_000.0 * float(value) / tempo
    noticed = max(LONG_JND_PERCENT, 100.0 * SHORT_JND_MS / length_ms)
    words = _capital(value) + " last about as long as written."
    if abs(mean - 100.0) >= noticed and not low <= 100.0 <= high:
        way = "rushed" if mean < 100.0 else "dragged"
        words = f"{_capital(value)} are {way}."
    return Reading(key, name, mean, low, high, "percent", len(percents), sentence=words)


def _entry(key: str, value: Fraction, apart_ms: list[float]) -> Reading:
    """Mean distance of one value's starts from the smooth beat, late positive."""
    name = f"entries of {VALUE_NAMES[value]}"
    mean, low, high = mean_interval(apart_ms)
    words = f"{_capital(value)} enter on the beat."
    if abs(mean) >= USUAL_LATE_MS and not low <= 0.0 <= high:
        words = f"{_capital(value)} enter {'late' if mean > 0 else 'early'}."
    return Reading(key, name, mean, low, high, "ms", len(apart_ms), sentence=words)


def _capital(value: Fraction) -> str:
    """The name of a value at the start of a sentence."""
    name = VALUE_NAMES[value]
    return name[0].upper() + name[1:]
