"""Who is in the programme: taking in a roster, musicians by hand, ensembles and sections."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from standlight import score
from standlight.errors import NotAllowed, StandlightError
from standlight.passages import SHIPPED_TABLES
from standlight.programme.accommodations import ACCOMMODATIONS, MOST_EXTRA_DAYS, SHORTER
from standlight.programme.actions.cards import new_code
from standlight.programme.actions.folder import cast_newcomers
from standlight.programme.actions.shifting import passages_follow
from standlight.programme.languages import LANGUAGES
from standlight.programme.models import Account, Casting, Ensemble, Musician, Seat, Section
from standlight.programme.queries.roster import RosterStep, roster_preview
from standlight.programme.roster_file import GRADES, LONGEST, RosterRow

ORDER_STEP = 10
"""Room between two kinds of instrument, so that a section can be put between them by hand."""

PERIODS = range(16)
"""Periods of a school day; 0 is before the first bell."""

PERIOD_MINUTES = range(10, 241)
"""A rehearsal is longer than ten minutes and shorter than four hours."""


@dataclass(frozen=True, slots=True)
class RosterReceipt:
    """What taking in a file did."""

    n_added: int
    n_changed: int
    n_sections_made: int
    n_left_out: int


@transaction.atomic
def take_in_roster(account: Account, data: bytes, *, leave_out_known: bool) -> RosterReceipt:
    """Take in the good rows of a roster file, all at once; nobody is ever removed.

    ``leave_out_known`` says that the director knows that rows with a fault stay out; without
    it a file with such rows changes nothing and raises `StandlightError`.
    """
    if not account.is_director:
        raise NotAllowed("only a director takes in a roster")
    preview = roster_preview(account, data)
    if preview.left_out and not leave_out_known:
        raise StandlightError(
            f"{len(preview.left_out)} rows cannot come in, so nothing was taken in",
            slip="mend the file, or tick that you know they stay out",
        )
    if not preview.steps:
        raise StandlightError("the file holds no row that can come in")
    ensembles = Ensemble.objects.visible_to(account).in_bulk()
    sections = {
        (made.ensemble_name, made.name.casefold()): _section(
            next(one for one in ensembles.values() if one.name == made.ensemble_name),
            made.name,
            made.instrument,
        )
        for made in preview.new_sections
    }
    musicians: dict[str, Musician] = {}
    for step in preview.steps:
        musician = musicians.get(step.row.roster_id) or _musician(account, step)
        musicians[step.row.roster_id] = musician
        ensemble = ensembles[step.ensemble_pk]
        section = (
            Section.objects.get(pk=step.section_pk)
            if step.section_pk
            else sections[ensemble.name, step.row.section.casefold()]
        )
        _sit(musician, section, _other_sections(preview.steps, step))
    for ensemble_pk in {step.ensemble_pk for step in preview.steps}:
        cast_newcomers(ensembles[ensemble_pk])
    return RosterReceipt(
        n_added=preview.n_new,
        n_changed=len({step.row.roster_id for step in preview.changed}),
        n_sections_made=len(preview.new_sections),
        n_left_out=len(preview.left_out),
    )


def _other_sections(steps: tuple[RosterStep, ...], step: RosterStep) -> set[str]:
    """Names of sections of the same ensemble that the file gives this musician as well."""
    return {
        other.row.section.casefold()
        for other in steps
        if other.row.roster_id == step.row.roster_id and other.ensemble_pk == step.ensemble_pk
    }


def _musician(account: Account, step: RosterStep) -> Musician:
    """The musician of a row, made or changed; one out of the account's sight is left as is."""
    if step.musician_pk is None:
        return _made(account, step.row)
    musician = Musician.objects.select_related("account").get(pk=step.musician_pk)
    if step.in_sight:
        _change(musician, step.row)
    return musician


def _made(account: Account, row: RosterRow) -> Musician:
    """A new musician with an account that opens once a card is printed."""
    owner = Account.objects.make(
        programme=account.programme,
        sign_in=new_code(),
        role=Account.MUSICIAN,
        secret=None,
        shown_name=row.name,
    )
    return Musician.objects.create(
        programme=account.programme,
        account=owner,
        roster_id=row.roster_id,
        given_name=row.given_name,
        family_name=row.family_name,
        grade=row.grade,
        way=row.way or Musician.RECORD,
        accommodation=row.accommodation,
        changed_goal=row.changed_goal,
    )


def _change(musician: Musician, row: RosterRow) -> None:
    """Take over what the row says; an empty cell leaves what is known."""
    musician.given_name, musician.family_name = row.given_name, row.family_name
    musician.grade = row.grade
    musician.way = row.way or musician.way
    musician.accommodation = row.accommodation or musician.accommodation
    musician.changed_goal = row.changed_goal or musician.changed_goal
    musician.save()
    if musician.account.shown_name != musician.name:
        musician.account.shown_name = musician.name
        musician.account.save(update_fields=["shown_name"])


def _sit(musician: Musician, section: Section, also: set[str]) -> Seat:
    """Seat the musician in ``section``; a seat elsewhere in the ensemble moves there.

    Not moved: a seat in a section that the file names as well (``also``: somebody who
    plays two instruments in one ensemble).
    """
    here = Seat.objects.filter(musician=musician, section=section).first()
    if here is not None:
        if here.left_on is not None:
            here.left_on = None
            here.save(update_fields=["left_on"])
        return here
    elsewhere = [
        seat
        for seat in Seat.objects.filter(
            musician=musician, section__ensemble=section.ensemble_id, left_on__isnull=True
        ).select_related("section")
        if seat.section.name.casefold() not in also
    ]
    if len(elsewhere) == 1:
        return _move(elsewhere[0], section)
    return Seat.objects.create(musician=musician, section=section, joined_on=timezone.localdate())


def _move(seat: Seat, section: Section) -> Seat:
    """Move a seat; its parts belonged to the old section and are given again."""
    seat.section = section
    seat.save(update_fields=["section"])
    Casting.objects.filter(seat=seat).delete()
    return seat


def _section(ensemble: Ensemble, name: str, instrument: str) -> Section:
    """A new section, placed by its instrument: score order, which the director can change."""
    order = ORDER_STEP * (1 + list(score.INSTRUMENTS).index(instrument))
    return Section.objects.create(ensemble=ensemble, name=name, instrument=instrument, order=order)


@transaction.atomic
def add_musician(account: Account, section: Section, cells: Mapping[str, str]) -> Musician:
    """Add one musician by hand; ``cells`` as on the page (roster_id, names, grade, way ...)."""
    _own(account, section.ensemble)
    row = _by_hand(cells, section)
    known = Musician.objects.filter(
        programme_id=account.programme_id, roster_id=row.roster_id
    ).first()
    if known is not None:
        raise StandlightError(
            f"the roster_id {row.roster_id} is taken",
            slip="the same musician in another ensemble? Open their page and add a seat there",
        )
    musician = _made(account, row)
    Seat.objects.create(musician=musician, section=section, joined_on=timezone.localdate())
    cast_newcomers(section.ensemble)
    return musician


@transaction.atomic
def change_musician(
    account: Account,
    musician: Musician,
    cells: Mapping[str, str],
    accommodations: Collection[str] = (),
) -> None:
    """Change one musician by hand; here an emptied field is emptied.

    ``accommodations`` are keys of the table that apply; a passage that is not sent yet follows.
    """
    _own_musician(account, musician)
    row = _by_hand({**cells, "roster_id": musician.roster_id}, None)
    extra_days = _extra_days(cells.get("extra_days", ""))
    language = cells.get("first_language", "")
    if language and language not in LANGUAGES:
        raise StandlightError(f"{language!r} is no language of the list", slip="choose one")
    shorter = SHORTER in musician.accommodations
    _change(musician, row)
    musician.accommodation, musician.changed_goal = row.accommodation, row.changed_goal
    musician.accommodations = [key for key in ACCOMMODATIONS if key in accommodations]
    musician.extra_days, musician.first_language = extra_days, language
    musician.save(
        update_fields=[
            "accommodation", "changed_goal", "accommodations", "extra_days", "first_language",
        ]
    )  # fmt: skip
    if shorter != (SHORTER in musician.accommodations):
        passages_follow(account, musician)


def _extra_days(typed: str) -> int:
    """Whole days; an empty field is none."""
    text = typed.strip() or "0"
    if not (text.isascii() and text.isdigit() and len(text) < 4 and int(text) <= MOST_EXTRA_DAYS):
        raise StandlightError(
            f"{typed!r} is not a number of days from 0 to {MOST_EXTRA_DAYS}",
            slip="give a later day on the one piece of work instead",
        )
    return int(text)


@transaction.atomic
def seat_musician(account: Account, musician: Musician, section: Section) -> Seat:
    """Give a musician a further seat, or take up one they had left."""
    _own(account, section.ensemble)
    _own_musician(account, musician)
    seat, made = Seat.objects.get_or_create(
        musician=musician, section=section, defaults={"joined_on": timezone.localdate()}
    )
    if not made and seat.left_on is not None:
        seat.left_on = None
        seat.save(update_fields=["left_on"])
    cast_newcomers(section.ensemble)
    return seat


@transaction.atomic
def move_seat(account: Account, seat: Seat, section: Section) -> Seat:
    """Move a musician to another section of the same ensemble; parts are given again."""
    _own(account, section.ensemble)
    if seat.section.ensemble_id != section.ensemble_id:
        raise StandlightError("a seat moves only inside its ensemble")
    if Seat.objects.filter(musician=seat.musician_id, section=section).exists():
        raise StandlightError(f"{seat.musician.name} already has a seat in {section.name}")
    _move(seat, section)
    cast_newcomers(section.ensemble)
    return seat


@transaction.atomic
def leave_seat(account: Account, seat: Seat) -> None:
    """The musician leaves this seat today; everything they made stays."""
    _own(account, seat.section.ensemble)
    seat.left_on = timezone.localdate()
    seat.save(update_fields=["left_on"])


@transaction.atomic
def make_ensemble(
    account: Account,
    name: str,
    kind: str,
    period_number: int,
    period_minutes: int,
    music_grade: int | None = None,
) -> Ensemble:
    """A new ensemble, directed by whoever makes it; ``music_grade`` as in `change_ensemble`."""
    if not account.is_director:
        raise NotAllowed("only a director makes an ensemble")
    ensemble = Ensemble(programme=account.programme)
    _fill_ensemble(ensemble, name, kind, period_number, period_minutes, music_grade)
    ensemble.save()
    ensemble.directors.add(account)
    return ensemble


@transaction.atomic
def change_ensemble(
    account: Account,
    ensemble: Ensemble,
    name: str,
    kind: str,
    period_number: int,
    period_minutes: int,
    music_grade: int | None = None,
) -> None:
    """Change an ensemble's name, kind, place in the day and the grade of music it plays.

    ``music_grade`` is a row of the grades table, ``None`` for no grade.
    """
    _own(account, ensemble)
    _fill_ensemble(ensemble, name, kind, period_number, period_minutes, music_grade)
    ensemble.save()


@transaction.atomic
def make_section(account: Account, ensemble: Ensemble, name: str, instrument: str) -> Section:
    """A new section at the place of its instrument in score order."""
    _own(account, ensemble)
    _check_section(ensemble, name, instrument)
    return _section(ensemble, name.strip(), instrument)


@transaction.atomic
def change_section(account: Account, section: Section, name: str, instrument: str) -> None:
    """Rename a section or change its instrument."""
    _own(account, section.ensemble)
    _check_section(section.ensemble, name, instrument, but=section)
    section.name, section.instrument = name.strip(), instrument
    section.save(update_fields=["name", "instrument"])


@transaction.atomic
def move_section(account: Account, section: Section, *, earlier: bool) -> None:
    """Move a section one place earlier or later in concert order."""
    _own(account, section.ensemble)
    row = list(section.ensemble.sections.all())
    at = row.index(section)
    to = at - 1 if earlier else at + 1
    if not 0 <= to < len(row):
        return
    row[at], row[to] = row[to], row[at]
    for order, one in enumerate(row, start=1):
        one.order = order * ORDER_STEP
    Section.objects.bulk_update(row, ["order"])


def _own(account: Account, ensemble: Ensemble) -> None:
    """Refuse an ensemble that the account does not direct."""
    seen = Ensemble.objects.visible_to(account).filter(pk=ensemble.pk)
    if not (account.is_director and seen.exists()):
        raise NotAllowed("this ensemble is not yours")


def _own_musician(account: Account, musician: Musician) -> None:
    """Refuse a musician whom the account does not direct."""
    seen = Musician.objects.visible_to(account).filter(pk=musician.pk)
    if not (account.is_director and seen.exists()):
        raise NotAllowed("this musician is in none of your ensembles")


def _fill_ensemble(
    ensemble: Ensemble,
    name: str,
    kind: str,
    period_number: int,
    period_minutes: int,
    music_grade: int | None,
) -> None:
    """Check and set an ensemble's facts."""
    name = " ".join(name.split())
    if not 0 < len(name) <= LONGEST["ensemble"]:
        raise StandlightError("an ensemble needs a name of 1 to 80 characters")
    if kind not in Ensemble.KINDS:
        raise StandlightError(f"{kind!r} is not band, choir or strings")
    if period_number not in PERIODS:
        raise StandlightError(f"period {period_number} is not between 0 and 15")
    if period_minutes not in PERIOD_MINUTES:
        raise StandlightError(f"{period_minutes} minutes is not between 10 and 240")
    if music_grade is not None and music_grade not in SHIPPED_TABLES.grades:
        raise StandlightError(f"grade {music_grade} of music is not in the table of grades")
    same = Ensemble.objects.filter(programme=ensemble.programme_id, name__iexact=name)
    if same.exclude(pk=ensemble.pk).exists():
        raise StandlightError(f"there is an ensemble named {name} already")
    ensemble.name, ensemble.kind = name, kind
    ensemble.period_number, ensemble.period_minutes = period_number, period_minutes
    ensemble.music_grade = music_grade


def _check_section(
    ensemble: Ensemble, name: str, instrument: str, but: Section | None = None
) -> None:
    """Refuse a section without a name of its own or with an instrument of no list."""
    name = name.strip()
    if not 0 < len(name) <= LONGEST["section"]:
        raise StandlightError("a section needs a name of 1 to 60 characters")
    if instrument not in score.INSTRUMENTS:
        raise StandlightError(f"the instrument {instrument!r} is not in the list")
    same = ensemble.sections.filter(name__iexact=name)
    if same.exclude(pk=but.pk if but else None).exists():
        raise StandlightError(f"{ensemble.name} has a section {name} already")


def _by_hand(cells: Mapping[str, str], section: Section | None) -> RosterRow:
    """A checked row from the fields of a page; raises `StandlightError` naming the field."""
    plain = {name: " ".join((text or "").split()) for name, text in cells.items()}
    words = {"roster_id": "roster id", "given_name": "given name", "family_name": "family name"}
    for name, word in words.items():
        if not plain.get(name):
            raise StandlightError(f"the {word} is empty")
    for name, longest in LONGEST.items():
        if len(plain.get(name, "")) > longest:
            raise StandlightError(f"{name.replace('_', ' ')} has more than {longest} characters")
    grade = plain.get("grade", "")
    if not (grade.isascii() and grade.isdigit() and int(grade) in GRADES):
        raise StandlightError(f"grade {grade!r} is not a whole number from 1 to 12")
    way = plain.get("way") or Musician.RECORD
    if way not in Musician.WAYS:
        raise StandlightError(f"{way!r} is not record, live only or neither")
    return RosterRow(
        number=0,
        roster_id=plain["roster_id"],
        given_name=plain["given_name"],
        family_name=plain["family_name"],
        grade=int(grade),
        ensemble=section.ensemble.name if section else "",
        section=section.name if section else "",
        way=way,
        accommodation=plain.get("accommodation", ""),
        changed_goal=plain.get("changed_goal", ""),
    )
