"""The cast: director, second director, musicians, an outsider of another school. Invented names."""

import datetime
from dataclasses import dataclass

from standlight.programme.models import (
    Account,
    ConcertCycle,
    Ensemble,
    Musician,
    Programme,
    Seat,
    Section,
)


@dataclass(frozen=True)
class Cast:
    """One small programme (band for both directors, choir for the lead) and a stranger's."""

    programme: Programme
    director: Account
    second_director: Account
    band: Ensemble
    choir: Ensemble
    cycle: ConcertCycle
    clarinets: Section
    snares: Section
    sopranos: Section
    musician: Musician
    second_musician: Musician
    singer: Musician
    outsider_director: Account
    outsider_musician: Musician


def add_musician(programme, section, roster_id, given, family, *, grade=7, pin="2468", **more):
    """A musician with an account, a card code made from the roster id, and a seat."""
    account = Account.objects.make(
        programme=programme,
        sign_in=f"card-{programme.pk}-{roster_id}".lower(),
        role=Account.MUSICIAN,
        secret=pin,
        shown_name=f"{given} {family}",
    )
    musician = Musician.objects.create(
        programme=programme, account=account, roster_id=roster_id, given_name=given,
        family_name=family, grade=grade, **more,
    )
    Seat.objects.create(musician=musician, section=section)
    return musician


def make_cast(today: datetime.date) -> Cast:
    """Build the cast with the concert 16 days after ``today``."""
    programme = Programme.objects.create(name="Alder Creek School", safety_contact="Room 12")
    director = Account.objects.make(
        programme=programme, sign_in="director", role=Account.DIRECTOR, secret="stand-lamp-7",
        shown_name="Dana Whitlock", is_lead=True,
    )
    second = Account.objects.make(
        programme=programme, sign_in="second", role=Account.DIRECTOR, secret="stand-lamp-8",
        shown_name="Ruben Asher",
    )
    band = Ensemble.objects.create(
        programme=programme, name="Concert Band", kind=Ensemble.BAND, period_number=3
    )
    choir = Ensemble.objects.create(
        programme=programme, name="Mixed Choir", kind=Ensemble.CHOIR, period_number=5
    )
    band.directors.add(director, second)
    choir.directors.add(director)
    cycle = ConcertCycle.objects.create(
        ensemble=band, name="Winter concert", starts_on=today - datetime.timedelta(40),
        concert_on=today + datetime.timedelta(16),
    )
    clarinets = Section.objects.create(
        ensemble=band, name="Clarinet", instrument="Clarinet in Bb", order=1
    )
    snares = Section.objects.create(
        ensemble=band, name="Percussion", instrument="Snare drum", order=2
    )
    sopranos = Section.objects.create(ensemble=choir, name="Soprano", instrument="Soprano", order=1)
    musician = add_musician(programme, clarinets, "1001", "Mina", "Okafor")
    second_musician = add_musician(programme, snares, "1002", "Theo", "Lindqvist", grade=8)
    singer = add_musician(programme, sopranos, "1003", "Ada", "Okafor", grade=9)

    elsewhere = Programme.objects.create(name="Birch Hollow School")
    outsider = Account.objects.make(
        programme=elsewhere, sign_in="elsewhere", role=Account.DIRECTOR, secret="stand-lamp-9",
        shown_name="Noor Vance", is_lead=True,
    )
    other_band = Ensemble.objects.create(
        programme=elsewhere, name="Band", kind=Ensemble.BAND, period_number=1
    )
    other_section = Section.objects.create(
        ensemble=other_band, name="Flute", instrument="Flute", order=1
    )
    stranger = add_musician(elsewhere, other_section, "1001", "Kai", "Moreno")
    return Cast(
        programme, director, second, band, choir, cycle, clarinets, snares, sopranos, musician,
        second_musician, singer, outsider, stranger,
    )
