"""Kinds of work as a programme has them: what ships, overlaid by the directors' own editions."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count

from standlight.kinds import KINDS, OCCASIONS, Kind, data_of, kind_of
from standlight.programme.models import Account, Assignment, KindEdition, Programme

MOST_KEPT_KINDS = 200
"""Editions that stay read in memory: some years of a programme's kinds."""

_read: dict[int, tuple[dict, Kind]] = {}


@dataclass(frozen=True, slots=True)
class OfferedKind:
    """A kind that can be given out: ``edition`` is the number of the latest one.

    ``is_own`` when no kind of this key ships, ``is_changed`` when one ships and a director
    changed it.
    """

    key: str
    name: str
    aim: str
    moment: str
    edition: int
    is_own: bool
    is_changed: bool


@dataclass(frozen=True, slots=True)
class Latest:
    """The latest state of a kind: its definition, the number, and the row if there is one."""

    kind: Kind
    edition: int
    row: KindEdition | None

    @property
    def is_own(self) -> bool:
        """True when no kind of this key ships."""
        return self.kind.key not in KINDS

    @property
    def is_changed(self) -> bool:
        """True when a kind of this key ships and says something else."""
        return not self.is_own and not same_body(data_of(self.kind), shipped_body(self.kind.key))

    @property
    def is_put_away(self) -> bool:
        """True when it is no longer offered."""
        return self.row is not None and self.row.put_away_at is not None


def kind_in(edition: KindEdition) -> Kind:
    """The kind that an edition defines, read once; raises `UnreadableKind` for a broken body."""
    held = _read.get(edition.pk)
    # The body is compared too: a number can be used again after a database is loaded anew.
    if held is not None and held[0] == edition.body:
        return held[1]
    kind = kind_of(edition.body)
    while len(_read) >= MOST_KEPT_KINDS:
        _read.pop(next(iter(_read)), None)
    _read[edition.pk] = (edition.body, kind)
    return kind


def offered_kinds(programme: Programme) -> tuple[OfferedKind, ...]:
    """Every kind that is not put away, by its place in the year, then by name. One query."""
    return tuple(offered(one) for one in latest_kinds(programme) if not one.is_put_away)


def offered(one: Latest) -> OfferedKind:
    """The line of a kind in lists."""
    kind = one.kind
    return OfferedKind(
        kind.key, kind.name, kind.aim, kind.moment, one.edition, one.is_own, one.is_changed
    )


def latest_kinds(programme: Programme) -> tuple[Latest, ...]:
    """Every kind in its latest state, those put away too. One query."""
    rows: dict[str, KindEdition] = {}
    for row in KindEdition.objects.filter(programme=programme).order_by("key", "edition"):
        rows[row.key] = row
    found = [latest_of(key, rows.get(key)) for key in dict.fromkeys([*KINDS, *rows])]
    moments = list(OCCASIONS)
    return tuple(sorted(found, key=lambda one: (moments.index(one.kind.moment), one.kind.name)))


def latest_of(key: str, row: KindEdition | None) -> Latest:
    """The latest state of one kind from its newest row, ``None`` where nobody made one yet."""
    if row is None:
        return Latest(KINDS[key], 1, None)
    if is_outdated(row):
        return Latest(KINDS[key], row.edition + 1, row)
    return Latest(kind_in(row), row.edition, row)


def is_outdated(row: KindEdition) -> bool:
    """True for a row that was made from what shipped, when something else ships now."""
    return (
        row.made_by_id is None
        and row.key in KINDS
        and not same_body(row.body, shipped_body(row.key))
    )


def shipped_body(key: str) -> dict:
    """The shipped definition as plain data."""
    return data_of(KINDS[key])


def same_body(one: dict, other: dict) -> bool:
    """True when two definitions differ in nothing but the number of their edition."""
    return {**one, "edition": 0} == {**other, "edition": 0}


@dataclass(frozen=True, slots=True)
class KindLine:
    """A kind in the list of kinds; ``changed_by`` is "" for what ships."""

    key: str
    name: str
    aim: str
    edition: int
    is_own: bool
    is_changed: bool
    changed_by: str
    n_given: int


@dataclass(frozen=True, slots=True)
class KindsPage:
    """Kinds under their places in the year, and those that are put away."""

    moments: tuple[tuple[str, tuple[KindLine, ...]], ...]
    put_away: tuple[KindLine, ...]


def kinds_listed(programme: Programme) -> KindsPage:
    """Every kind of a programme with who changed it and how often it was given out."""
    given = dict(
        Assignment.objects.filter(ensemble__programme=programme)
        .order_by()
        .values_list("kind__key")
        .annotate(Count("pk"))
    )
    names = dict(programme.accounts.filter(role=Account.DIRECTOR).values_list("pk", "shown_name"))
    lines = [(one, _kind_line(one, given, names)) for one in latest_kinds(programme)]
    offered_now = [(one.kind.moment, line) for one, line in lines if not one.is_put_away]
    moments = (
        (OCCASIONS[moment], tuple(line for where, line in offered_now if where == moment))
        for moment in [*filter(None, OCCASIONS), ""]
    )
    return KindsPage(
        tuple((words, kinds) for words, kinds in moments if kinds),
        tuple(line for one, line in lines if one.is_put_away),
    )


def _kind_line(one: Latest, given: dict[str, int], names: dict[int, str]) -> KindLine:
    """One line of the list."""
    changed = one.row is not None and (one.is_own or one.is_changed)
    return KindLine(
        key=one.kind.key,
        name=one.kind.name,
        aim=one.kind.aim,
        edition=one.edition,
        is_own=one.is_own,
        is_changed=one.is_changed,
        changed_by=names.get(one.row.made_by_id, "") if changed else "",
        n_given=given.get(one.kind.key, 0),
    )
