"""The school's own page: name, contact, adults, and which groups only one adult can read."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q, QuerySet

from standlight.programme.models import Account, Ensemble


@dataclass(frozen=True, slots=True)
class Directs:
    """An ensemble and whether an adult directs it."""

    pk: int
    name: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Adult:
    """One adult of the school."""

    pk: int
    name: str
    sign_in: str
    is_lead: bool
    is_active: bool
    reads_writing: bool
    ensembles: tuple[Directs, ...]


@dataclass(frozen=True, slots=True)
class SchoolPage:
    """``alone`` are the ensembles whose writing one adult alone can read."""

    name: str
    safety_contact: str
    adults: tuple[Adult, ...]
    ensembles: tuple[Directs, ...]
    alone: tuple[str, ...]


def adults_who_read(ensemble: Ensemble) -> QuerySet[Account]:
    """Every adult who can read what the ensemble's musicians write, the lead first."""
    may = Q(is_lead=True) | Q(reads_writing=True) | Q(ensembles=ensemble)
    return (
        Account.objects.filter(may, programme=ensemble.programme_id, is_active=True)
        .filter(role=Account.DIRECTOR)
        .distinct()
        .order_by("-is_lead", "shown_name")
    )


def school_page(account: Account) -> SchoolPage:
    """The page of the school of ``account``, its lead director."""
    programme = account.programme
    ensembles = tuple(Ensemble.objects.filter(programme=programme))
    adults = Account.objects.filter(programme=programme, role=Account.DIRECTOR)
    rows = adults.prefetch_related("ensembles").order_by("-is_lead", "shown_name")
    return SchoolPage(
        name=programme.name,
        safety_contact=programme.safety_contact,
        adults=tuple(_adult(row, ensembles) for row in rows),
        ensembles=tuple(Directs(one.pk, one.name, False) for one in ensembles),
        alone=tuple(one.name for one in ensembles if adults_who_read(one).count() < 2),
    )


def _adult(row: Account, ensembles: tuple[Ensemble, ...]) -> Adult:
    """One adult's row."""
    own = {one.pk for one in row.ensembles.all()}
    return Adult(
        pk=row.pk,
        name=row.shown_name,
        sign_in=row.sign_in,
        is_lead=row.is_lead,
        is_active=row.is_active,
        reads_writing=row.reads_writing,
        ensembles=tuple(Directs(one.pk, one.name, one.pk in own) for one in ensembles),
    )
