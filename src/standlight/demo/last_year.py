"""The demo's last school year as values: who was heard with what, and every level given. Pure.

``last_year`` draws it from a seed; ``given_of`` and ``again_of`` lay it out as the ratings room
reads it. What is planted is in ``LastYear.plants`` and nowhere else: passages get harder as
musicians grow, and the strict director has the stronger group, so plain averages hide it all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

import numpy as np

from standlight.demo.last_year_table import (
    AGAIN_A_CHECK,
    AGAIN_DAYS,
    AGAIN_DAYS_OFF,
    AGAIN_MINUTES,
    ALWAYS_ASKED,
    FIRST_CHECK_DAY,
    LAST_CHECK_DAY,
    NEW_GRADES,
    PAST_CHECKS,
    PAST_PIECES,
    YEAR_DAYS,
    YEAR_STARTS_DAYS_AGO,
)
from standlight.demo.plan import MusicianPlan
from standlight.demo.planted import (
    GROWTH,
    GROWTH_SD,
    STRICT_LOGITS,
    Plants,
    draw_plants,
    drawn_levels,
)
from standlight.demo.programme_plan import GROUPS, school_day

PLACE_SD, MIDDLE_AT_END = 1.2, 1.0
"""Logits: how musicians differ, and where the middle of a group stands when the year ends."""

GROUPS_APART = STRICT_LOGITS
"""Logits between the two groups where nobody is strict. Where somebody is, their group is
better by just as much, so that plain means of what they rate strictly are equal."""

FIRST_PASSAGE, HARDER, PASSAGE_SD = -0.5, 3.3, 0.15
"""Logits: the first passage, how much harder they get in a year, and how passages differ."""

BACK_AGAIN = {0: 0.0, 1: 0.2}
"""Places in the year of passages that come back, and their logits."""

CRITERION_LOGITS = {"rhythm": -0.2, "intonation": 0.2, "tone": 0.0, "diction": 0.1}
"""How hard a criterion is; one that is not named stands at zero."""

ABSENT, TWICE, SELF_RATED = 0.1, 0.12, 0.85
"""Shares: not there that day, rated by the other director too, levels of their own."""

SELF_SD = 0.5
"""Logits by which musicians see themselves as better or worse than the directors do."""

CLASS, AFTERNOON, EVENING = time(10, 15), time(15, 40), time(20, 0)
SECONDS_A_TAKE = 75


@dataclass(frozen=True, slots=True)
class PastCheck:
    """One check of last year; ``task`` is the same for a passage that comes back."""

    key: str
    group: str
    piece: str
    title: str
    measures: str
    criteria: tuple[str, ...]
    heard_on: date
    recorded: bool
    task: str


@dataclass(frozen=True, slots=True)
class PastLevels:
    """What one director gave a take, and when; criteria to 1..4."""

    director: str
    given_at: datetime
    minute: float
    levels: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class PastTurn:
    """One musician and one check; ``given`` is empty for who was not there.

    ``again`` is the same director's second hearing, when there was one.
    """

    check: PastCheck
    roster_id: str
    section: str
    instrument: str
    heard_at: datetime
    self_levels: tuple[tuple[str, int], ...] = ()
    given: tuple[PastLevels, ...] = ()
    again: PastLevels | None = None


@dataclass(frozen=True, slots=True)
class LastYear:
    """Last school year, with what is true of it; the same day and seed give the same year."""

    starts_on: date
    ends_on: date
    checks: tuple[PastCheck, ...]
    turns: tuple[PastTurn, ...]
    newcomers: tuple[tuple[str, str], ...]
    plants: Plants


@dataclass(frozen=True, slots=True)
class _Person:
    """One musician of last year: logits at the year's end, growth in it, self-view."""

    roster_id: str
    group: str
    section: str
    instrument: str
    end: float
    growth: float
    self_logits: float


def last_year(
    today: date,
    musicians: Sequence[MusicianPlan],
    ability: Mapping[str, float],
    seed: int,
    planted: tuple[bool, bool, bool] = (True, True, True),
) -> LastYear:
    """The year before this one, as of ``today``.

    ``ability`` (by roster id, standard normal) is where musicians stand now, so it is where
    last year led. ``planted`` as in ``draw_plants``.
    """
    rng, evenings = np.random.default_rng([seed, 17]), np.random.default_rng([seed, 18])
    starts_on = today - timedelta(days=YEAR_STARTS_DAYS_AGO)
    plants = draw_plants(rng, _directors(), ALWAYS_ASKED, _sizes(musicians), planted)
    people = tuple(_people(musicians, ability, plants, rng))
    checks = tuple(_checks(starts_on))
    turns: list[PastTurn] = []
    for group in PAST_CHECKS:
        own = [check for check in checks if check.group == group]
        for place, check in enumerate(own):
            hard = _hardness(place, check, own, starts_on, rng)
            here = [person for person in people if person.group == group]
            turns += _heard(check, hard, here, plants, starts_on, rng, evenings)
    return LastYear(
        starts_on,
        starts_on + timedelta(days=YEAR_DAYS),
        checks,
        tuple(turns),
        tuple((m.roster_id, s.group) for m in musicians for s in m.seats if _is_new(m, s.group)),
        plants,
    )


def _is_new(musician: MusicianPlan, group: str) -> bool:
    """Whether the musician was not in the group last year."""
    return group in NEW_GRADES and (
        musician.grade <= NEW_GRADES[group] or len(musician.seats) > 1
    )


def _directors() -> tuple[str, ...]:
    """The two directors, by key, in the order of the groups that had last year."""
    return tuple(group.director for group in GROUPS if group.key in PAST_CHECKS)


def _director_of(group: str) -> str:
    return next(plan.director for plan in GROUPS if plan.key == group)


def _were_there(musicians: Sequence[MusicianPlan]) -> Iterator[tuple[MusicianPlan, str, str]]:
    """Musician, group and section of everybody who was heard last year."""
    for musician in musicians:
        for seat in musician.seats:
            new = _is_new(musician, seat.group)
            if seat.group in PAST_CHECKS and not new and musician.way != "neither":
                yield musician, seat.group, seat.section


def _sizes(musicians: Sequence[MusicianPlan]) -> dict[tuple[str, str], int]:
    """How many each section had last year."""
    sizes: dict[tuple[str, str], int] = {}
    for _, group, section in _were_there(musicians):
        sizes[group, section] = sizes.get((group, section), 0) + 1
    return sizes


def _people(
    musicians: Sequence[MusicianPlan],
    ability: Mapping[str, float],
    plants: Plants,
    rng: np.random.Generator,
) -> Iterator[_Person]:
    """Everybody of last year; the strict director's group is the stronger one."""
    apart = plants.strict_logits or float(rng.uniform(*GROUPS_APART))
    first_is_better = bool(rng.random() < 0.5)
    better = plants.strict_director or _directors()[0 if first_is_better else 1]
    instruments = {(g.key, s.name): s.instrument for g in GROUPS for s in g.sections}
    for musician, group, section in _were_there(musicians):
        side = 1 if _director_of(group) == better else -1
        middle = MIDDLE_AT_END + side * apart / 2
        yield _Person(
            musician.roster_id,
            group,
            section,
            instruments[group, section],
            middle + PLACE_SD * ability[musician.roster_id],
            float(rng.normal(GROWTH, GROWTH_SD)),
            float(rng.normal(0, SELF_SD)),
        )


def _checks(starts_on: date) -> Iterator[PastCheck]:
    """Last year's checks group by group, in order of time."""
    titles = {piece.key: piece.title for piece in PAST_PIECES}
    for group, asked in PAST_CHECKS.items():
        step = (LAST_CHECK_DAY - FIRST_CHECK_DAY) / (len(asked) - 1)
        met: set[str] = set()
        for place, one in enumerate(asked):
            task = f"{one.piece}/{one.measures}"
            day = starts_on + timedelta(days=round(FIRST_CHECK_DAY + step * place))
            yield PastCheck(
                key=f"{group}_past_{place + 1}",
                group=group,
                piece=one.piece,
                title=f"{titles[one.piece]}, {one.measures}{', again' if task in met else ''}",
                measures=one.measures,
                criteria=(*ALWAYS_ASKED, one.third),
                heard_on=school_day(day),
                recorded=one.recorded,
                task=task,
            )
            met.add(task)


def _hardness(
    place: int,
    check: PastCheck,
    checks: Sequence[PastCheck],
    starts_on: date,
    rng: np.random.Generator,
) -> float:
    """Logits of a passage: one that comes back stays, the others get harder as the year goes."""
    first = next(n for n, one in enumerate(checks) if one.task == check.task)
    drawn = float(rng.normal(0, PASSAGE_SD))
    if first in BACK_AGAIN:
        return BACK_AGAIN[first]
    share = (check.heard_on - starts_on).days / YEAR_DAYS
    return FIRST_PASSAGE + HARDER * share + drawn


def _heard(
    check: PastCheck,
    hard: float,
    people: Sequence[_Person],
    plants: Plants,
    starts_on: date,
    rng: np.random.Generator,
    evenings: np.random.Generator,
) -> list[PastTurn]:
    """One check: who was there, who was rated twice, and every level.

    ``evenings`` draws when takes come a second time, so that the levels stay as they are.
    """
    share = (check.heard_on - starts_on).days / YEAR_DAYS
    place = np.array(
        [
            one.end
            - one.growth * (plants.grown(one.group, one.section, 1.0)
                            - plants.grown(one.group, one.section, share))
            for one in people
        ]
    )
    own = _director_of(check.group)
    other = next(director for director in _directors() if director != own)
    day = rng.normal(0, 1, len(people)) * plants.day_sd
    asked = np.array([CRITERION_LOGITS.get(key, 0.0) for key in check.criteria])
    levels = {}
    logits = {}
    for director in (own, other):
        severity = np.array([plants.severity(director, key) for key in check.criteria])
        impression = rng.normal(0, 1, len(people)) * plants.impression_sd
        logits[director] = (place + day + impression)[:, None] - hard - asked - severity
        levels[director] = drawn_levels(logits[director], rng)
    again = drawn_levels(logits[own], rng)
    oneself = np.array([one.self_logits for one in people])
    selves = drawn_levels((place + day + oneself)[:, None] - hard - asked, rng)
    chance = rng.random((4, len(people)))
    again_when = _again_when(evenings)
    repeated = dict(zip(_repeated(check, chance[0], chance[3]), again_when, strict=False))
    turns = []
    for number, person in enumerate(people):
        turn = _turn(check, person, number, len(people))
        if chance[0, number] < ABSENT:
            turns.append(turn)
            continue
        given = [_given(turn, own, number, levels[own][number])]
        if chance[1, number] < TWICE:
            given.insert(0, _given(turn, other, number, levels[other][number], first=True))
        turns.append(
            replace(
                turn,
                given=tuple(given),
                self_levels=_named(check, selves[number])
                if chance[2, number] < SELF_RATED
                else (),
                again=_again(check, own, repeated[number], again[number])
                if number in repeated
                else None,
            )
        )
    return turns


def _turn(check: PastCheck, person: _Person, number: int, n_people: int) -> PastTurn:
    """A musician's place in the class hour, or in the afternoon when takes were recorded."""
    start = AFTERNOON if check.recorded else CLASS
    seconds = 2 * 3600 if check.recorded else 2400
    return PastTurn(
        check=check,
        roster_id=person.roster_id,
        section=person.section,
        instrument=person.instrument,
        heard_at=datetime.combine(check.heard_on, start)
        + timedelta(seconds=round(seconds * number / n_people)),
    )


def _repeated(check: PastCheck, there: np.ndarray, chance: np.ndarray) -> list[int]:
    """Numbers of the takes that come a second time, in the order of their evenings."""
    if not check.recorded:
        return []
    return [int(n) for n in np.argsort(chance) if there[n] >= ABSENT][:AGAIN_A_CHECK]


def _given(
    turn: PastTurn, director: str, number: int, levels: np.ndarray, *, first: bool = False
) -> PastLevels:
    """Levels as they were given: at the stand, or in the evening one take after another.

    ``first``: half a minute before the group's own director, whose levels stand.
    """
    start = datetime.combine(turn.check.heard_on, EVENING if turn.check.recorded else CLASS)
    at = turn.heard_at + timedelta(minutes=1)
    if turn.check.recorded:
        at = start + timedelta(seconds=(number + 1) * SECONDS_A_TAKE)
    minute = (at - start).total_seconds() / 60
    at -= timedelta(seconds=30 if first else 0)
    return PastLevels(director, at, minute, _named(turn.check, levels))


def _again_when(evenings: np.random.Generator) -> list[tuple[int, float]]:
    """Evening (days after the check) and minute of it of each second hearing.

    The weeks between both hearings differ and the minutes do not go with them, or nobody could
    tell an ear that drifts within an evening, or over the year.
    """
    days = np.linspace(*AGAIN_DAYS, AGAIN_A_CHECK)
    days = days + evenings.uniform(-AGAIN_DAYS_OFF, AGAIN_DAYS_OFF, AGAIN_A_CHECK)
    minutes = evenings.uniform(*AGAIN_MINUTES, AGAIN_A_CHECK)
    return [(max(AGAIN_DAYS[0], round(day)), float(minute))
            for day, minute in zip(days, minutes, strict=True)]


def _again(
    check: PastCheck, director: str, when: tuple[int, float], levels: np.ndarray
) -> PastLevels:
    """A second hearing, on another evening."""
    days, minute = when
    at = datetime.combine(check.heard_on + timedelta(days=days), EVENING)
    return PastLevels(director, at + timedelta(minutes=minute), minute, _named(check, levels))


def _named(check: PastCheck, levels: np.ndarray) -> tuple[tuple[str, int], ...]:
    return tuple((key, int(level)) for key, level in zip(check.criteria, levels, strict=True))
