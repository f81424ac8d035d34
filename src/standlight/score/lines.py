"""The line of a divided passage that is one player's: chosen in a cut, asked of a cut.

A cut prints every note of its part, as the paper part does; the choice says which of
them the player plays, which notes have ids, and what a take is read against.
"""

from __future__ import annotations

from lxml import etree

from standlight.score.container import open_score
from standlight.score.numbering import line_in, number_notes, remember_line, rests_of
from standlight.score.player_line import divides
from standlight.score.reading import columns_of, identities_of, length_of, notes_of
from standlight.score.walked import number_in
from standlight.score.walking import resolution_of, walk_part

_SIGNS_OF_SEVERAL = (b"<chord", b"<backup")
"""Without one of these no note can stand beside another (MusicXML 4.0)."""


def on_line(notation: bytes, *, line: str) -> bytes:
    """The cut ``notation`` (MusicXML) with the ids n0, n1, ... on the notes of ``line``.

    Nothing that is printed changes. The upper line takes the choice back. Raises
    `StandlightError` when there is no such line.

    >>> from standlight.score import line_to_musicxml, read_passage
    >>> plain = line_to_musicxml("F4 q G4 A4 h", instrument="Flute")
    >>> line_of(on_line(plain, line="lower")), line_of(plain)
    ('lower', 'upper')
    >>> read_passage(on_line(plain, line="lower")).notes == read_passage(plain).notes
    True
    """
    root, _ = open_score(notation, name="the passage")
    if line == line_in(root):
        return notation
    remember_line(root, line)
    number_notes(root)
    etree.indent(root)
    return etree.tostring(root, encoding="UTF-8", xml_declaration=True)


def line_of(notation: bytes) -> str:
    """The line that was chosen in a cut: "upper" where none was."""
    root, _ = open_score(notation, name="the passage")
    return line_in(root)


def is_divided(notation: bytes) -> bool:
    """True when it matters in the cut ``notation`` which line a player has.

    >>> from standlight.score import line_to_musicxml
    >>> is_divided(line_to_musicxml("F4 q G4 A4 h", instrument="Flute"))
    False
    """
    if not any(sign in notation for sign in _SIGNS_OF_SEVERAL):
        return False
    root, _ = open_score(notation, name="the passage")
    part = root.find("part")
    resolution = resolution_of(root)
    walk = walk_part(part, identities_of(root, [part], [])[0], index=0, resolution=resolution)
    lengths = [length_of(column, resolution) for column in columns_of([walk])]
    notes = [note for _, note in notes_of(walk, lengths, resolution)]
    return divides(notes, rests=rests_of(walk, lengths, resolution))


def has_two_staves(notation: bytes) -> bool:
    """True when the cut is written on more than one staff, as for a piano or a harp.

    >>> from standlight.score import line_to_musicxml
    >>> has_two_staves(line_to_musicxml("F4 q G4 A4 h", instrument="Flute"))
    False
    """
    root, _ = open_score(notation, name="the passage")
    staves = number_in(root.findtext("part/measure/attributes/staves"))
    return staves is not None and staves > 1
