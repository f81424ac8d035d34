"""Which take is next at the Desk, how much is left, and the list of a check."""

from __future__ import annotations

import datetime
import statistics
from collections.abc import Mapping, Sequence

from django.db.models import Count
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.programme.models import Account, Answer, PlayingCheck, Take, Turn
from standlight.programme.queries.answers import KEPT, answer_notes
from standlight.programme.queries.desk_orders import Queue
from standlight.programme.queries.desk_sitting import (
    AtDesk,
    following,
    minutes_without_rest,
    queue_in,
    sitting_of,
)
from standlight.programme.queries.desk_values import (
    CheckList,
    DeskTake,
    ListedSection,
    ListedTurn,
    OtherCheck,
    QueueFoot,
)
from standlight.programme.queries.standing import (
    ANSWERED,
    SENT,
    WORDS,
    Standing,
    one_seat_each,
    seats_of,
    standing,
    turns_of,
    waiting_turns,
)

LEAD_IN_S = 0.2
"""The sound starts this long before the first note, so that the attack is heard whole."""

UNTIMED_TAKE_S = 45.0
"""Seconds a take until a director's own pace is known: the Desk's budget in the product."""

RECENT_CHECKS = 12
"""Checks listed when nothing waits: a few months' worth."""

ONE_HEARING_S = 24.0
ONE_ANSWER_S = 15.0
"""Hearing one take for one criterion, and answering it afterwards: the product's budget of 30
seconds to the saved levels, less two rows of them (our guess), and of 15 more to the answer."""

PACE_ANSWERS = 40
"""How many of the latest answers set the pace."""

PACE_FEWEST = 5
"""Gaps needed before the own pace replaces the budget."""

PACE_BREAK_S = 300.0
"""A longer gap between two answers is a break, not a take."""


def checks_waiting(account: Account) -> tuple[OtherCheck, ...]:
    """Checks with takes waiting, the fullest first. One query."""
    rows = (
        waiting_turns(account)
        .order_by()
        .values("check_row_id", "check_row__title", "check_row__ensemble__name")
        .annotate(waiting=Count("pk"))
        .order_by("-waiting", "check_row__due_on", "check_row_id")
    )
    return tuple(
        OtherCheck(
            row["check_row_id"],
            row["check_row__title"],
            row["check_row__ensemble__name"],
            row["waiting"],
        )
        for row in rows
    )


def recent_checks(account: Account) -> tuple[OtherCheck, ...]:
    """The latest published checks, for a Desk where nothing waits."""
    rows = (
        PlayingCheck.objects.visible_to(account)
        .filter(published_at__isnull=False)
        .select_related("ensemble")[:RECENT_CHECKS]
    )
    return tuple(OtherCheck(row.pk, row.title, row.ensemble.name, 0) for row in rows)


def queue_of(account: Account, check: PlayingCheck) -> list[int]:
    """Turns of the check that wait, as keys in the order this director chose (by section)."""
    return list(queue_in(account, check, sitting_of(account, check)).turns)


def seconds_a_take(account: Account) -> float:
    """Median gap between this director's latest answers; the budget until it is known."""
    times = list(
        Answer.objects.filter(written_by=account)
        .order_by("-written_at")
        .values_list("written_at", flat=True)[:PACE_ANSWERS]
    )
    return pace(times)


def pace(times: Sequence[datetime.datetime]) -> float:
    """Seconds a take from the times of answers, newest first.

    >>> start = datetime.datetime(2026, 11, 2, 19, 0)
    >>> pace([start + datetime.timedelta(seconds=30 * n) for n in range(8, 0, -1)])
    30.0
    >>> pace([start])
    45.0
    """
    gaps = [
        (later - sooner).total_seconds() for later, sooner in zip(times, times[1:], strict=False)
    ]
    kept = [gap for gap in gaps if 0 < gap < PACE_BREAK_S]
    return statistics.median(kept) if len(kept) >= PACE_FEWEST else UNTIMED_TAKE_S


def foot(account: Account, turn: Turn, at: AtDesk, *, whole: bool) -> QueueFoot:
    """What is left, ``turn`` included while it waits; ``whole`` when its levels are saved."""
    sitting = at.sitting
    check = sitting.check_row if sitting is not None else turn.check_row
    queue = at.queue or queue_in(account, check, sitting)
    # Saved levels count one more take done, and the foot is drawn before they are saved.
    then = following(account, check, sitting, queue, turn.pk, done_more=0 if whole else 1)
    return QueueFoot(
        left=len(queue.turns),
        minutes=_minutes(account, check, queue),
        next_pk=then.turn_pk if then else None,
        next_check_pk=then.check_pk if then else check.pk,
        next_take=_take_ahead(then.turn_pk) if then else None,
        check_pk=check.pk,
        criterion=CRITERIA[queue.criterion].name if queue.criterion else "",
        order=sitting.get_order_display() if sitting else "",
        blind=sitting is not None and sitting.blind,
        minutes_without_rest=minutes_without_rest(sitting),
    )


def _take_ahead(turn_pk: int) -> DeskTake | None:
    """The take that will be heard next, to be fetched beforehand."""
    found = (
        Take.objects.filter(turn=turn_pk)
        .exclude(state__in=(Take.ARRIVING, *Take.SOUNDLESS))
        .select_related("start_by_hand")
        .order_by("-chosen", "-number")
        .first()
    )
    return desk_take(found, "Next") if found else None


def _minutes(account: Account, check: PlayingCheck, queue: Queue) -> int:
    """Minutes that what is left will take at this director's own pace."""
    if not queue.turns:
        return 0
    takes = len(queue.turns)
    if queue.criterion:
        after = len(check.criteria) - check.criteria.index(queue.criterion) - 1
        everyone = waiting_turns(account).filter(check_row=check).count()
        hearings = takes + after * everyone
        return max(1, round((hearings * ONE_HEARING_S + everyone * ONE_ANSWER_S) / 60))
    return max(1, round(takes * seconds_a_take(account) / 60))


def desk_take(take: Take, label: str) -> DeskTake:
    """A take as a page plays it; one that could not be decoded is not playable."""
    return DeskTake(
        key=str(take.key),
        label=label,
        start_s=_start_of(take),
        seconds=take.seconds,
        made_by_machine=take.made_by_machine,
        playable=take.has_sound,
        state_words=Take.STATES[take.state],
    )


def _start_of(take: Take) -> float:
    """Where the sound begins: where a director set it, else a little before the first note."""
    by_hand = getattr(take, "start_by_hand", None)
    if by_hand is not None:
        return by_hand.seconds
    return round(max(0.0, (take.first_note_s or 0.0) - LEAD_IN_S), 2)


def check_list(check: PlayingCheck) -> CheckList:
    """Everyone of the check's ensemble by section with their state. A handful of queries."""
    today = timezone.localdate()
    turns = turns_of([check])
    notes = answer_notes(check)
    sections: dict[str, list[ListedTurn]] = {}
    waiting = 0
    for seat in one_seat_each(seats_of(check.ensemble), today):
        found = standing(seat, check.due_on, today, turns.get((check.pk, seat.musician_pk), ()))
        if not found.turns and not seat.here_on(today):
            continue
        row = _listed(seat.name, found, notes)
        waiting += found.state in SENT and found.state != ANSWERED and row.note != KEPT
        sections.setdefault(seat.section, []).append(row)
    return CheckList(
        check.pk,
        check.title,
        check.ensemble.name,
        check.due_on,
        waiting,
        tuple(ListedSection(name, tuple(rows)) for name, rows in sections.items()),
    )


def _listed(name: str, found: Standing, notes: Mapping[int, str]) -> ListedTurn:
    """One line of the list; it links to the newest turn that was sent and tells of its answer."""
    sent = [turn for turn in found.turns if turn.sent_at]
    turn_pk = sent[-1].pk if sent else None
    note = notes.get(turn_pk, "") if turn_pk is not None else ""
    return ListedTurn(name, WORDS[found.state], turn_pk, found.heard_live, note)
