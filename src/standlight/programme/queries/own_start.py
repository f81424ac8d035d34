"""Where a musician starts who has a start of their own: the printed measure, for every page."""

from __future__ import annotations

from collections.abc import Mapping

from standlight.programme import store
from standlight.programme.models import CheckPassage, OwnVersion
from standlight.score import Passage, read_passage


def printed_start(own: OwnVersion | None, music: Passage | None) -> str:
    """The printed number of the measure that was drawn for the musician, empty without one."""
    if own is None or music is None or not own.skipped:
        return ""
    return music.measures[0].printed


def printed_starts(passages: Mapping[int, CheckPassage]) -> dict[int, str]:
    """Musician to the printed measure of their own start, where they have one. One query.

    ``passages`` are musician to passage; the music of each start is read, so ask for those at the
    stand, not for everybody.
    """
    rows = OwnVersion.objects.filter(
        passage__in=[row.pk for row in passages.values()],
        musician__in=list(passages),
        skipped__gt=0,
    )
    return {
        row.musician_id: printed_start(row, read_passage(store.fetch(row.notation_digest)))
        for row in rows
        if passages[row.musician_id].pk == row.passage_id
    }
