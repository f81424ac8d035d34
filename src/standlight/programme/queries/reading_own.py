"""A director's own side of a kind of work: the same form once, or a line about each musician."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils import timezone

from standlight.kinds import Field, Step, gather_of
from standlight.programme.models import Account, Assignment, Sheet
from standlight.programme.queries.assignments import work_standing
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading_answers import Shown, shown_answers, sounds_of
from standlight.programme.queries.reading_sheet import what_words
from standlight.programme.queries.sheets import (
    FormChoice,
    FormField,
    Setting,
    form_of,
    setting_of,
    unsent_sheet,
)
from standlight.programme.queries.work_steps import steps_of


@dataclass(frozen=True, slots=True)
class OwnSent:
    """A director's own sheet that is sent, and may be taken up again."""

    key: str
    what: str
    answers: tuple[Shown, ...]


@dataclass(frozen=True, slots=True)
class OwnPage:
    """A director's own sheet at a step: what is sent, and a form while one may be written."""

    assignment_pk: int
    title: str
    ensemble: str
    piece: str
    step: str
    step_name: str
    steps: tuple[tuple[str, str], ...]
    sent: tuple[OwnSent, ...]
    form: tuple[FormField | FormChoice, ...]
    has_sound: bool


@dataclass(frozen=True, slots=True)
class Tap:
    """One thing to tap in a musician's line."""

    value: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class SawRow:
    """A musician's line: what was tapped and the example typed so far, and what was sent before."""

    musician_pk: int
    name: str
    taps: tuple[Tap, ...]
    example: str
    kept: bool
    sent: bool


@dataclass(frozen=True, slots=True)
class SawPage:
    """What a director saw of each musician, one question at a time."""

    assignment_pk: int
    title: str
    ensemble: str
    step: str
    step_name: str
    prompts: tuple[tuple[str, str, bool], ...]
    prompt: str
    question: str
    several: bool
    example: str
    sections: tuple[tuple[str, tuple[SawRow, ...]], ...]
    kept: int


def own_page(
    account: Account,
    assignment: Assignment,
    step: Step,
    answers: Mapping[str, object] | None = None,
    *,
    tell: bool = False,
) -> OwnPage:
    """A director's own sheet; ``answers`` stand in for what is kept, ``tell`` says what is open."""
    rows = list(
        Sheet.objects.filter(
            assignment=assignment,
            author=account,
            step=step.key,
            about__isnull=True,
            sent_at__isnull=False,
        ).order_by("number")
    )
    sounds = sounds_of(rows) if rows else {}
    sheet = unsent_sheet(account, assignment, step.key)
    may_write = step.most_times is None or len(rows) < step.most_times
    given = sheet.answers if answers is None else answers
    return OwnPage(
        assignment.pk,
        assignment.title,
        assignment.ensemble.name,
        assignment.piece.title if assignment.piece else "",
        step.key,
        step.name,
        tuple(
            (one.key, one.name)
            for one in steps_of(assignment)
            if side_of(assignment, one.key) == "own"
        ),
        tuple(
            OwnSent(
                str(row.key),
                what_words(step, row.number),
                shown_answers(step, row.answers, sounds),
            )
            for row in rows
        ),
        form_of(
            step, given, _setting(account, assignment, step), stamps=sheet.stamps, tell=tell
        )
        if may_write
        else (),
        bool(assignment.sound_digest),
    )


def _setting(account: Account, assignment: Assignment, step: Step) -> Setting:
    """What surrounds a director's form: the pieces to name; nothing is recorded or drawn here."""
    found = setting_of(account, assignment, step, None)
    return Setting(pieces=found.pieces, sound=found.sound)


def tapped(step: Step) -> tuple[Field, ...]:
    """The questions of a step that a few taps can answer."""
    return tuple(field for field in step.fields if gather_of(field) == "counts" and not
                 field.columns)  # fmt: skip


def example_of(step: Step, field: Field) -> Field | None:
    """The short question that stands right after ``field``: what an example is typed into."""
    place = step.fields.index(field) + 1
    following = step.fields[place] if place < len(step.fields) else None
    return following if following is not None and following.type == "short" else None


def saw_page(account: Account, assignment: Assignment, step: Step, prompt: str = "") -> SawPage:
    """Everyone of the assignment with a line to tap; five queries or so."""
    offered = tapped(step)
    field = next((one for one in offered if one.key == prompt), offered[0])
    example = example_of(step, field)
    rows = list(
        Sheet.objects.filter(
            assignment=assignment, author=account, step=step.key, about__isnull=False
        ).order_by("number")
    )
    open_ = {row.about_id: row for row in rows if row.sent_at is None}
    sent = {row.about_id for row in rows if row.sent_at is not None}
    sections: dict[str, list[SawRow]] = {}
    for stand in work_standing(assignment, timezone.localdate()):
        held = open_.get(stand.musician_pk)
        answers = held.answers if held else {}
        sections.setdefault(stand.section, []).append(
            SawRow(
                stand.musician_pk,
                stand.name,
                _taps(field, answers.get(field.key)),
                str(answers.get(example.key) or "") if example else "",
                held is not None,
                stand.musician_pk in sent,
            )
        )
    return SawPage(
        assignment.pk,
        assignment.title,
        assignment.ensemble.name,
        step.key,
        step.name,
        tuple((one.key, one.prompt, one.key == field.key) for one in offered),
        field.key,
        field.prompt,
        field.type == "several",
        example.prompt if example else "",
        tuple((name, tuple(people)) for name, people in sections.items()),
        len(open_),
    )


def _taps(field: Field, answer: object) -> tuple[Tap, ...]:
    """What can be tapped, with what is chosen."""
    chosen: Sequence[object] = answer if isinstance(answer, list) else [answer]
    if field.options and field.type != "scale":
        return tuple(Tap(one.key, one.label, one.key in chosen) for one in field.options)
    steps = range(field.least or 0, (field.most or 0) + 1)
    return tuple(Tap(str(step), str(step), step in chosen) for step in steps)


def side_of(assignment: Assignment, step: str) -> str:
    """Whether directors fill the form of a step: "", "own" or "each"."""
    return kind_in(assignment.kind).side_at(step)
