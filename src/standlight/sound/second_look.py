"""A second look at what was told of every note, before it is believed.

The pitch track may have followed a mixture of two tones, the room or a knock while the written
note sounded, and the follower may have bought one fault with another. What the odds of `belief`
speak against is told as what is likelier; what was not measured is not told.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from standlight.sound.belief import Scene, probability, signs_of, told_as
from standlight.sound.loudness import loudness_lkfs
from standlight.sound.values import HeardNote

LEAST_PROBABILITY = 0.4
"""A fault that is less likely than this is not told: it is about as likely as not."""

LEAST_PLAYED, EVEN_ODDS = 0.3, 0.5
"""Nor is a note told as played that is less likely than this: of 12 such on three seeds (4501,
4801, 5201; 432 made takes) two were played, five left out and five another pitch. It was not
heard, by even odds."""

HIDDEN_PEAK_DB = 8.0
"""A note that is no octave off was played where its own harmonics stand out so far, else it is
missing."""

TELLING_CENTS, Z_95 = 25.0, 1.959964
"""A deviation that is not known to what is heard as out of tune in a melody (Larrouy-Maestri 2018,
abstract) tells nothing: it is left out (2 in 100 notes of made takes, half under 0.15 s)."""


def looked_again(heard: Sequence[HeardNote], scene: Scene) -> list[HeardNote]:
    """``heard`` with every other pitch and missing note that the odds speak against as played.

    ``heard`` has one note for each sounding of a written one in the ``scene``, in their order. A
    note that is given back has no deviation; that of another pitch has the written one for its
    octave to be told, a missing one has none, for where no pitch was seen an octave above is none
    (5 of 40 came out so, 4 of them left out): see `without_guesses`. What lies an octave off is
    left to those who tell octaves.
    """
    return [
        _given_back(note, place, scene) if _is_mistaken(note, place, beside, scene) else note
        for note, place, beside in _in_turn(heard, scene)
    ]


def with_probabilities(heard: Sequence[HeardNote], scene: Scene) -> list[HeardNote]:
    """``heard`` with the probability that each note was as it was told, by its signs.

    A fault that they speak against is none: an octave is told as played, or as missing; another
    pitch and a missing note, which those who tell octaves may have made of it since, as played.
    """
    return [
        _surely(note, place, signs_of(note, place, beside, scene), scene)
        for note, place, beside in _in_turn(heard, scene)
    ]


def without_guesses(heard: Sequence[HeardNote]) -> list[HeardNote]:
    """``heard`` without what was not measured, or too unsurely to mean anything.

    Without the pitch of played notes that was taken as written, and without deviations whose 95
    percent interval reaches farther than `TELLING_CENTS`.
    """
    return [_without_guess(note) for note in heard]


def _without_guess(note: HeardNote) -> HeardNote:
    """``note`` without its pitch or its deviation where that is a guess."""
    if note.outcome != "played" or note.midi_heard is None:
        return note
    if note.deviation_cents is None:
        return replace(note, midi_heard=None)
    if Z_95 * note.deviation_se_cents <= TELLING_CENTS:
        return note
    return replace(note, deviation_cents=None, deviation_se_cents=None)


def _in_turn(
    heard: Sequence[HeardNote], scene: Scene
) -> Iterator[tuple[HeardNote, int, tuple[HeardNote | None, HeardNote | None]]]:
    """Each note with where its sounding lies, and the notes before and after it."""
    beside = zip([None, *heard][:-1], [*heard, None][1:], strict=True)
    return zip(heard, scene.places(), beside, strict=True)


def _is_mistaken(
    note: HeardNote,
    place: int,
    beside: tuple[HeardNote | None, HeardNote | None],
    scene: Scene,
) -> bool:
    """True of another pitch, or a missing note, that the odds speak against."""
    told = told_as(note, scene)
    if told not in ("other", "missing"):
        return False
    return probability(told, signs_of(note, place, beside, scene)) < LEAST_PROBABILITY


def _surely(
    note: HeardNote, place: int, signs: Mapping[str, float], scene: Scene
) -> HeardNote:
    """``note`` with its probability, or as what is likelier."""
    told = told_as(note, scene)
    chance = probability(told, signs)
    if told == "played":
        return _if_played(note, chance)
    if chance >= LEAST_PROBABILITY:
        return replace(note, probability=chance)
    if told == "octave" and signs["own_db"] < HIDDEN_PEAK_DB:
        return HeardNote(note.index, "missing", probability=1.0 - chance)
    given = replace(note, outcome="played", midi_heard=None)
    if told != "octave":
        given = _given_back(note, place, scene)
    return _if_played(given, min(1.0 - chance, probability("played", signs)))


def _if_played(note: HeardNote, chance: float) -> HeardNote:
    """``note``, played by this ``chance``; missing where that is too small."""
    if chance < LEAST_PLAYED:
        return HeardNote(note.index, "missing", probability=EVEN_ODDS)
    return replace(note, probability=chance)


def _given_back(note: HeardNote, place: int, scene: Scene) -> HeardNote:
    """``note`` as played: one of another pitch at the written one, a missing one at its place."""
    if note.outcome == "other_pitch":
        own = scene.written(note.index) - scene.tuned.a4_offset
        return replace(
            note, outcome="played", midi_heard=own, deviation_cents=None, deviation_se_cents=None
        )
    sounding, frames = scene.settled[place], scene.frames
    end_s = frames.end_of(sounding.onset_s, sounding.until_s)
    loudness = loudness_lkfs(frames.k_power[frames.span(sounding.onset_s, end_s)])
    return HeardNote(
        note.index, "played", sounding.onset_s, end_s, probability=note.probability,
        loudness_lkfs=loudness,
    )  # fmt: skip
