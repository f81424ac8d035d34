"""The levels of a programme as rows of keys: what every finding about ratings starts from.

Keys begin with a letter that says whose they are: a rater is ``a`` and an account's number, a
guest ``g`` and their link's, a musician ``m``, an ensemble ``e``, a section ``s``, a take (a
turn) ``t``, a task ``c`` and the number of the first check that asked it. A musician's own levels
have the musician as rater, and so have those they gave a take they heard.
"""

from __future__ import annotations

import datetime
import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Q
from django.utils import timezone

from standlight.programme.models import (
    GivenLevel,
    GuestLevel,
    PeerLevel,
    Seat,
    SecondHearing,
    Section,
    Turn,
)
from standlight.programme.queries.same_task import tasks_of
from standlight.ratings.given import DIRECTOR, PEER, SELF, GivenRating, HeardAgain

RATER, GUEST_RATER = "a", "g"
MUSICIAN, ENSEMBLE, SECTION, TAKE, TASK = "m", "e", "s", "t", "c"
"""The first letters of keys; what follows is a row's number."""

LEVELS = frozenset("1234")
"""The values that are levels; a criterion not shown or not heard is no rating."""

DAY_S = 86_400.0


@dataclass(frozen=True, slots=True)
class GivenLevels:
    """The rows and the day their days count from, ``None`` without rows.

    ``state`` is one text for one set of rows: while it is the same, nothing has changed.
    """

    given: tuple[GivenRating, ...]
    again: tuple[HeardAgain, ...]
    first_day: datetime.date | None
    state: str


@dataclass(frozen=True, slots=True)
class _Sent:
    """A turn that was sent: what its levels need to know of it."""

    pk: int
    musician_pk: int
    check_pk: int
    section_pk: int | None
    sent_at: datetime.datetime
    self_levels: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class _Level:
    """One standing level of one director, guest or listener; ``rater`` is a key."""

    turn_pk: int
    criterion: str
    level: int
    rater: str
    given_at: datetime.datetime
    rater_class: str = DIRECTOR


@dataclass(frozen=True, slots=True)
class _Sat:
    """A seat: in which section, and from when to when."""

    section_pk: int
    joined_on: datetime.date | None
    left_on: datetime.date | None

    def here_on(self, day: datetime.date) -> bool:
        """True when the seat was taken on ``day``."""
        return (self.joined_on is None or self.joined_on <= day) and (
            self.left_on is None or self.left_on > day
        )


def given_levels(programme_pk: int, ensembles: Collection[int] | None = None) -> GivenLevels:
    """Every standing level of the programme, or of some of its ``ensembles``. Nine queries.

    Levels of several raters stay apart. A guest's are of a class of their own, or a director's
    where the link says so; those that musicians gave each other are always of their own. Excused
    turns are out; musicians who left are in.
    """
    turns = {row.pk: row for row in _turns(_within(programme_pk, ensembles, "check_row__"))}
    beneath = _within(programme_pk, ensembles, "turn__check_row__")
    of_guests = _within(programme_pk, ensembles, "take__link__check_row__")
    of_peers = _within(programme_pk, ensembles, "hearing__round__check_row__")
    given_by = (*_levels(beneath), *_guests(of_guests), *_peers(of_peers))
    levels = [row for row in given_by if row.turn_pk in turns]
    second = [
        row
        for row in SecondHearing.objects.filter(beneath, done_at__isnull=False)
        if row.turn_id in turns
    ]
    scope = _within(programme_pk, ensembles, "")
    checks, firsts = tasks_of(scope)
    tasks = {pk: f"{TASK}{first}" for pk, first in firsts.items()}
    first_day = _first_day(levels, turns.values(), second)
    rows = _Rows(
        turns,
        {check.pk: check.ensemble_pk for check in checks},
        tasks,
        dict(Section.objects.filter(scope).values_list("pk", "instrument")),
        _seats(_within(programme_pk, ensembles, "section__")),
        _midnight(first_day) if first_day else timezone.now(),
    )
    given = (*rows.of_others(levels), *rows.of_musicians())
    again = tuple(row for hearing in second for row in rows.heard_again(hearing))
    return GivenLevels(given, again, first_day, _state(given, again))


def day_of(moment: datetime.datetime, first_day: datetime.date) -> float:
    """Days, with fractions, from the beginning of ``first_day`` to ``moment``."""
    return (moment - _midnight(first_day)).total_seconds() / DAY_S


@dataclass(frozen=True, slots=True)
class _Rows:
    """Everything that was gathered, to make rows of; days count from ``zero``."""

    turns: Mapping[int, _Sent]
    ensembles: Mapping[int, int]
    tasks: Mapping[int, str]
    instruments: Mapping[int, str]
    seats: Mapping[tuple[int, int], Sequence[_Sat]]
    zero: datetime.datetime

    def of_others(self, levels: Iterable[_Level]) -> Iterator[GivenRating]:
        """A row for each level that a director, a guest or a listener gave."""
        known: dict[int, tuple[str, str, str, str, str, str, float]] = {}
        for row in levels:
            facts = known.get(row.turn_pk)
            if facts is None:
                facts = known[row.turn_pk] = self._facts(self.turns[row.turn_pk])
            day = self._day(row.given_at)
            yield GivenRating(
                *facts, day, row.criterion, row.rater, row.level, row.rater_class
            )

    def of_musicians(self) -> Iterator[GivenRating]:
        """A row for each level that musicians gave themselves."""
        for turn in self.turns.values():
            levels = {key: str(value) for key, value in turn.self_levels.items()}
            if not levels:
                continue
            facts, day = self._facts(turn), self._day(turn.sent_at)
            for criterion, value in levels.items():
                if value in LEVELS:
                    yield GivenRating(*facts, day, criterion, facts[0], int(value), SELF)

    def heard_again(self, hearing: SecondHearing) -> Iterator[HeardAgain]:
        """A row for each criterion that had a level both times."""
        for criterion, again in hearing.levels.items():
            first = hearing.first_levels.get(criterion)
            if first in LEVELS and again in LEVELS:
                yield HeardAgain(
                    student=f"{MUSICIAN}{self.turns[hearing.turn_id].musician_pk}",
                    take=f"{TAKE}{hearing.turn_id}",
                    criterion=criterion,
                    rater=f"{RATER}{hearing.rater_id}",
                    first_level=int(first),
                    again_level=int(again),
                    first_day=self._day(hearing.first_at),
                    again_day=self._day(hearing.done_at),
                    first_minute=hearing.first_minute,
                    again_minute=hearing.again_minute,
                )

    def _facts(self, turn: _Sent) -> tuple[str, str, str, str, str, str, float]:
        """Student, ensemble, section, instrument, task, take and day of a turn's levels."""
        section = self._section(turn)
        return (
            f"{MUSICIAN}{turn.musician_pk}",
            f"{ENSEMBLE}{self.ensembles[turn.check_pk]}",
            "" if section is None else f"{SECTION}{section}",
            self.instruments.get(section, ""),
            self.tasks[turn.check_pk],
            f"{TAKE}{turn.pk}",
            self._day(turn.sent_at),
        )

    def _section(self, turn: _Sent) -> int | None:
        """Where the musician sat: as it was kept with the turn, else by the days of their seats."""
        if turn.section_pk is not None:
            return turn.section_pk
        seats = self.seats.get((self.ensembles[turn.check_pk], turn.musician_pk), ())
        day = timezone.localtime(turn.sent_at).date() if len(seats) > 1 else None
        then = [seat for seat in seats if day and seat.here_on(day)] or seats
        return then[0].section_pk if then else None

    def _day(self, moment: datetime.datetime) -> float:
        """Days from the first day's midnight."""
        return (moment - self.zero).total_seconds() / DAY_S


def _within(programme_pk: int, ensembles: Collection[int] | None, path: str) -> Q:
    """The rows of the programme, or of some ensembles of it, ``path`` away from an ensemble."""
    rule = Q(**{f"{path}ensemble__programme": programme_pk})
    return rule if ensembles is None else rule & Q(**{f"{path}ensemble__in": list(ensembles)})


def _turns(within: Q) -> Iterator[_Sent]:
    """The turns that were sent and are not excused."""
    rows = Turn.objects.filter(within, sent_at__isnull=False, excused=False).order_by("pk")
    for row in rows.values_list(
        "pk", "musician_id", "check_row_id", "section_id", "sent_at", "self_levels"
    ):
        yield _Sent(*row)


def _levels(within: Q) -> Iterator[_Level]:
    """The standing levels that are levels, in the order they were given."""
    rows = GivenLevel.objects.filter(within, retired_at__isnull=True, value__in=LEVELS)
    for turn, criterion, value, rater, given_at in rows.order_by("given_at", "pk").values_list(
        "turn_id", "criterion", "value", "rater_id", "given_at"
    ):
        yield _Level(turn, criterion, int(value), f"{RATER}{rater}", given_at)


def _guests(within: Q) -> Iterator[_Level]:
    """The standing levels of guests, of the rater class that their link says."""
    rows = GuestLevel.objects.filter(within, retired_at__isnull=True, value__in=LEVELS)
    fields = ("take__turn_id", "criterion", "value", "take__link_id", "given_at")
    rows = rows.order_by("given_at", "pk").values_list(*fields, "take__link__counts_as")
    for turn, criterion, value, link, given_at, counts_as in rows:
        yield _Level(turn, criterion, int(value), f"{GUEST_RATER}{link}", given_at, counts_as)


def _peers(within: Q) -> Iterator[_Level]:
    """The standing levels that musicians gave takes of others."""
    rows = PeerLevel.objects.filter(within, retired_at__isnull=True, value__in=LEVELS)
    fields = ("hearing__turn_id", "criterion", "value", "hearing__listener_id", "given_at")
    for turn, criterion, value, listener, given_at in rows.order_by("given_at", "pk").values_list(
        *fields
    ):
        yield _Level(turn, criterion, int(value), f"{MUSICIAN}{listener}", given_at, PEER)


def _seats(within: Q) -> dict[tuple[int, int], list[_Sat]]:
    """Seats by (ensemble, musician): who sits there still comes first, as everywhere."""
    seats: dict[tuple[int, int], list[_Sat]] = defaultdict(list)
    rows = Seat.objects.filter(within).order_by("left_on", "pk")
    for ensemble, musician, *seat in rows.values_list(
        "section__ensemble_id", "musician_id", "section_id", "joined_on", "left_on"
    ):
        seats[ensemble, musician].append(_Sat(*seat))
    return seats


def _first_day(
    levels: Iterable[_Level], turns: Iterable[_Sent], second: Iterable[SecondHearing]
) -> datetime.date | None:
    """The day of the earliest take that has a level, in the school's own time."""
    turns = list(turns)
    rated = {row.turn_pk for row in levels} | {row.turn_id for row in second}
    moments = [turn.sent_at for turn in turns if turn.pk in rated or turn.self_levels]
    return timezone.localtime(min(moments)).date() if moments else None


def _midnight(day: datetime.date) -> datetime.datetime:
    """The beginning of a day, in the school's own time."""
    return datetime.datetime.combine(day, datetime.time(), timezone.get_current_timezone())


def _state(given: Sequence[GivenRating], again: Sequence[HeardAgain]) -> str:
    """One text for one set of rows."""
    return hashlib.sha256(repr((given, again)).encode()).hexdigest()
