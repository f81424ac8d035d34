"""A programme of one large ensemble, for benchmarks of pages."""

from __future__ import annotations

from dataclasses import dataclass

from standlight.programme.models import Account, Ensemble, Musician, Programme, Seat, Section


@dataclass(frozen=True)
class LargeEnsemble:
    """The lead director, the ensemble, its musicians and their seats, in the same order."""

    director: Account
    ensemble: Ensemble
    musicians: list[Musician]
    seats: list[Seat]


def large_ensemble(n_musicians: int, n_sections: int) -> LargeEnsemble:
    """Rows of a school of its own; musicians take the sections by turns."""
    programme = Programme.objects.create(name="Benchmark")
    director = Account.objects.make(
        programme=programme,
        sign_in="director",
        role=Account.DIRECTOR,
        secret=None,
        shown_name="Director",
        is_lead=True,
    )
    ensemble = Ensemble.objects.create(
        programme=programme, name="Band", kind=Ensemble.BAND, period_number=1
    )
    sections = [
        Section.objects.create(
            ensemble=ensemble, name=f"Clarinet {n}", instrument="Clarinet in Bb", order=n
        )
        for n in range(n_sections)
    ]
    accounts = Account.objects.bulk_create(
        Account(programme=programme, sign_in=f"m{n}", role=Account.MUSICIAN, shown_name=f"M {n}")
        for n in range(n_musicians)
    )
    people = Musician.objects.bulk_create(
        Musician(
            programme=programme,
            account=account,
            roster_id=str(n),
            given_name=f"Given{n}",
            family_name=f"Family{n:03}",
            grade=8,
        )
        for n, account in enumerate(accounts)
    )
    seats = Seat.objects.bulk_create(
        Seat(musician=person, section=sections[n % n_sections]) for n, person in enumerate(people)
    )
    return LargeEnsemble(director, ensemble, people, seats)
