"""Surveys of pieces, kept in memory for a while: dragging a passage's bounds asks often.

A survey is a pure function of the score, the director's corrections and tables, the tempo
and the length, so it may be kept for as long as there is room.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from standlight import score
from standlight.passages import Survey, survey_piece
from standlight.programme import store
from standlight.programme.models import PlayingCheck, Programme
from standlight.programme.tables import tables_of

PASSAGE_MEASURES = 8
"""A first length: about twenty seconds at a moderate march, one answer of the Desk's clock."""

KEPT_SURVEYS = 6
"""A few megabytes each for an orchestral movement of 20 parts."""

_OCTAVE_SEMITONES = 12


def survey_of(check: PlayingCheck, *, length_measures: int = PASSAGE_MEASURES) -> Survey:
    """The survey of a check's piece at the check's tempo, for passages of that length."""
    moved = check.piece.parts.exclude(octaves_moved=0).order_by("index")
    edition, _ = tables_of(check.ensemble.programme)
    return _survey(
        check.piece.score_digest,
        tuple(moved.values_list("index", "octaves_moved")),
        check.tempo_qpm,
        length_measures,
        edition,
        check.ensemble.programme_id,
    )


@lru_cache(maxsize=KEPT_SURVEYS)
def _survey(
    digest: str,
    moved: tuple[tuple[int, int], ...],
    tempo_qpm: float,
    length_measures: int,
    edition: str,
    programme_pk: int,
) -> Survey:
    """The survey itself; the arguments are all that it depends on."""
    read = score.read_score(store.fetch(digest))
    octaves = dict(moved)
    parts = tuple(
        _in_octave(part, octaves[part.index]) if part.index in octaves else part
        for part in read.parts
    )
    _, tables = tables_of(Programme.objects.get(pk=programme_pk))
    return survey_piece(
        replace(read, parts=parts),
        length_measures=length_measures,
        tempo_qpm=tempo_qpm,
        tables=tables,
    )


def _in_octave(part: score.Part, octaves: int) -> score.Part:
    """A part that sounds ``octaves`` from where its file says, as the director put right."""
    notes = tuple(
        note
        if note.midi is None
        else replace(note, midi=note.midi + octaves * _OCTAVE_SEMITONES)
        for note in part.notes
    )
    return replace(
        part,
        notes=notes,
        transposition_semitones=part.transposition_semitones + octaves * _OCTAVE_SEMITONES,
    )
