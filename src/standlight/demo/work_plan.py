"""The demo year's written work as values: who wrote what and when, who read it, what came back.

Drawn from the scenario's people and one seed. No database: ``work_rows`` writes it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

import numpy as np

from standlight.demo.cast import SHOWN_MUSICIAN
from standlight.demo.plan import MusicianPlan, Scenario, SeatPlan
from standlight.demo.programme_plan import school_day
from standlight.demo.scenario import SEED
from standlight.demo.work_table import WORK, Given, StepDone
from standlight.demo.writers import WRITERS, Sitting
from standlight.demo.written.directors import OWN
from standlight.demo.written.pen import Decks, Pen
from standlight.demo.written.projects import topic_of
from standlight.demo.written.rehearsals import acts_seen
from standlight.demo.written.replies import NEXT_STEPS, WORDS
from standlight.demo.written.year import year_begun

Member = tuple[MusicianPlan, SeatPlan]

LAST_MEASURES = {"tenth_regiment": 104, "brandenburg": 137}
"""Last printed measure of the pieces that remarks are made about."""

SEEN_SHARE = 0.7
"""Share of the replies that their musician has looked at."""

IN_CLASS = frozenset({"rehearsal_remark", "ensemble_acts"})
"""Kinds that are written in the last minutes of class."""

UNSEEN = ("strings_project", "check_in", 1)
"""The shown musician's reply that is still to be read."""

SHOWN_NOT = frozenset(
    {
        ("strings_project", "check_in", 2),
        ("strings_year", "back", 1),
        ("strings_year", "ahead", 1),
    }
)
"""What the shown musician has not sent; everything else of the group is."""


@dataclass(frozen=True, slots=True)
class ReplyPlan:
    """A director's two lines, written at once; ``seen_at`` None while nobody has looked."""

    words: str
    next_step: str
    seen_at: datetime | None


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """One sitting: ``author`` is a roster id or a director's key, ``about`` a roster id or ""."""

    given: str
    author: str
    about: str
    step: str
    number: int
    answers: dict
    saved_at: datetime
    sent_at: datetime | None
    opened_at: datetime | None = None
    on_wall: bool = False
    reply: ReplyPlan | None = None


@dataclass(frozen=True, slots=True)
class ExcusePlan:
    """Why somebody is not asked, or (``until``) not before a later day."""

    given: str
    roster_id: str
    reason: str
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Work:
    """All that was given out, every sheet, every excuse."""

    given: tuple[Given, ...]
    sheets: tuple[SheetPlan, ...]
    excuses: tuple[ExcusePlan, ...]


@dataclass(slots=True)
class _Group:
    """What the sheets of one assignment are drawn with."""

    year: Scenario
    given: Given
    members: list[Member]
    shown: str
    director: str
    pens: dict[str, Pen]
    decks: Decks
    rng: np.random.Generator


def work(year: Scenario, seed: int = SEED) -> Work:
    """All written work of ``year``; the same year and seed give the same."""
    rng = np.random.default_rng([seed, 21])
    decks = Decks(rng)
    sheets: list[SheetPlan] = []
    excuses: list[ExcusePlan] = []
    directors = {group.key: group.director for group in year.groups}
    group, section, place = SHOWN_MUSICIAN
    shown = [m for m, seat in year.members(group) if seat.section == section][place].roster_id
    pens: dict[tuple[str, str], Pen] = {}
    for given in WORK:
        members = _asked(year, given)
        for musician, seat in members:
            key = (given.group, musician.roster_id)
            pens.setdefault(key, Pen(rng, decks, musician.grade, seat.section))
        here = {m.roster_id: pens[given.group, m.roster_id] for m, _ in members}
        drawn = _Group(year, given, members, shown, directors[given.group], here, decks, rng)
        kept_out = _excuses(drawn)
        excuses += kept_out
        free = {m.roster_id for m, _ in members} - {one.roster_id for one in kept_out}
        sheets += _answered(drawn, _sent(drawn, free))
        sheets += [*_begun(drawn, sheets, free), *_own(drawn), *_seen(drawn)]
    return Work(WORK, tuple(sheets), tuple(excuses))


def _asked(year: Scenario, given: Given) -> list[Member]:
    """Who is asked: the sections whose turn it is, without who joined after the due day."""
    due = None if given.due_in is None else year.today + timedelta(given.due_in)
    return [
        (musician, seat)
        for musician, seat in year.members(given.group)
        if (not given.sections or seat.section in given.sections)
        and (seat.joined_on is None or due is None or seat.joined_on <= due)
    ]


def _excuses(drawn: _Group) -> list[ExcusePlan]:
    """A few who were absent (some with a later day) or are excused; never the shown musician."""
    given, free = drawn.given, [m for m, _ in drawn.members if m.roster_id != drawn.shown]
    drawn.rng.shuffle(free)
    reasons = ["absent"] * given.absent + ["excused"] * given.excused
    later = drawn.year.today + timedelta((given.due_in or 0) + 9)
    return [
        ExcusePlan(
            given.key, musician.roster_id, reason,
            later if reason == "absent" and place == 0 else None,
        )
        for place, (musician, reason) in enumerate(zip(free, reasons, strict=False))
    ]  # fmt: skip


def _sent(drawn: _Group, free: set[str]) -> list[SheetPlan]:
    """Every sheet that musicians sent; a step only by those who sent the one before."""
    sheets, order = [], sorted(free)
    drawn.rng.shuffle(order)
    topics = {}
    if drawn.given.kind == "skill_project":
        topics = {roster_id: topic_of(drawn.pens[roster_id]) for roster_id in order}
    for done in drawn.given.done:
        count = round(done.share * len(drawn.members))
        sending = [one for one in order if one != drawn.shown][:count]
        if drawn.shown in free and (drawn.given.key, done.step, done.number) not in SHOWN_NOT:
            sending.append(drawn.shown)
        for place, roster_id in enumerate(sending):
            sitting = Sitting(
                done.step, done.number, _title(drawn), LAST_MEASURES.get(drawn.given.piece, 0),
                topics.get(roster_id),
            )  # fmt: skip
            sent_at = _sent_at(drawn, done, place / len(sending))
            sheets.append(
                SheetPlan(
                    given=drawn.given.key,
                    author=roster_id,
                    about=roster_id,
                    step=done.step,
                    number=done.number,
                    answers=WRITERS[drawn.given.kind](drawn.pens[roster_id], sitting),
                    saved_at=sent_at,
                    sent_at=sent_at,
                )
            )
    return sheets


def _title(drawn: _Group) -> str:
    """The piece's title as the folder has it."""
    titles = {piece.key: piece.title for piece in drawn.year.pieces}
    return titles.get(drawn.given.piece, "")


def _sent_at(drawn: _Group, done: StepDone, share: float) -> datetime:
    """In the last minutes of class, or some afternoon; on a school day where there is one."""
    span = done.last_day - done.first_day
    day = drawn.year.today + timedelta(done.first_day + round(share * span))
    first = drawn.year.today + timedelta(done.first_day)
    day = max(school_day(day), first) if drawn.given.kind in IN_CLASS else day
    if drawn.given.kind in IN_CLASS:
        return datetime.combine(day, time(10, 32)) + timedelta(seconds=round(share * 570))
    return datetime.combine(day, time(15, 20)) + timedelta(minutes=int(drawn.rng.integers(0, 330)))


def _answered(drawn: _Group, sheets: Sequence[SheetPlan]) -> Iterator[SheetPlan]:
    """The same sheets with what the director opened, answered and put on the wall."""
    ordered = sorted(sheets, key=lambda sheet: sheet.sent_at)
    on_wall = 0
    for place, sheet in enumerate(ordered):
        opened = place < round(drawn.given.opened * len(ordered))
        shown = sheet.author == drawn.shown and sheet.given != "strings_remarks_4"
        if not (opened or (shown and drawn.given.answered)):
            yield sheet
            continue
        opened_at = _evening_after(drawn, sheet.sent_at, place)
        # The shown musician has an answer to the first sitting of each step.
        answered = place < round(drawn.given.answered * len(ordered)) or (
            shown and sheet.number == 1
        )
        wall = bool(sheet.answers.get("share")) and on_wall < drawn.given.on_wall
        on_wall += wall
        yield replace(
            sheet,
            opened_at=opened_at,
            on_wall=wall,
            reply=_reply(drawn, sheet, opened_at) if answered else None,
        )


def _evening_after(drawn: _Group, sent_at: datetime, place: int) -> datetime:
    """The evening of the day after, never later than yesterday's."""
    day = min(sent_at.date() + timedelta(1), drawn.year.today - timedelta(1))
    evening = datetime.combine(day, time(21, 0)) + timedelta(seconds=40 * (place % 70))
    return max(evening, sent_at + timedelta(minutes=15))


def _reply(drawn: _Group, sheet: SheetPlan, opened_at: datetime) -> ReplyPlan:
    """Two lines, or one of them."""
    kind = drawn.given.kind
    if sheet.author == drawn.shown:
        seen = (sheet.given, sheet.step, sheet.number) != UNSEEN
    else:
        seen = bool(drawn.rng.random() < SEEN_SHARE)
    return ReplyPlan(
        words=str(drawn.decks.deal(WORDS[kind])),
        next_step=str(drawn.decks.deal(NEXT_STEPS[kind])) if drawn.rng.random() < 0.55 else "",
        seen_at=opened_at + timedelta(hours=1) if seen else None,
    )


def _begun(
    drawn: _Group, sheets: Sequence[SheetPlan], free: set[str]
) -> Iterator[SheetPlan]:
    """Sheets that are open: the first answer of a step, or a part of it."""
    given = drawn.given
    sent = {sheet.author for sheet in sheets if sheet.given == given.key}
    idle = sorted(free - sent - {drawn.shown})
    drawn.rng.shuffle(idle)
    step = given.done[0].step if given.done else ""
    for place, roster_id in enumerate(idle[: given.begun]):
        pen = drawn.pens[roster_id]
        whole = WRITERS[given.kind](pen, Sitting(step))
        kept = year_begun(pen) if given.kind == "year_reflection" else _part(whole)
        evening = datetime.combine(drawn.year.today - timedelta(1 + place % 3), time(19, 10))
        yield SheetPlan(given.key, roster_id, roster_id, step, 1, kept, evening, None)


def _part(answers: dict) -> dict:
    """The first answer alone."""
    return dict(list(answers.items())[:1])


def _own(drawn: _Group) -> Iterator[SheetPlan]:
    """The director's own sheets, sent when the musicians had sent theirs."""
    for step in drawn.given.own:
        last = max(done.last_day for done in drawn.given.done if done.step == step)
        day = drawn.year.today + timedelta(last)
        at = datetime.combine(day, time(20, 30))
        answers = OWN[drawn.given.kind][step]
        yield SheetPlan(drawn.given.key, drawn.director, "", step, 1, answers, at, at)


def _seen(drawn: _Group) -> Iterator[SheetPlan]:
    """What the director saw of some, sent the day after the work was due."""
    pen = Pen(drawn.rng, drawn.decks, 12, "")
    at = datetime.combine(drawn.year.today + timedelta((drawn.given.due_in or 0) + 1), time(16, 5))
    step = drawn.given.done[0].step if drawn.given.done else ""
    for place, (musician, _) in enumerate(drawn.members[:: 3][: drawn.given.seen_of]):
        moment = at + timedelta(minutes=place)
        yield SheetPlan(
            drawn.given.key, drawn.director, musician.roster_id, step, 1, acts_seen(pen),
            moment, moment,
        )  # fmt: skip
