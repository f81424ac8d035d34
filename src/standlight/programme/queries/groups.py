"""Groups for a director: those that were made, the form to make some, the wishes behind them."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Count

from standlight.planning import nearest_fixes, proofs_of, tell_groups
from standlight.planning.group_values import MIXED
from standlight.programme.models import (
    Account,
    Ensemble,
    Grouping,
    GroupSeat,
    GroupWish,
)
from standlight.programme.queries.groups_request import (
    Question,
    asked_field,
    key_of,
    pk_of,
    questions_of,
    request_of,
    seats_here,
)
from standlight.programme.queries.groups_words import (
    PARTS_CHOICES,
    ROLE_WORDS,
    broken_sentence,
    cannot_sentences,
    fix_sentences,
    reason_sentences,
)

USUAL_SIZE, USUAL_PARTS = 4, MIXED
"""What the form offers first; four is usual for talk (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class GroupingLine:
    """A grouping in the list of its ensemble."""

    pk: int
    title: str
    made_on: datetime.datetime
    n_musicians: int
    kept: bool
    shared: bool


@dataclass(frozen=True, slots=True)
class GroupsOf:
    """An ensemble with its groupings, the newest first, and how many wishes there are."""

    pk: int
    name: str
    lines: tuple[GroupingLine, ...]
    n_wishes: int


@dataclass(frozen=True, slots=True)
class Person:
    """A musician to be ticked or chosen."""

    pk: int
    name: str
    chosen: bool = False


@dataclass(frozen=True, slots=True)
class SectionChoice:
    """A section to be ticked, and its musicians."""

    pk: int
    name: str
    chosen: bool
    people: tuple[Person, ...]


@dataclass(frozen=True, slots=True)
class MakingPage:
    """What there is to choose from to make groups of one ensemble."""

    ensemble_pk: int
    ensemble_name: str
    sections: tuple[SectionChoice, ...]
    questions: tuple[Question, ...]
    parts: tuple[tuple[str, str], ...]
    n_wishes: int
    n_earlier: int


@dataclass(frozen=True, slots=True)
class WishLine:
    """One wish: two names, and which way."""

    pk: int
    names: str
    apart: bool


@dataclass(frozen=True, slots=True)
class WishesPage:
    """Every wish of an ensemble, and whom a new one may be about."""

    ensemble_pk: int
    ensemble_name: str
    apart: tuple[WishLine, ...]
    together: tuple[WishLine, ...]
    people: tuple[tuple[str, tuple[Person, ...]], ...]


@dataclass(frozen=True, slots=True)
class ShownMember:
    """A musician in a group: name, part, and the word of a role, if any."""

    pk: int
    name: str
    part: str
    role: str


@dataclass(frozen=True, slots=True)
class ShownGroup:
    """One group and what speaks for it."""

    number: int
    members: tuple[ShownMember, ...]
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GroupingPage:
    """One grouping. ``broken``, ``cannot`` and ``fixes`` are sentences for the director alone.

    ``fix_size`` is the nearest size in which all wishes hold, ``None`` where none is needed or
    near.
    """

    pk: int
    ensemble_pk: int
    ensemble_name: str
    title: str
    about: str
    kept: bool
    shared_at: datetime.datetime | None
    groups: tuple[ShownGroup, ...]
    broken: tuple[str, ...]
    cannot: tuple[str, ...]
    fixes: tuple[str, ...]
    fix_size: int | None
    roles: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class NamesPage:
    """Groups for a wall, a screen or a print: names and roles, and nothing else."""

    pk: int
    ensemble_pk: int
    ensemble_name: str
    title: str
    groups: tuple[ShownGroup, ...]
    roles: tuple[tuple[str, str], ...]


def groups_page(account: Account) -> tuple[GroupsOf, ...]:
    """Every ensemble of ``account`` with its groupings. Three queries."""
    rows = Grouping.objects.visible_to(account).annotate(n=Count("seats"))
    lines: dict[int, list[GroupingLine]] = {}
    for row in rows:
        lines.setdefault(row.ensemble_id, []).append(
            GroupingLine(
                row.pk, row.title, row.made_at, row.n, bool(row.kept_at), bool(row.shared_at)
            )
        )
    wishes = dict(
        GroupWish.objects.visible_to(account)
        .order_by()
        .values_list("ensemble_id")
        .annotate(n=Count("pk"))
    )
    return tuple(
        GroupsOf(one.pk, one.name, tuple(lines.get(one.pk, ())), wishes.get(one.pk, 0))
        for one in Ensemble.objects.visible_to(account)
    )


def making_page(
    ensemble: Ensemble, sections: Collection[int] | None = None, absent: Collection[int] = ()
) -> MakingPage:
    """The form for ``ensemble``; ``sections`` and ``absent`` are what is ticked (None: all)."""
    people: dict[tuple[int, str], list[Person]] = {}
    for seat in seats_here(ensemble):
        place = (seat.section_pk, seat.section)
        person = Person(seat.musician_pk, seat.name, seat.musician_pk in absent)
        people.setdefault(place, []).append(person)
    return MakingPage(
        ensemble.pk,
        ensemble.name,
        tuple(
            SectionChoice(pk, name, sections is None or pk in sections, tuple(members))
            for (pk, name), members in people.items()
        ),
        questions_of(ensemble),
        tuple(PARTS_CHOICES.items()),
        GroupWish.objects.filter(ensemble=ensemble).count(),
        Grouping.objects.filter(ensemble=ensemble, kept_at__isnull=False).count(),
    )


def wishes_page(ensemble: Ensemble) -> WishesPage:
    """The wishes of ``ensemble``. Two queries."""
    rows = GroupWish.objects.filter(ensemble=ensemble).select_related("first", "second")
    people: dict[str, list[Person]] = {}
    for seat in seats_here(ensemble):
        people.setdefault(seat.section, []).append(Person(seat.musician_pk, seat.name))
    lines = [WishLine(one.pk, f"{one.first.name} and {one.second.name}", one.apart) for one in rows]
    return WishesPage(
        ensemble.pk,
        ensemble.name,
        tuple(one for one in lines if one.apart),
        tuple(one for one in lines if not one.apart),
        tuple((name, tuple(members)) for name, members in people.items()),
    )


def grouping_page(grouping: Grouping) -> GroupingPage:
    """One grouping with what speaks for each group now, and what is against it."""
    groups = _groups(grouping)
    names = {key_of(one.pk): one.name for group in groups for one in group.members}
    reasons: dict[int, tuple[str, ...]] = {}
    broken: tuple[str, ...] = ()
    cannot: tuple[str, ...] = ()
    fixes: tuple[str, ...] = ()
    fix_size = None
    if groups:
        request = request_of(grouping, [pk_of(key) for key in names])
        keys = [tuple(key_of(one.pk) for one in group.members) for group in groups]
        told = tell_groups(request, keys, {})
        of = {key_of(one.pk): group.number for group in groups for one in group.members}
        # The pure room sorts members, not groups, so that each group keeps its place.
        for group, said in zip(groups, told.groups, strict=True):
            reasons[group.number] = reason_sentences(said.reasons)
        broken = tuple(broken_sentence(one, names, of[one.members[0]]) for one in told.broken)
        proofs = proofs_of(request) if told.broken else ()
        cannot = cannot_sentences(proofs, names)
        if proofs:
            nearest = nearest_fixes(request)
            fixes, fix_size = fix_sentences(nearest, names), nearest.size
    return GroupingPage(
        grouping.pk,
        grouping.ensemble_id,
        grouping.ensemble.name,
        grouping.title,
        _about(grouping),
        grouping.kept_at is not None,
        grouping.shared_at,
        tuple(
            ShownGroup(one.number, one.members, reasons.get(one.number, ())) for one in groups
        ),
        broken,
        cannot,
        fixes,
        fix_size,
        _roles_in(groups),
    )


def names_page(grouping: Grouping) -> NamesPage:
    """The same groups for everybody to see: names and roles alone. One query."""
    groups = _groups(grouping)
    return NamesPage(
        grouping.pk,
        grouping.ensemble_id,
        grouping.ensemble.name,
        grouping.title,
        groups,
        _roles_in(groups),
    )


def _groups(grouping: Grouping) -> tuple[ShownGroup, ...]:
    """The groups that have somebody, by number, without reasons."""
    parts = {seat.musician_pk: seat.section for seat in seats_here(grouping.ensemble)}
    rows: dict[int, list[ShownMember]] = {}
    seats = GroupSeat.objects.filter(grouping=grouping).select_related("musician")
    for seat in seats:
        rows.setdefault(seat.number, []).append(
            ShownMember(
                seat.musician_id,
                seat.musician.name,
                parts.get(seat.musician_id, ""),
                ROLE_WORDS[seat.role][0] if seat.role in ROLE_WORDS else "",
            )
        )
    return tuple(ShownGroup(number, tuple(rows[number]), ()) for number in sorted(rows))


def _roles_in(groups: Sequence[ShownGroup]) -> tuple[tuple[str, str], ...]:
    """The roles that somebody has, with what each does."""
    there = {member.role for group in groups for member in group.members}
    return tuple(words for words in ROLE_WORDS.values() if words[0] in there)


def _about(grouping: Grouping) -> str:
    """How the groups were asked for, in short sentences."""
    said = [f"At most {grouping.size} in a group.", f"{PARTS_CHOICES[grouping.parts]}."]
    field = asked_field(grouping)
    if field is not None:
        said.append(f"Answers that differ to “{field.prompt}”")
    return " ".join(said)


def chosen_people(page: MakingPage) -> list[int]:
    """The musicians of the ticked sections who are not absent."""
    return [
        person.pk
        for section in page.sections
        if section.chosen
        for person in section.people
        if not person.chosen
    ]


def question_of(page: MakingPage, value: str) -> Mapping[str, object]:
    """The fields of a grouping that name a question of the form; empty for none of them.

    >>> page = MakingPage(1, "Band", (), (Question("4:first:changes", "Map", "Where?"),), (), 0, 0)
    >>> dict(question_of(page, "4:first:changes"))
    {'assignment_id': 4, 'step': 'first', 'question': 'changes'}
    >>> question_of(page, "5:first:changes")
    {}
    """
    if value not in {one.value for one in page.questions}:
        return {}
    assignment, step, question = value.split(":", 2)
    return {"assignment_id": int(assignment), "step": step, "question": question}
