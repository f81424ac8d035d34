"""What a director says of a rehearsal: taps at the podium, remarks on measures, what is mended.

A tablet without network sends later and may send twice: every tap and remark carries a key and a
time of its own, so that a repeat is harmless and the latest tap stands.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, field
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.errors import NotAllowed, StandlightError
from standlight.planning import STRATEGIES
from standlight.programme.actions.checks import may_direct
from standlight.programme.clean_text import one_line_of
from standlight.programme.models import (
    Account,
    PaperLength,
    Piece,
    PlannedBlock,
    PlannedRehearsal,
    PodiumRemark,
    Remark,
    Section,
)
from standlight.programme.queries.rehearse_words import AIM_TAGS, STRATEGY_TAGS
from standlight.programme.queries.trouble import MOST_MEASURES
from standlight.programme.sheet_remarks import index_of

WORDS_LENGTH = 400

EARLIEST_TAP = datetime.timedelta(days=14)
"""A tablet whose clock is further behind has a wrong clock: the tap counts as of now."""


@dataclass(frozen=True, slots=True)
class Said:
    """A director's remark: printed measures, and words, a tag of trouble or of a strategy.

    ``section`` None is everybody.
    """

    piece: Piece
    first: int
    last: int
    words: str = ""
    section: Section | None = None
    aim: str = ""
    strategy: str = ""


@dataclass(frozen=True, slots=True)
class Tapped:
    """One tap: the tablet's own ``key`` of it, the key of the block, its state, and when."""

    key: str
    block: str
    state: str
    at: datetime.datetime


@dataclass(frozen=True, slots=True)
class SaidThere:
    """One remark from the podium with the tablet's own key, and when it was made."""

    key: UUID
    said: Said
    at: datetime.datetime


@dataclass(frozen=True, slots=True)
class Kept:
    """What became of what a tablet sent: keys that are kept, and those refused with the reason."""

    kept: list[str] = field(default_factory=list)
    refused: dict[str, str] = field(default_factory=dict)


def keep_podium(
    account: Account,
    plan: PlannedRehearsal,
    taps: Sequence[Tapped],
    remarks: Sequence[SaidThere],
) -> Kept:
    """Keep everything that a tablet sent, each by itself: one that cannot be kept stops no other.

    Raises `NotAllowed` for another's plan.
    """
    may_direct(account, plan.ensemble_id)
    found = Kept()
    for one in taps:
        if tap(account, plan, one.block, one.state, one.at):
            found.kept.append(one.key)
        else:
            found.refused[one.key] = "This block is not in the plan any more."
    for one in remarks:
        try:
            remark(account, one.said, key=one.key, plan=plan, at=one.at)
        except StandlightError as slip:
            found.refused[str(one.key)] = f"{slip}."
        else:
            found.kept.append(str(one.key))
    return found


@transaction.atomic
def tap(
    account: Account, plan: PlannedRehearsal, key: str, state: str, at: datetime.datetime
) -> bool:
    """Set a block done, not done or open as of ``at``; the latest tap stands, a repeat is harmless.

    False where the plan has no such block any more.
    """
    may_direct(account, plan.ensemble_id)
    if state not in PlannedBlock.STATES:
        raise StandlightError(f"a block is done, not done or open, not {state!r}")
    block = plan.blocks.select_for_update().filter(key=key).first()
    if block is None:
        return False
    at = _plausible(at)
    if block.tapped_at is None or at >= block.tapped_at:
        block.state, block.tapped_at = state, at
        block.save(update_fields=["state", "tapped_at"])
    return True


@transaction.atomic
def remark(
    account: Account,
    said: Said,
    *,
    key: UUID | None = None,
    plan: PlannedRehearsal | None = None,
    at: datetime.datetime | None = None,
) -> Remark:
    """Keep a director's remark on printed measures of a piece; the same ``key`` is kept once.

    Raises `StandlightError` without words, and for measures that the piece does not have, with the
    nearest that it has.
    """
    may_direct(account, said.piece.ensemble_id)
    known = PodiumRemark.objects.filter(key=key).select_related("remark").first() if key else None
    if known is not None:
        may_direct(account, known.remark.piece.ensemble_id)
        return known.remark
    if said.section is not None and said.section.ensemble_id != said.piece.ensemble_id:
        raise NotAllowed("this section is another ensemble's")
    aim = said.aim if said.aim in CRITERIA or said.aim in AIM_TAGS else ""
    strategy = said.strategy if said.strategy in STRATEGIES else ""
    tags = [AIM_TAGS.get(aim, ""), STRATEGY_TAGS.get(strategy, "")]
    words = ". ".join(one for one in (*tags, one_line_of(said.words, WORDS_LENGTH)) if one)
    if not words:
        raise StandlightError("Tap a word, or write one")
    first, last = sorted(measure_index(said.piece, number) for number in (said.first, said.last))
    row = Remark.objects.create(
        piece=said.piece, author=account, first_measure=first, last_measure=last,
        words=words[:WORDS_LENGTH],
    )  # fmt: skip
    if at is not None:
        Remark.objects.filter(pk=row.pk).update(made_at=_plausible(at))
    made = {"key": key} if key else {}
    PodiumRemark.objects.create(
        remark=row, plan=plan, section=said.section, aim=aim, strategy=strategy, **made
    )
    return row


def measure_index(piece: Piece, printed: int) -> int:
    """0-based measure of a printed number; raises `StandlightError` with the nearest there is."""
    last = _length_of(piece)
    found = index_of(piece, printed)
    if found is not None and (piece.measures or found < last):
        return found
    numbers = [int(one["printed"]) for one in piece.measures if str(one["printed"]).isdigit()]
    nearest = (
        min(numbers, key=lambda one: abs(one - printed)) if numbers
        else min(max(printed, 1), last)
    )  # fmt: skip
    raise StandlightError(
        f"measure {printed} is not in {piece.title}", slip=f"measure {nearest} is the nearest"
    )


def refuse_beyond(piece: Piece, measures: tuple[int, int]) -> None:
    """Refuse measures (0-based) that the piece does not have, by `StandlightError`."""
    length = _length_of(piece)
    if not all(0 <= measure < length for measure in measures):
        ends = piece.measures[-1]["printed"] if piece.measures else length
        raise StandlightError(f"{piece.title} ends with measure {ends}", slip="a typing slip?")


def _length_of(piece: Piece) -> int:
    """Measures of a piece: of its score, as somebody said, or as many as any piece may have."""
    if piece.measures:
        return len(piece.measures)
    length = PaperLength.objects.filter(piece=piece).first()
    return length.measures if length else MOST_MEASURES


@transaction.atomic
def mend_remark(account: Account, row: Remark, measures: tuple[int, int]) -> None:
    """Move a remark that lies on no measure to measures (0-based) that the piece has."""
    may_direct(account, row.piece.ensemble_id)
    refuse_beyond(row.piece, measures)
    row.first_measure, row.last_measure = sorted(measures)
    row.save(update_fields=["first_measure", "last_measure"])


@transaction.atomic
def set_length(account: Account, piece: Piece, measures: int) -> None:
    """Say how many measures a piece on paper has."""
    may_direct(account, piece.ensemble_id)
    if piece.measures:
        raise StandlightError("the score of this piece says how many measures it has")
    if not 1 <= measures <= MOST_MEASURES:
        raise StandlightError(f"{measures} measures", slip="look at the last page of a part")
    PaperLength.objects.update_or_create(piece=piece, defaults={"measures": measures})


def _plausible(at: datetime.datetime) -> datetime.datetime:
    """When a tablet says that it was tapped, unless its clock cannot be right."""
    now = timezone.now()
    return at if now - EARLIEST_TAP <= at <= now else now


