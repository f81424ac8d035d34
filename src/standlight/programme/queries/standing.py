"""Where each musician of an ensemble stands with each check: asked, sent, rated, missing.

Today, the Desk, the live form and Marks all ask here, so that "missing" means one thing.
"""

from __future__ import annotations

import datetime
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.db.models import Case, Exists, F, OuterRef, Q, QuerySet, When

from standlight.programme.models import (
    Account,
    Ensemble,
    GivenLevel,
    Musician,
    PlayingCheck,
    Seat,
    Turn,
)
from standlight.programme.queries.which_try import rule_of

NOT_ASKED, EXCUSED, DUE, TO_HEAR, MISSING, WAITING, RATED, ANSWERED = (
    "not_asked",
    "excused",
    "due",
    "to_hear",
    "missing",
    "waiting",
    "rated",
    "answered",
)
WORDS = {
    NOT_ASKED: "not asked",
    EXCUSED: "excused",
    DUE: "not sent yet",
    TO_HEAR: "to be heard live",
    MISSING: "missing",
    WAITING: "waiting for you",
    RATED: "rated, no answer yet",
    ANSWERED: "answered",
}
"""What the pages say of a musician and a check; missing and excused are different words."""

SENT = frozenset({WAITING, RATED, ANSWERED})
"""States in which there is something to hear, or it was heard live."""

OPEN = frozenset({DUE, TO_HEAR, MISSING})
"""States in which something is still to come."""


@dataclass(frozen=True, slots=True)
class SeatRow:
    """A musician's seat as every list shows it, in section order.

    ``instrument`` is the section's.
    """

    seat_pk: int
    musician_pk: int
    roster_id: str
    given_name: str
    family_name: str
    section_pk: int
    section: str
    section_order: int
    way: str
    joined_on: datetime.date | None
    left_on: datetime.date | None
    extra_days: int = 0
    instrument: str = ""

    @property
    def name(self) -> str:
        """Given name, then family name."""
        return f"{self.given_name} {self.family_name}"

    def here_on(self, day: datetime.date) -> bool:
        """True when the musician had joined and not left on ``day``."""
        return (self.joined_on is None or self.joined_on <= day) and (
            self.left_on is None or self.left_on > day
        )


@dataclass(frozen=True, slots=True)
class TurnRow:
    """One turn with the levels standing on it (criterion to value; the latest given wins)."""

    pk: int
    check_pk: int
    musician_pk: int
    attempt: int
    way: str
    excused: bool
    sent_at: datetime.datetime | None
    answered_at: datetime.datetime | None
    levels: dict[str, str]


@dataclass(frozen=True, slots=True)
class Standing:
    """A musician and a check: the ``state``, and the turns in order of attempt.

    ``extra_days`` are the musician's own, for everything that is due.
    """

    state: str
    turns: tuple[TurnRow, ...] = ()
    extra_days: int = 0

    def counting(self, check: PlayingCheck) -> TurnRow | None:
        """The rated try that counts by the check's own rule, ``None`` when no try is rated."""
        return rule_of(check, self.extra_days).counting(self.turns)

    @property
    def heard_live(self) -> bool:
        """True when the newest sent turn was heard at the stand."""
        sent = [turn for turn in self.turns if turn.sent_at]
        return bool(sent) and sent[-1].way == Turn.LIVE


def standing(
    seat: SeatRow, due_on: datetime.date, today: datetime.date, turns: Iterable[TurnRow]
) -> Standing:
    """Where one musician stands with one check that was due on ``due_on``.

    Somebody who neither records nor plays live, or who was not here on the due day, was not
    asked; an excused musician who sends all the same has sent.
    """
    rows = tuple(sorted(turns, key=lambda turn: turn.attempt))
    sent = [turn for turn in rows if turn.sent_at]
    if sent:
        newest = sent[-1]
        if newest.answered_at:
            return Standing(ANSWERED, rows, seat.extra_days)
        return Standing(RATED if newest.levels else WAITING, rows, seat.extra_days)
    if any(turn.excused for turn in rows):
        return Standing(EXCUSED, rows)
    if seat.way == Musician.NEITHER or not seat.here_on(due_on):
        return Standing(NOT_ASKED, rows)
    if seat.way == Musician.LIVE_ONLY:
        return Standing(TO_HEAR, rows)
    own_day = due_on + datetime.timedelta(days=seat.extra_days)
    return Standing(MISSING if own_day < today else DUE, rows)


def seats_of(ensemble: Ensemble) -> list[SeatRow]:
    """Every seat of the ensemble in concert order, those who left included. One query."""
    rows = (
        Seat.objects.filter(section__ensemble=ensemble)
        .order_by(
            "section__order",
            "section_id",
            "musician__family_name",
            "musician__given_name",
            "musician__roster_id",
        )
        .values_list(
            "pk",
            "musician_id",
            "musician__roster_id",
            "musician__given_name",
            "musician__family_name",
            "section_id",
            "section__name",
            "section__order",
            "musician__way",
            "joined_on",
            "left_on",
            "musician__extra_days",
            "section__instrument",
        )
    )
    return [SeatRow(*row) for row in rows]


def one_seat_each(seats: Iterable[SeatRow], today: datetime.date) -> list[SeatRow]:
    """One seat a musician: the one they sit in today, else the last they had; order is kept."""
    chosen: dict[int, SeatRow] = {}
    for seat in seats:
        held = chosen.get(seat.musician_pk)
        if held is None or (seat.here_on(today) and not held.here_on(today)):
            chosen[seat.musician_pk] = seat
    return [seat for seat in seats if chosen[seat.musician_pk] is seat]


def turns_of(checks: Collection[PlayingCheck]) -> dict[tuple[int, int], list[TurnRow]]:
    """Turns by (check, musician) with the levels standing on them. Two queries.

    Where several directors rated a turn, the levels of the one who answered stand, else the latest.
    """
    keys = [check.pk for check in checks]
    levels: dict[int, dict[str, str]] = {}
    given = (
        GivenLevel.objects.filter(turn__check_row__in=keys, retired_at__isnull=True)
        .annotate(
            by_answerer=Case(When(rater=F("turn__answer__written_by"), then=1), default=0)
        )
        .order_by("by_answerer", "given_at", "pk")
        .values_list("turn_id", "criterion", "value")
    )
    for turn_pk, criterion, value in given:
        levels.setdefault(turn_pk, {})[criterion] = value
    found: dict[tuple[int, int], list[TurnRow]] = {}
    rows = (
        Turn.objects.filter(check_row__in=keys)
        .filter(Q(sent_at__isnull=False) | Q(excused=True))
        .values_list(
            "pk",
            "check_row_id",
            "musician_id",
            "attempt",
            "way",
            "excused",
            "sent_at",
            "answered_at",
        )
    )
    for row in rows:
        turn = TurnRow(*row, levels.get(row[0], {}))
        found.setdefault((turn.check_pk, turn.musician_pk), []).append(turn)
    return found


def waiting_turns(account: Account) -> QuerySet[Turn]:
    """Turns ``account`` may see that wait for an answer: of each musician the newest attempt.

    One whose answer is written and kept to be sent with others waits no more.
    """
    newer = Turn.objects.filter(
        check_row=OuterRef("check_row"),
        musician=OuterRef("musician"),
        attempt__gt=OuterRef("attempt"),
        sent_at__isnull=False,
    )
    return Turn.objects.visible_to(account).filter(
        ~Exists(newer),
        sent_at__isnull=False,
        answered_at__isnull=True,
        kept_answer__isnull=True,
    )
