"""All answers to one question of an assignment, laid together for a director.

By section, each answer with its owner; counts, spreads and pins where the type of the question
has them; directors' own sheets laid over. Nothing here compares an answer with a right one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from uuid import UUID

from standlight.kinds import Field, Kind, Pin, Step, is_blank, pinned
from standlight.programme.models import Account, Assignment, Piece, Sheet
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading import places_of, sent_sheets
from standlight.programme.queries.reading_answers import Shown, shown_answer, sounds_of
from standlight.programme.queries.reading_counts import (
    ORDERED,
    CountTable,
    SpreadTable,
    count_tables,
    spread_table,
)
from standlight.programme.queries.reading_pins import (
    Owned,
    Owner,
    PinLine,
    clock_scale,
    measure_scale,
    pin_line,
)
from standlight.programme.queries.reading_sheet import what_words
from standlight.programme.queries.sittings import Sitting, sittings_of, told_apart_by, told_as

NO_SECTION = "No section"
WITHHELD = (
    "Counts and the spread of this question are shown once a director's own sheet is sent, so "
    "that nobody's ear is led."
)
STILL_WITHHELD = "Still waiting for a director's own sheet: {names}."


@dataclass(frozen=True, slots=True)
class Link:
    """A step or a question to choose."""

    key: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class TogetherAnswer:
    """One musician's answer: the sheet it stands in, and which sitting where there are several.

    ``seen`` are directors' own answers about this musician: name and answer.
    """

    sheet: UUID | None
    who: str
    what: str
    shown: Shown | None
    seen: tuple[tuple[str, Shown], ...]


@dataclass(frozen=True, slots=True)
class TogetherSection:
    """A section in concert order."""

    name: str
    answers: tuple[TogetherAnswer, ...]


@dataclass(frozen=True, slots=True)
class OwnAnswer:
    """A director's own answer to the question, laid over the group's."""

    who: str
    shown: Shown


@dataclass(frozen=True, slots=True)
class TogetherPage:
    """One question's answers and everything that can be laid over them.

    ``spreads`` are a name and a table a sitting, see `sittings_of`; the name is "" for the only.
    """

    assignment_pk: int
    title: str
    ensemble: str
    kind: str
    piece: str
    side: str
    step: str
    step_name: str
    steps: tuple[Link, ...]
    prompts: tuple[Link, ...]
    prompt: str
    answered: int
    people: int
    sections: tuple[TogetherSection, ...]
    own: tuple[OwnAnswer, ...]
    own_sent: bool
    withheld: str
    counts: tuple[CountTable, ...]
    spreads: tuple[tuple[str, SpreadTable], ...]
    pins: tuple[PinLine, ...]
    has_sound: bool


def together_page(
    account: Account, assignment: Assignment, step: Step, prompt: str = ""
) -> TogetherPage:
    """The answers to question ``prompt`` of a step; the step's first question for an unknown one.

    ``assignment`` comes with kind, piece and ensemble. About six queries.
    """
    kind = kind_in(assignment.kind)
    field = next((one for one in step.fields if one.key == prompt), step.fields[0])
    sheets = list(
        sent_sheets(account)
        .filter(assignment=assignment, step=step.key, about__isnull=False)
        .select_related("author")
    )
    own = own_sheets(account, assignment, step.key)
    laid_over = [row for row in own if row.about_id is None]
    places = places_of(assignment.ensemble)
    sheets.sort(key=lambda row: (places.get(row.about_id, (len(places), ""))[0], row.number))
    sounds = sounds_of([*sheets, *own])
    side = kind.side_at(step.key)
    sittings = sittings_of(kind, step, sheets, laid_over)
    open_ = [one for one in sittings if side != "own" or one.own]
    spreads = [(one.name, table) for one in open_ if (table := _spread(step, one)) is not None]
    pins = _pins(
        assignment,
        _owned(field, sheets, [Owner(row.author.shown_name, row.key) for row in sheets]),
        _owned(field, laid_over, [Owner(row.author.shown_name) for row in laid_over]),
        on_clock="clock" in {field.type, *(column.type for column in field.columns)},
    )
    # Where pins are listed by place, the same answers are not listed once more by section.
    sections = () if pins else _sections(kind, field, sheets, own, places, sounds)
    given = [row.about_id for row in sheets if _is_given(row.answers.get(field.key))]
    rated = spread_table(step, [], []) is not None
    return TogetherPage(
        assignment_pk=assignment.pk,
        title=assignment.title,
        ensemble=assignment.ensemble.name,
        kind=kind.name,
        piece=assignment.piece.title if assignment.piece else "",
        side=side,
        step=step.key,
        step_name=step.name,
        steps=tuple(Link(one.key, one.name, one.key == step.key) for one in kind.steps),
        prompts=tuple(Link(one.key, one.prompt, one.key == field.key) for one in step.fields),
        prompt=field.prompt,
        answered=len(given),
        people=len(set(given)),
        sections=sections,
        own=tuple(
            OwnAnswer(": ".join(filter(None, (row.author.shown_name, sitting.name))), found)
            for sitting in sittings
            for row in sitting.own
            if (found := shown_answer(field, row.answers.get(field.key), sounds)) is not None
        ),
        own_sent=any(row.author_id == account.pk for row in laid_over),
        withheld=_withheld(sittings, open_) if rated else "",
        counts=_counts(step, field, open_ if rated else sittings),
        spreads=tuple(spreads) if side == "own" or field.type in ORDERED else (),
        pins=pins,
        has_sound=bool(assignment.sound_digest),
    )


def _spread(step: Step, sitting: Sitting) -> SpreadTable | None:
    """The captions of one sitting."""
    return spread_table(
        step,
        [(row.author.shown_name, row.answers) for row in sitting.group],
        [(row.author.shown_name, row.answers) for row in sitting.own],
    )


def _withheld(sittings: Sequence[Sitting], open_: Sequence[Sitting]) -> str:
    """What is not shown yet, and why; "" where all of it is."""
    waiting = [one for one in sittings if one not in open_]
    names = ", ".join(one.name for one in waiting if one.name)
    if not waiting:
        return ""
    return f"{WITHHELD} {STILL_WITHHELD.format(names=names)}" if names else WITHHELD


def _counts(step: Step, field: Field, sittings: Sequence[Sitting]) -> tuple[CountTable, ...]:
    """Counts of a question, sitting by sitting; of what tells sittings apart, all together."""
    if field == told_apart_by(step):
        group = [row for one in sittings for row in one.group]
        sittings = [Sitting("", tuple(group), ())] if sittings else []
    return tuple(
        replace(table, name=f"{one.name}: {table.name}") if one.name else table
        for one in sittings
        for table in count_tables(
            field,
            [row.answers.get(field.key) for row in one.group],
            [(row.author.shown_name, row.answers.get(field.key)) for row in one.own],
        )
    )


def _is_given(answer: object) -> bool:
    """True for an answer; a permission that is refused is one too."""
    return answer is False or not is_blank(answer)


def own_sheets(account: Account, assignment: Assignment, step: str) -> list[Sheet]:
    """Directors' own sheets of a step that are sent: laid over all, or about one. One query."""
    return list(
        Sheet.objects.visible_to(account)
        .filter(
            assignment=assignment,
            step=step,
            sent_at__isnull=False,
            author__role=Account.DIRECTOR,
        )
        .select_related("author", "about")
        .order_by("sent_at", "key")
    )


def _sections(
    kind: Kind,
    field: Field,
    sheets: Sequence[Sheet],
    own: Sequence[Sheet],
    places: Mapping[int, tuple[int, str]],
    sounds: Mapping[str, object],
) -> tuple[TogetherSection, ...]:
    """Answers by section in concert order; who was only observed has a line too."""
    seen: dict[int, list[tuple[str, Shown]]] = {}
    names: dict[int, str] = {}
    for row in own:
        shown = shown_answer(field, row.answers.get(field.key), sounds) if row.about_id else None
        if shown is not None:
            seen.setdefault(row.about_id, []).append((row.author.shown_name, shown))
            names[row.about_id] = row.about.name
    steps = {step.key: step for step in kind.steps}
    found: list[tuple[int, TogetherAnswer]] = []
    for row in sheets:
        shown = shown_answer(field, row.answers.get(field.key), sounds)
        said = tuple(seen.pop(row.about_id, ()))
        if shown is None and not said:
            continue
        step = steps[row.step]
        what = told_as(kind, step, row) or (
            what_words(step, row.number) if step.most_times != 1 else ""
        )
        answer = TogetherAnswer(row.key, row.author.shown_name, what, shown, said)
        found.append((row.about_id, answer))
    for musician, said in seen.items():
        found.append((musician, TogetherAnswer(None, names[musician], "", None, tuple(said))))
    nowhere = (len(places), NO_SECTION)
    # A stable sort: several sittings of one musician stay in their order.
    found.sort(key=lambda pair: places.get(pair[0], nowhere)[0])
    grouped = groupby(found, key=lambda pair: places.get(pair[0], nowhere)[1])
    return tuple(
        TogetherSection(name, tuple(answer for _, answer in pairs)) for name, pairs in grouped
    )


def _owned(
    field: Field, sheets: Sequence[Sheet], owners: Sequence[Owner]
) -> list[tuple[Owner, Pin]]:
    """The places that some sheets point to, with whose they are."""
    found = pinned(field, [row.answers.get(field.key) for row in sheets])
    return [(owners[pin.owner], pin) for pin in found]


def _pins(assignment: Assignment, theirs: Owned, ours: Owned, *, on_clock: bool) -> tuple:
    """Lines of measures (one a piece) or of the clock, for questions that point to a place."""
    if not theirs and not ours:
        return ()
    if on_clock:
        return (pin_line("", theirs, ours, clock_scale([pin for _, pin in (*theirs, *ours)])),)
    title = assignment.piece.title if assignment.piece else ""
    by_piece: dict[str, tuple[list, list]] = {}
    for side, pins in enumerate((theirs, ours)):
        for owner, pin in pins:
            by_piece.setdefault(pin.piece or title, ([], []))[side].append((owner, pin))
    measures = _measures_of(assignment, set(by_piece))
    return tuple(
        pin_line(
            name,
            group,
            own,
            measure_scale(measures.get(name.casefold(), ()), [pin for _, pin in (*group, *own)]),
        )
        for name, (group, own) in by_piece.items()
    )


def _measures_of(assignment: Assignment, names: set[str]) -> dict[str, list]:
    """Title in small letters to the measures of the ensemble's piece of that name."""
    known = assignment.piece
    if known is not None and names <= {known.title}:
        return {known.title.casefold(): known.measures}
    wanted = {name.casefold() for name in names}
    rows = Piece.objects.filter(ensemble=assignment.ensemble_id)
    return {row.title.casefold(): row.measures for row in rows if row.title.casefold() in wanted}
