"""The tempo as a player reads it: a note value and how many of them fill a minute."""

from __future__ import annotations

from fractions import Fraction

from lxml import etree

from standlight.score.values import Measure
from standlight.score.walked import QUARTERS_OF_TYPE

COMPOUND_BEATS = frozenset({6, 9, 12})
"""Over eighths these are counted in dotted quarters (common practice, no source)."""

SLOWEST, FASTEST = 20, 400
"""Beats a minute that a player can count; outside, a file's tempo is for a machine (our choice)."""

_MOST_DOTS = 2


def beat_of_meter(beats: int, beat_unit: int) -> Fraction:
    """The length in quarters of what a meter is counted in.

    >>> beat_of_meter(6, 8), beat_of_meter(2, 2), beat_of_meter(3, 8)
    (Fraction(3, 2), Fraction(2, 1), Fraction(1, 2))
    """
    if beat_unit == 8 and beats in COMPOUND_BEATS:
        return Fraction(3, 2)
    return Fraction(4, beat_unit)


def beat_in_force(measure: Measure) -> Fraction:
    """The beat that the print counts the measure's tempo in, else that of its meter."""
    return measure.tempo_beat_quarters or beat_of_meter(measure.beats, measure.beat_unit)


def note_value(quarters: Fraction) -> tuple[str, int] | None:
    """MusicXML's name of a note of this length and its dots; ``None`` if there is no such note.

    >>> note_value(Fraction(3, 2)), note_value(Fraction(5, 4))
    (('quarter', 1), None)
    """
    for dots in range(_MOST_DOTS + 1):
        for name, length in QUARTERS_OF_TYPE.items():
            if length * (2 - Fraction(1, 2**dots)) == quarters:
                return name, dots
    return None


def tempo_direction(
    tempo_qpm: float, beat_quarters: Fraction, *, offset: int = 0
) -> etree._Element | None:
    """A ``<direction>`` that prints the tempo and sounds it exactly; ``None`` if none can be read.

    The number is rounded to a whole one, as metronomes count (common practice, no source).
    ``offset`` is where it stands after the clock, in divisions.

    >>> mark = tempo_direction(96.0, Fraction(3, 2))
    >>> [element.text or element.tag for element in mark.iter("beat-unit", "per-minute")]
    ['quarter', '64']
    """
    value = note_value(beat_quarters)
    number = round(tempo_qpm / beat_quarters)
    if value is None or not SLOWEST <= number <= FASTEST:
        return None
    direction = etree.Element("direction", placement="above")
    metronome = etree.SubElement(etree.SubElement(direction, "direction-type"), "metronome")
    etree.SubElement(metronome, "beat-unit").text = value[0]
    for _ in range(value[1]):
        etree.SubElement(metronome, "beat-unit-dot")
    etree.SubElement(metronome, "per-minute").text = str(number)
    if offset:
        etree.SubElement(direction, "offset").text = str(offset)
    etree.SubElement(direction, "sound", tempo=f"{tempo_qpm:g}")
    return direction
