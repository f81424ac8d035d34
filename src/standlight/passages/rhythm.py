"""Rhythm against the meter: weights of places, syncopation, kinds of values.

Two published measures. *Off the beat* is the weighted note-to-beat distance of Gómez,
Melvin, Rappaport and Toussaint (2005, "Mathematical measures of syncopation", BRIDGES),
for each note. *Syncopation* is that of Longuet-Higgins and Lee (1984, "The rhythmic
interpretation of monophonic music", Music Perception 1:424; definition from memory): a
note that sounds on over a metrically stronger place that has no onset, by the difference
of weights. Both depend on places and proportions only, never on how values are written.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from standlight.music import is_in_threes
from standlight.score import Measure

_DEEPEST_LEVEL = -4
"""Weights are told apart down to a sixteenth of a beat; finer places count the same."""


@dataclass(frozen=True, slots=True)
class Meter:
    """How a measure is counted: its beat in quarters, its beats, those a pickup leaves out."""

    beat_quarters: Fraction
    n_beats: int
    late_beats: Fraction


@dataclass(frozen=True, slots=True)
class Figure:
    """One note's rhythm: the two measures of the module, the kind of its value, the time on."""

    off_beat: float
    syncopation: int
    kind: str
    to_next_beats: Fraction


def meter_of(measure: Measure, before: Measure | None) -> Meter:
    """The meter of a measure; ``before`` is the measure before it, ``None`` for the first.

    A measure that holds a whole number of times its meter is written in longer values. A
    short first measure of a movement is a pickup: its notes are counted from the end.
    """
    beat_quarters, n_beats = beat_of(measure.beats, measure.beat_unit)
    times = measure.length_quarters / (beat_quarters * n_beats)
    if times >= 2 and times.denominator == 1:
        return Meter(beat_quarters * times, n_beats, Fraction(0))
    pickup = times < 1 and (before is None or before.movement != measure.movement)
    return Meter(beat_quarters, n_beats, n_beats * (1 - times) if pickup else Fraction(0))


def figure_of(
    meter: Meter, place_quarters: Fraction, to_next_quarters: Fraction, length_quarters: Fraction
) -> Figure:
    """The rhythm of a note that starts ``place_quarters`` after its barline.

    ``to_next_quarters`` lasts to the next onset (counted up to two measures).
    """
    place = meter.late_beats + place_quarters / meter.beat_quarters
    to_next = min(to_next_quarters / meter.beat_quarters, Fraction(2 * meter.n_beats))
    return Figure(
        off_beat(place, to_next),
        syncopation(place, to_next, meter.n_beats),
        kind_of_value(length_quarters, meter.beat_quarters),
        to_next,
    )


@lru_cache(maxsize=8192)
def metric_weight(place_beats: Fraction, beats: int) -> int:
    """The weight of a place in a measure of ``beats`` beats: 0 for the downbeat, then lower.

    ``place_beats`` counts beats from the measure's start. In an even measure the middle
    weighs -1 and the other beats -2; in other measures every other beat weighs -1; each
    halving of a beat costs one more (Longuet-Higgins & Lee 1984). A place in a triplet
    weighs what a halving would.

    >>> [metric_weight(Fraction(eighth, 2), 4) for eighth in range(8)]
    [0, -3, -2, -3, -1, -3, -2, -3]
    """
    place_beats %= beats or 1
    if place_beats == 0:
        return 0
    lowest = -2 if beats % 2 == 0 and beats > 2 else -1
    if place_beats.denominator == 1:
        middle = beats % 2 == 0 and beats > 2 and place_beats == Fraction(beats, 2)
        return -1 if middle else lowest
    halvings = max(1, (place_beats.denominator - 1).bit_length())
    return max(lowest - halvings, lowest + _DEEPEST_LEVEL)


@lru_cache(maxsize=8192)
def off_beat(place_beats: Fraction, length_beats: Fraction) -> float:
    """One note's weighted distance to the nearest beat (Gómez et al. 2005), 0 on a beat.

    ``length_beats`` lasts until the next onset. One over the distance, doubled for a note
    that sounds over the next beat but not to the one after. The sum over a rhythm's notes
    divided by their number is the published measure.

    >>> son = [0, 3, 6, 10, 12, 16]  # sixteenths
    >>> notes = list(zip(son, son[1:]))
    >>> sum(off_beat(Fraction(a, 4), Fraction(b - a, 4)) for a, b in notes) / len(notes)
    2.8
    """
    beat = place_beats.numerator // place_beats.denominator
    after = place_beats - beat
    if after == 0:
        return 0.0
    distance = min(after, 1 - after)
    end = place_beats + length_beats
    doubled = beat + 1 < end < beat + 2
    return float((2 if doubled else 1) / distance)


@lru_cache(maxsize=8192)
def syncopation(place_beats: Fraction, length_beats: Fraction, beats: int) -> int:
    """By how much the strongest place that a note sounds over outweighs its own; 0 for none.

    ``length_beats`` lasts until the next onset, at most two measures.

    >>> syncopation(Fraction(3, 2), Fraction(1), 4)  # an eighth before the middle, held over
    2
    """
    own = metric_weight(place_beats, beats)
    first = place_beats.numerator // place_beats.denominator + 1
    end = place_beats + min(length_beats, Fraction(2 * beats))
    half = Fraction(1, 2)
    candidates = []
    beat = first
    while beat < end:
        candidates.append(metric_weight(Fraction(beat), beats))
        beat += 1
    if place_beats.denominator > 2 and place_beats % 1 < half:
        middle = place_beats.numerator // place_beats.denominator + half
        if middle < end:
            candidates.append(metric_weight(middle, beats))
    return max(0, max(candidates, default=own) - own)


@lru_cache(maxsize=4096)
def kind_of_value(quarters: Fraction, beat_quarters: Fraction) -> str:
    """How a length is written, seen from the meter's beat: "plain", "dotted" or "tuplet".

    A dotted value that is the beat of a compound meter, or beats of it, is plain there.

    >>> kind_of_value(Fraction(3, 2), Fraction(1)), kind_of_value(Fraction(3, 2), Fraction(3, 2))
    ('dotted', 'plain')
    >>> kind_of_value(Fraction(1, 3), Fraction(1))
    'tuplet'
    """
    if _odd_part(quarters.denominator) > 1:
        return "tuplet"
    if (quarters / beat_quarters).denominator == 1 and _odd_part(beat_quarters.numerator) == 3:
        return "plain"
    return "plain" if _odd_part(quarters.numerator) == 1 else "dotted"


def beat_of(beats: int, beat_unit: int) -> tuple[Fraction, int]:
    """The length in quarters of a group of the meter, and how many groups there are.

    Unlike what is counted aloud it is the same however long the values are written.

    >>> beat_of(6, 8), beat_of(6, 4), beat_of(3, 4)
    ((Fraction(3, 2), 2), (Fraction(3, 1), 2), (Fraction(1, 1), 3))
    """
    unit = Fraction(4, beat_unit)
    return (3 * unit, beats // 3) if is_in_threes(beats) else (unit, beats)


def _odd_part(number: int) -> int:
    """What is left of a whole number after halving it as often as possible."""
    return number // (number & -number) if number else 1
