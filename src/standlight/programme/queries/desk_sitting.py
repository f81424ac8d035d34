"""A director's sitting at the Desk: which take is next, under which name, and whether to rest."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace

from django.db.models import Exists, OuterRef
from django.utils import timezone

from standlight.programme.models import (
    Account,
    DeskSitting,
    GivenLevel,
    PlayingCheck,
    SecondHearing,
    Take,
    Turn,
)
from standlight.programme.queries.desk_orders import Queue, Waiting, arranged, code_of, is_common
from standlight.programme.queries.standing import one_seat_each, seats_of, waiting_turns

BREAK_AFTER = datetime.timedelta(minutes=25)
"""After so long at it without a pause a break is proposed: common practice, no source."""

A_PAUSE = datetime.timedelta(minutes=5)
"""A longer gap between two takes is a pause, and the clock starts anew; our choice."""

AGAIN, COMMON = "again", "common"
"""How a take was slipped in: heard a second time, or heard by another director too."""


@dataclass(frozen=True, slots=True)
class AtDesk:
    """On what terms a turn is heard now: the sitting, the criteria asked, how it was slipped in.

    ``moves_on`` is true where saved levels lead straight to the next take; ``queue`` is there
    where it had to be known already.
    """

    sitting: DeskSitting | None
    criteria: tuple[str, ...]
    slipped: str = ""
    moves_on: bool = False
    queue: Queue | None = None

    @property
    def query(self) -> str:
        """What every address of the sitting carries, so that none of them tells anything."""
        return f"?s={self.sitting.pk}" if self.sitting else ""

    def name(self, turn: Turn) -> str:
        """The musician's name, or the code that stands for it."""
        if self.sitting is not None and self.sitting.blind:
            return code_of(self.sitting.seed, turn.musician_id)
        return turn.musician.name


@dataclass(frozen=True, slots=True)
class Following:
    """The next take: its check and turn."""

    check_pk: int
    turn_pk: int


def sitting_of(account: Account, check: PlayingCheck | int) -> DeskSitting | None:
    """The director's sitting with a check, ``None`` before the first. One query."""
    rows = DeskSitting.objects.select_related("check_row__ensemble")
    return rows.filter(account=account, check_row=check).first()


def at_desk(account: Account, turn: Turn, sitting_pk: int | None = None) -> AtDesk:
    """How ``account`` hears ``turn``: in the sitting of that key, else in that of its check."""
    check = turn.check_row
    criteria = tuple(check.criteria)
    if sitting_pk is not None:
        rows = DeskSitting.objects.select_related("check_row__ensemble")
        named = rows.filter(account=account, pk=sitting_pk).first()
        if named is not None and turn.pk in _again_open(account, named):
            return AtDesk(named, criteria, AGAIN, True)
    sitting = sitting_of(account, check)
    if sitting is None:
        return AtDesk(None, criteria)
    held = _held(account, check).get(turn.pk, set())
    if set(criteria) <= held:
        return AtDesk(sitting, criteria)
    common = turn.answered_at is not None and is_common(check.pk, turn.pk)
    slipped = COMMON if common else ""
    if sitting.order == DeskSitting.CRITERION:
        queue = queue_in(account, sitting.check_row, sitting)
        # A take that does not wait is heard for its first open criterion.
        now = queue.criterion or next(key for key in criteria if key not in held)
        return AtDesk(sitting, (now,), slipped, True, queue)
    return AtDesk(sitting, criteria, slipped, common)


def queue_in(account: Account, check: PlayingCheck, sitting: DeskSitting | None) -> Queue:
    """The turns of the check to be heard, in the sitting's order; without one by section.

    A take whose answer is kept, to be sent with the others, is done with for now.
    """
    seats = one_seat_each(seats_of(check.ensemble), timezone.localdate())
    place = {seat.musician_pk: (seat.section_order, n) for n, seat in enumerate(seats)}
    last = (len(seats) + max((seat.section_order for seat in seats), default=0), len(seats))
    waits = waiting_turns(account).filter(check_row=check, kept_answer__isnull=True)
    rows = list(waits.values_list("pk", "musician_id"))
    held: dict[int, set[str]] = {}
    if sitting is not None:
        held = _held(account, check)
        rows += _commons(account, check, held)
    waiting = [Waiting(pk, person, *place.get(person, last)) for pk, person in rows]
    return _heard_first(arranged(waiting, sitting, check.criteria, held), check)


def _heard_first(queue: Queue, check: PlayingCheck) -> Queue:
    """The same order, but that turns whose sound is still on its way come last. One query."""
    states: dict[int, set[str]] = {}
    for turn, state in Take.objects.filter(turn__check_row=check).values_list("turn_id", "state"):
        states.setdefault(turn, set()).add(state)
    later = {turn for turn, found in states.items() if found == {Take.ARRIVING}}
    turns = sorted(queue.turns, key=lambda turn: turn in later)
    return replace(queue, turns=tuple(turns))


def _held(account: Account, check: PlayingCheck) -> dict[int, set[str]]:
    """The criteria that each turn of the check has this director's level for. One query."""
    held: dict[int, set[str]] = {}
    for turn, criterion in GivenLevel.objects.filter(
        turn__check_row=check, rater=account, retired_at__isnull=True
    ).values_list("turn_id", "criterion"):
        held.setdefault(turn, set()).add(criterion)
    return held


def rated_whole(account: Account, turn: Turn) -> bool:
    """True when this director has given every level that the turn's check asks for. One query."""
    held = GivenLevel.objects.filter(
        turn=turn, rater=account, retired_at__isnull=True
    ).values_list("criterion", flat=True)
    return set(turn.check_row.criteria) <= set(held)


def _commons(
    account: Account, check: PlayingCheck, held: dict[int, set[str]]
) -> list[tuple[int, int]]:
    """Takes with sound that another director has rated and answered, and every director rates."""
    others = GivenLevel.objects.filter(
        turn=OuterRef("pk"), retired_at__isnull=True
    ).exclude(rater=account)
    rows = (
        Turn.objects.visible_to(account)
        .filter(Exists(others), _with_sound(), check_row=check, answered_at__isnull=False)
        .values_list("pk", "musician_id")
    )
    asked = set(check.criteria)
    return [
        (pk, person)
        for pk, person in rows
        if is_common(check.pk, pk) and not asked <= held.get(pk, set())
    ]


def _with_sound() -> Exists:
    return Exists(
        Take.objects.filter(turn=OuterRef("pk"), chosen=True).exclude(
            state__in=(Take.ARRIVING, *Take.SOUNDLESS)
        )
    )


def _again_open(account: Account, sitting: DeskSitting) -> dict[int, int]:
    """The repeats of this sitting that are still to be heard: turn to after how many takes."""
    planned = {int(turn): int(after) for turn, after in sitting.again}
    if not planned:
        return {}
    heard = SecondHearing.objects.filter(
        rater=account, turn__in=planned, done_at__isnull=False
    ).values_list("turn_id", flat=True)
    return {turn: after for turn, after in planned.items() if turn not in set(heard)}


def following(
    account: Account,
    check: PlayingCheck,
    sitting: DeskSitting | None,
    queue: Queue,
    current: int | None,
    *,
    done_more: int = 0,
) -> Following | None:
    """The take after turn ``current``, going round; a repeat when one is due, ``None`` at the end.

    ``done_more`` takes will be done by then.
    """
    again = _again_due(account, sitting, queue, done_more)
    if again is not None and again.turn_pk != current:
        return again
    turn = next_in(queue.turns, current)
    return Following(check.pk, turn) if turn is not None else None


def next_in(queue: tuple[int, ...] | list[int], current: int | None) -> int | None:
    """The turn after ``current``, going round; the first when ``current`` does not wait.

    >>> next_in([4, 7, 9], 7), next_in([4, 7, 9], 9), next_in([4], 4), next_in([], 3)
    (9, 4, None, None)
    """
    if current in queue:
        place = queue.index(current)
        rest = [*queue[place + 1 :], *queue[:place]]
    else:
        rest = list(queue)
    return rest[0] if rest else None


def _again_due(
    account: Account, sitting: DeskSitting | None, queue: Queue, done_more: int
) -> Following | None:
    """The first repeat whose place has come and that can still be heard, among other takes."""
    if sitting is None or queue.criterion or not queue.turns:
        return None
    open_now = [
        turn
        for turn, after in _again_open(account, sitting).items()
        if after <= sitting.done + done_more
    ]
    if not open_now:
        return None
    seen = Turn.objects.visible_to(account).filter(_with_sound(), pk__in=open_now)
    found = dict(seen.values_list("pk", "check_row_id"))
    turn = next((pk for pk in open_now if pk in found), None)
    return Following(found[turn], turn) if turn is not None else None


def minutes_without_rest(
    sitting: DeskSitting | None, now: datetime.datetime | None = None
) -> int | None:
    """Minutes at it, once a break is due; ``None`` before that."""
    now = now or timezone.now()
    if sitting is None or now - sitting.last_at > A_PAUSE:
        return None
    spent = now - sitting.rested_at
    return int(spent.total_seconds() // 60) if spent >= BREAK_AFTER else None


@dataclass(frozen=True, slots=True)
class OrderChoice:
    """One order to choose: its key, words, what it is good for, and whether it is the present."""

    key: str
    word: str
    why: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class OrderPage:
    """The orders of a check's takes."""

    check_pk: int
    title: str
    ensemble: str
    choices: tuple[OrderChoice, ...]
    blind: bool


WHY = {
    DeskSitting.SECTION: "As the group sits. Quickest to compare within a section.",
    DeskSitting.SHUFFLED: "Nobody is always heard after the same neighbour.",
    DeskSitting.CRITERION: "Everyone for the first criterion, then everyone for the next, so that "
    "a fine tone does not lift the rhythm. You answer afterwards. It takes longer.",
}
"""What each order is good for, in a sentence."""


def order_page(account: Account, check: PlayingCheck) -> OrderPage:
    """The orders to choose from, the present one chosen."""
    sitting = sitting_of(account, check)
    now = sitting.order if sitting else DeskSitting.SECTION
    return OrderPage(
        check.pk,
        check.title,
        check.ensemble.name,
        tuple(
            OrderChoice(key, word, WHY[key], key == now)
            for key, word in DeskSitting.ORDERS.items()
        ),
        sitting is not None and sitting.blind,
    )
