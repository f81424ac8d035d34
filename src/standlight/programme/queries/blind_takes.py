"""A take as one hears it blind: no name, no level of anybody else, no reading."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from standlight.programme.models import Turn
from standlight.programme.queries.desk import criterion_rows, music_with_readings
from standlight.programme.queries.desk_queue import desk_take
from standlight.programme.queries.desk_values import CriterionRow, DeskTake
from standlight.programme.queries.hearing import (
    notation_digest_of,
    own_version_of,
    passage_of,
    seat_in,
)
from standlight.programme.queries.passages import where_printed


@dataclass(frozen=True, slots=True)
class BlindTake:
    """What a blind page shows of a turn; ``instrument`` is what one must know to rate it."""

    piece: str
    passage: str
    instrument: str
    music: str
    music_narrow: str
    no_music: str
    take: DeskTake | None
    rows: tuple[CriterionRow, ...]


def blind_take(turn: Turn, criteria: Iterable[str], given: Mapping[str, str]) -> BlindTake:
    """The turn, asked about ``criteria``; ``given`` are the levels that are chosen already."""
    seat = seat_in(turn)
    passage = passage_of(turn)
    notation = notation_digest_of(passage, own_version_of(passage, turn.musician_id))
    music, narrow, no_music = music_with_readings(passage, notation, None)
    take = turn.takes.filter(chosen=True).select_related("start_by_hand").first()
    return BlindTake(
        piece=turn.check_row.piece.title,
        passage=where_printed(passage) if passage is not None else "",
        instrument=seat.section.instrument if seat is not None else "",
        music=music,
        music_narrow=narrow,
        no_music=no_music,
        take=desk_take(take, "The take") if take is not None else None,
        rows=criterion_rows(tuple(criteria), seat, given, {}),
    )
