"""Surveys of pieces, kept in memory for a while: dragging a passage's bounds asks often.

A survey is a pure function of the score, the director's corrections and tables, the tempo,
the length and the grade of music, so it may be kept for as long as there is room.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from standlight import score
from standlight.passages import Survey, survey_piece
from standlight.programme import store
from standlight.programme.models import PlayingCheck
from standlight.programme.tables import ProgrammeTables, tables_in_force
from standlight.score.singing_range import in_octave

PASSAGE_MEASURES = 8
"""A first length: about twenty seconds at a moderate march, one answer of the Desk's clock."""

KEPT_SURVEYS = 6
"""A few megabytes each for an orchestral movement of 20 parts."""


def survey_of(check: PlayingCheck, *, length_measures: int = PASSAGE_MEASURES) -> Survey:
    """The survey of a check's piece at the check's tempo, for passages of that length."""
    moved = check.piece.parts.exclude(octaves_moved=0).order_by("index")
    return _survey(
        check.piece.score_digest,
        tuple(moved.values_list("index", "octaves_moved")),
        check.tempo_qpm,
        length_measures,
        tables_in_force(check.ensemble.programme),
        check.ensemble.music_grade,
    )


@lru_cache(maxsize=KEPT_SURVEYS)
def _survey(
    digest: str,
    moved: tuple[tuple[int, int], ...],
    tempo_qpm: float,
    length_measures: int,
    used: ProgrammeTables,
    grade: int | None,
) -> Survey:
    """The survey itself; the arguments are all that it depends on, tables by their edition."""
    read = score.read_score(store.fetch(digest))
    octaves = dict(moved)
    parts = tuple(in_octave(part, octaves.get(part.index, 0)) for part in read.parts)
    return survey_piece(
        replace(read, parts=parts),
        length_measures=length_measures,
        tempo_qpm=tempo_qpm,
        tables=used.tables,
        grade=grade,
    )
