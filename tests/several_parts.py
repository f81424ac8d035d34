"""A score of several typed lines, with rehearsal letters: small, and known note by note."""

from lxml import etree

from standlight.score import line_to_musicxml

BUSY = "p ( C5 q D5 ) E5 q' F5 q | mf G5 q. F5 e E5 h | f E5 q> D5 e C5 D5 h | p C5 q E5 D5 h"
"""Four measures with several values, dynamics, slurs, dots and accents."""

PLAIN = "mp C5 h D5 | mf E5 q ( D5 C5 ) D5 | D5 h. E5 q' | C5 w"
REST = "r w"
STROKES = "x q x e e q q"

FLUTE = " | ".join([BUSY, PLAIN, BUSY, PLAIN])
CLARINET = " | ".join([PLAIN, BUSY, *[REST] * 4, PLAIN])
SNARE = " | ".join([*[REST] * 8, *[STROKES] * 8])
LATE_SNARE = " | ".join([*[REST] * 12, *[STROKES] * 4])
TACET = " | ".join([REST] * 15 + ["r h C5 q r q"])
"""Sixteen measures each: the clarinet rests in 9 to 12, where the flute is alone; the snare
drum begins in 9 and has no dynamics; the last plays one note."""

PARTS = (
    ("Flute", FLUTE), ("Clarinet in Bb", CLARINET), ("Snare drum", SNARE), ("Trumpet in Bb", TACET),
)  # fmt: skip


FLUTE_ALONE = tuple((name, LATE_SNARE if text == SNARE else text) for name, text in PARTS)
"""The same with a drum that begins in 13 only, so that the flute is quite alone."""


def several_parts(parts=PARTS, letters=((4, "A"), (8, "B"), (10, "C"))) -> bytes:
    """The typed lines (instrument, text) as one score; ``letters`` stand at 0-based measures."""
    whole = None
    for number, (instrument, text) in enumerate(parts, start=1):
        root = etree.fromstring(line_to_musicxml(text, instrument=instrument))
        row, part = root.find("part-list/score-part"), root.find("part")
        row.find("part-name").text = instrument
        for element in (row, part):
            element.set("id", f"P{number}")
        for note in part.iter("note"):
            note.attrib.pop("id", None)
        for drum in (*row.findall("score-instrument"), *part.iter("instrument")):
            drum.set("id", f"P{number}-{drum.get('id').partition('-')[2]}")
        if whole is None:
            whole = root
            for at, letter in letters:
                direction = etree.fromstring(
                    "<direction><direction-type><rehearsal>"
                    f"{letter}</rehearsal></direction-type></direction>"
                )
                part.findall("measure")[at].insert(0, direction)
        else:
            whole.find("part-list").append(row)
            whole.append(part)
    return etree.tostring(whole)
