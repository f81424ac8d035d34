"""What groups are made from: who is there, parts, levels, whether answers differ, wishes.

An answer is turned into an opaque key here and is shown nowhere: groups only ask whether two
differ.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

from django.utils import timezone

from standlight.kinds import Field, is_blank
from standlight.planning import DISCUSSION_ROLES, SECTIONAL_ROLES, GroupRequest, Member
from standlight.planning.group_values import SAME
from standlight.programme.models import (
    Assignment,
    Ensemble,
    Grouping,
    GroupSeat,
    GroupWish,
    PlayingCheck,
    Sheet,
)
from standlight.programme.queries.standing import SeatRow, one_seat_each, seats_of, turns_of
from standlight.programme.queries.work_steps import steps_of
from standlight.programme.queries.years import year_begins

EARLIER_GROUPINGS = 6
"""Earlier groups that new ones do not repeat: a cycle's worth or more (our choice)."""

FEWEST_SENT = 2
"""Answers that there must be before two can differ."""


def key_of(musician_pk: int) -> str:
    """The key of a musician in a request; keys sort as numbers do.

    >>> key_of(12), pk_of(key_of(12))
    ('m0000000012', 12)
    """
    return f"m{musician_pk:010}"


def pk_of(key: str) -> int:
    """The musician's number back from a key."""
    return int(key[1:])


@dataclass(frozen=True, slots=True)
class Question:
    """A question whose answers can differ; ``value`` names it in a form."""

    value: str
    work: str
    prompt: str


def seats_here(ensemble: Ensemble) -> list[SeatRow]:
    """Everybody of the ensemble today, once each, in concert order. One query."""
    today = timezone.localdate()
    return [seat for seat in one_seat_each(seats_of(ensemble), today) if seat.here_on(today)]


def request_of(grouping: Grouping, musicians: Collection[int]) -> GroupRequest:
    """The request of ``grouping`` for these musicians; wishes about others are left aside.

    Levels, answers and wishes are those of the moment it is asked. Raises ``StandlightError``
    for what no groups can be made of.
    """
    ensemble = grouping.ensemble
    chosen = set(musicians)
    parts = {seat.musician_pk: seat.section for seat in one_seat_each(
        seats_of(ensemble), timezone.localdate()
    )}  # fmt: skip
    levels = mean_levels(ensemble) if grouping.by_levels else {}
    answers, moments = _answers(grouping)
    earlier, roles = _earlier(grouping)
    members = tuple(
        Member(
            key_of(pk),
            parts.get(pk, ""),
            levels.get(pk),
            answers.get(pk, ""),
            moments.get(pk, ()),
            tuple(roles.get(pk, ())),
        )
        for pk in sorted(chosen)
    )
    wishes = [
        wish
        for wish in GroupWish.objects.filter(ensemble=ensemble).order_by("pk")
        if {wish.first_id, wish.second_id} <= chosen
    ]
    pairs = {
        apart: tuple(
            (key_of(one.first_id), key_of(one.second_id)) for one in wishes if one.apart is apart
        )
        for apart in (True, False)
    }
    return GroupRequest(
        members,
        grouping.size,
        grouping.parts,
        pairs[True],
        pairs[False],
        earlier if grouping.by_earlier else (),
        _roles_asked(grouping),
        grouping.seed,
    )


def _roles_asked(grouping: Grouping) -> tuple[str, ...]:
    """Roles to be given out, none where none are wished."""
    if not grouping.with_roles:
        return ()
    return SECTIONAL_ROLES if grouping.parts == SAME else DISCUSSION_ROLES


def mean_levels(ensemble: Ensemble) -> dict[int, float]:
    """Each musician's mean level over the checks of this school year, the newest rated try of each.

    Only for balance between groups; it is shown nowhere. Four queries.
    """
    checks = PlayingCheck.objects.filter(ensemble=ensemble, published_at__isnull=False)
    begins = year_begins(ensemble.programme_id, timezone.localdate())
    if begins is not None:
        checks = checks.filter(due_on__gte=begins)
    found: dict[int, list[int]] = {}
    for (_, musician), turns in turns_of(list(checks)).items():
        rated = [turn for turn in turns if turn.levels]
        if rated:
            newest = max(rated, key=lambda turn: turn.attempt)
            digits = [int(value) for value in newest.levels.values() if value.isdigit()]
            found.setdefault(musician, []).extend(digits)
    return {pk: sum(digits) / len(digits) for pk, digits in found.items() if digits}


def _earlier(
    grouping: Grouping,
) -> tuple[tuple[tuple[tuple[str, ...], ...], ...], dict[int, list[str]]]:
    """Groups kept before this one, the latest first, and the roles in them by musician."""
    rows = Grouping.objects.filter(ensemble=grouping.ensemble, kept_at__isnull=False)
    if grouping.pk is not None:
        rows = rows.filter(made_at__lt=grouping.made_at)
    latest = list(rows.order_by("-made_at", "-pk").values_list("pk", flat=True)[:EARLIER_GROUPINGS])
    groups: dict[int, dict[int, list[str]]] = {pk: {} for pk in latest}
    roles: dict[int, list[str]] = {}
    seats = GroupSeat.objects.filter(grouping__in=latest).order_by("pk")
    for of, number, musician, role in seats.values_list(
        "grouping_id", "number", "musician_id", "role"
    ):
        groups[of].setdefault(number, []).append(key_of(musician))
        if role:
            roles.setdefault(musician, []).append(role)
    return tuple(tuple(map(tuple, one.values())) for one in groups.values()), roles


def _one(field: Field, answer: object) -> str:
    """A single thing chosen."""
    return str(answer)


def _several(field: Field, answer: object) -> str:
    """Several things chosen, in whatever order."""
    return " ".join(sorted(str(one) for one in answer)) if isinstance(answer, list) else ""


def _pin(field: Field, answer: object) -> tuple[float | None, ...]:
    """One moment."""
    return (_seconds(answer),)


def _pins(field: Field, answer: object) -> tuple[float | None, ...]:
    """When each thing of the list's own choice was pinned first; rows in order without one."""
    clock = clock_of(field)
    rows = [row for row in answer if isinstance(row, dict)] if isinstance(answer, list) else []
    choice = next((one for one in field.columns if one.type == "choice"), None)
    if clock is None or choice is None:
        return tuple(_seconds(row.get(clock.key)) for row in rows) if clock else ()
    first: dict[str, float] = {}
    for row in rows:
        at, what = _seconds(row.get(clock.key)), str(row.get(choice.key))
        if at is not None:
            first[what] = min(at, first.get(what, at))
    return tuple(first.get(option.key) for option in choice.options)


def _seconds(answer: object) -> float | None:
    """The seconds of a pin on the clock."""
    at = answer.get("at_s") if isinstance(answer, Mapping) else None
    return float(at) if isinstance(at, int | float) else None


def clock_of(field: Field) -> Field | None:
    """The column of a list that is pinned to the clock."""
    return next((one for one in field.columns if one.type == "clock"), None)


ANSWERS: Mapping[str, Callable[[Field, object], str]] = {
    "choice": _one,
    "levels": _one,
    "scale": _one,
    "several": _several,
}
"""Type of a question to a key of its answer: the same key is the same answer."""

MOMENTS: Mapping[str, Callable[[Field, object], tuple[float | None, ...]]] = {
    "clock": _pin,
    "rows": _pins,
}
"""Type of a question to the seconds that it pins."""


def can_differ(field: Field) -> bool:
    """True for a question whose answers can be told apart without reading them."""
    return field.type in ANSWERS or field.type == "clock" or clock_of(field) is not None


def questions_of(ensemble: Ensemble) -> tuple[Question, ...]:
    """Questions of this year's work that somebody has answered, the newest work first.

    Two queries and one for each piece of work.
    """
    sent = Sheet.objects.filter(
        assignment__ensemble=ensemble,
        sent_at__isnull=False,
        author__musician__isnull=False,
    ).values_list("assignment_id", "step")
    counts: dict[tuple[int, str], int] = {}
    for place in sent:
        counts[place] = counts.get(place, 0) + 1
    works = Assignment.objects.filter(
        ensemble=ensemble, pk__in={pk for pk, _ in counts}
    ).select_related("kind")
    return tuple(
        Question(f"{work.pk}:{step.key}:{field.key}", work.title, field.prompt)
        for work in works
        for step in steps_of(work)
        if counts.get((work.pk, step.key), 0) >= FEWEST_SENT
        for field in step.fields
        if can_differ(field)
    )


def _answers(
    grouping: Grouping,
) -> tuple[dict[int, str], dict[int, tuple[float | None, ...]]]:
    """Keys of answers, or pinned seconds, by musician; the newest sheet that was sent counts."""
    keys: dict[int, str] = {}
    moments: dict[int, tuple[float | None, ...]] = {}
    field = asked_field(grouping)
    if field is None:
        return keys, moments
    sheets = Sheet.objects.filter(
        assignment=grouping.assignment,
        step=grouping.step,
        sent_at__isnull=False,
        author__musician__isnull=False,
    ).order_by("number")
    for musician, answers in sheets.values_list("author__musician__pk", "answers"):
        answer = answers.get(field.key)
        if is_blank(answer):
            continue
        if field.type in MOMENTS:
            moments[musician] = MOMENTS[field.type](field, answer)
        else:
            keys[musician] = ANSWERS[field.type](field, answer)
    return keys, moments


def asked_field(grouping: Grouping) -> Field | None:
    """The question whose answers are to differ; ``None`` for none, or when it is gone."""
    if grouping.assignment is None:
        return None
    for step in steps_of(grouping.assignment):
        for field in step.fields:
            if (step.key, field.key) == (grouping.step, grouping.question) and can_differ(field):
                return field
    return None
