"""Ensemble acts from two sides, and the goals of skill projects: what talks begin from.

Kinds are told apart by what they ask, never by their keys: acts are work in which a director fills
the form about each musician and which never enters a mark; a goal is work with a step that comes
again and asks how far one is on a scale.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from standlight.kinds import Field, Kind, Step
from standlight.programme.models import Assignment, Ensemble, Musician, Sheet
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading_answers import words_of

STEPS_APART = 2
"""Steps of a row of levels from which two views part ways: one step is a matter of taste (ours)."""

ACTS_APART = 2
"""So many acts must part ways before a talk is worth it (our choice)."""


@dataclass(frozen=True, slots=True)
class ActRow:
    """One act: what the musician says, what a director saw, and how many steps lie between."""

    act: str
    said: str
    seen: str
    steps: int


@dataclass(frozen=True, slots=True)
class TwoViews:
    """The newest pair of sheets of one musician about the same acts."""

    work: str
    said_on: datetime.datetime
    seen_on: datetime.datetime
    rows: tuple[ActRow, ...]

    @property
    def n_apart(self) -> int:
        """On how many acts the views part ways."""
        return sum(row.steps >= STEPS_APART for row in self.rows)

    @property
    def part_ways(self) -> bool:
        """True when they part ways on enough acts to talk about it."""
        return self.n_apart >= ACTS_APART


@dataclass(frozen=True, slots=True)
class Goal:
    """A goal a musician set: their words, and how far they said they were at each check-in.

    ``values`` run from ``least`` to ``most``, the oldest first; ``ends`` are the words of both.
    """

    work: str
    words: tuple[tuple[str, str], ...]
    values: tuple[int, ...]
    last_on: datetime.datetime | None
    least: int
    most: int
    ends: tuple[str, str]

    @property
    def stalled(self) -> bool:
        """True when the newest check-in came no closer than the one before, and is not there yet.

        >>> day = datetime.datetime(2026, 11, 1)
        >>> [Goal("", (), values, day, 1, 4, ("", "")).stalled
        ...  for values in ((2, 2), (2, 3), (3, 2), (4, 4), (2,))]
        [True, False, True, False, False]
        """
        two = self.values[-2:]
        return len(two) == 2 and two[1] <= two[0] and two[1] < self.most


def works_of(ensemble: Ensemble, begins: datetime.date | None) -> list[Assignment]:
    """Work given out this school year, the newest first. One query."""
    rows = Assignment.objects.filter(ensemble=ensemble, published_at__isnull=False)
    if begins is not None:
        rows = rows.filter(starts_on__gte=begins)
    return list(rows.select_related("kind").order_by("-starts_on", "-pk"))


def two_views(
    works: Iterable[Assignment], musician: Musician | None = None
) -> dict[int, TwoViews]:
    """By musician the newest pair of own and director's sheet on the same acts. One query."""
    kinds = {work.pk: (work, kind_in(work.kind)) for work in works}
    kinds = {pk: pair for pk, pair in kinds.items() if _is_acts(pair[1])}
    rows = Sheet.objects.filter(assignment__in=list(kinds), sent_at__isnull=False)
    if musician is not None:
        rows = rows.filter(author__musician=musician) | rows.filter(about=musician)
    own: dict[tuple[int, int, str], tuple] = {}
    seen: dict[tuple[int, int, str], tuple] = {}
    for of, author, about, step, sent_at, answers in rows.order_by("sent_at").values_list(
        "assignment_id", "author__musician__pk", "about_id", "step", "sent_at", "answers"
    ):
        if author is not None:
            own[author, of, step] = (sent_at, answers)
        elif about is not None:
            seen[about, of, step] = (sent_at, answers)
    found: dict[int, TwoViews] = {}
    for key in own.keys() & seen.keys():
        pk, of, step_key = key
        work, kind = kinds[of]
        step = next((one for one in kind.steps if one.key == step_key), None)
        if step is None:
            continue
        views = TwoViews(
            work.title, own[key][0], seen[key][0],
            tuple(_act_rows(step.fields, own[key][1], seen[key][1])),
        )  # fmt: skip
        held = found.get(pk)
        if views.rows and (held is None or _when(views) > _when(held)):
            found[pk] = views
    return found


def _when(views: TwoViews) -> datetime.datetime:
    """When both sides were there."""
    return max(views.said_on, views.seen_on)


def _is_acts(kind: Kind) -> bool:
    """True for what a director sees of each musician and what never enters a mark."""
    return kind.director_side == "each" and not kind.marked


def _act_rows(
    fields: Sequence[Field], said: Mapping[str, object], seen: Mapping[str, object]
) -> Iterable[ActRow]:
    """The rows of levels that both have answered."""
    for field in fields:
        if field.type != "levels":
            continue
        places = {option.key: place for place, option in enumerate(field.options)}
        pair = [str(side.get(field.key)) for side in (said, seen)]
        if all(one in places for one in pair):
            labels = [field.options[places[one]].label for one in pair]
            yield ActRow(field.prompt, *labels, abs(places[pair[0]] - places[pair[1]]))


def goals_of(
    works: Iterable[Assignment], musician: Musician | None = None
) -> dict[int, list[Goal]]:
    """By musician the goals of work that has check-ins, the newest work first. One query."""
    asked = {}
    for work in works:
        kind = kind_in(work.kind)
        found = check_in_of(kind)
        if found is not None:
            asked[work.pk] = (work, kind, *found)
    rows = Sheet.objects.filter(
        assignment__in=list(asked), sent_at__isnull=False, author__musician__isnull=False
    )
    if musician is not None:
        rows = rows.filter(author__musician=musician)
    sheets: dict[tuple[int, int], list[tuple]] = {}
    for of, author, *cells in rows.order_by("sent_at", "number").values_list(
        "assignment_id", "author__musician__pk", "step", "sent_at", "answers"
    ):
        sheets.setdefault((of, author), []).append(tuple(cells))
    goals: dict[int, list[Goal]] = {}
    for of, (work, kind, step, scale) in asked.items():
        for (sheet_of, pk), mine in sheets.items():
            if sheet_of == of:
                goals.setdefault(pk, []).append(_goal(work, kind, step, scale, mine))
    return goals


def check_in_of(kind: Kind) -> tuple[Step, Field] | None:
    """The step that comes again and its scale; ``None`` for work without such a step."""
    for step in kind.steps:
        if step.due.moment == "again":
            for field in step.fields:
                if field.type == "scale":
                    return step, field
    return None


def _goal(work: Assignment, kind: Kind, step: Step, scale: Field, mine: list[tuple]) -> Goal:
    """One musician's goal; its words are the answers of the kind's first step."""
    first = kind.steps[0]
    words: tuple[tuple[str, str], ...] = ()
    values, last_on = [], None
    for key, sent_at, answers in mine:
        if key == first.key:
            said = ((one.prompt, words_of(one, answers.get(one.key))) for one in first.fields)
            words = tuple(pair for pair in said if pair[1])
        value = answers.get(scale.key) if key == step.key else None
        if isinstance(value, int):
            values.append(value)
            last_on = sent_at
    labels = [option.label for option in scale.options]
    ends = (labels[0], labels[-1]) if labels else ("", "")
    return Goal(
        work.title, words, tuple(values), last_on, scale.least or 0, scale.most or 0, ends
    )
