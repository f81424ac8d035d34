"""Which passage each musician plays in many checks at once: ``hearing.passage_of`` in bulk."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from standlight.programme.models import Casting, CheckPassage, OwnVersion, PlayingCheck
from standlight.programme.queries.standing import SeatRow


def passages_by_musician(
    checks: Collection[PlayingCheck], seats: Sequence[SeatRow]
) -> dict[tuple[int, int], CheckPassage]:
    """(check, musician) to their passage: by part, else by section, else everyone's. Two queries.

    ``seats`` hold one seat a musician; a musician with no passage is left out.
    """
    parts = {
        (seat, piece): part
        for seat, piece, part in Casting.objects.filter(
            piece__in={check.piece_id for check in checks},
            seat__in=[seat.seat_pk for seat in seats],
        ).values_list("seat_id", "piece_id", "part_id")
    }
    rows: dict[int, list[CheckPassage]] = {}
    for row in CheckPassage.objects.filter(check_row__in=[check.pk for check in checks]):
        rows.setdefault(row.check_row_id, []).append(row)
    found = {}
    for check in checks:
        for seat in seats:
            passage = chosen(
                rows.get(check.pk, ()), parts.get((seat.seat_pk, check.piece_id)), seat.section_pk
            )
            if passage is not None:
                found[check.pk, seat.musician_pk] = passage
    return found


def skipped_by_musician(checks: Collection[PlayingCheck]) -> dict[tuple[int, int], int]:
    """(passage, musician) to the measures before their own start, where there are any. One query.

    A report counts measures from where the musician started.
    """
    rows = OwnVersion.objects.filter(passage__check_row__in=[c.pk for c in checks], skipped__gt=0)
    return {
        (passage, musician): skipped
        for passage, musician, skipped in rows.values_list("passage_id", "musician_id", "skipped")
    }


def chosen(
    passages: Collection[CheckPassage], part: int | None, section: int
) -> CheckPassage | None:
    """The passage for somebody with this part, in this section."""
    for fits in (
        lambda row: part is not None and row.part_id == part,
        lambda row: row.part_id is None and row.section_id == section,
        lambda row: row.part_id is None and row.section_id is None,
    ):
        for row in passages:
            if fits(row):
                return row
    return None


def where_printed(passage: CheckPassage | None) -> str:
    """Where the passage stands on paper, in words.

    >>> where_printed(CheckPassage(printed="33 to 40")), where_printed(CheckPassage(printed="B"))
    ('measures 33 to 40', 'B')
    """
    if passage is None:
        return ""
    printed = passage.printed
    return f"measures {printed}" if printed[:1].isdigit() else printed
