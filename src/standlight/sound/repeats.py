"""Repeats that a player left out, or took though the passage has none: told, not counted as slips.

A passage is written as it is played once. Where it holds the same music twice and one of the
two was not heard, a repeat was left out; where a whole stretch of measures was played twice
without a stop, a repeat was taken that the passage does not have. Either way nobody stopped,
and the notes of a repeat that was left out are not missing notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from standlight.music import Note
from standlight.sound.quality import Verdict
from standlight.sound.values import HeardNote, Performance, Resumed

FEWEST_NOTES = 4
"""A shorter figure that comes twice is no repeat (our choice)."""

FEWEST_MEASURES = 3
"""Whoever plays less than that twice went back to get it right: written repeats are longer (common
practice, no source; of made takes whose player stopped and began again, three of 432 did so in
time after two measures)."""

HEARD_SHARE = 0.75
"""So much of the music around must have been heard (our choice)."""

FEWEST_PITCHES = 3
"""A pitched line of fewer says nothing of where the player is (seen on made takes of one pitch: a
line played once was taken for two times)."""

STOPPED_QUARTERS, STOPPED_S = 0.5, 0.25
"""A wait longer than written by so many quarters, or so many seconds, is a stop (the rule of
timing; of slow music half a quarter alone is long enough to stop and go back)."""


def with_repeats_told(performance: Performance) -> tuple[Performance, tuple[Verdict, ...]]:
    """The performance with repeats set apart from slips, and a sentence for each.

    None is told of a line with hardly any different pitches.
    """
    if not performance.unpitched and _pitches(performance) < FEWEST_PITCHES:
        return performance, ()
    left_out, seams, said = set(), set(), []
    for first, last in _missing_runs(performance):
        start = _twice_written(performance, first, last)
        if start is not None and _goes_on(performance, first, last):
            left_out.update(range(first, last + 1))
            seams.add(last + 1)
            said.append(_left_out(performance, start, last - first + 1))
    for jump in performance.restarts:
        end = _taken_again(performance, jump)
        if end is not None:
            seams.add(jump.to_index)
            seams.add(end + 1)
            said.append(_taken(performance, jump.to_index, end))
    if not said:
        return performance, ()
    told = replace(
        performance,
        restarts=tuple(jump for jump in performance.restarts if jump.to_index not in seams),
        seams=frozenset(seams),
        left_out=frozenset(left_out),
    )
    return told, tuple(said)


def _pitches(performance: Performance) -> int:
    """How many different pitches are written."""
    return len({note.midi for note in performance.passage.notes})


def _missing_runs(performance: Performance) -> list[tuple[int, int]]:
    """First and last index of each long run of notes that were not heard."""
    runs, first = [], None
    for note in (*performance.notes, None):
        missing = note is not None and note.outcome == "missing"
        if missing and first is None:
            first = note.index
        elif not missing and first is not None:
            last = len(performance.notes) - 1 if note is None else note.index - 1
            if last - first + 1 >= FEWEST_NOTES:
                runs.append((first, last))
            first = None
    return runs


def _twice_written(performance: Performance, first: int, last: int) -> int | None:
    """Where the music starts that stands twice, one time of it unheard; ``None`` if it does not.

    What was not heard may begin in the middle of the first time and end in that of the second.
    """
    written, size = performance.passage.notes, last - first + 1
    for start in range(max(first - size, 0), min(first, len(written) - 2 * size) + 1):
        once = written[start : start + size]
        again = written[start + size : start + 2 * size]
        at_barlines = _opens(written, start) and _opens(written, start + size)
        if at_barlines and _music(once) == _music(again):
            around = [n for n in performance.notes[start : start + 2 * size]
                      if not first <= n.index <= last]  # fmt: skip
            heard = sum(note.outcome == "played" for note in around)
            return start if heard >= HEARD_SHARE * size else None
    return None


def _opens(written: Sequence[Note], index: int) -> bool:
    """True when the note is the first of its measure."""
    return not index or written[index].measure != written[index - 1].measure


def _next_onset(written: Sequence[Note], index: int) -> Fraction:
    """Where the note after ``index`` begins, or where the last one ends, in quarters."""
    if index + 1 < len(written):
        return written[index + 1].onset_quarters
    return written[index].onset_quarters + written[index].duration_quarters


def _music(notes: Sequence[Note]) -> list[tuple[object, ...]]:
    """Pitches and lengths, wherever they stand."""
    begin = notes[0].onset_quarters
    return [
        (note.onset_quarters - begin, note.duration_quarters, note.midi, note.drum)
        for note in notes
    ]


def _goes_on(performance: Performance, first: int, last: int) -> bool:
    """True when the note after a gap follows the note before it as if nothing were between."""
    written = performance.passage.notes
    if not first or last + 1 == len(written):
        return True
    before, after = performance.notes[first - 1], performance.notes[last + 1]
    quarters = float(written[first].onset_quarters - written[first - 1].onset_quarters)
    return _in_time(performance, before, after, quarters)


def _in_time(
    performance: Performance, before: HeardNote, after: HeardNote, quarters: float
) -> bool:
    """True when two notes follow each other in ``quarters``, without a stop."""
    if before.onset_s is None or after.onset_s is None or performance.tempo_qpm is None:
        return False
    quarter_s = 60.0 / performance.tempo_qpm
    apart_s = abs(after.onset_s - before.onset_s - quarters * quarter_s)
    return apart_s < min(STOPPED_QUARTERS * quarter_s, STOPPED_S)


def _taken_again(performance: Performance, jump: Resumed) -> int | None:
    """Last index of whole measures that were played before ``jump`` and after it without a stop."""
    written, start = performance.passage.notes, jump.to_index
    tries = [
        note
        for note in performance.attempts
        if note.onset_s is not None and note.onset_s < jump.onset_s and note.index >= start
    ]
    if not tries or not _opens(written, start):
        return None
    end = max(note.index for note in tries)
    size = end - start + 1
    measures = written[end].measure - written[start].measure + 1
    if size < FEWEST_NOTES or measures < FEWEST_MEASURES:
        return None
    if end + 1 < len(written) and not _opens(written, end + 1):
        return None
    heard = {note.index for note in tries if note.outcome == "played"}
    again = sum(note.outcome == "played" for note in performance.notes[start : end + 1])
    if min(len(heard), again) < HEARD_SHARE * size:
        return None
    quarters = float(_next_onset(written, end) - written[end].onset_quarters)
    last = max(tries, key=lambda note: note.onset_s)
    first_again = performance.notes[start]
    return end if _in_time(performance, last, first_again, quarters) else None


def _left_out(performance: Performance, start: int, size: int) -> Verdict:
    """The verdict on a repeat that was not played."""
    once, again = (
        _measures(performance, place, place + size - 1) for place in (start, start + size)
    )
    return Verdict(
        "repeat_left_out",
        f"{once} and {again.lower()} have the same music, which was heard one time: "
        "a repeat that was left out? Its notes are not counted as missing.",
    )


def _taken(performance: Performance, start: int, end: int) -> Verdict:
    """The verdict on measures that were played twice."""
    return Verdict(
        "repeat_taken",
        f"{_measures(performance, start, end)} {'was' if _one(performance, start, end) else 'were'}"
        " played twice without a stop: a repeat that this passage does not have? "
        "The second time is read.",
    )


def _one(performance: Performance, first: int, last: int) -> bool:
    """True when two notes stand in one measure."""
    written = performance.passage.notes
    return written[first].measure == written[last].measure


def _measures(performance: Performance, first: int, last: int) -> str:
    """The measures of two notes in words."""
    numbers = [_printed(performance, performance.passage.notes[at].measure) for at in (first, last)]
    if _one(performance, first, last):
        return f"Measure {numbers[0]}"
    return f"Measures {numbers[0]} to {numbers[1]}"


def _printed(performance: Performance, measure: int) -> str:
    """The printed number of a measure, or its count from 1 where nothing is printed."""
    measures = performance.passage.measures
    return measures[measure].printed if measure < len(measures) else str(measure + 1)
