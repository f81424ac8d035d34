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
from standlight.programme.models import Piece, PlayingCheck
from standlight.programme.tables import ProgrammeTables, tables_in_force
from standlight.score import in_octave

PASSAGE_MEASURES = 8
"""The first length tried: about twenty seconds at a moderate march."""

LONGER, SHORTER = (12, 16), (6, 4)
"""Lengths tried where eight measures go by too fast or last too long."""

SHORTEST_S, LONGEST_S = 15.0, 60.0
"""How long a check's passage usually lasts (common practice: 20 to 30 s, 15 to 60 s)."""

KEPT_SURVEYS = 6
"""A few megabytes each for an orchestral movement of 20 parts."""


def usual_measures(piece: Piece, tempo_qpm: float) -> int:
    """Measures of a usual passage: eight, more in fast music, fewer in slow.

    Judged by the middle measure by length; ``tempo_qpm`` are quarters a minute.
    """
    lengths = sorted(4.0 * one["beats"] / one["beat_unit"] for one in piece.measures)
    if not lengths:
        return PASSAGE_MEASURES
    measure_s = lengths[len(lengths) // 2] * 60.0 / tempo_qpm
    if PASSAGE_MEASURES * measure_s < SHORTEST_S:
        long_enough = (one for one in LONGER if one * measure_s >= SHORTEST_S)
        return next(long_enough, LONGER[-1])
    if PASSAGE_MEASURES * measure_s > LONGEST_S:
        return next((one for one in SHORTER if one * measure_s <= LONGEST_S), SHORTER[-1])
    return PASSAGE_MEASURES


def survey_of(check: PlayingCheck) -> Survey:
    """The survey of a check's piece at the check's tempo, for passages of a usual length."""
    moved = check.piece.parts.exclude(octaves_moved=0).order_by("index")
    return _survey(
        check.piece.score_digest,
        tuple(moved.values_list("index", "octaves_moved")),
        check.tempo_qpm,
        usual_measures(check.piece, check.tempo_qpm),
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
