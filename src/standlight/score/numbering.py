"""Give the notes a player plays, and the measures, the ids that the drawn music keeps.

Which line of a part that divides the player has is kept in the cut itself, as a
``miscellaneous-field`` of its ``identification`` (MusicXML 4.0), so that whoever reads the
cut reads that line. Without such a field it is the upper one.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate

from lxml import etree

from standlight.score.player_line import (
    ALL,
    LINES,
    UPPER,
    PrintedRest,
    checked_line,
    player_line_places,
)
from standlight.score.reading import columns_of, identities_of, length_of, notes_of
from standlight.score.remembering import LINE_FIELD, remember, remembered
from standlight.score.values import Remark
from standlight.score.walked import PartWalk
from standlight.score.walking import resolution_of, walk_part


def number_notes(root: etree._Element) -> None:
    """Set, in place, the ids n0, n1, ... on the player's notes and m0, m1, ... on the measures.

    The player's line is the one that `remember_line` has left in ``root``; of "all" the
    upper line is numbered, since ids count one note after another.
    """
    part = root.find("part")
    remarks: list[Remark] = []
    resolution = resolution_of(root)
    identity = identities_of(root, [part], remarks)[0]
    walk = walk_part(part, identity, index=0, resolution=resolution)
    lengths = [length_of(column, resolution) for column in columns_of([walk])]
    placed = notes_of(walk, lengths, resolution)
    for note in part.iterfind("measure/note[@id]"):
        del note.attrib["id"]
    places = player_line_places(
        [note for _, note in placed],
        line=numbered_line(line_in(root)),
        rests=rests_of(walk, lengths, resolution),
    )
    for number, place in enumerate(places):
        placed[place][0].element.set("id", f"n{number}")
    for number, measure in enumerate(part.iterchildren("measure")):
        measure.set("id", f"m{number}")


def numbered_line(line: str) -> str:
    """The line whose notes have ids and are followed: ``line``, of "all" the upper one.

    >>> numbered_line("lower"), numbered_line("all")
    ('lower', 'upper')
    """
    return UPPER if line == ALL else line


def line_in(root: etree._Element) -> str:
    """The line that is remembered in a cut, the upper one where none is."""
    line = remembered(root, LINE_FIELD)
    return line if line in LINES else UPPER


def remember_line(root: etree._Element, line: str) -> None:
    """Keep in a cut, in place, which line is the player's; raises for no such line."""
    checked_line(line)
    remember(root, LINE_FIELD, "" if line == UPPER else line)


def rests_of(
    walk: PartWalk, lengths: Sequence[int], resolution: int
) -> tuple[PrintedRest, ...]:
    """The printed rests of a walked part, with times as `reading.notes_of` has them."""
    starts = [0, *accumulate(lengths)]
    return tuple(
        PrintedRest(
            Fraction(starts[measure] + tick, resolution),
            Fraction(starts[measure] + tick + ticks, resolution),
            measure,
            staff,
            voice,
        )
        for measure, tick, ticks, staff, voice in walk.rests
    )
