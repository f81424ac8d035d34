"""Which take is next at the Desk, how much is left, and the list of a check."""

from __future__ import annotations

import datetime
import statistics
from collections.abc import Sequence

from django.db.models import Count
from django.utils import timezone

from standlight.programme.models import Account, Answer, PlayingCheck, Take, Turn
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
    """Turns of the check that wait, as keys in section order (those without a seat last)."""
    place = {
        seat.musician_pk: number
        for number, seat in enumerate(one_seat_each(seats_of(check.ensemble), timezone.localdate()))
    }
    waiting = waiting_turns(account).filter(check_row=check).values_list("pk", "musician_id")
    return [
        pk
        for pk, musician in sorted(waiting, key=lambda row: (place.get(row[1], len(place)), row[0]))
    ]


def next_in(queue: Sequence[int], current: int | None) -> int | None:
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


def foot(account: Account, turn: Turn) -> QueueFoot:
    """What is left of this check, this turn included while it waits."""
    queue = queue_of(account, turn.check_row)
    following = next_in(queue, turn.pk)
    take = None
    if following is not None:
        found = (
            Take.objects.filter(turn=following)
            .exclude(state__in=(Take.ARRIVING, *Take.SOUNDLESS))
            .order_by("-chosen", "-number")
            .first()
        )
        take = desk_take(found, "Next") if found else None
    minutes = max(1, round(len(queue) * seconds_a_take(account) / 60)) if queue else 0
    return QueueFoot(len(queue), minutes, following, take)


def desk_take(take: Take, label: str) -> DeskTake:
    """A take as a page plays it; one that could not be decoded is not playable."""
    return DeskTake(
        key=str(take.key),
        label=label,
        start_s=round(max(0.0, (take.first_note_s or 0.0) - LEAD_IN_S), 2),
        seconds=take.seconds,
        made_by_machine=take.made_by_machine,
        playable=take.has_sound,
        state_words=Take.STATES[take.state],
    )


def check_list(check: PlayingCheck) -> CheckList:
    """Everyone of the check's ensemble by section with their state. A handful of queries."""
    today = timezone.localdate()
    turns = turns_of([check])
    sections: dict[str, list[ListedTurn]] = {}
    waiting = 0
    for seat in one_seat_each(seats_of(check.ensemble), today):
        found = standing(seat, check.due_on, today, turns.get((check.pk, seat.musician_pk), ()))
        if not found.turns and not seat.here_on(today):
            continue
        waiting += found.state in SENT and found.state != ANSWERED
        sections.setdefault(seat.section, []).append(_listed(seat.name, found))
    return CheckList(
        check.pk,
        check.title,
        check.ensemble.name,
        check.due_on,
        waiting,
        tuple(ListedSection(name, tuple(rows)) for name, rows in sections.items()),
    )


def _listed(name: str, found: Standing) -> ListedTurn:
    """One line of the list; it links to the newest turn that was sent."""
    sent = [turn for turn in found.turns if turn.sent_at]
    return ListedTurn(name, WORDS[found.state], sent[-1].pk if sent else None, found.heard_live)
