"""When each measure of a passage sounds in a take: what looping a measure and jumping rest on.

The times come from the notes that were found, on a straight line between each and the next. They
say where in the recording a measure is, and nothing of how it was played.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from standlight.errors import StandlightError
from standlight.programme import store
from standlight.score import Passage, read_passage

PASSAGES_KEPT = 256
"""Passages whose measures are kept in memory: more than the parts of a large piece."""

FEWEST_NOTES = 2
"""Two notes at different times make a line; one does not."""


@dataclass(frozen=True, slots=True)
class MeasureTime:
    """A measure of the passage, counted from 0: its printed number and seconds in the take."""

    index: int
    printed: str
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True)
class WrittenTimes:
    """When things are written, in quarters from the passage's start: notes, and measures' starts.

    ``starts`` has one more entry than ``printed``: the end of the last measure.
    """

    notes: tuple[float, ...]
    printed: tuple[str, ...]
    starts: tuple[float, ...]


def written_times(passage: Passage) -> WrittenTimes:
    """The times of a passage as floats."""
    last = passage.measures[-1]
    return WrittenTimes(
        tuple(float(note.onset_quarters) for note in passage.notes),
        tuple(measure.printed for measure in passage.measures),
        (
            *(float(measure.onset_quarters) for measure in passage.measures),
            float(last.onset_quarters + last.length_quarters),
        ),
    )


@lru_cache(maxsize=PASSAGES_KEPT)
def written_times_of(notation: str) -> WrittenTimes | None:
    """`written_times` of the notation kept under a digest; none when it cannot be read."""
    try:
        return written_times(read_passage(store.fetch(notation)))
    except StandlightError:
        return None


def measure_times(body: Mapping[str, Any], written: WrittenTimes | None) -> tuple[MeasureTime, ...]:
    """The measures of a take with a report ``body``; none where too little was found to tell.

    A report on another passage than ``written`` (it was moved since) tells nothing either.

    >>> line = WrittenTimes((0.0, 2.0, 4.0), ("33", "34"), (0.0, 4.0, 8.0))
    >>> notes = [{"onset_s": 1.0}, {"onset_s": 2.0}, {"onset_s": 3.0}]
    >>> [(row.printed, row.from_s, row.to_s) for row in measure_times({"notes": notes}, line)]
    [('33', 1.0, 3.0), ('34', 3.0, 5.0)]
    """
    notes = body.get("notes", ())
    if written is None or len(notes) != len(written.notes):
        return ()
    found = _rising(written.notes, [note.get("onset_s") for note in notes])
    if len(found) < FEWEST_NOTES:
        return ()
    end = body.get("seconds") or float("inf")
    times = [min(max(0.0, _second_at(start, found)), end) for start in written.starts]
    return tuple(
        MeasureTime(index, printed, round(first, 2), round(last, 2))
        for index, (printed, first, last) in enumerate(
            zip(written.printed, times, times[1:], strict=False)
        )
    )


def _rising(
    quarters: Sequence[float], seconds: Sequence[float | None]
) -> list[tuple[float, float]]:
    """The notes found, each later than the one before both on paper and in the take."""
    found: list[tuple[float, float]] = []
    for written, heard in zip(quarters, seconds, strict=True):
        if heard is not None and (
            not found or (written > found[-1][0] and heard > found[-1][1])
        ):
            found.append((written, heard))
    return found


def _second_at(quarter: float, found: Sequence[tuple[float, float]]) -> float:
    """The second of a written moment: between two notes a straight line, outside the mean tempo."""
    (first, begin), (last, end) = found[0], found[-1]
    slope = (end - begin) / (last - first)
    if quarter <= first:
        return begin + slope * (quarter - first)
    if quarter >= last:
        return end + slope * (quarter - last)
    for (left, low), (right, high) in zip(found, found[1:], strict=False):
        if quarter <= right:
            return low + (high - low) * (quarter - left) / (right - left)
    raise AssertionError("a moment between the first and the last note has a note after it")
