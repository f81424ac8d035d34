"""The Musicians place: groups by section, one musician, and what a roster file would do."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q

from standlight import score
from standlight.programme.accommodations import ACCOMMODATIONS
from standlight.programme.languages import LANGUAGES
from standlight.programme.models import Account, Ensemble, Musician, Seat, Section, Turn
from standlight.programme.queries.growth_picture import SlopeMark
from standlight.programme.roster_file import RosterRow, RowRemark, read_roster

_WAY_WORDS = {Musician.LIVE_ONLY: "Live only", Musician.NEITHER: "No playing checks"}


@dataclass(frozen=True, slots=True)
class MusicianLine:
    """A musician in a section: what one row of the page shows."""

    pk: int
    name: str
    grade: int
    waits: bool
    way: str
    way_words: str
    has_instruction: bool
    has_card: bool
    mark: SlopeMark | None = None

    @property
    def card_choice(self) -> str:
        """What the page of sign-in cards calls this musician."""
        return f"one-{self.pk}"


@dataclass(frozen=True, slots=True)
class SectionLines:
    """A section with its musicians by name."""

    pk: int
    name: str
    instrument: str
    order: int
    musicians: tuple[MusicianLine, ...]


@dataclass(frozen=True, slots=True)
class EnsembleLines:
    """An ensemble with its sections in concert order."""

    pk: int
    name: str
    kind: str
    period_number: int
    sections: tuple[SectionLines, ...]

    @property
    def n_musicians(self) -> int:
        """How many different people sit in it."""
        return len({one.pk for section in self.sections for one in section.musicians})

    @property
    def n_waiting(self) -> int:
        """How many of them have sent something that is not answered."""
        return len({one.pk for section in self.sections for one in section.musicians if one.waits})


@dataclass(frozen=True, slots=True)
class MusiciansPage:
    """The Musicians place for one director; ``growth_as_of`` is empty where no growth is shown."""

    ensembles: tuple[EnsembleLines, ...]
    growth_as_of: str = ""


@dataclass(frozen=True, slots=True)
class SeatLine:
    """Where a musician sits."""

    pk: int
    ensemble_name: str
    section_pk: int
    section_name: str
    voice_changing: bool


@dataclass(frozen=True, slots=True)
class Choosable:
    """Something to tick: its key, its words, whether it is ticked."""

    key: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class MusicianPage:
    """One musician, as the director keeps them."""

    pk: int
    roster_id: str
    given_name: str
    family_name: str
    grade: int
    way: str
    accommodation: str
    accommodations: tuple[Choosable, ...]
    extra_days: int
    changed_goal: str
    has_card: bool
    seats: tuple[SeatLine, ...]
    languages: tuple[Choosable, ...]

    @property
    def name(self) -> str:
        """Given name, then family name."""
        return f"{self.given_name} {self.family_name}"


@dataclass(frozen=True, slots=True)
class RosterStep:
    """What one good row of a file would do; ``None`` means that it has to be made.

    ``changes`` says in words what becomes different; empty for a row that changes nothing.
    """

    row: RosterRow
    ensemble_pk: int
    section_pk: int | None
    musician_pk: int | None
    in_sight: bool
    changes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NewSection:
    """A section that the file would make."""

    ensemble_name: str
    name: str
    instrument: str
    n_musicians: int


@dataclass(frozen=True, slots=True)
class RosterPreview:
    """What a file would do, before it does it."""

    steps: tuple[RosterStep, ...]
    remarks: tuple[RowRemark, ...]
    new_sections: tuple[NewSection, ...]

    @property
    def new(self) -> tuple[RosterStep, ...]:
        """Steps that bring in a musician the programme does not have."""
        return tuple(step for step in self.steps if step.musician_pk is None)

    @property
    def changed(self) -> tuple[RosterStep, ...]:
        """Steps that change somebody known."""
        return tuple(step for step in self.steps if step.musician_pk and step.changes)

    @property
    def n_new(self) -> int:
        """How many different musicians come in new."""
        return len({step.row.roster_id for step in self.new})

    @property
    def n_same(self) -> int:
        """How many rows change nothing."""
        return len(self.steps) - len(self.new) - len(self.changed)

    @property
    def left_out(self) -> tuple[RowRemark, ...]:
        """Remarks on rows that do not come in."""
        return tuple(remark for remark in self.remarks if remark.leaves_out)

    @property
    def noticed(self) -> tuple[RowRemark, ...]:
        """Remarks that leave nothing out."""
        return tuple(remark for remark in self.remarks if not remark.leaves_out)


def present_seats() -> Q:
    """The rule of seats that are taken today."""
    return Q(left_on__isnull=True)


def musicians_page(account: Account) -> MusiciansPage:
    """Every ensemble the director sees, by section in concert order, in three queries."""
    waiting = Turn.objects.filter(
        musician=OuterRef("musician"),
        check_row__ensemble=OuterRef("section__ensemble"),
        sent_at__isnull=False,
        answered_at__isnull=True,
        excused=False,
    )
    seats = (
        Seat.objects.visible_to(account)
        .filter(present_seats())
        .annotate(waits=Exists(waiting))
        .select_related("musician__account")
        .order_by("musician__family_name", "musician__given_name", "pk")
    )
    by_section: dict[int, list[MusicianLine]] = {}
    for seat in seats:
        by_section.setdefault(seat.section_id, []).append(_line(seat))
    ensembles = Ensemble.objects.visible_to(account).prefetch_related("sections")
    return MusiciansPage(
        tuple(
            EnsembleLines(
                ensemble.pk,
                ensemble.name,
                ensemble.get_kind_display(),
                ensemble.period_number,
                tuple(
                    SectionLines(
                        section.pk,
                        section.name,
                        section.instrument,
                        section.order,
                        tuple(by_section.get(section.pk, ())),
                    )
                    for section in ensemble.sections.all()
                ),
            )
            for ensemble in ensembles
        )
    )


def _line(seat: Seat) -> MusicianLine:
    """One row of the Musicians page."""
    musician = seat.musician
    return MusicianLine(
        pk=musician.pk,
        name=musician.name,
        grade=musician.grade,
        waits=seat.waits,
        way=musician.way,
        way_words=_WAY_WORDS.get(musician.way, ""),
        has_instruction=bool(musician.agreed_labels or musician.changed_goal),
        has_card=musician.account.has_usable_password(),
    )


def musician_page(account: Account, musician: Musician) -> MusicianPage:
    """One musician with the seats that ``account`` may see."""
    seats = (
        Seat.objects.visible_to(account)
        .filter(present_seats(), musician=musician)
        .select_related("section__ensemble")
    )
    return MusicianPage(
        pk=musician.pk,
        roster_id=musician.roster_id,
        given_name=musician.given_name,
        family_name=musician.family_name,
        grade=musician.grade,
        way=musician.way,
        accommodation=musician.accommodation,
        accommodations=tuple(
            Choosable(key, one.label, key in musician.accommodations)
            for key, one in ACCOMMODATIONS.items()
        ),
        extra_days=musician.extra_days,
        changed_goal=musician.changed_goal,
        has_card=musician.account.has_usable_password(),
        seats=tuple(
            SeatLine(
                seat.pk,
                seat.section.ensemble.name,
                seat.section_id,
                seat.section.name,
                seat.voice_changing,
            )
            for seat in seats
        ),
        languages=tuple(
            Choosable(tag, one.name, tag == musician.first_language)
            for tag, one in LANGUAGES.items()
        ),
    )


def roster_rows(account: Account) -> tuple[RosterRow, ...]:
    """The roster as it stands, as rows of a file: one a seat, in concert order."""
    seats = (
        Seat.objects.visible_to(account)
        .filter(present_seats())
        .select_related("musician", "section__ensemble")
        .order_by(
            "section__ensemble__period_number",
            "section__order",
            "section_id",
            "musician__family_name",
            "musician__given_name",
        )
    )
    return tuple(
        RosterRow(
            number=number,
            roster_id=seat.musician.roster_id,
            given_name=seat.musician.given_name,
            family_name=seat.musician.family_name,
            grade=seat.musician.grade,
            ensemble=seat.section.ensemble.name,
            section=seat.section.name,
            instrument=seat.section.instrument,
            way=seat.musician.way,
            accommodation=seat.musician.accommodation,
            changed_goal=seat.musician.changed_goal,
        )
        for number, seat in enumerate(seats, start=2)
    )


def roster_preview(account: Account, data: bytes) -> RosterPreview:
    """What taking in the file ``data`` would do; writes nothing.

    Raises `UnreadableRoster` when the file is no roster at all.
    """
    read = read_roster(data)
    known = _Known(account, {row.roster_id for row in read.rows})
    remarks = list(read.remarks)
    steps: list[RosterStep] = []
    counts: Counter[tuple[int, str, str]] = Counter()
    shown: dict[tuple[int, str, str], str] = {}
    for row in read.rows:
        step, noticed = known.step(row)
        remarks += noticed
        if step is None:
            continue
        steps.append(step)
        if step.section_pk is None:
            made = (step.ensemble_pk, row.section.casefold(), "")
            counts[made] += 1
            shown.setdefault(made, row.section)
            known.promise(step.ensemble_pk, row)
    new_sections = tuple(
        NewSection(
            known.ensemble_names[made[0]],
            shown[made],
            known.promised[made[:2]],
            count,
        )
        for made, count in counts.items()
    )
    remarks.sort(key=lambda remark: remark.row or 0)
    return RosterPreview(tuple(steps), tuple(remarks), new_sections)


def instrument_named(text: str) -> str | None:
    """The instruments table's name for what a roster calls an instrument; ``None`` for none.

    >>> instrument_named("bb clarinet"), instrument_named("kazoo orchestra")
    ('Clarinet in Bb', None)
    """
    wanted = " ".join(text.casefold().split())
    exact = next((name for name in score.INSTRUMENTS if name.casefold() == wanted), None)
    return exact or score.instrument_of(text) or None


def _instrument_of(row: RosterRow) -> str | None:
    """The instrument of a section to be made: as the row says, else as the section is named."""
    return instrument_named(row.instrument or row.section)


class _Known:
    """What the programme already holds, gathered once for a whole file."""

    def __init__(self, account: Account, roster_ids: set[str]) -> None:
        ensembles = list(Ensemble.objects.visible_to(account))
        self.ensembles = {" ".join(one.name.casefold().split()): one for one in ensembles}
        self.ensemble_names = {one.pk: one.name for one in ensembles}
        self.sections = {
            (one.ensemble_id, one.name.casefold()): one
            for one in Section.objects.filter(ensemble__in=ensembles)
        }
        self.promised: dict[tuple[int, str], str] = {}
        self.musicians = {
            one.roster_id: one
            for one in Musician.objects.filter(
                programme_id=account.programme_id, roster_id__in=roster_ids
            )
        }
        self.in_sight = set(Musician.objects.visible_to(account).values_list("pk", flat=True))
        self.seated: dict[tuple[int, int], list[Section]] = {}
        for seat in Seat.objects.filter(
            present_seats(), section__ensemble__in=ensembles
        ).select_related("section"):
            self.seated.setdefault((seat.musician_id, seat.section.ensemble_id), []).append(
                seat.section
            )

    def promise(self, ensemble_pk: int, row: RosterRow) -> None:
        """Remember that an earlier row makes this section."""
        instrument = _instrument_of(row)
        if instrument:
            self.promised.setdefault((ensemble_pk, row.section.casefold()), instrument)

    def step(self, row: RosterRow) -> tuple[RosterStep | None, list[RowRemark]]:
        """What ``row`` would do, or ``None``, with the remarks on it."""
        ensemble = self.ensembles.get(row.ensemble.casefold())
        if ensemble is None:
            there = ", ".join(self.ensemble_names.values()) or "none yet"
            return None, [
                RowRemark(
                    f"{row.name}: there is no ensemble “{row.ensemble}” (there are: {there}).",
                    row.number,
                    True,
                )
            ]
        remarks: list[RowRemark] = []
        section = self.sections.get((ensemble.pk, row.section.casefold()))
        instrument = _instrument_of(row)
        if section is None and (ensemble.pk, row.section.casefold()) not in self.promised:
            fault = self._section_fault(row, ensemble, instrument)
            if fault:
                return None, [RowRemark(fault, row.number, True)]
        if section is not None and row.instrument and instrument != section.instrument:
            remarks.append(
                RowRemark(
                    f"{row.name}: the section {section.name} stays on {section.instrument}; "
                    f"“{row.instrument}” is not used.",
                    row.number,
                )
            )
        musician = self.musicians.get(row.roster_id)
        if musician is not None and _someone_else(musician, row):
            fault = (
                f"The roster_id {row.roster_id} is {musician.name} here, but {row.name} in the "
                "file (an id given twice? Change the name by hand if it is the same person)."
            )
            return None, [RowRemark(fault, row.number, True)]
        in_sight = musician is None or musician.pk in self.in_sight
        step = RosterStep(
            row,
            ensemble.pk,
            section.pk if section else None,
            musician.pk if musician else None,
            in_sight,
            self._changes(row, ensemble, musician, in_sight) if musician else (),
        )
        return step, remarks

    def _section_fault(self, row: RosterRow, ensemble: Ensemble, instrument: str | None) -> str:
        """Why the section of ``row`` cannot be made; empty when it can."""
        if instrument:
            return ""
        there = [one.name for (pk, _), one in self.sections.items() if pk == ensemble.pk]
        listed = ", ".join(there) or "none yet"
        if row.instrument:
            return (
                f"{row.name}: {ensemble.name} has no section “{row.section}”, and the instrument "
                f"“{row.instrument}” is not in the list, so it cannot be made."
            )
        return (
            f"{row.name}: {ensemble.name} has no section “{row.section}” (there are: {listed}). "
            "To make it, name its instrument in the column instrument."
        )

    def _changes(
        self, row: RosterRow, ensemble: Ensemble, musician: Musician, in_sight: bool
    ) -> tuple[str, ...]:
        """What becomes different for a known musician, in words."""
        changes: list[str] = []
        if in_sight:
            if row.name != musician.name:
                changes.append(f"name: {musician.name} becomes {row.name}")
            if row.grade != musician.grade:
                changes.append(f"grade {musician.grade} becomes {row.grade}")
            if row.way and row.way != musician.way:
                ways = Musician.WAYS
                changes.append(f"{ways[musician.way]} becomes {ways[row.way]}".lower())
            if row.accommodation and row.accommodation != musician.accommodation:
                changes.append("a new accommodation")
            if row.changed_goal and row.changed_goal != musician.changed_goal:
                changes.append("a new changed goal")
        sits = self.seated.get((musician.pk, ensemble.pk), [])
        if not any(one.name.casefold() == row.section.casefold() for one in sits):
            changes.append(
                f"moves from {sits[0].name} to {row.section}"
                if len(sits) == 1
                else f"joins {row.section} of {ensemble.name}"
            )
        return tuple(changes)


def _someone_else(musician: Musician, row: RosterRow) -> bool:
    """True when both names differ: then the id, not the name, is the likely slip."""
    return (
        musician.given_name.casefold() != row.given_name.casefold()
        and musician.family_name.casefold() != row.family_name.casefold()
    )
