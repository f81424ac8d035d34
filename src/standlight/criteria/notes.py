"""Notes: which written notes were heard, which were other pitches, which were missing."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from standlight.criteria.limits import SURE_PROBABILITY
from standlight.criteria.longer import find_longer, read_longer
from standlight.criteria.places import where, where_if_few
from standlight.criteria.two_ways import two_way_places
from standlight.criteria.values import EVERYONE, Criterion, Reading, Trouble
from standlight.passages import Asks, Held, counted
from standlight.sound.values import Performance

KEY = "notes"

UNSURE = 0.5
"""A note heard with less probability than this may be a finding: the upper end (our choice)."""

_NONE = {
    "other_pitch": "No note is another than written.",
    "missing": "Every written note was heard.",
}
_WORDS = {
    "other_pitch": ("note other than written", "notes other than written"),
    "missing": ("written note not heard", "written notes not heard"),
}


def read(performance: Performance) -> tuple[Reading, ...]:
    """Counts: notes at another pitch, notes not heard, sounds not written, starts after a stop.

    The notes of a repeat that was left out are not among them.
    """
    notes = [note for note in performance.notes if note.index not in performance.left_out]
    readings = []
    for outcome, name in (("other_pitch", "other notes"), ("missing", "notes not heard")):
        if outcome == "other_pitch" and performance.unpitched:
            continue
        found = [note for note in notes if note.outcome == outcome]
        sure = sum(note.probability >= SURE_PROBABILITY for note in found)
        unsure = sum(note.outcome == "played" and note.probability < UNSURE for note in notes)
        readings.append(
            Reading(
                KEY, name, float(len(found)), float(sure), float(len(found) + unsure), "notes",
                len(notes), sentence=_sentence(len(found), len(found) - sure, len(notes), outcome),
            )  # fmt: skip
        )
    added = len(performance.added)
    readings.append(
        Reading(
            KEY, "added sounds", float(added), None, None, "sounds", len(notes),
            because="a count of sounds between the notes; no interval is known",
            sentence=f"{counted(added, 'sound', 'sounds').capitalize()} added between the notes"
            f"{where_if_few(performance.passage, _before_added(performance))}.",
        )  # fmt: skip
    )
    restarts = len(performance.restarts)
    again = sum(note.outcome != "missing" for note in performance.attempts)
    words = "It went through without starting again."
    if restarts:
        times = counted(restarts, "time", "times")
        words = f"It started again {times}; {counted(again, 'note')} had been tried before."
    readings.append(
        Reading(
            KEY, "started again", float(restarts), None, None, "times", len(notes),
            because="a count has no interval", sentence=words,
        )  # fmt: skip
    )
    longer = read_longer(performance, KEY)
    unread = (*_unclear(performance), *_untuned(performance))
    return (*readings, *longer, *unread, *_two_ways(performance))


def _before_added(performance: Performance) -> Iterator[int]:
    """Of each added sound the note that began last before it; the first note of earlier ones."""
    begun = [(note.onset_s, note.index) for note in performance.notes if note.onset_s is not None]
    for sound in performance.added:
        before = [index for onset_s, index in begun if onset_s <= sound.onset_s]
        yield max(before, default=0)


def _unclear(performance: Performance) -> tuple[Reading, ...]:
    """How many notes sounded without a pitch that can be read exactly; nothing where none did.

    It is the reason why such a played note has no deviation. Struck notes never have one.
    """
    played = [note for note in performance.notes if note.outcome == "played"]
    unclear = [note for note in played if note.deviation_cents is None]
    if performance.struck or not unclear:
        return ()
    words = counted(len(unclear), "quick note was", "quick notes were")
    return (
        Reading(
            KEY, "notes of unclear pitch", float(len(unclear)), None, None, "notes",
            len(performance.notes),
            because="too quick or too faint for a pitch to be read to 25 cents",
            sentence=f"{words[0].upper()}{words[1:]} heard with no pitch that can be read exactly.",
        ),
    )  # fmt: skip


def _untuned(performance: Performance) -> tuple[Reading, ...]:
    """Why a struck take has no tuning and its notes no cents; nothing for all others."""
    if not performance.struck:
        return ()
    because = "the take is followed by its strokes, which ring too shortly to be read in cents"
    if performance.unpitched:
        because = "the part has no pitches"
    return (
        Reading(
            KEY, "tuning of the take", None, None, None, "cents", len(performance.notes),
            because=because,
        ),
    )  # fmt: skip


def _two_ways(performance: Performance) -> tuple[Reading, ...]:
    """How many places have a second explanation with as few faults; nothing where none has."""
    places = two_way_places(performance)
    notes = performance.passage.notes
    if not performance.struck and len({note.midi for note in notes}) == 1 < len(notes):
        return (
            Reading(
                KEY, "places with two explanations", None, None, None, "places", len(notes),
                because="all notes have one pitch, so time alone tells which was which",
                sentence="All notes have one pitch: which of them was played when is told by "
                "time alone. Listen before you believe it.",
            ),
        )  # fmt: skip
    if not places:
        return ()
    measures = sorted({notes[(first + last) // 2].measure for first, last in places})
    said = where(performance.passage, measures)
    return (
        Reading(
            KEY, "places with two explanations", float(len(places)), None, None, "places",
            len(performance.notes), because="as few faults of other notes explain the same sounds",
            sentence=f"{said[0].upper()}{said[1:]} another note could be the wrong one as well: "
            "listen there before you believe which.",
        ),
    )  # fmt: skip


def find(performance: Performance) -> tuple[Trouble, ...]:
    """Notes that were other pitches, were not heard, or went on beyond their time."""
    faults = tuple(
        Trouble(note.index, *_WORDS[note.outcome], 2.0 * note.probability)
        for note in performance.notes
        if note.outcome in _WORDS and note.index not in performance.left_out
    )
    return faults + find_longer(performance)


def _sentence(count: int, unsure: int, of: int, outcome: str) -> str:
    """The count in words, with the number of written notes, and how many of it are not sure."""
    if not count:
        return _NONE[outcome]
    words = counted(count, *_WORDS[outcome])
    doubt = ""
    if unsure:
        doubt = f", {counted(unsure, 'of them', 'of them')} not sure" if count > 1 else ", not sure"
    return f"{words[0].upper()}{words[1:]} (of {of}){doubt}."


ENOUGH_PITCHES, ENOUGH_ONSETS = 6.0, 16.0
"""Different pitches and notes that show whether a player knows the part (our choice)."""


def _shows(held: Held) -> np.ndarray:
    """The fewer of pitches and notes, each against enough of them."""
    return np.minimum(held.distinct_pitches / ENOUGH_PITCHES, held.onsets / ENOUGH_ONSETS)


def _words(held: Held) -> str:
    """How many notes and pitches, and the accidentals among them."""
    pitches = counted(int(held.distinct_pitches[0]), "pitch", "pitches")
    said = f"{counted(int(held.onsets[0]), 'note')} of {pitches}"
    outside = int(held.accidentals[0])
    return f"{said}, {outside} outside the key" if outside else said


ASKS = Asks(_shows, _words, needs="several different pitches")
"""Knowing the notes is heard where they differ."""


CRITERION = Criterion(
    key="notes",
    name="Notes",
    question="Are the written notes the ones that sound?",
    descriptors={
        1: "Many notes are missing or are other notes than written.",
        2: "More than half are right. Key signature, hard fingerings or leaps go wrong.",
        3: "Nearly all notes are right. A slip is fixed without stopping.",
        4: "Every note is right, with the key signature and all accidentals.",
    },
    families=EVERYONE,
    read=read,
    find=find,
    asks=ASKS,
)
"""Notes, read by the tool beside the director's ear."""
