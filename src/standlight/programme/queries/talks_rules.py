"""Who may need a conversation: a table of stated rules, each of which can be switched off.

A rule says of whom it speaks in a sentence about what is there. It gives no score, and nobody is
put in order by how many rules speak of them.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from django.db.models import Exists, OuterRef
from django.utils import timezone

from standlight.programme.dates import days_ahead
from standlight.programme.models import (
    Account,
    Answer,
    Assignment,
    Ensemble,
    PlayingCheck,
    Reply,
    TalkAsked,
    TalkRuleOff,
    TalkRuleRest,
    Turn,
)
from standlight.programme.phrases import listed
from standlight.programme.queries.assignments import MISSING as WORK_MISSING
from standlight.programme.queries.assignments import work_standings
from standlight.programme.queries.growth_lines import Calendar, director_findings
from standlight.programme.queries.rater_names import names_for
from standlight.programme.queries.standing import (
    MISSING,
    SeatRow,
    one_seat_each,
    seats_of,
    standing,
    turns_of,
)
from standlight.programme.queries.studies import GrowthSeen, growth_in
from standlight.programme.queries.talks_views import STEPS_APART, goals_of, two_views, works_of
from standlight.programme.queries.years import year_begins
from standlight.ratings.growth_values import BEHIND, FALLING
from standlight.ratings.marking_values import count_of

UNOPENED_DAYS, MISSING_DAYS = 14, 21
"""Two and three weeks: a talk comes after the reminder that Today gives (common practice, no
source)."""

FALLS = frozenset({FALLING, BEHIND})
"""States of a line of growth that are sure; a line that could be chance is in neither."""

ASKED = "asked"
"""The rule of those who asked: no other is known by its code outside the table."""

NAMED_TITLES = 3
"""Titles named in a sentence; the rest is counted."""

Found = dict[int, str]
Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Room:
    """One ensemble on one day as one director sees it: who is here, and this year's work."""

    account: Account
    ensemble: Ensemble
    today: datetime.date
    begins: datetime.date | None
    seats: tuple[SeatRow, ...]
    works: tuple[Assignment, ...]


@dataclass(frozen=True, slots=True)
class TalkRule:
    """One rule: its ``code``, its name, what it looks for, and ``find``: musician to sentence.

    Where ``waits``, somebody waits for an answer: the rule never rests for one musician, speaks of
    who has left too, and what was there before it was switched off stays on the list; nobody is
    invited to more then.
    """

    code: str
    name: str
    sentence: str
    find: Callable[[Room], Found]
    waits: bool = False


@dataclass(frozen=True, slots=True)
class TalkReason:
    """One rule that speaks of a musician, and what it says; whether it may rest for them."""

    code: str
    name: str
    sentence: str
    may_rest: bool = True


def room_of(account: Account, ensemble: Ensemble, today: datetime.date | None = None) -> Room:
    """Everything that rules share. Three queries."""
    today = today or timezone.localdate()
    begins = year_begins(ensemble.programme_id, today)
    seats = [seat for seat in one_seat_each(seats_of(ensemble), today) if seat.here_on(today)]
    works = works_of(ensemble, begins)
    return Room(account, ensemble, today, begins, tuple(seats), tuple(works))


def reasons_in(room: Room) -> dict[int, tuple[TalkReason, ...]]:
    """By musician every rule that speaks of them; rules switched off or at rest are left out.

    Of who is not here any more only a rule that ``waits`` speaks.
    """
    off = set(rules_off(room.ensemble.programme_id))
    rests = {
        (musician, code)
        for musician, code in TalkRuleRest.objects.filter(
            ensemble=room.ensemble, until__gt=room.today
        ).values_list("musician_id", "code")
    }
    here = {seat.musician_pk for seat in room.seats}
    found: dict[int, list[TalkReason]] = {}
    for rule in TALK_RULES:
        if rule.code in off and not rule.waits:
            continue
        for pk, sentence in rule.find(room).items():
            if rule.waits or (pk in here and (pk, rule.code) not in rests):
                reason = TalkReason(rule.code, rule.name, sentence, not rule.waits)
                found.setdefault(pk, []).append(reason)
    return {pk: tuple(reasons) for pk, reasons in found.items()}


def rules_off(programme_pk: int) -> Collection[str]:
    """Codes of the rules that are switched off in a school. One query."""
    return TalkRuleOff.objects.filter(programme=programme_pk).values_list("code", flat=True)


def _asked(room: Room) -> Found:
    """Who asked for a talk that has not been held."""
    rows = TalkAsked.objects.filter(ensemble=room.ensemble, talked_at__isnull=True)
    return {
        pk: f"Asked for a talk {days_ahead((timezone.localdate(asked_at) - room.today).days)}."
        for pk, asked_at in rows.values_list("musician_id", "asked_at")
    }


def _views(room: Room) -> Found:
    """Whose own view of the acts and a director's part ways."""
    return {
        pk: f"Says otherwise than was seen on {views.n_apart} of {len(views.rows)} acts "
        f"({views.work})."
        for pk, views in two_views(room.works).items()
        if views.part_ways
    }


def _goals(room: Room) -> Found:
    """Who came no closer to a goal from one check-in to the next."""
    said: dict[int, list[str]] = {}
    for pk, goals in goals_of(room.works).items():
        said[pk] = [goal.work for goal in goals if goal.stalled]
    return {
        pk: f"No closer to the goal at the last two check-ins ({titles_words(works)})."
        for pk, works in said.items()
        if works
    }


def _unopened(room: Room) -> Found:
    """Whose answers or replies have waited unopened for two weeks."""
    waiting: dict[int, list[datetime.date]] = {}
    for pk, written_at in unopened(room, room.today - datetime.timedelta(UNOPENED_DAYS)):
        waiting.setdefault(pk, []).append(timezone.localdate(written_at))
    return {
        pk: f"{count_of(len(days), 'answer')} not opened"
        f"{', the oldest' if len(days) > 1 else ''} for {(room.today - min(days)).days} days."
        for pk, days in waiting.items()
    }


def unopened(room: Room, last: datetime.date) -> Iterable[tuple[int, datetime.datetime]]:
    """Musician and moment of what was answered on ``last`` or before and is not opened.

    An answer to an earlier try is read with the newest. Two queries.
    """
    newer = Turn.objects.filter(
        check_row=OuterRef("turn__check_row"),
        musician=OuterRef("turn__musician"),
        attempt__gt=OuterRef("turn__attempt"),
        answered_at__isnull=False,
    )
    answers = Answer.objects.filter(
        ~Exists(newer),
        turn__check_row__ensemble=room.ensemble,
        turn__answered_at__date__lte=last,
        seen_at__isnull=True,
    )
    replies = Reply.objects.filter(
        sheet__assignment__in=room.works,
        sheet__author__musician__isnull=False,
        written_at__date__lte=last,
        seen_at__isnull=True,
    )
    if room.begins is not None:
        answers = answers.filter(turn__check_row__due_on__gte=room.begins)
    yield from answers.values_list("turn__musician_id", "turn__answered_at")
    yield from replies.values_list("sheet__author__musician__pk", "written_at")


def _missing(room: Room) -> Found:
    """Whose work has been missing for more than three weeks."""
    return {
        pk: f"Missing for more than three weeks: {titles_words(titles)}."
        for pk, titles in missing_titles(
            room, room.today - datetime.timedelta(MISSING_DAYS)
        ).items()
    }


def missing_titles(room: Room, before: datetime.date) -> dict[int, list[str]]:
    """By musician the titles of what is missing and was due, on their own day, before ``before``.

    Checks first, then work of other kinds; about seven queries.
    """
    found: dict[int, list[str]] = {}
    checks = PlayingCheck.objects.filter(
        ensemble=room.ensemble, published_at__isnull=False, due_on__lt=before
    )
    if room.begins is not None:
        checks = checks.filter(due_on__gte=room.begins)
    rows = list(checks.order_by("due_on", "pk"))
    turns = turns_of(rows)
    for check in rows:
        for seat in room.seats:
            state = standing(
                seat, check.due_on, room.today, turns.get((check.pk, seat.musician_pk), ())
            ).state
            own_day = check.due_on + datetime.timedelta(seat.extra_days)
            if state == MISSING and own_day < before:
                found.setdefault(seat.musician_pk, []).append(check.title)
    works = [one for one in room.works if one.due_on is not None and one.due_on < before]
    stands = work_standings(works, room.today)
    for work in reversed(works):
        for stand in stands[work.pk]:
            if stand.state == WORK_MISSING and stand.due_on is not None and stand.due_on < before:
                found.setdefault(stand.musician_pk, []).append(work.title)
    return found


def _falls(room: Room) -> Found:
    """Whose line of all criteria together surely falls, or surely stays behind the group's."""
    found: Found = {}
    seen = [one for one in growth_in(room.account, room.ensemble) if one.first_day]
    lines = {one.musician_pk: (one, together(one.lines)) for one in seen}
    falling = {pk: pair for pk, pair in lines.items() if pair[1] and pair[1]["state"] in FALLS}
    tasks = names_for(room.account).tasks if falling else {}
    for pk, (one, line) in falling.items():
        found[pk] = growth_sentence(one, line, tasks)
    return found


def together(lines: Iterable[Json]) -> Json | None:
    """The line of all criteria together, or of the only one, on the instrument played last."""
    played = [line for line in lines if line["points"]]
    keys = {line["criterion"] for line in played}
    own = [line for line in played if not line["criterion"] or len(keys) == 1]
    return max(own, key=lambda line: line["points"][-1]["day"]) if own else None


def growth_sentence(seen: GrowthSeen, line: Json, tasks: Mapping[str, Any]) -> str:
    """What a line says to a director, with its interval in words."""
    made_on = timezone.localtime(seen.made_at).date()
    return director_findings([line], Calendar(seen.first_day, made_on, tasks))[0].sentence


def titles_words(titles: Collection[str]) -> str:
    """Titles in one phrase, at most three by name.

    >>> titles_words(["Map", "Finds"]), titles_words(["A", "B", "C", "D", "E"])
    ('Map and Finds', 'A, B, C and 2 more')
    """
    each = list(dict.fromkeys(titles))
    if len(each) > NAMED_TITLES:
        return f"{', '.join(each[:NAMED_TITLES])} and {len(each) - NAMED_TITLES} more"
    return listed(each)


TALK_RULES = (
    TalkRule(
        ASKED,
        "Asked for a talk",
        "The musician asked for a talk, and none was noted since. Switched off, musicians can no "
        "longer ask here; what was asked before stays on the list.",
        _asked,
        waits=True,
    ),
    TalkRule(
        "views_part",
        "Two views of ensemble acts",
        f"On two acts or more, what the musician says and what was seen lie {STEPS_APART} steps "
        "apart or more.",
        _views,
    ),
    TalkRule(
        "goal_still",
        "A goal that stands still",
        "At the last two check-ins of a project the musician came no closer to the goal.",
        _goals,
    ),
    TalkRule(
        "not_opened",
        "Answers not opened",
        "An answer or a reply has waited for two weeks and the musician has not opened it.",
        _unopened,
    ),
    TalkRule(
        "missing",
        "Work missing for long",
        "A check or other work has been missing for more than three weeks.",
        _missing,
    ),
    TalkRule(
        "line_falls",
        "A line that falls",
        "The line of growth surely falls, or surely grows less than the group's. A line that could "
        "be chance never counts.",
        _falls,
    ),
)
"""Every rule, in the order in which the page says them."""

RULE_NAMES: Mapping[str, str] = MappingProxyType({rule.code: rule.name for rule in TALK_RULES})

RESTING = frozenset(rule.code for rule in TALK_RULES if not rule.waits)
"""Rules that may rest for one musician."""
