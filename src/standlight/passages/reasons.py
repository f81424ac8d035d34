"""Why a passage: what it shows, where it lies, where it begins, in words a director skims."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standlight.music import pitch_name
from standlight.passages.profile import PartProfile
from standlight.passages.tables import SHORTEST_VALUES, Tables
from standlight.passages.values import Held, Shown

_PLACES = (
    (0.35, "in the middle of the range"),
    (0.65, "in a comfortable part of the range"),
    (0.9, "towards the edge of the range"),
    (99.0, "at the edge of the range"),
)
"""Mean distance from the middle of the school range (0) to its edge (1), in words: our choice."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What words about a piece's passages need beside the notes.

    ``printed`` numbers, ``letters`` (rehearsal marks) and ``movements`` have an entry a
    measure; ``grade`` is the grade of music that flags compare with, ``None`` for none.
    """

    printed: tuple[str, ...]
    letters: tuple[str | None, ...]
    movements: tuple[int, ...]
    tables: Tables
    grade: int | None = None

    def printed_range(self, first: int, last: int) -> str:
        """Measures as they are numbered on paper: "33 to 40"."""
        names = [self.printed[at] for at in (first, last)]
        return names[0] if first == last else f"{names[0]} to {names[1]}"


def reason_of(
    setting: Setting, profile: PartProfile, held: Held, first: int, criteria: Sequence[Shown]
) -> str:
    """What one window (``held`` of shape (1,)) offers, as sentences."""
    if not held.onsets[0]:
        return "Rests throughout."
    said = []
    for one in criteria:
        if one.applies_to(profile.family):
            said.append(f"{one.name}: {one.asks.words(held)}.")
    place = _place(profile, held)
    said += [place] if place else []
    start = start_words(setting, profile, first)
    said += [start] if start else []
    return " ".join(said)


def start_words(setting: Setting, profile: PartProfile, first: int) -> str:
    """What makes a measure a good place to begin, as a sentence; "" for nothing."""
    if setting.letters[first]:
        return f"Begins at {setting.letters[first]}."
    if first == 0:
        return "Begins the piece."
    if setting.movements[first - 1] != setting.movements[first]:
        return "Begins a movement."
    return "Begins after a rest." if profile.silent_before[first] else ""


def _place(profile: PartProfile, held: Held) -> str:
    """Lowest and highest note and where they lie on the instrument."""
    if np.isnan(held.lowest[0]):
        return ""
    shift = profile.written_shift
    low, high = (pitch_name(int(one[0]) - shift) for one in (held.lowest, held.highest))
    words = f"Written {low} to {high}" if low != high else f"Written {low} only"
    if profile.has_range:
        mean = held.range_place[0] / max(held.onsets[0], 1)
        words += f", {next(said for limit, said in _PLACES if mean < limit)}"
    if "clarinet" in profile.instrument.lower():
        crossings = int(held.break_crossings[0])
        if crossings:
            words += f", crosses the break {times(crossings)}"
        else:
            words += ", above the break" if held.over_break[0] else ", below the break"
    elif profile.family == "strings" and profile.has_first_position:
        shifted = int(held.shifted[0])
        words += f", {counted(shifted, 'note')} above first position" if shifted else (
            ", in first position")  # fmt: skip
    return f"{words}."


def flags_of(
    setting: Setting, profile: PartProfile, held: Held, first: int, last: int
) -> tuple[str, ...]:
    """Sentences on notes outside the school range, and on what the grade does not ask."""
    flags = []
    if profile.has_range:
        school = setting.tables.ranges[profile.instrument].school
        for count, side, limit in (
            (int(held.above_range[0]), "above", school.high_midi),
            (int(held.below_range[0]), "below", school.low_midi),
        ):
            if count:
                name = pitch_name(limit - profile.written_shift)
                notes = counted(count, "note").capitalize()
                flags.append(f"{notes} {side} the school range (written {name}).")
    if setting.grade is not None:
        flags += _grade_flags(setting, profile, held, first, last)
    return tuple(flags)


def _grade_flags(
    setting: Setting, profile: PartProfile, held: Held, first: int, last: int
) -> list[str]:
    """What goes beyond the grade of music that the ensemble plays."""
    grade = setting.tables.grades[setting.grade or 0]
    said = []
    if profile.has_range and grade.range_name != "school":
        limits = setting.tables.ranges[profile.instrument].named(grade.range_name)
        for sounding, side, beyond, limit in (
            (held.highest[0], "above", held.highest[0] > limits.high_midi, limits.high_midi),
            (held.lowest[0], "below", held.lowest[0] < limits.low_midi, limits.low_midi),
        ):
            if beyond:
                names = [pitch_name(int(one) - profile.written_shift) for one in (sounding, limit)]
                said.append(f"written {names[0]}, {side} {names[1]}")
    if not profile.unpitched and held.fifths[0] > grade.most_fifths:
        said.append(f"{counted(int(np.ceil(held.fifths[0])), 'sharp or flat', 'sharps or flats')}")
    shortest = profile.shortest_quarters[first : last + 1].min()
    if shortest < float(grade.shortest_value_quarters) - 1e-9:
        said.append(f"values shorter than {SHORTEST_VALUES[grade.shortest_value_quarters]}")
    if held.tuplets[0] and not grade.tuplets:
        said.append("triplets or other tuplets")
    return [f"Beyond grade {grade.number}: {', '.join(said)}."] if said else []


_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def counted(number: int, one: str, many: str | None = None) -> str:
    """A number, in words when it is small, and its noun.

    >>> counted(1, "slur"), counted(40, "accent"), counted(2, "entry", "entries")
    ('one slur', '40 accents', 'two entries')
    """
    said = _NUMBERS[number] if 0 <= number < len(_NUMBERS) else str(number)
    return f"{said} {one if number == 1 else many or one + 's'}"


def times(number: int) -> str:
    """How often, in words.

    >>> times(1), times(2), times(5)
    ('once', 'twice', '5 times')
    """
    return {1: "once", 2: "twice"}.get(number, f"{number} times")
