"""The invented school year of the demo: ``scenario(today)`` gives all of it as values.

Dates are relative to ``today`` so that the concert is always 16 days off. People,
slips and words are drawn from a seed: the same day and seed give the same year.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta

import numpy as np

from standlight.demo import programme_plan as frame
from standlight.demo.cast import ALREADY_SENT, SPECIAL_TAKES, STILL_TO_SEND, Place, people
from standlight.demo.faults import Trouble
from standlight.demo.manner import Manner, draw_manner
from standlight.demo.plan import (
    AnswerPlan,
    CheckPlan,
    CommentPlan,
    MusicianPlan,
    RemarkPlan,
    Scenario,
    SeatPlan,
    TurnPlan,
)
from standlight.demo.words import BANK, DIRECTOR_REMARKS, REMARKS, SENT_WITH

SEED = 2611
"""The demo's seed."""

LIVE_CHECKS = frozenset({"band_first", "choir_first"})
"""Checks that were heard at the stand: levels, no recording."""

EXCUSED = {"band_second": 1, "choir_second": 1}
"""How many are excused from a check."""

SECOND_TRIES = {"strings_first": 3}
"""How many tried a check again after the answer."""

WRITES_SHARE = 0.4
"""Share of takes that come with a few words."""

VIBRATO_GROUPS = frozenset({"strings", "choir"})


def scenario(today: date, seed: int = SEED) -> Scenario:
    """The whole demo year as of ``today``."""
    rng = np.random.default_rng(seed)
    musicians = people(today, rng)
    ability = {m.roster_id: float(rng.normal()) for m in musicians}
    checks = frame.checks(today)
    turns: list[TurnPlan] = []
    for check in checks:
        members = [
            (m, seat)
            for m in musicians
            for seat in m.seats
            if seat.group == check.group and m.way != "neither"
        ]
        turns += _turns(check, members, ability, today, rng)
    return Scenario(
        today=today,
        school=frame.SCHOOL,
        safety_contact=frame.SAFETY_CONTACT,
        year_name="This school year",
        year_starts_on=today - timedelta(days=80),
        year_ends_on=today + timedelta(days=195),
        cycle_name="Winter concert",
        cycle_starts_on=today - timedelta(days=54),
        concert_on=today + timedelta(days=frame.CONCERT_IN_DAYS),
        directors=frame.DIRECTORS,
        groups=frame.GROUPS,
        musicians=musicians,
        pieces=frame.PIECES,
        checks=checks,
        turns=tuple(turns),
        remarks=_remarks(checks, turns, today, rng),
        periods=frame.periods(today),
        comments=tuple(
            CommentPlan(criterion, place, level, text)
            for criterion, places in BANK.items()
            for place, lines in places.items()
            for level, text in enumerate(lines, 1)
        ),
        ability=tuple(ability.items()),
    )


def _turns(
    check: CheckPlan,
    members: Sequence[tuple[MusicianPlan, SeatPlan]],
    ability: dict[str, float],
    today: date,
    rng: np.random.Generator,
) -> list[TurnPlan]:
    """Everything that was sent for one check, in order of sending."""
    live = check.key in LIVE_CHECKS
    here = [
        m
        for m, seat in members
        if (seat.joined_on is None or seat.joined_on <= check.due_on)
        and (live or m.way == "record")
    ]
    special = {
        m.roster_id: change
        for m, seat in members
        for (group, section, place), change in SPECIAL_TAKES.items()
        if (group, section) == (seat.group, seat.section) and m is _seat(members, section, place)
    }
    early = _named(members, ALREADY_SENT.get(check.key))
    late = _named(members, STILL_TO_SEND.get(check.key))
    settled = {m.roster_id for m in early + late} | (set() if live else set(special))
    free = [m for m in here if m.roster_id not in settled]
    rng.shuffle(free)
    n_missing = round(frame.MISSING_SHARE[check.key] * len(here)) - len(late)
    n_excused = EXCUSED.get(check.key, 0)
    excused = free[n_missing : n_missing + n_excused]
    sending = free[n_missing + n_excused :] + early
    if not live:
        sending += [m for m in here if m.roster_id in special]
    turns = [
        _turn(check, m, place / len(sending), special.get(m.roster_id), ability, today, rng)
        for place, m in enumerate(sending)
    ]
    turns += [TurnPlan(check.key, m.roster_id, 1, "web", None, excused=True) for m in excused]
    tries = SECOND_TRIES.get(check.key, 0)
    turns += [_second_try(check, turn, ability, today, rng) for turn in turns[:tries]]
    return turns


def _named(
    members: Sequence[tuple[MusicianPlan, SeatPlan]], place: Place | None
) -> list[MusicianPlan]:
    """The musician at ``place`` as a list of one; empty for no place."""
    return [] if place is None else [_seat(members, place[1], place[2])]


def _seat(
    members: Sequence[tuple[MusicianPlan, SeatPlan]], section: str, place: int
) -> MusicianPlan:
    """The musician at 0-based ``place`` of a section."""
    return [m for m, seat in members if seat.section == section][place]


def _turn(
    check: CheckPlan,
    musician: MusicianPlan,
    share: float,
    special: dict | None,
    ability: dict[str, float],
    today: date,
    rng: np.random.Generator,
) -> TurnPlan:
    """One musician's turn, sent at ``share`` (0 to 1) of the time the check was open."""
    able = ability[musician.roster_id] + float(rng.normal(0, 0.35))
    live = check.key in LIVE_CHECKS
    sent_at = _sent_at(check, share, today, rng, live=live)
    levels = _levels(check, able, rng)
    answered = share < frame.ANSWERED_SHARE[check.key]
    return TurnPlan(
        check=check.key,
        roster_id=musician.roster_id,
        attempt=1,
        way="live" if live else str(rng.choice(("web", "web", "web", "station", "file"))),
        sent_at=sent_at,
        manner=None if live else _manner(check, musician, able, special, rng),
        self_levels=_self_levels(levels, rng) if check.asks_self_rating else (),
        words="" if live else _words(check, rng),
        levels=levels if answered else (),
        answer=_answer(check, levels, rng) if answered else None,
        rated_at=_rated_at(check, sent_at, today) if answered else None,
    )


def _manner(
    check: CheckPlan,
    musician: MusicianPlan,
    able: float,
    special: dict | None,
    rng: np.random.Generator,
) -> Manner:
    """How this take goes: drawn by ability, with the group's trouble and the take's own story."""
    take_seed = int(rng.integers(1, 2**31))
    manner = draw_manner(able, take_seed, vibrato=check.group in VIBRATO_GROUPS)
    trouble = frame.UNSPOKEN.get(check.key)
    if trouble is not None and rng.random() < frame.UNSPOKEN_SHARE:
        manner = replace(manner, troubles=(trouble,))
    if check.key in frame.FEARED:
        _, first, last = frame.FEARED[check.key]
        fine = Trouble(first, last, spread_cents=frame.PRACTICED[0], spread_ms=frame.PRACTICED[1])
        manner = replace(manner, troubles=(*manner.troubles, fine))
    if any(seat.voice_changing and seat.section == "Alto" for seat in musician.seats):
        manner = replace(manner, octave=-1)
    return replace(manner, **special) if special else manner


def _levels(check: CheckPlan, able: float, rng: np.random.Generator) -> tuple[tuple[str, str], ...]:
    """A level for each criterion: the middle of the group is between Developing and Secure."""
    drawn = np.clip(np.round(2.6 + 0.75 * able + rng.normal(0, 0.6, len(check.criteria))), 1, 4)
    return tuple((key, str(int(level))) for key, level in zip(check.criteria, drawn, strict=True))


def _self_levels(
    levels: tuple[tuple[str, str], ...], rng: np.random.Generator
) -> tuple[tuple[str, int], ...]:
    """What the musician says of the same criteria: a step off in either direction at times."""
    return tuple(
        (key, int(np.clip(int(level) + rng.choice((-1, 0, 0, 0, 1)), 1, 4)))
        for key, level in levels
    )


def _words(check: CheckPlan, rng: np.random.Generator) -> str:
    """A few words that came with a take, often of what everybody fears, or none."""
    if rng.random() >= WRITES_SHARE:
        return ""
    mind = "plain"
    if check.key in frame.FEARED and rng.random() < 0.6:
        mind = frame.FEARED[check.key][0]
    return str(rng.choice(SENT_WITH[mind]))


def _answer(
    check: CheckPlan, levels: tuple[tuple[str, str], ...], rng: np.random.Generator
) -> AnswerPlan:
    """The next step for the lowest level; on an easy evening a strength and a strategy too."""
    low_key, low = min(levels, key=lambda pair: pair[1])
    high_key, high = max(levels, key=lambda pair: pair[1])
    first = None if check.measures is None else int(rng.integers(*check.measures))
    return AnswerPlan(
        next_step=BANK[low_key]["next_step"][int(low) - 1],
        strength=BANK[high_key]["strength"][int(high) - 1] if rng.random() < 0.7 else "",
        strategy=BANK[low_key]["strategy"][int(low) - 1] if rng.random() < 0.5 else "",
        measures=None if first is None or rng.random() < 0.5 else (first, first + 1),
    )


def _second_try(
    check: CheckPlan,
    turn: TurnPlan,
    ability: dict[str, float],
    today: date,
    rng: np.random.Generator,
) -> TurnPlan:
    """The same musician again after the answer, a good deal better; waiting to be heard."""
    able = ability[turn.roster_id] + 1.2
    rated_on = (turn.rated_at or turn.sent_at or datetime.combine(today, time())).date()
    evening = datetime.combine(min(rated_on + timedelta(days=6), today), time(18, 5))
    return replace(
        turn,
        attempt=2,
        sent_at=min(evening, datetime.combine(today - timedelta(days=1), time(18, 5))),
        manner=draw_manner(able, int(rng.integers(1, 2**31)), vibrato=True),
        words="tried again with the drone",
        levels=(),
        answer=None,
        rated_at=None,
    )


def _sent_at(
    check: CheckPlan, share: float, today: date, rng: np.random.Generator, *, live: bool
) -> datetime:
    """A time in class on the due day (live), or an afternoon between publishing and the due day."""
    if live:
        return datetime.combine(check.due_on, time(10, 15)) + timedelta(seconds=int(2400 * share))
    first = check.published_at.date() + timedelta(days=1)
    last = min(check.due_on, today - timedelta(days=1))
    day = first + timedelta(days=int(share * ((last - first).days + 1)))
    minutes = int(rng.integers(0, 5 * 60))
    return datetime.combine(min(day, last), time(15, 30)) + timedelta(minutes=minutes)


def _rated_at(check: CheckPlan, sent_at: datetime, today: date) -> datetime:
    """The evening of the day after (live: of the day itself), never later than yesterday."""
    days = 0 if check.key in LIVE_CHECKS else 1
    day = min(sent_at.date() + timedelta(days=days), today - timedelta(days=1))
    return max(
        datetime.combine(day, time(21, 0)) + timedelta(seconds=sent_at.minute * 20),
        sent_at + timedelta(minutes=20),
    )


def _remarks(
    checks: Sequence[CheckPlan],
    turns: Sequence[TurnPlan],
    today: date,
    rng: np.random.Generator,
) -> tuple[RemarkPlan, ...]:
    """Remarks on measures: musicians' on what they fear, a few of the directors'; in time order."""
    made = [
        RemarkPlan(
            piece,
            next(g.director for g in frame.GROUPS if g.key == _group_of(piece)),
            first,
            last,
            words,
            datetime.combine(today - timedelta(days=3 + place), time(11, 20)),
        )
        for place, (piece, first, last, words) in enumerate(DIRECTOR_REMARKS)
    ]
    for check in checks:
        if check.key not in frame.FEARED:
            continue
        mind, first, last = frame.FEARED[check.key]
        senders = [t for t in turns if t.check == check.key and t.sent_at]
        chosen = rng.choice(len(senders), size=len(senders) // 4, replace=False)
        made += [
            RemarkPlan(
                check.piece,
                senders[i].roster_id,
                first,
                last,
                str(rng.choice(REMARKS[mind])),
                senders[i].sent_at + timedelta(minutes=4),
            )
            for i in sorted(int(i) for i in chosen)
        ]
    return tuple(sorted(made, key=lambda remark: remark.made_at))


def _group_of(piece: str) -> str:
    return next(p.group for p in frame.PIECES if p.key == piece)
