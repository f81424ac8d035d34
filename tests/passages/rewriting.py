"""The same music written otherwise: in values twice as long, or in another key."""

import re
from dataclasses import replace
from io import BytesIO
from zipfile import ZipFile

from lxml import etree

TWICE_AS_LONG = {
    "64th": "32nd", "32nd": "16th", "16th": "eighth", "eighth": "quarter", "quarter": "half",
    "half": "whole", "whole": "breve", "breve": "long",
}  # fmt: skip


def plain(data: bytes) -> bytes:
    """The XML inside a packed score."""
    with ZipFile(BytesIO(data)) as archive:
        (name,) = [n for n in archive.namelist() if n.endswith("xml") and "META-INF" not in n]
        return archive.read(name)


def in_longer_values(data: bytes) -> bytes:
    """Every value written twice as long, every tempo twice as fast: the same in seconds."""
    root = etree.fromstring(plain(data))
    for tag in ("duration", "offset"):
        for element in root.iter(tag):
            if re.fullmatch(r"-?\d+", (element.text or "").strip()):
                element.text = str(2 * int(element.text))
    for element in root.iter("type", "beat-unit"):
        element.text = TWICE_AS_LONG[element.text.strip()]
    for element in root.iter("beat-type"):
        element.text = str(int(element.text) // 2)
    for sound in root.iter("sound"):
        if sound.get("tempo"):
            sound.set("tempo", str(2 * float(sound.get("tempo"))))
    return etree.tostring(root)


def in_another_key(score, part_index: int, semitones: int, fifths: int):
    """The score with one part moved by an interval, key signature and all."""
    parts = list(score.parts)
    part = parts[part_index]
    parts[part_index] = replace(
        part,
        notes=tuple(
            replace(note, midi=note.midi + semitones, written_midi=note.written_midi + semitones)
            for note in part.notes
        ),
        key_fifths=tuple(key + fifths for key in part.key_fifths),
    )
    return replace(score, parts=tuple(parts))


def with_part_twice(score, part_index: int):
    """The score with a copy of one part at its end."""
    part = score.parts[part_index]
    return replace(score, parts=(*score.parts, replace(part, index=len(score.parts))))
