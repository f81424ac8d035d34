"""The tempo as a player reads it: a note value and how many of them fill a minute."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

from lxml import etree

from standlight.music import beat_of_meter
from standlight.score.values import Measure
from standlight.score.walked import QUARTERS_OF_TYPE, PartWalk

_Value = TypeVar("_Value")

SLOWEST, FASTEST = 20, 400
"""Beats a minute that a player can count; outside, a file's tempo is for a machine (our choice)."""

_COUNTED = ("whole", "half", "quarter", "eighth", "16th", "32nd")
"""Note values that a tempo is printed in; the engraver has no sign for longer ones."""

_MOST_DOTS = 2


def note_value(quarters: Fraction) -> tuple[str, int] | None:
    """MusicXML's name of a note of this length and its dots; ``None`` if there is no such note.

    >>> note_value(Fraction(3, 2)), note_value(Fraction(5, 4))
    (('quarter', 1), None)
    """
    for dots in range(_MOST_DOTS + 1):
        for name in _COUNTED:
            if QUARTERS_OF_TYPE[name] * (2 - Fraction(1, 2**dots)) == quarters:
                return name, dots
    return None


def tempo_mark(
    tempo_qpm: float, beat_quarters: Fraction, *, offset: int = 0
) -> etree._Element:
    """A ``<direction>`` that prints the tempo and sounds it exactly.

    A silent ``<sound>`` when the tempo is none to be counted or its beat is no note value.
    The number is rounded to a whole one, as metronomes count (common practice, no source).
    ``offset`` is where it stands after the clock, in divisions.

    >>> mark = tempo_mark(96.0, Fraction(3, 2))
    >>> [element.text or element.tag for element in mark.iter("beat-unit", "per-minute")]
    ['quarter', '64']
    >>> tempo_mark(2000.0, Fraction(1)).tag
    'sound'
    """
    value = note_value(beat_quarters)
    number = round(tempo_qpm / beat_quarters)
    sound = etree.Element("sound", tempo=f"{tempo_qpm:g}")
    if value is None or not SLOWEST <= number <= FASTEST:
        return sound
    direction = etree.Element("direction", placement="above")
    metronome = etree.SubElement(etree.SubElement(direction, "direction-type"), "metronome")
    etree.SubElement(metronome, "beat-unit").text = value[0]
    for _ in range(value[1]):
        etree.SubElement(metronome, "beat-unit-dot")
    etree.SubElement(metronome, "per-minute").text = str(number)
    if offset:
        etree.SubElement(direction, "offset").text = str(offset)
    direction.append(sound)
    return direction


def printed_beats(walks: Sequence[PartWalk]) -> list[tuple[int, int, Fraction]]:
    """The beat of each printed tempo as (measure, tick, quarters) in time order, one a moment."""
    first_at: dict[tuple[int, int], Fraction] = {}
    for walk in walks:
        for measure, tick, beat in walk.tempo_beats:
            first_at.setdefault((measure, tick), beat)
    return [(*moment, beat) for moment, beat in sorted(first_at.items())]


@dataclass(frozen=True, slots=True)
class PrintedTempos:
    """The tempos of a whole score and the beats they are printed in, whichever part does.

    ``tempos`` are (measure, tick, quarters a minute), ``beats`` (measure, tick, quarters of
    the beat), both in time order.
    """

    measures: Sequence[Measure]
    tempos: Sequence[tuple[int, int, float]]
    beats: Sequence[tuple[int, int, Fraction]]

    def at(self, measure: int, tick: int = 0) -> float | None:
        """The tempo in force at a moment, in quarters a minute."""
        found = _latest(self.tempos, measure, tick)
        return None if found is None else found[2]

    def to_print(self, measure: int, *, begins: bool) -> dict[int, Fraction]:
        """The beats of the tempos to print in ``measure``, by tick.

        Where a cut ``begins`` also that of the tempo in force, if this movement gave it.
        """
        start = bisect_left(self.beats, (measure, 0, 0))
        end = bisect_left(self.beats, (measure + 1, 0, 0))
        printed = {tick: beat for _, tick, beat in self.beats[start:end]}
        given = _latest(self.tempos, measure, 0)
        if begins and given is not None and self._same_movement(given[0], measure):
            printed.setdefault(0, self._beat_in_force(measure))
        return printed

    def _beat_in_force(self, measure: int) -> Fraction:
        """The beat last printed, if the meter is still counted as it was there, else the meter's.

        A quarter printed in 4/4 says nothing about the 6/8 that follows.
        """
        own = self._meter_beat(measure)
        printed = _latest(self.beats, measure, 0)
        if printed is None or not self._same_movement(printed[0], measure):
            return own
        return printed[2] if self._meter_beat(printed[0]) == own else own

    def _meter_beat(self, measure: int) -> Fraction:
        """What the measure's meter is counted in."""
        here = self.measures[measure]
        return beat_of_meter(here.beats, here.beat_unit)

    def _same_movement(self, one: int, other: int) -> bool:
        """True if two measures stand in one movement."""
        return self.measures[one].movement == self.measures[other].movement


def _latest(
    marks: Sequence[tuple[int, int, _Value]], measure: int, tick: int
) -> tuple[int, int, _Value] | None:
    """The last of ``marks`` at or before a moment, if there is one."""
    place = bisect_right(marks, (measure, tick), key=lambda mark: mark[:2])
    return marks[place - 1] if place else None
