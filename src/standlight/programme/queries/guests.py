"""What a guest sees through their link, and what directors see of guests.

A guest's page knows codes, sound, music and levels: no name, no roster, no writing, no readings.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from standlight.programme.dates import date_words
from standlight.programme.models import (
    Account,
    GivenLevel,
    GuestLevel,
    GuestLink,
    GuestTake,
    PlayingCheck,
    Seat,
    Take,
    Turn,
)
from standlight.programme.queries.blind_takes import BlindTake, blind_take
from standlight.programme.queries.desk_orders import is_common
from standlight.programme.queries.guest_said import levels_said

OPEN, ENDED, CLOSED = "open", "ended", "closed"


@dataclass(frozen=True, slots=True)
class GuestLine:
    """One take in the guest's list; ``rated`` when all its levels are given."""

    place: int
    code: str
    rated: bool


@dataclass(frozen=True, slots=True)
class GuestPage:
    """The guest's first page: who asks, for what, until when, and the takes."""

    school: str
    asks: str
    title: str
    ensemble: str
    piece: str
    note: str
    until: datetime.datetime
    lines: tuple[GuestLine, ...]

    @property
    def next_place(self) -> int | None:
        """The first take without all its levels; ``None`` when all are done."""
        return next((line.place for line in self.lines if not line.rated), None)

    @property
    def n_rated(self) -> int:
        """How many takes have all their levels."""
        return sum(line.rated for line in self.lines)


@dataclass(frozen=True, slots=True)
class GuestHears:
    """One take as the guest hears it; ``saved`` when all its levels are given."""

    place: int
    of: int
    code: str
    until: datetime.datetime
    saved: bool
    heard: BlindTake


@dataclass(frozen=True, slots=True)
class LinkLine:
    """A link in the directors' list."""

    pk: int
    label: str
    check: str
    ensemble: str
    state: str
    n_takes: int
    n_rated: int


@dataclass(frozen=True, slots=True)
class CheckLine:
    """A check whose takes could be given to somebody, with how many there are."""

    pk: int
    title: str
    ensemble: str
    n_takes: int


@dataclass(frozen=True, slots=True)
class GuestsPage:
    """Every link, and the checks one could ask about."""

    links: tuple[LinkLine, ...]
    checks: tuple[CheckLine, ...]


@dataclass(frozen=True, slots=True)
class GivableTake:
    """A take to tick, by section; ``common`` are the takes that every rater hears."""

    turn_pk: int
    musician: str
    section: str
    common: bool


@dataclass(frozen=True, slots=True)
class GuestTold:
    """One take of a link for its director: the musician, the guest's levels, their own.

    ``levels`` is empty while the reader's own are not whole: nobody reads another's levels first.
    """

    code: str
    musician: str
    turn_pk: int
    rated: bool
    levels: tuple[str, ...]
    hidden: bool


@dataclass(frozen=True, slots=True)
class LinkPage:
    """One link for those who direct the check."""

    pk: int
    label: str
    check_pk: int
    check: str
    ensemble: str
    counts: str
    state: str
    open: bool
    takes: tuple[GuestTold, ...]


def asked_of(link: GuestLink) -> tuple[str, ...]:
    """The criteria a guest is asked for: those of the check."""
    return tuple(link.check_row.criteria)


def state_of(link: GuestLink) -> str:
    """Open, ended by its day, or closed by a director."""
    if link.closed_at is not None:
        return CLOSED
    return OPEN if link.expires_at > timezone.now() else ENDED


def with_sound() -> Exists:
    """Turns whose chosen take can be played."""
    rows = Take.objects.filter(turn=OuterRef("pk"), chosen=True)
    return Exists(rows.exclude(state__in=(Take.ARRIVING, *Take.SOUNDLESS)))


def may_be_given(account: Account, check: PlayingCheck) -> QuerySet[Turn]:
    """The turns of ``check`` that ``account`` may give to a guest.

    Sent, with sound, not excused, of musicians who still sit there; the latest of each musician.
    """
    here = Seat.objects.filter(
        musician=OuterRef("musician"), section__ensemble=check.ensemble_id, left_on__isnull=True
    )
    rows = Turn.objects.visible_to(account).filter(
        Exists(here), with_sound(), check_row=check, sent_at__isnull=False, excused=False
    )
    later = rows.filter(musician=OuterRef("musician"), attempt__gt=OuterRef("attempt"))
    return rows.exclude(Exists(later)).select_related("musician").order_by("pk")


# --- the guest's side ----------------------------------------------------------------------------


def guest_page(link: GuestLink) -> GuestPage:
    """The guest's first page. Few queries."""
    check = link.check_row
    rated = _rated_places(link)
    takes = heard_takes(link)
    return GuestPage(
        school=check.ensemble.programme.name,
        asks=link.made_by.shown_name,
        title=check.title,
        ensemble=check.ensemble.name,
        piece=check.piece.title,
        note=link.note,
        until=link.expires_at,
        lines=tuple(GuestLine(one.place, one.code, one.place in rated) for one in takes),
    )


def heard_takes(link: GuestLink) -> list[GuestTake]:
    """The takes of a link that there still are.

    Not excused since, their sound not removed, their musician still in the group.
    """
    playable = Take.objects.filter(turn=OuterRef("turn"), chosen=True).exclude(
        state__in=(Take.ARRIVING, *Take.SOUNDLESS)
    )
    here = Seat.objects.filter(
        musician=OuterRef("turn__musician"),
        section__ensemble=link.check_row.ensemble_id,
        left_on__isnull=True,
    )
    rows = link.takes.filter(Exists(playable), Exists(here), turn__excused=False)
    return list(rows.select_related("turn__check_row__piece", "turn__musician"))


def guest_take(link: GuestLink, place: int) -> GuestTake | None:
    """The guest's take number ``place``, ``None`` where there is none."""
    return next((one for one in heard_takes(link) if one.place == place), None)


def sound_of(take: GuestTake) -> Take | None:
    """The recording behind a guest's take."""
    return take.turn.takes.filter(chosen=True).exclude(state__in=Take.SOUNDLESS).first()


def guest_hears(link: GuestLink, take: GuestTake, typed: Mapping[str, str]) -> GuestHears:
    """One take as the guest hears it; ``typed`` are levels of a form that was refused."""
    given = dict(take.levels.filter(retired_at=None).values_list("criterion", "value"))
    return GuestHears(
        place=take.place,
        of=link.takes.count(),
        code=take.code,
        until=link.expires_at,
        saved=set(asked_of(link)) <= set(given),
        heard=blind_take(take.turn, asked_of(link), {**given, **typed}),
    )


def _rated_places(link: GuestLink) -> set[int]:
    """The places with a level for every criterion. One query."""
    found: dict[int, set[str]] = {}
    rows = GuestLevel.objects.filter(take__link=link, retired_at__isnull=True)
    for place, criterion in rows.values_list("take__place", "criterion"):
        found.setdefault(place, set()).add(criterion)
    asked = set(asked_of(link))
    return {place for place, criteria in found.items() if asked <= criteria}


# --- the director's side -------------------------------------------------------------------------


def guests_page(account: Account) -> GuestsPage:
    """Every link that ``account`` may see, and the latest checks with takes."""
    links = GuestLink.objects.visible_to(account).select_related("check_row__ensemble")
    return GuestsPage(tuple(_link_line(link) for link in links), checks_with_takes(account))


def checks_with_takes(account: Account, most: int = 12) -> tuple[CheckLine, ...]:
    """The latest checks of which something with sound was sent."""
    checks = PlayingCheck.objects.visible_to(account).select_related("ensemble")
    lines = (
        CheckLine(
            check.pk,
            check.title,
            check.ensemble.name,
            may_be_given(account, check).count(),
        )
        for check in checks.filter(published_at__isnull=False)[:most]
    )
    return tuple(line for line in lines if line.n_takes)


def givable(account: Account, check: PlayingCheck) -> tuple[GivableTake, ...]:
    """The takes of a check to tick, in section order."""
    rows = list(may_be_given(account, check))
    seats = Seat.objects.filter(
        section__ensemble=check.ensemble_id, musician__in=[row.musician_id for row in rows]
    ).select_related("section")
    sections = {seat.musician_id: seat.section for seat in seats.order_by("-left_on", "-pk")}
    rows.sort(key=lambda row: (sections[row.musician_id].order, row.musician.family_name, row.pk))
    return tuple(
        GivableTake(
            row.pk,
            row.musician.name,
            sections[row.musician_id].name,
            is_common(check.pk, row.pk),
        )
        for row in rows
    )


def link_page(account: Account, link: GuestLink) -> LinkPage:
    """One link, with the guest's levels beside what the reader has rated themself."""
    check = link.check_row
    rated = _rated_places(link)
    asked = set(asked_of(link))
    takes = link.takes.select_related("turn__musician")
    own: dict[int, set[str]] = {}
    for turn, criterion in GivenLevel.objects.filter(
        turn__in=[take.turn_id for take in takes], rater=account, retired_at__isnull=True
    ).values_list("turn_id", "criterion"):
        own.setdefault(turn, set()).add(criterion)
    said = levels_said(GuestLevel.objects.filter(take__link=link))
    return LinkPage(
        pk=link.pk,
        label=link.label,
        check_pk=check.pk,
        check=check.title,
        ensemble=check.ensemble.name,
        counts=GuestLink.COUNTS_AS[link.counts_as],
        state=state_words(link),
        open=state_of(link) == OPEN,
        takes=tuple(
            GuestTold(
                take.code,
                take.turn.musician.name,
                take.turn_id,
                take.place in rated,
                said.get(take.pk, ()) if asked <= own.get(take.turn_id, set()) else (),
                take.pk in said and not asked <= own.get(take.turn_id, set()),
            )
            for take in takes
        ),
    )


def state_words(link: GuestLink) -> str:
    """Whether a link works, until when or since when not; whether the guest has come."""
    opened = "opened" if link.opened_at else "not opened yet"
    came = opened.removesuffix(" yet")
    if link.closed_at is not None:
        return f"Closed {date_words(link.closed_at, 'clock')}; it was {came}."
    if state_of(link) == ENDED:
        return f"Ended {date_words(link.expires_at, 'clock')}; it was {came}."
    return f"Works until {date_words(link.expires_at, 'clock')}; {opened}."


def _link_line(link: GuestLink) -> LinkLine:
    check = link.check_row
    return LinkLine(
        link.pk,
        link.label,
        check.title,
        check.ensemble.name,
        state_words(link),
        link.takes.count(),
        len(_rated_places(link)),
    )
