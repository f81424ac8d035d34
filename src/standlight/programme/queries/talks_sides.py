"""Both sides of a conversation: what a musician says of themselves, and what was seen of them."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.programme.dates import date_words
from standlight.programme.models import Musician, Reply, Turn
from standlight.programme.queries.rater_names import names_for
from standlight.programme.queries.studies import growth_of
from standlight.programme.queries.talks_rules import (
    Room,
    growth_sentence,
    missing_titles,
    titles_words,
    together,
    unopened,
)
from standlight.programme.queries.talks_values import (
    ActsTable,
    Block,
    BothSides,
    LevelRow,
    LevelsTable,
)
from standlight.programme.queries.talks_views import STEPS_APART, Goal, goals_of, two_views
from standlight.ratings.growth_values import TOO_FEW
from standlight.ratings.levels import level_name

MOST_GOALS = 2
"""Goals on the page: the newest; older ones stand on the sheets."""

LONGEST_QUOTE = 60
"""Words of one answer on the page; the whole stands at the Desk (our choice)."""


def both_sides(room: Room, musician: Musician) -> BothSides:
    """The evidence of one musician in one ensemble, this school year; about 25 queries."""
    turn = _newest_answered(room, musician)
    views = two_views(room.works, musician).get(musician.pk)
    acts = views and ActsTable(
        views.work,
        views.said_on,
        views.seen_on,
        tuple((row, row.steps >= STEPS_APART) for row in views.rows),
    )
    return BothSides(
        tuple(_said(room, musician, turn)),
        tuple(_seen(room, musician, turn)),
        None if turn is None else _levels(turn),
        acts or None,
    )


def _newest_answered(room: Room, musician: Musician) -> Turn | None:
    """The musician's newest answered turn in this ensemble this year."""
    rows = Turn.objects.filter(
        musician=musician, check_row__ensemble=room.ensemble, answered_at__isnull=False
    )
    if room.begins is not None:
        rows = rows.filter(check_row__due_on__gte=room.begins)
    return rows.select_related("check_row", "answer", "plan").order_by("-answered_at").first()


def _said(room: Room, musician: Musician, turn: Turn | None) -> Iterator[Block]:
    """What the musician says: goals, words with a take, a plan."""
    for goal in goals_of(room.works, musician).get(musician.pk, [])[:MOST_GOALS]:
        yield Block(f"Goal ({goal.work})", tuple(_goal_lines(goal)), is_goal=True)
    if turn is not None and turn.words.strip():
        yield Block(f"With the take of {turn.check_row.title}", (shortened(turn.words),))
    plan = getattr(turn, "plan", None)
    if plan is not None and any(plan.lines):
        yield Block("Own plan after the answer", tuple(filter(None, plan.lines)))


def _goal_lines(goal: Goal) -> Iterator[str]:
    """A goal's words, and how close it came."""
    for prompt, words in goal.words:
        yield f"{prompt} {shortened(words)}"
    if goal.values:
        values = ", then ".join(str(value) for value in goal.values)
        low, high = goal.ends
        scale = f" ({goal.least} {low}, {goal.most} {high})" if low and high else ""
        yield f"How close, at each check-in: {values}{scale}."


def _seen(room: Room, musician: Musician, turn: Turn | None) -> Iterator[Block]:
    """What was seen: growth, the newest answer and reply, what is missing or not opened."""
    yield from _growth(room, musician)
    if turn is not None and hasattr(turn, "answer"):
        answer = turn.answer
        said = (("Strong: ", answer.strength), ("Next: ", answer.next_step))
        lines = tuple(f"{word}{shortened(text)}" for word, text in said if text)
        if lines:
            yield Block(f"Answer to {turn.check_row.title}, {date_words(turn.answered_at)}", lines)
    yield from _reply(room, musician)
    tomorrow = room.today + datetime.timedelta(1)
    missing = missing_titles(room, tomorrow).get(musician.pk, [])
    if missing:
        yield Block("Missing today", (f"{titles_words(missing)}.",))
    waiting = [day for pk, day in unopened(room, room.today) if pk == musician.pk]
    if waiting:
        oldest = date_words(min(waiting))
        many = "1 answer" if len(waiting) == 1 else f"{len(waiting)} answers, the oldest"
        yield Block("Not opened yet", (f"{many} from {oldest}.",))


def _growth(room: Room, musician: Musician) -> Iterator[Block]:
    """Growth here in one sentence with its interval; nothing where it cannot be told."""
    for seen in growth_of(room.account, musician):
        line = together(seen.lines) if seen.ensemble_pk == room.ensemble.pk else None
        if line is not None and seen.first_day and line["state"] != TOO_FEW:
            said = growth_sentence(seen, line, names_for(room.account).tasks)
            yield Block("Growth, from levels", (said,))


def _reply(room: Room, musician: Musician) -> Iterator[Block]:
    """The newest reply to something written."""
    reply = (
        Reply.objects.filter(
            sheet__assignment__in=room.works, sheet__author=musician.account_id
        )
        .select_related("sheet__assignment")
        .order_by("-written_at")
        .first()
    )
    if reply is not None:
        said = (("", reply.words), ("Next: ", reply.next_step))
        lines = tuple(f"{word}{shortened(text)}" for word, text in said if text)
        when = date_words(timezone.localdate(reply.written_at))
        yield Block(f"Reply to {reply.sheet.assignment.title}, {when}", lines)


def _levels(turn: Turn) -> LevelsTable:
    """The levels of a turn beside the musician's own; the latest given stands."""
    given = {one.criterion: one.value for one in turn.levels.filter(retired_at=None).order_by(
        "given_at", "pk"
    )}  # fmt: skip
    rows = (
        LevelRow(
            CRITERIA[key].name,
            _level(turn.self_levels.get(key)),
            _level(given.get(key)),
        )
        for key in turn.check_row.criteria
        if key in CRITERIA
    )
    return LevelsTable(turn.check_row.title, turn.answered_at, tuple(rows))


def _level(value: object) -> str:
    """A level in words, nothing for none."""
    return level_name(str(value)) if value else ""


def shortened(words: str, most: int = LONGEST_QUOTE) -> str:
    """At most so many words, with a sign where some are left out.

    >>> shortened("one two three", 2), shortened("one  two", 2)
    ('one two …', 'one two')
    """
    each = words.split()
    return " ".join(each) if len(each) <= most else f"{' '.join(each[:most])} …"
