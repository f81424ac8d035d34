"""Hearing each other: where a round stands, which takes are in it, who is kept apart."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from standlight.programme.models import (
    GroupWish,
    Musician,
    PeerConsent,
    PeerHearing,
    PeerRound,
    PlayingCheck,
    Seat,
    Turn,
)
from standlight.programme.queries.guests import with_sound
from standlight.programme.queries.passages import passages_by_musician
from standlight.programme.queries.peers_spread import Offered, next_take
from standlight.programme.queries.standing import one_seat_each, seats_of
from standlight.programme.queries.terms import GRACE

ASKING, OPEN, CLOSED = "asking", "open", "closed"
"""Where a round stands: who says yes is asked; takes are heard; it is over."""

FEWEST_TAKES = 3
"""With two takes each listener would know whose the other is."""

ONE_DAY = datetime.timedelta(days=1)

LONGEST_AHEAD = datetime.timedelta(days=366)
"""How far ahead a last day may lie (our choice): what is later is a year typed wrong."""

ApartSource = Callable[[int], Iterable[frozenset[int]]]


def wished_apart(ensemble_pk: int) -> Iterable[frozenset[int]]:
    """The pairs that directors wish to keep apart whenever groups are made."""
    wishes = GroupWish.objects.filter(ensemble=ensemble_pk, apart=True)
    return map(frozenset, wishes.values_list("first_id", "second_id"))


APART_SOURCES: tuple[ApartSource, ...] = (wished_apart,)
"""Where wishes to keep two musicians apart come from; of an ensemble, by its number."""


@dataclass(frozen=True, slots=True)
class Said:
    """How many said yes, said no, and have a take but have not said anything."""

    yes: int
    no: int
    open: int


def apart_in(ensemble_pk: int) -> frozenset[frozenset[int]]:
    """Every pair of musicians of the ensemble who are to be kept apart."""
    return frozenset(pair for source in APART_SOURCES for pair in source(ensemble_pk))


def ended_at(row: PeerRound) -> datetime.datetime:
    """When a round ends, or ended: closed by hand, else with its last day in the school's time."""
    # The calendar's last day has none after it.
    after = min(row.until, datetime.date.max - ONE_DAY) + ONE_DAY
    midnight = datetime.datetime.combine(
        after, datetime.time(), timezone.get_current_timezone()
    )
    return midnight if row.closed_at is None else min(row.closed_at, midnight)


def state_of(row: PeerRound, now: datetime.datetime | None = None) -> str:
    """Asking until it is opened, then open, closed from its end on."""
    if row.opened_at is None:
        return ASKING
    return OPEN if (now or timezone.now()) < ended_at(row) else CLOSED


def may_still_send(hearing: PeerHearing, now: datetime.datetime | None = None) -> bool:
    """True while the round is open, and for a take handed out before, a little longer."""
    now = now or timezone.now()
    if state_of(hearing.round, now) == OPEN:
        return True
    end = ended_at(hearing.round)
    return hearing.handed_at < end and now <= end + GRACE


def is_seated(musician: Musician, ensemble_pk: int) -> bool:
    """True while the musician has a seat in the ensemble."""
    return _seats(ensemble_pk).filter(musician=musician).exists()


def _seats(ensemble_pk: int) -> QuerySet[Seat]:
    """The seats of the ensemble that nobody has left."""
    return Seat.objects.filter(section__ensemble=ensemble_pk, left_on__isnull=True)


def sendable(check: PlayingCheck) -> QuerySet[Turn]:
    """Turns that could be heard: sent, with sound, not excused, of who still sits in the group."""
    return Turn.objects.filter(
        with_sound(),
        Exists(_seats(check.ensemble_id).filter(musician=OuterRef("musician"))),
        check_row=check,
        sent_at__isnull=False,
        excused=False,
    )


def turn_to_offer(musician: Musician, check: PlayingCheck) -> Turn | None:
    """The musician's latest take that could be heard, ``None`` without one."""
    return sendable(check).filter(musician=musician).order_by("-attempt").first()


def takes_in(row: PeerRound) -> tuple[Offered, ...]:
    """The takes that may be handed out now, with the passage each plays. A handful of queries."""
    yes = PeerConsent.objects.filter(round=row, said_yes=True, turn=OuterRef("pk"))
    turns = sendable(row.check_row).filter(Exists(yes)).order_by("pk")
    rows = list(turns.values_list("pk", "musician_id"))
    if not rows:
        return ()
    seats = one_seat_each(seats_of(row.check_row.ensemble), timezone.localdate())
    passages = passages_by_musician([row.check_row], seats)
    played = {musician: passage.pk for (_, musician), passage in passages.items()}
    return tuple(Offered(turn, musician, played.get(musician, 0)) for turn, musician in rows)


def stands_by_yes(row: PeerRound, musician: Musician) -> bool:
    """True while the musician's yes stands."""
    return PeerConsent.objects.filter(round=row, musician=musician, said_yes=True).exists()


def turns_with_yes(row: PeerRound) -> frozenset[int]:
    """The turns whose owners let others hear them now. One query."""
    yes = PeerConsent.objects.filter(round=row, said_yes=True)
    return frozenset(yes.values_list("turn_id", flat=True))


def terms_stamp(row: PeerRound) -> str:
    """One text for what musicians are asked to say yes to; the last day may change without it.

    >>> terms_stamp(PeerRound(pk=7, criteria=["intonation", "rhythm"], takes_each=2))
    '7 intonation rhythm 2 hidden'
    """
    levels = "shown" if row.shows_levels else "hidden"
    return " ".join((str(row.pk), *row.criteria, str(row.takes_each), levels))


def said_in(row: PeerRound) -> Said:
    """How many answered, and how; never who. Two queries."""
    answers = PeerConsent.objects.filter(round=row)
    counts = Counter(answers.values_list("said_yes", flat=True))
    asked = set(sendable(row.check_row).values_list("musician_id", flat=True))
    answered = set(answers.values_list("musician_id", flat=True))
    return Said(counts[True], counts[False], len(asked - answered))


def most_each(row: PeerRound, n_takes: int) -> int:
    """How many takes one musician hears: as many as asked for, or all but their own."""
    return max(0, min(row.takes_each, n_takes - 1))


def next_for(row: PeerRound, musician: Musician) -> Offered | None:
    """The take that the musician hears next, ``None`` when there is none for them."""
    takes = takes_in(row)
    if len(takes) < FEWEST_TAKES:
        return None
    own = next((take for take in takes if take.musician == musician.pk), None)
    return next_take(
        own or Offered(0, musician.pk, 0),
        takes,
        tuple(row.hearings.values_list("turn_id", "listener_id")),
        apart_in(row.check_row.ensemble_id),
        row.pk,
    )


def n_done(row: PeerRound, musician: Musician) -> int:
    """How many hearings of the musician were sent; what was handed out and never sent is none."""
    return row.hearings.filter(Q(sent_at__isnull=False), listener=musician).count()
