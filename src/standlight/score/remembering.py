"""Facts that a cut carries about itself, as fields of its ``identification`` (MusicXML 4.0).

Which line of a divided part is the player's, and that notes came from a MIDI file and
have no engraving: whoever reads the cut later needs no second argument.
"""

from __future__ import annotations

from collections.abc import Sequence

from lxml import etree

LINE_FIELD = "player-line"
"""The line that is the player's."""

ORIGIN_FIELD = "notes-from"
"""Where the notes come from, when it is no engraved score."""

MIDI_ORIGIN = "midi"
"""The only other origin so far."""

_BEFORE_IDENTIFICATION = ("work", "movement-number", "movement-title")
_BEFORE_MISCELLANEOUS = ("creator", "rights", "encoding", "source", "relation")
"""What the MusicXML 4.0 schema has before each."""

_FIELDS = "identification/miscellaneous/miscellaneous-field"


def remembered(root: etree._Element, name: str) -> str:
    """What the field ``name`` of a score says, "" without one.

    >>> root = etree.Element("score-partwise")
    >>> remember(root, LINE_FIELD, "lower")
    >>> remembered(root, LINE_FIELD), remembered(root, ORIGIN_FIELD)
    ('lower', '')
    """
    fields = (field for field in root.iterfind(_FIELDS) if field.get("name") == name)
    field = next(fields, None)
    return "" if field is None else (field.text or "")


def remember(root: etree._Element, name: str, value: str) -> None:
    """Write the field ``name`` in place; an empty ``value`` takes it out."""
    _forget(root, name)
    if not value:
        return
    identification = _child(root, "identification", after=_BEFORE_IDENTIFICATION)
    holder = _child(identification, "miscellaneous", after=_BEFORE_MISCELLANEOUS)
    etree.SubElement(holder, "miscellaneous-field", name=name).text = value


def has_engraving(notation: bytes) -> bool:
    """False for notes that came from a MIDI file: there is nothing as printed to draw.

    >>> from standlight.score import line_to_musicxml
    >>> has_engraving(line_to_musicxml("F4 q G4 A4 h", instrument="Flute"))
    True
    """
    return f'name="{ORIGIN_FIELD}">{MIDI_ORIGIN}<'.encode() not in notation


def _forget(root: etree._Element, name: str) -> None:
    """Take a field out, and what held nothing else."""
    for field in root.findall(_FIELDS):
        holder = field.getparent()
        if field.get("name") != name:
            continue
        holder.remove(field)
        for empty in (holder, holder.getparent()):
            if len(empty) == 0:
                empty.getparent().remove(empty)


def _child(holder: etree._Element, tag: str, *, after: Sequence[str]) -> etree._Element:
    """The child ``tag`` of ``holder``; made, behind those named in ``after``, if there is none."""
    found = holder.find(tag)
    if found is None:
        found = etree.Element(tag)
        holder.insert(sum(child.tag in after for child in holder), found)
    return found
