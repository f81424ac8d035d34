"""music21 as an independent reader of scores: which notes sound when, by its own parsing.

music21 (BSD-3) is a test dependency only. Its view is brought to ours so that the same thing
is compared: staves of one part are one part again, grace and cue notes and chord symbols are
left out, pitches sound (``toSoundingPitch``), repeats are not unfolded, strokes have no pitch.
"""

from __future__ import annotations

import tempfile
import warnings
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from xml.etree.ElementTree import ParseError

from lxml import etree

FINEST = 10_080
"""Onsets are fractions of a quarter with at most this denominator (music21 uses 65,535)."""

Sounding = tuple[int, Fraction, int | None]
"""Part (from 0), onset in quarters from the start, sounding MIDI pitch (None for a stroke)."""


def reference_score(data: bytes, suffix: str):
    """music21's own Score of a file's bytes, at sounding pitch; raises what music21 raises."""
    from music21 import converter

    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        file = Path(folder) / f"score{suffix}"
        file.write_bytes(data)
        return converter.parse(file, format="musicxml", forceSource=True).toSoundingPitch()


def reference_score_or_mended(data: bytes, suffix: str):
    """`reference_score`, after libxml2's recovery when the XML is malformed; and whether it was."""
    try:
        return reference_score(data, suffix), False
    except ParseError:
        parser = etree.XMLParser(recover=True, resolve_entities=False, no_network=True)
        return reference_score(etree.tostring(etree.fromstring(data, parser)), suffix), True


def parts_of(score) -> list[list]:
    """The streams of each written part: one, or one a staff."""
    from music21 import stream

    parts: list[list] = []
    for part in score.parts:
        stem = str(part.id).rsplit("-Staff", 1)[0]
        same = isinstance(part, stream.PartStaff) and parts and parts[-1][0] == stem
        if same:
            parts[-1].append(part)
        else:
            parts.append([stem, part])
    return [streams[1:] for streams in parts]


def sounding_by_strip_ties(score) -> Counter[Sounding]:
    """The notes when music21 merges ties itself (``stripTies``)."""
    return Counter(
        (index, onset, midi)
        for index, streams in enumerate(parts_of(score))
        for part in streams
        for onset, _, midi, _ in notes_of(part.stripTies())
    )


def sounding_by_tie_marks(score) -> Counter[Sounding]:
    """The notes when each note that music21 marks as a tie's end is joined to its beginning.

    ``stripTies`` keeps the second note when only one note of a chord is tied, and when two
    voices tie the same pitch; this merges note by note: a tie's end is dropped when a note of
    the same pitch in the same part begins a tie and ends at that very moment.
    """
    sounding: Counter[Sounding] = Counter()
    for index, streams in enumerate(parts_of(score)):
        waiting: Counter[tuple[Fraction, int | None]] = Counter()
        notes = sorted(
            (note for part in streams for note in notes_of(part)),
            key=lambda note: (note[0], note[2] or 0),
        )
        for onset, quarters, midi, tie in notes:
            ends = tie in ("stop", "continue") and waiting[onset, midi] > 0
            if ends:
                waiting[onset, midi] -= 1
            else:
                sounding[index, onset, midi] += 1
            if tie in ("start", "continue"):
                waiting[onset + quarters, midi] += 1
    return sounding


def notes_of(part) -> Iterator[tuple[Fraction, Fraction, int | None, str | None]]:
    """Onset, length, sounding pitch and tie of every note head of a stream with a length."""
    from music21 import harmony

    for element in part.recurse().notes:
        if isinstance(element, harmony.Harmony) or element.duration.isGrace:
            continue
        if element.style.noteSize == "cue":
            continue
        onset = exact(element.getOffsetInHierarchy(part))
        quarters = exact(element.quarterLength)
        for head in element.notes if hasattr(element, "notes") else (element,):
            pitch = getattr(head, "pitch", None)
            midi = None if pitch is None else pitch.midi
            yield onset, quarters, midi, head.tie and head.tie.type


def exact(quarters) -> Fraction:
    """A number of quarters as an exact fraction of a musical size."""
    return Fraction(quarters).limit_denominator(FINEST)
