"""A passage for every part in use: proposed, cut out of the score and kept.

Used wherever a part comes into use: when a check is made, and when somebody is given
another part or joins later.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from standlight import score
from standlight.errors import StandlightError
from standlight.programme import store
from standlight.programme.models import Casting, CheckPassage, Part, Piece, PlayingCheck
from standlight.programme.notation import ask_to_draw
from standlight.score.shifting import lowered

PASSAGE_MEASURES = 8
"""A first length: about twenty seconds at a moderate march, one answer of the Desk's clock."""

LONGEST_REASON = 400
"""Characters a passage's reason may have."""


def parts_in_use(piece: Piece) -> list[Part]:
    """The parts that somebody who sits in the ensemble today plays, in score order."""
    used = Casting.objects.filter(piece=piece, seat__left_on__isnull=True).values("part")
    return list(piece.parts.filter(pk__in=used))


@transaction.atomic
def complete_passages(check: PlayingCheck) -> int:
    """Propose and keep a passage for each part in use that has none; how many were added.

    A part that rests throughout gets a row that says so, without notation.
    """
    piece = check.piece
    if piece.on_paper_only:
        return 0
    have = set(check.passages.filter(part__isnull=False).values_list("part_id", flat=True))
    missing = [part for part in parts_in_use(piece) if part.pk not in have]
    if not missing:
        return 0
    data = store.fetch(piece.score_digest)
    read = score.read_score(data, name=piece.title)
    proposals = score.propose_passages(read, length_measures=PASSAGE_MEASURES)
    rows = [_proposed(check, part, read, proposals[part.index]) for part in missing]
    cut_rows(data, rows)
    CheckPassage.objects.bulk_create(rows)
    ask_to_draw([row.notation_digest for row in rows])
    return len(rows)


def complete_open_checks(piece: Piece) -> None:
    """Complete the passages of every check on ``piece`` that is not yet published or still due."""
    open_ones = Q(published_at__isnull=True) | Q(due_on__gte=timezone.localdate())
    for check in piece.checks.filter(open_ones).select_related("piece"):
        complete_passages(check)


def cut_rows(data: bytes, rows: Sequence[CheckPassage]) -> None:
    """Cut each row's measures out of the score ``data`` and keep them; rows are not saved.

    A part whose octave was put right sounds there. ``printed`` becomes what stands on paper.
    A row without measures is left without notation.
    """
    placed = [row for row in rows if row.first_measure is not None]
    cuts = score.cut_passages(
        data, [(row.part.index, row.first_measure, row.last_measure) for row in placed]
    )
    for row, cut in zip(placed, cuts, strict=True):
        row.notation_digest = store.keep(lowered(cut, row.part.octaves_moved))
        row.printed = printed_range(row.part.piece, row.first_measure, row.last_measure)


def printed_range(piece: Piece, first: int, last: int) -> str:
    """How the measures with indexes ``first`` to ``last`` are numbered on paper."""
    names = [piece.measures[index]["printed"] or "?" for index in (first, last)]
    return names[0] if first == last else f"{names[0]} to {names[1]}"


def check_range(piece: Piece, first: int, last: int) -> None:
    """Refuse a range that the piece does not have; raises `StandlightError`."""
    if not 0 <= first < len(piece.measures) or not 0 <= last < len(piece.measures):
        raise StandlightError(
            f"the piece has no such measures (it has {len(piece.measures)})",
            slip="an old page? Load it again",
        )
    if last < first:
        raise StandlightError(
            "the last measure comes before the first", slip="first and last swapped?"
        )


def say_why(data: bytes, rows: Sequence[CheckPassage], lead: str) -> None:
    """Set each row's reason: ``lead``, then what its measures offer; rows are not saved."""
    read = score.read_score(data)
    for row in rows:
        offers = score.passage_reason(read, row.part.index, row.first_measure, row.last_measure)
        row.reason = f"{lead}: {offers}."[:LONGEST_REASON]


def _proposed(
    check: PlayingCheck, part: Part, read: score.Score, proposal: score.Proposal | None
) -> CheckPassage:
    """The row of a proposal, not saved yet; for ``None`` a row that says why there is none."""
    if proposal is None:
        why = score.why_no_passage(read, part.index)
        return CheckPassage(check_row=check, part=part, reason=_sentence(f"this part {why}"))
    return CheckPassage(
        check_row=check,
        part=part,
        first_measure=proposal.first,
        last_measure=proposal.last,
        reason=_sentence(proposal.reason),
    )


def _sentence(words: str) -> str:
    """``words`` as a sentence that fits its column."""
    return f"{words[:1].upper()}{words[1:]}"[: LONGEST_REASON - 1].rstrip(".") + "."
