"""Tuesday's rehearsal from Monday's evidence: blocks in minutes, each with its reasons. Pure.

The frame (warm-up, contrast, run, closing question) takes stated shares of the period; what is
left is shared among the spots by the rule of `minutes`. Director's wishes go first: pinned blocks
get their minutes, dropped ones are gone, stretched ones keep theirs, and the rest is made anew by
the same rule. Everything can be told: a block carries the reasons that put it there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from standlight.errors import StandlightError
from standlight.planning.candidates import Candidate, candidates_of
from standlight.planning.frame import (
    CONCERT_NEAR_DAYS,
    contrast_place,
    frame_minutes,
    idle_in,
    run_place,
)
from standlight.planning.minutes import gap_days, share_in_blocks
from standlight.planning.plan_values import (
    CONTRAST,
    QUESTION,
    RUN,
    WARM_UP,
    WORK,
    Block,
    PieceEvidence,
    PlanRemark,
    RehearsalPlan,
    Why,
    Wishes,
    Worked,
    work_key,
)
from standlight.planning.strategies import aim_of

USUAL_DAYS_TO_CONCERT = 28
"""Taken where no concert date is set: the middle of a concert cycle of about eight weeks."""

USUAL_MINUTES = 45
"""The period that is offered where none is given (common practice, no source)."""

MOST_WORK_BLOCKS = 5
"""More changes of place than this are lost time (our choice)."""

NO_WISHES = Wishes()
LEFTOVER_GOES_TO = (RUN, CONTRAST, WARM_UP)


@dataclass(frozen=True, slots=True)
class _Minutes:
    """Minutes of each part of the frame, and of each candidate that became work."""

    frame: dict[str, int]
    work: list[tuple[Candidate, int]]


def plan_rehearsal(
    pieces: Sequence[PieceEvidence],
    minutes: int,
    days_to_concert: int | None,
    worked: Sequence[Worked] = (),
    wishes: Wishes = NO_WISHES,
) -> RehearsalPlan:
    """A plan for ``minutes`` on ``pieces``, ``days_to_concert`` ahead of the concert.

    ``worked`` are blocks of earlier rehearsals. Raises `StandlightError` where there is no piece,
    no minute, or more stretched minutes than the period has; all else is told in ``remarks``.

    >>> from standlight.planning import HeardTake, Outline, OutlinePart, draw_strip
    >>> whole = frozenset(range(24))
    >>> tune = Outline(tuple(str(m + 1) for m in range(24)), (OutlinePart("fl", "Flute", whole),))
    >>> heard = [HeardTake(str(n), "fl", whole, (("rhythm", 9),)) for n in range(5)]
    >>> plan = plan_rehearsal([PieceEvidence("march", draw_strip(tune, heard))], 45, 21)
    >>> [(block.kind, block.strategy, block.minutes) for block in plan.blocks]
    [('warm_up', 'rhythm_echo', 5), ('work', 'count', 12), ('contrast', '', 4), ('run', '', 22),
     ('question', 'what_next', 2)]
    """
    _refuse(pieces, minutes, wishes)
    days, remarks = _days(days_to_concert)
    candidates, moved = candidates_of(pieces, worked, wishes, days)
    shared = _share(minutes, days, candidates, wishes)
    blocks = tuple(_blocks(pieces, shared, days, wishes))
    known = {block.key for block in blocks} | {one.key for one in candidates} | set(_FRAME_KEYS)
    every, _ = candidates_of(pieces, worked, Wishes(wishes.pins), days)
    known |= {one.key for one in every}
    asked = {*wishes.dropped, *(key for key, _ in wishes.stretched)}
    return RehearsalPlan(
        minutes,
        blocks,
        (*remarks, *moved, *_told(pieces, candidates, len(asked - known),
                                  minutes - sum(block.minutes for block in blocks))),
    )  # fmt: skip


_FRAME_KEYS = (WARM_UP, CONTRAST, RUN, QUESTION)


def _refuse(pieces: Sequence[PieceEvidence], minutes: int, wishes: Wishes) -> None:
    """Raise for what no plan can be made of, with the nearest fix."""
    if not pieces:
        raise StandlightError("a rehearsal without a piece cannot be planned", slip="choose one")
    if minutes < 1:
        raise StandlightError(
            f"a rehearsal of {minutes} minutes holds no block",
            slip=f"set the minutes of the period, {USUAL_MINUTES} for example",
        )
    wrong = [key for key, given in wishes.stretched if given < 1]
    wrong += [pin.piece for pin in wishes.pins if pin.minutes is not None and pin.minutes < 1]
    if wrong:
        raise StandlightError("a block of less than one minute", slip="drop it instead")
    keys = dict(wishes.stretched)
    asked = sum(keys.values()) + sum(
        pin.minutes or 0 for pin in wishes.pins
        if work_key(pin.piece, pin.first, pin.last) not in keys
    )
    if asked > minutes:
        raise StandlightError(
            f"the blocks with set minutes take {asked} of {minutes} minutes",
            slip=f"shorten them by {asked - minutes}",
        )


def _days(days_to_concert: int | None) -> tuple[int, tuple[PlanRemark, ...]]:
    """Days to plan with, and what is to be told about them."""
    if days_to_concert is None:
        return USUAL_DAYS_TO_CONCERT, (PlanRemark("no_concert_date", USUAL_DAYS_TO_CONCERT),)
    if days_to_concert < 0:
        return 0, (PlanRemark("concert_past", -days_to_concert),)
    return days_to_concert, ()


def _share(
    minutes: int, days: int, candidates: Sequence[Candidate], wishes: Wishes
) -> _Minutes:
    """All minutes: first what the director set, then the frame, then the work; then the rest."""
    fixed = dict(wishes.stretched)
    frame = {kind: k for kind, k in frame_minutes(minutes, days).items()
             if kind not in wishes.dropped}  # fmt: skip
    frame.update({kind: fixed[kind] for kind in _FRAME_KEYS if kind in fixed})
    claims = [one.claim for one in candidates]
    asked = sum(claim.least for claim in claims)
    _make_room(frame, fixed, minutes - asked)
    room = minutes - sum(frame.values())
    if asked > room:
        raise StandlightError(
            f"pinned blocks take {asked} of the {room} minutes that are free",
            slip=f"unpin one or shorten by {asked - room}",
        )
    given = share_in_blocks(claims, room, MOST_WORK_BLOCKS)
    work = [(one, k) for one, k in zip(candidates, given, strict=True) if k]
    left = room - sum(given)
    takers = [kind for kind in LEFTOVER_GOES_TO
              if kind not in wishes.dropped and kind not in fixed]  # fmt: skip
    if left and takers:
        frame[takers[0]] = frame.get(takers[0], 0) + left
    return _Minutes(frame, work)


def _make_room(frame: dict[str, int], fixed: dict[str, int], room: int) -> None:
    """Take parts of the frame away, the last of ``LEFTOVER_GOES_TO`` first, until it fits."""
    for kind in (CONTRAST, WARM_UP, RUN, QUESTION):
        if sum(frame.values()) <= room:
            return
        if kind in frame and kind not in fixed:
            over = sum(frame.values()) - room
            frame[kind] = max(0, frame[kind] - over)
            if not frame[kind]:
                del frame[kind]


def _blocks(
    pieces: Sequence[PieceEvidence], shared: _Minutes, days: int, wishes: Wishes
) -> Iterator[Block]:
    """The blocks in the order of the rehearsal."""
    by_key = {piece.key: piece for piece in pieces}
    set_by_hand = {key for key, _ in wishes.stretched}
    work = [one for one, _ in shared.work]
    hardest = work[0] if work else None
    frame = shared.frame

    def stretched(kind: str) -> tuple[Why, ...]:
        return (Why("stretched"),) if kind in set_by_hand else ()

    if WARM_UP in frame:
        aim = hardest.aim if hardest else ""
        why = (Why("for_the_hardest"),) if hardest else (Why("whole"),)
        yield Block(WARM_UP, WARM_UP, frame[WARM_UP], aim, aim_of(aim).warm_up,
                    (*why, *stretched(WARM_UP)))  # fmt: skip
    for one, given in shared.work:
        piece = by_key[one.piece]
        yield Block(
            one.key, WORK, given, one.aim, one.strategy, one.why, one.piece, one.first, one.last,
            idle_in(piece, one.first, one.last, work), aim_of(one.aim).done_when,
            min(gap_days(days), days) or None,
        )  # fmt: skip
    place = contrast_place(pieces, work) if CONTRAST in frame else None
    if place is not None:
        piece, first, last, why = place
        yield Block(CONTRAST, CONTRAST, frame[CONTRAST], "", "", (why, *stretched(CONTRAST)),
                    piece.key, first, last, idle_in(piece, first, last, work))  # fmt: skip
    run = frame.get(RUN, 0)
    if place is None and RUN not in wishes.dropped:
        run += frame.get(CONTRAST, 0)
    if run:
        yield _run(pieces, shared.work, run, days, stretched(RUN), work)
    if QUESTION in frame:
        yield Block(QUESTION, QUESTION, frame[QUESTION], "", _question(work, place),
                    (Why("closing"), *stretched(QUESTION)))  # fmt: skip


def _run(
    pieces: Sequence[PieceEvidence],
    shared: Sequence[tuple[Candidate, int]],
    minutes: int,
    days: int,
    stretched: tuple[Why, ...],
    work: Sequence[Candidate],
) -> Block:
    """The run: what was worked goes back into the music."""
    piece, first, last, held = run_place(pieces, shared, minutes)
    why = (Why("joins_work", held),) if held else (Why("whole"),)
    if days <= CONCERT_NEAR_DAYS:
        why += (Why("concert_near", days),)
    return Block(RUN, RUN, minutes, "", "", (*why, *stretched), piece.key, first, last,
                 idle_in(piece, first, last, work))  # fmt: skip


def _question(
    work: Iterable[Candidate], place: tuple[PieceEvidence, int, int, Why] | None
) -> str:
    """The closing question that fits what was worked on."""
    codes = {why.code for one in work for why in one.why}
    if "blind_spot" in codes:
        return "what_was_missed"
    if place is not None and place[3].code == "false_worry":
        return "how_sure"
    return "which_measure" if "said" in codes else "what_next"


def _told(
    pieces: Sequence[PieceEvidence],
    candidates: Sequence[Candidate],
    unknown: int,
    unplanned: int,
) -> Iterator[PlanRemark]:
    """What is to be told beside the blocks."""
    if not candidates and not any(piece.strip.spots for piece in pieces):
        yield PlanRemark("no_evidence")
    left_out = sum(len(piece.strip.left_out) for piece in pieces)
    if left_out:
        yield PlanRemark("left_out", left_out)
    if unknown:
        yield PlanRemark("unknown_block", unknown)
    if unplanned:
        yield PlanRemark("unplanned", unplanned)
