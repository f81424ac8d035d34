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
from standlight.criteria import CRITERIA, Criterion
from standlight.errors import StandlightError
from standlight.passages import Look, PartFinding, find_passages, look
from standlight.programme import store
from standlight.programme.models import Casting, CheckPassage, Part, Piece, PlayingCheck
from standlight.programme.notation import ask_to_draw
from standlight.programme.surveys import survey_of
from standlight.score import lowered

LONGEST_REASON = 400
"""Characters a passage's reason may have."""


def parts_in_use(piece: Piece) -> list[Part]:
    """The parts that somebody who sits in the ensemble today plays, in score order."""
    used = Casting.objects.filter(piece=piece, seat__left_on__isnull=True).values("part")
    return list(piece.parts.filter(pk__in=used))


def complete_passages(check: PlayingCheck) -> int:
    """Find and keep a passage for each part in use that has none; how many were added."""
    return keep_rows(check, found_rows(check))


def found_rows(check: PlayingCheck, *, anew: bool = False) -> list[CheckPassage]:
    """A row with its cut for each part in use that has none (``anew``: for every part); not saved.

    All parts in use bear on the common demand. A part without a fair passage gets a row
    that says why, without notation, with the nearest places beside it. The score is read
    here, so this belongs before a transaction, not into it; ``check`` need not be saved yet.
    """
    piece = check.piece
    if piece.on_paper_only:
        return []
    have = set() if anew or check.pk is None else _parts_with_row(check)
    used = parts_in_use(piece)
    missing = [part for part in used if part.pk not in have]
    if not missing:
        return []
    findings = find_passages(
        survey_of(check), criteria_of(check), parts={part.index for part in used}
    )
    by_index = {one.part: one for one in findings.parts}
    rows = [_found(check, part, by_index[part.index]) for part in missing]
    cut_rows(store.fetch(piece.score_digest), rows)
    return rows


@transaction.atomic
def keep_rows(check: PlayingCheck, rows: Sequence[CheckPassage]) -> int:
    """Save found rows and have them drawn; how many. A part that has a row by now keeps it."""
    have = _parts_with_row(check)
    new = [row for row in rows if row.part_id not in have]
    CheckPassage.objects.bulk_create(new)
    ask_to_draw([row.notation_digest for row in new])
    return len(new)


def _parts_with_row(check: PlayingCheck) -> set[int]:
    """The parts that have a row in the check."""
    return set(check.passages.filter(part__isnull=False).values_list("part_id", flat=True))


def complete_open_checks(piece: Piece) -> None:
    """Complete the passages of every check on ``piece`` that is not yet published or still due."""
    open_ones = Q(published_at__isnull=True) | Q(due_on__gte=timezone.localdate())
    for check in piece.checks.filter(open_ones).select_related("piece"):
        complete_passages(check)


def cut_rows(data: bytes, rows: Sequence[CheckPassage]) -> None:
    """Cut each row's measures out of the score ``data`` and keep them; rows are not saved.

    Each carries the check's own tempo. A part whose octave was put right sounds there.
    ``printed`` becomes what stands on paper. A row without measures is left without notation.
    """
    placed = [row for row in rows if row.first_measure is not None]
    cuts = score.cut_passages(
        data, [(row.part.index, row.first_measure, row.last_measure) for row in placed]
    )
    for row, cut in zip(placed, cuts, strict=True):
        cut = score.with_tempo(cut, row.check_row.tempo_qpm)
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


def criteria_of(check: PlayingCheck) -> tuple[Criterion, ...]:
    """The criteria of a check, in its order."""
    return tuple(CRITERIA[key] for key in check.criteria)


def look_at(check: PlayingCheck, part: Part, first: int, last: int) -> Look:
    """What measures ``first`` to ``last`` of a part ask and show, for the check's criteria."""
    check_range(check.piece, first, last)
    return look(survey_of(check), part.index, first, last, criteria_of(check))


def say_why(check: PlayingCheck, rows: Sequence[CheckPassage], lead: str) -> None:
    """Set each row's reason (``lead``, then what is offered), demand and shows; not saved."""
    survey, criteria = survey_of(check), criteria_of(check)
    for row in rows:
        seen = look(survey, row.part.index, row.first_measure, row.last_measure, criteria)
        _take_over(row, seen, f"{lead}. {seen.reason}")


def _found(check: PlayingCheck, part: Part, finding: PartFinding) -> CheckPassage:
    """The row of a finding, not saved yet; without a passage it says why there is none."""
    row = CheckPassage(
        check_row=check,
        part=part,
        reason=_fitted(finding.because),
        alternatives=[as_alternative(one) for one in finding.alternatives],
    )
    if finding.passage is not None:
        row.first_measure, row.last_measure = finding.passage.first, finding.passage.last
        _take_over(row, finding.passage, finding.because)
    return row


def _take_over(row: CheckPassage, seen: Look, reason: str) -> None:
    """Keep what was seen at a row's measures."""
    row.demand, row.shows = seen.demand, dict(seen.shows)
    row.reason = _fitted(_sentences(reason, seen))


def as_alternative(seen: Look) -> dict[str, object]:
    """Another place as it is kept beside a passage."""
    return {
        "first": seen.first,
        "last": seen.last,
        "printed": seen.printed,
        "demand": seen.demand,
        "shows": dict(seen.shows),
        "missing": list(seen.missing),
        "reason": _fitted(_sentences(seen.reason, seen)),
    }


def _sentences(reason: str, seen: Look) -> str:
    """A reason with the flags of what was seen after it."""
    return " ".join([reason, *(flag[:1].upper() + flag[1:] for flag in seen.flags)])


def _fitted(words: str) -> str:
    """``words``, cut at a sentence where they do not fit their column."""
    if len(words) <= LONGEST_REASON:
        return words
    return words[: words.rfind(". ", 0, LONGEST_REASON) + 1] or words[:LONGEST_REASON]
