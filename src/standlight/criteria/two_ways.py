"""Places that can be explained in two ways: the same sounds, as few faults, other names for them.

Where a player plays one note too many beside a wrong one, or leaves out one of two equal notes,
nobody can tell from pitches alone which was which. Such a place is found by counting the cheapest
alignments of what sounded with what is written (edit distance: Wagner and Fischer, J. ACM 1974),
around every fault that was told.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from standlight.sound.values import Performance

SAME_SEMITONES = 0.7
"""A sound this near to a written pitch is that pitch (the listening's own limit)."""

RIGHT_BESIDE = 2
"""Right notes on both sides that a fault is looked at with; faults so near make one place."""


def ways(written: Sequence[float], heard: Sequence[float]) -> tuple[int, int]:
    """Fewest faults that explain ``heard`` by ``written`` (pitches), and in how many ways.

    Another pitch, a note left out and a sound added count one each.

    >>> ways([60, 62, 64], [60, 63, 64]), ways([60, 62, 64], [60, 63, 61, 64])
    ((1, 1), (2, 2))
    """
    above = [(count, 1) for count in range(len(heard) + 1)]
    for row, pitch in enumerate(written, start=1):
        here = [(row, 1)]
        for column, sound in enumerate(heard, start=1):
            fault = int(abs(pitch - sound) >= SAME_SEMITONES)
            steps = (
                (above[column - 1][0] + fault, above[column - 1][1]),
                (above[column][0] + 1, above[column][1]),
                (here[column - 1][0] + 1, here[column - 1][1]),
            )
            least = min(cost for cost, _ in steps)
            here.append((least, sum(count for cost, count in steps if cost == least)))
        above = here
    return above[-1]


def two_way_places(performance: Performance) -> tuple[tuple[int, int], ...]:
    """First and last written note of every place with more than one cheapest explanation.

    Only places with a fault that was told; notes of unknown pitch count as written. Empty for
    what is followed by its strokes.
    """
    if performance.struck or performance.unpitched:
        return ()
    places = []
    for first, last in _clusters(performance):
        written = [performance.passage.notes[index].midi for index in range(first, last + 1)]
        heard = _heard(performance, first, last)
        if None not in written and ways(written, heard)[1] > 1:
            places.append((first, last))
    return tuple(places)


def _clusters(performance: Performance) -> list[tuple[int, int]]:
    """Runs of written notes around the told faults, neighbours included, none overlapping."""
    notes = performance.notes
    faulty = {note.index for note in notes if note.outcome != "played"} - performance.left_out
    for sound in performance.added:
        later = [n.index for n in notes if n.onset_s is not None and n.onset_s > sound.onset_s]
        faulty.add(min(later, default=len(notes) - 1))
    places: list[tuple[int, int]] = []
    for index in sorted(faulty):
        first, last = max(index - RIGHT_BESIDE, 0), min(index + RIGHT_BESIDE, len(notes) - 1)
        if places and first <= places[-1][1]:
            places[-1] = (places[-1][0], last)
        else:
            places.append((first, last))
    return places


def _heard(performance: Performance, first: int, last: int) -> list[float]:
    """Pitches that sounded at written notes ``first`` to ``last``, in time, as if in tune."""
    off = performance.shift_semitones + (performance.tuning_cents or 0.0) / 100.0
    inside = [performance.notes[index] for index in range(first, last + 1)]
    sounds = [
        (
            note.onset_s,
            float(performance.passage.notes[note.index].midi or 0.0)
            if note.outcome == "played" or note.midi_heard is None
            else note.midi_heard - off,
        )
        for note in inside
        if note.onset_s is not None
    ]
    if sounds:
        start, end = sounds[0][0], sounds[-1][0]
        sounds += [
            (one.onset_s, one.midi_heard - off)
            for one in performance.added
            if one.midi_heard is not None and start < one.onset_s < end
        ]
    return [pitch for _, pitch in sorted(sounds)]
