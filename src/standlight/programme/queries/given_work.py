"""What is given out: the list by ensemble, the form to give work out, one assignment's page."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.utils import timezone

from standlight.kinds import (
    MOMENTS,
    OCCASIONS,
    Choice,
    Kind,
    Step,
    gather_of,
    narrowed,
    rules_of,
)
from standlight.programme.dates import date_words
from standlight.programme.models import (
    Account,
    Assignment,
    ConcertCycle,
    Ensemble,
    Piece,
    WorkExcuse,
)
from standlight.programme.queries.assignments import (
    ABSENT,
    HANDED_IN,
    SENT,
    WORDS,
    Stand,
    work_standing,
    work_standings,
)
from standlight.programme.queries.class_screen import spot_asked
from standlight.programme.queries.kinds import OfferedKind, kind_in, offered_kinds
from standlight.programme.queries.sheet_forms import choice_words

EARLIER_DAYS = 21
"""Work that was due longer ago is listed apart, without counts."""

WEEK_BEFORE_DAYS = 7
"""Before a concert musicians have other things on their minds (common practice, no source)."""


COUNTED = {SENT: "to read", ABSENT: "absent"}
"""A state's words behind a number, where those of one musician would read oddly."""


@dataclass(frozen=True, slots=True)
class GivenLine:
    """An assignment in the list; counts are of musicians."""

    pk: int
    title: str
    kind: str
    sections: str
    published: bool
    starts_on: datetime.date
    due_on: datetime.date | None
    n_asked: int
    n_sent: int
    n_unread: int


@dataclass(frozen=True, slots=True)
class GivenGroup:
    """An ensemble with what is open now, and what is over."""

    pk: int
    name: str
    now: tuple[GivenLine, ...]
    earlier: tuple[GivenLine, ...]


@dataclass(frozen=True, slots=True)
class KindsOfMoment:
    """The kinds of one place in the year, under its words."""

    words: str
    kinds: tuple[OfferedKind, ...]


@dataclass(frozen=True, slots=True)
class RuleChoice:
    """One choice of a step: how many of how many, as it stands in the form under ``name``."""

    name: str
    words: str
    least: str
    most: str
    there: int


@dataclass(frozen=True, slots=True)
class RulePrompt:
    """A question that an assignment may make a required one; ``ticked`` as it stands."""

    key: str
    prompt: str
    ticked: bool


@dataclass(frozen=True, slots=True)
class RuleStep:
    """A step in the form to give out: its choices, and what can be made required."""

    key: str
    name: str
    when: str
    choices: tuple[RuleChoice, ...]
    prompts: tuple[RulePrompt, ...]
    always: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GivingPage:
    """What there is to choose from to give out one kind to one ensemble."""

    ensemble_pk: int
    ensemble_name: str
    kind_key: str
    kind_name: str
    aim: str
    wants_piece: bool
    wants_sound: bool
    director_too: str
    pieces: tuple[tuple[int, str], ...]
    sections: tuple[tuple[int, str], ...]
    steps: tuple[RuleStep, ...]
    concerts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StandRow:
    """A musician on an assignment's page: words of the state and whatever is theirs alone."""

    musician_pk: int
    name: str
    state: str
    words: str
    more: str
    reason: str
    until: str


@dataclass(frozen=True, slots=True)
class SectionRows:
    """A section and its musicians."""

    name: str
    rows: tuple[StandRow, ...]


@dataclass(frozen=True, slots=True)
class AskedStep:
    """One step as it was given out: its questions and how many of which."""

    key: str
    name: str
    when: str
    asks: tuple[str, ...]
    director_side: str


@dataclass(frozen=True, slots=True)
class AssignmentPage:
    """One assignment: what it is, who stands where, what can be done with it."""

    pk: int
    title: str
    note: str
    kind_name: str
    aim: str
    edition: int
    ensemble_name: str
    sections: tuple[str, ...]
    piece: str
    sound_name: str
    has_sound: bool
    wants_sound: bool
    starts_on: datetime.date
    due_on: datetime.date | None
    today: datetime.date
    published: bool
    laid_open_at: datetime.datetime | None
    can_lay_open: bool
    has_screen: bool
    anything_sent: bool
    warnings: tuple[str, ...]
    counts: tuple[str, ...]
    groups: tuple[SectionRows, ...]
    steps: tuple[AskedStep, ...]

    @property
    def n_unread(self) -> int:
        """Musicians who have sent something that nobody has opened."""
        return sum(row.state == SENT for group in self.groups for row in group.rows)


def given_page(account: Account) -> tuple[GivenGroup, ...]:
    """What is given out in every ensemble that ``account`` sees. Eight queries."""
    today = timezone.localdate()
    rows = list(
        Assignment.objects.visible_to(account)
        .select_related("kind")
        .prefetch_related("sections")
        .order_by("-due_on", "-pk")
    )
    long_ago = today - datetime.timedelta(EARLIER_DAYS)
    now = [row for row in rows if row.due_on is None or row.due_on >= long_ago]
    stands = work_standings(now, today)
    groups = []
    for ensemble in Ensemble.objects.visible_to(account):
        own = [row for row in rows if row.ensemble_id == ensemble.pk]
        groups.append(
            GivenGroup(
                ensemble.pk,
                ensemble.name,
                tuple(_line(row, stands[row.pk]) for row in own if row.pk in stands),
                tuple(_line(row, ()) for row in own if row.pk not in stands),
            )
        )
    return tuple(groups)


def _line(row: Assignment, stands: Sequence[Stand]) -> GivenLine:
    """An assignment with its counts."""
    return GivenLine(
        pk=row.pk,
        title=row.title,
        kind=str(row.kind.body.get("name", "")),
        sections=", ".join(section.name for section in row.sections.all()),
        published=row.published_at is not None,
        starts_on=row.starts_on,
        due_on=row.due_on,
        n_asked=len(stands),
        n_sent=sum(stand.state in HANDED_IN for stand in stands),
        n_unread=sum(stand.state == SENT for stand in stands),
    )


def kinds_by_moment(account: Account) -> tuple[KindsOfMoment, ...]:
    """The kinds that can be given out, under the place in the year where each belongs."""
    offered = offered_kinds(account.programme)
    moments = [*filter(None, OCCASIONS), ""]
    found = (
        KindsOfMoment(OCCASIONS[moment], tuple(one for one in offered if one.moment == moment))
        for moment in moments
    )
    return tuple(one for one in found if one.kinds)


def giving_page(
    ensemble: Ensemble, kind: Kind, typed: Mapping[str, Sequence[str]] | None = None
) -> GivingPage:
    """The choices of the form that gives ``kind`` out, with what was ``typed`` in the rules.

    ``typed`` are the values of each field by its name. Three queries.
    """
    today = timezone.localdate()
    pieces = Piece.objects.filter(ensemble=ensemble).order_by("-added_at", "title")
    return GivingPage(
        ensemble_pk=ensemble.pk,
        ensemble_name=ensemble.name,
        kind_key=kind.key,
        kind_name=kind.name,
        aim=kind.aim,
        wants_piece="piece" in kind.needs,
        wants_sound="sound" in kind.needs,
        director_too=kind.director_side,
        pieces=tuple(pieces.values_list("pk", "title")),
        sections=tuple(ensemble.sections.values_list("pk", "name")),
        steps=tuple(_rule_step(step, typed or {}) for step in kind.steps),
        concerts=tuple(
            f"{cycle.name} is on {date_words(cycle.concert_on, 'weekday')}."
            for cycle in ensemble.cycles.filter(concert_on__gte=today)
        ),
    )


def _rule_step(step: Step, typed: Mapping[str, Sequence[str]]) -> RuleStep:
    """What an assignment may say about a step."""
    chosen = {member for choice in step.choices for member in choice.of}
    always = [one for one in step.fields if one.required and one.key not in chosen]
    ticked = typed.get(f"required:{step.key}", ())
    return RuleStep(
        key=step.key,
        name=step.name,
        when=when_words(step),
        choices=tuple(_rule_choice(step, choice, typed) for choice in step.choices),
        prompts=tuple(
            RulePrompt(one.key, one.prompt, one.key in ticked)
            for one in step.fields
            if one not in always
        ),
        always=tuple(one.prompt for one in always),
    )


def _rule_choice(step: Step, choice: Choice, typed: Mapping[str, Sequence[str]]) -> RuleChoice:
    """A choice's numbers as typed, else the kind's own."""
    name, there = f"{step.key}:{choice.key}", len(choice.of)
    most = there if choice.most is None else choice.most
    numbers = [
        "".join(typed.get(f"{end}:{name}", [str(own)])[:1])
        for end, own in (("least", choice.least), ("most", most))
    ]
    return RuleChoice(name, choice.prompt or "Questions to choose from", *numbers, there)


def when_words(step: Step) -> str:
    """When a step is done, and how often, in words; "" where it is done once at any time."""
    due = step.due
    when = "" if due.moment == "any" else MOMENTS[due.moment].format(
        weeks_least=due.weeks_least, weeks_most=due.weeks_most
    )  # fmt: skip
    if step.least_times == 0:
        often = "if they want"
    elif step.most_times is None:
        often = "as often as they like" if step.least_times == 1 else (
            f"{step.least_times} times or more"
        )  # fmt: skip
    else:
        often = "" if step.most_times == 1 else f"{step.least_times} to {step.most_times} times"
    return ", ".join(filter(None, (when, often)))


def assignment_page(row: Assignment) -> AssignmentPage:
    """Everything about one assignment; about eight queries, none a musician."""
    today = timezone.localdate()
    kind = kind_in(row.kind)
    stands = work_standing(row, today)
    return AssignmentPage(
        pk=row.pk,
        title=row.title,
        note=row.note,
        kind_name=kind.name,
        aim=kind.aim,
        edition=row.kind.edition,
        ensemble_name=row.ensemble.name,
        sections=tuple(row.sections.values_list("name", flat=True)),
        piece="" if row.piece is None else row.piece.title,
        sound_name=row.sound_name,
        has_sound=bool(row.sound_digest),
        wants_sound="sound" in kind.needs,
        starts_on=row.starts_on,
        due_on=row.due_on,
        today=today,
        published=row.published_at is not None,
        laid_open_at=row.laid_open_at,
        can_lay_open=_can_lay_open(kind),
        has_screen=spot_asked(kind) is not None,
        anything_sent=any(sheet.sent_at for stand in stands for sheet in stand.sheets),
        warnings=concert_warnings(row.ensemble_id, row.starts_on, row.due_on),
        counts=_counts(stands),
        groups=_by_section(stands),
        steps=tuple(_asked_step(kind, step, row.rules) for step in kind.steps),
    )


def _can_lay_open(kind: Kind) -> bool:
    """True when there is something to show a group: answers to count, or a director's own."""
    return kind.director_side == "own" or any(
        gather_of(one) == "counts" for step in kind.steps for one in step.fields
    )


def concert_warnings(
    ensemble_pk: int, starts_on: datetime.date, due_on: datetime.date | None
) -> tuple[str, ...]:
    """A sentence for each coming concert in whose week the work opens or is due. One query."""
    found = []
    cycles = ConcertCycle.objects.filter(
        ensemble=ensemble_pk, concert_on__gte=max(starts_on, timezone.localdate())
    )
    for cycle in cycles:
        before = cycle.concert_on - datetime.timedelta(WEEK_BEFORE_DAYS)
        if due_on is not None and before <= due_on <= cycle.concert_on:
            found.append(
                f"This is due {date_words(due_on, 'weekday')}, in the week before {cycle.name} on "
                f"{date_words(cycle.concert_on, 'weekday')}. Another day may be kinder."
            )
        elif before <= starts_on and (due_on is None or due_on > cycle.concert_on):
            found.append(
                f"This opens {date_words(starts_on, 'weekday')}, in the week before {cycle.name} "
                f"on {date_words(cycle.concert_on, 'weekday')}. A later start may be kinder."
            )
    return tuple(found)


def _counts(stands: Iterable[Stand]) -> tuple[str, ...]:
    """How many stand in each state, in the order of the states."""
    counted = Counter(stand.state for stand in stands)
    return tuple(
        f"{counted[state]} {COUNTED.get(state, words)}"
        for state, words in WORDS.items()
        if counted[state]
    )


def _by_section(stands: Iterable[Stand]) -> tuple[SectionRows, ...]:
    """Musicians under their sections, in the order given."""
    groups: dict[str, list[StandRow]] = {}
    for stand in stands:
        groups.setdefault(stand.section, []).append(_row(stand))
    return tuple(SectionRows(name, tuple(rows)) for name, rows in groups.items())


def _row(stand: Stand) -> StandRow:
    """A musician's state with what is theirs alone: sittings, an own day, a reason behind it."""
    more = []
    if stand.n_asked > 1 and stand.n_sent:
        more.append(f"{stand.n_sent} of {stand.n_asked} sittings sent")
    elif not stand.n_sent and stand.sheets and stand.state not in ("begun", "not_due"):
        more.append("begun, not sent")
    if stand.own_day:
        reason = "was absent" if stand.reason == WorkExcuse.ABSENT else "extra time"
        more.append(f"{reason}, until {date_words(stand.due_on, 'weekday')}")
    return StandRow(
        musician_pk=stand.musician_pk,
        name=stand.name,
        state=stand.state,
        words=stand.words,
        more="; ".join(more),
        reason=stand.reason,
        until=stand.due_on.isoformat() if stand.own_day and stand.due_on else "",
    )


def _asked_step(kind: Kind, step: Step, rules: dict) -> AskedStep:
    """A step's questions under the rules it was given out with."""
    step = narrowed(step, rules_of(rules.get(step.key) or {}, step))
    chosen = {member for choice in step.choices for member in choice.of}
    asks = [
        one.prompt if one.required else f"{one.prompt} (if they want)"
        for one in step.fields
        if one.key not in chosen
    ]
    prompts = {one.key: one.prompt for one in (*step.choices, *step.fields)}
    for choice in step.choices:
        most = len(choice.of) if choice.most is None else choice.most
        words = choice_words(choice.least, most, len(choice.of))
        asks.append(f"{words} {' · '.join(prompts[member] for member in choice.of)}")
    side = kind.side_at(step.key)
    return AskedStep(step.key, step.name, when_words(step), tuple(asks), side)
