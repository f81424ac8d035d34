"""The matching screen: what was brought in for a check, and whose it may be."""

from __future__ import annotations

import datetime
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils import timezone

from standlight.programme.matching import (
    WORDS,
    ArrivedFile,
    Match,
    Person,
    by_order,
    in_order,
    matched,
)
from standlight.programme.models import (
    Account,
    Arrival,
    LongRecording,
    Musician,
    PlayingCheck,
)
from standlight.programme.queries.standing import (
    DUE,
    MISSING,
    SeatRow,
    one_seat_each,
    seats_of,
    standing,
    turns_of,
)

FOR_ALL = 0
"""The section key that stands for the whole ensemble."""


@dataclass(frozen=True, slots=True)
class RosterPerson:
    """A musician who has not sent yet, as an option of a row."""

    pk: int
    name: str


@dataclass(frozen=True, slots=True)
class RosterSection:
    """A section and those of it who have not sent yet, in roster order."""

    pk: int
    name: str
    people: tuple[RosterPerson, ...]


@dataclass(frozen=True, slots=True)
class BringRow:
    """One arrival: how long, whose it may be (``musician``, none is left out) and why.

    ``start_s`` and ``end_s`` are places in its long recording, none for a file of its own.
    """

    pk: int
    number: int
    name: str
    length: str
    musician: int | None
    why: str
    told: str
    start_s: float | None
    end_s: float | None
    has_next: bool


@dataclass(frozen=True, slots=True)
class RecordingLine:
    """A long recording: its name, how long, and how many parts still wait."""

    pk: int
    name: str
    length: str
    parts: int
    section: str


@dataclass(frozen=True, slots=True)
class BringPage:
    """All rows of a check's files, or of one long recording (``recording``)."""

    check_pk: int
    title: str
    ensemble: str
    published: bool
    recording: RecordingLine | None
    rows: tuple[BringRow, ...]
    roster: tuple[RosterSection, ...]
    sections: tuple[RosterPerson, ...]
    recordings: tuple[RecordingLine, ...]
    without: tuple[str, ...]
    n_matched: int
    left_out: int
    gone_on: datetime.date | None

    @property
    def n_open(self) -> int:
        """How many musicians have not sent yet."""
        return sum(len(section.people) for section in self.roster)


@dataclass(frozen=True, slots=True)
class _Roster:
    """Everyone who may be named, and the seats of those still open, in roster order."""

    everyone: tuple[Person, ...]
    names: Mapping[int, str]
    open_seats: tuple[SeatRow, ...]

    def open_keys(self, section: int = FOR_ALL) -> list[int]:
        """Those still open, of one section or of all."""
        return [
            seat.musician_pk
            for seat in self.open_seats
            if section in (FOR_ALL, seat.section_pk)
        ]


def expected_seconds(check: PlayingCheck) -> float | None:
    """How long one take should be: the middle of the check's passages at its tempo.

    ``None`` on paper only, or where no measure is counted.
    """
    lengths = []
    beats = {row["index"]: _quarters(row) for row in check.piece.measures}
    for passage in check.passages.all():
        if passage.first_measure is not None and passage.last_measure is not None:
            inside = range(passage.first_measure, passage.last_measure + 1)
            quarters = sum(beats.get(index, 0.0) for index in inside)
            lengths.append(60.0 * quarters / check.tempo_qpm)
    return statistics.median(lengths) or None if lengths else None


def _quarters(measure: Mapping[str, object]) -> float:
    """Quarter notes of a measure of a piece, 0 where it does not say."""
    beats, unit = measure.get("beats"), measure.get("beat_unit")
    return 4.0 * float(str(beats)) / float(str(unit)) if beats and unit else 0.0


def bring_page(
    account: Account,
    check: PlayingCheck,
    *,
    recording: LongRecording | None = None,
    order: int | None = None,
    unclaimed_days: int = 0,
) -> BringPage:
    """The matching screen of the check's files, or of one long recording.

    ``order`` asks that rows whose name tells nobody follow the roster of that section
    (`FOR_ALL` for everyone); without it they do so only where no file tells anybody.
    """
    rows = Arrival.objects.visible_to(account).filter(check_row=check, recording=recording)
    roster = _roster_of(check)
    if recording is None:
        shown, matches, told = _files(list(rows), roster, order)
    else:
        shown = sorted(rows, key=lambda row: row.start_s)
        matches, told = _spans(shown, roster, recording), {}
    proposed = {row.pk: _proposed(row, matches, roster) for row in shown}
    mine = {who for who in proposed.values() if who is not None}
    oldest = min((row.brought_at for row in shown), default=None)
    return BringPage(
        check_pk=check.pk,
        title=check.title,
        ensemble=check.ensemble.name,
        published=check.published_at is not None,
        recording=_line(recording, len(shown)) if recording is not None else None,
        rows=tuple(
            _row(row, number, len(shown), proposed[row.pk], matches, told)
            for number, row in enumerate(shown, start=1)
        ),
        roster=_sections(roster),
        sections=_all_sections(check),
        recordings=() if recording is not None else _recordings(account, check),
        without=tuple(
            seat.name for seat in roster.open_seats if seat.musician_pk not in mine
        ),
        n_matched=len(mine),
        left_out=sum(who is None for who in proposed.values()),
        gone_on=(
            timezone.localdate(oldest) + datetime.timedelta(unclaimed_days) if oldest else None
        ),
    )


def _roster_of(check: PlayingCheck) -> _Roster:
    """Everyone of the ensemble, and those who record and have not sent. A handful of queries."""
    today = timezone.localdate()
    seats = [
        seat for seat in one_seat_each(seats_of(check.ensemble), today) if seat.here_on(today)
    ]
    turns = turns_of([check])
    open_seats = []
    for seat in seats:
        state = standing(seat, check.due_on, today, turns.get((check.pk, seat.musician_pk), ()))
        if state.state in (DUE, MISSING) and seat.way == Musician.RECORD:
            open_seats.append(seat)
    codes = dict(
        Musician.objects.filter(pk__in=[seat.musician_pk for seat in seats]).values_list(
            "pk", "account__sign_in"
        )
    )
    everyone = tuple(
        Person(
            seat.musician_pk,
            codes[seat.musician_pk],
            seat.roster_id,
            seat.given_name,
            seat.family_name,
        )
        for seat in seats
    )
    names = {seat.musician_pk: seat.name for seat in seats}
    return _Roster(everyone, names, tuple(open_seats))


def open_musicians(check: PlayingCheck) -> set[int]:
    """Keys of those a row may be given to: they record and have not sent yet."""
    return set(_roster_of(check).open_keys())


def _files(
    rows: list[Arrival], roster: _Roster, order: int | None
) -> tuple[list[Arrival], dict[int, Match], dict[int, str]]:
    """Files as they were recorded, a proposal where there is one, and what to say of the rest."""
    by_key = {row.pk: row for row in rows}
    files = in_order(
        [
            ArrivedFile(row.pk, row.file_name, row.file_time.isoformat() if row.file_time else "")
            for row in rows
        ]
    )
    named = matched(files, roster.everyone)
    still_open = set(roster.open_keys())
    told = {
        key: f"Its name tells {roster.names[match.person]}, who is not waited for here."
        for key, match in named.items()
        if match.person not in still_open
    }
    matches = {key: match for key, match in named.items() if match.person in still_open}
    if order is not None or not named:
        settled = {row.pk: row.musician_id for row in rows if row.chosen}
        settled |= {key: match.person for key, match in named.items() if key not in settled}
        people = roster.open_keys(order or FOR_ALL)
        matches |= by_order([file.key for file in files], people, settled)
    return [by_key[file.key] for file in files], matches, told


def _spans(
    rows: Sequence[Arrival], roster: _Roster, recording: LongRecording
) -> dict[int, Match]:
    """The roster beside the spans; what is short or settled is gone round."""
    settled = {row.pk: row.musician_id for row in rows if row.chosen}
    settled |= {row.pk: None for row in rows if row.short and row.pk not in settled}
    people = roster.open_keys(recording.section_id or FOR_ALL)
    return by_order([row.pk for row in rows], people, settled)


def _proposed(row: Arrival, matches: Mapping[int, Match], roster: _Roster) -> int | None:
    """Whose the row is as it stands: as chosen by hand while they are open, else as proposed."""
    if row.chosen:
        return row.musician_id if row.musician_id in roster.open_keys() else None
    match = matches.get(row.pk)
    return match.person if match else None


def _row(
    row: Arrival,
    number: int,
    count: int,
    musician: int | None,
    matches: Mapping[int, Match],
    told: Mapping[int, str],
) -> BringRow:
    """One row in words."""
    match = matches.get(row.pk)
    why = WORDS[match.by] if match else told.get(row.pk, "")
    if row.chosen:
        why = "chosen by you" if musician else "left out by you"
    elif row.short:
        why = "short: words, or a false start?"
    is_span = row.recording_id is not None
    return BringRow(
        pk=row.pk,
        number=number,
        name=f"{clock_s(row.start_s)} to {clock_s(row.end_s)}" if is_span else row.file_name,
        length=length_words(row.seconds),
        musician=musician,
        why=why,
        told=row.told,
        start_s=row.start_s,
        end_s=row.end_s,
        has_next=is_span and number < count,
    )


def length_words(seconds: float) -> str:
    """A length in words.

    >>> length_words(22.4), length_words(2400.0)
    ('22 s', '40 min')
    """
    return f"{seconds:.0f} s" if seconds < 100 else f"{seconds / 60:.0f} min"


def clock_s(second: float) -> str:
    """A place in a recording.

    >>> clock_s(83.46)
    '1:23'
    """
    return f"{int(second) // 60}:{int(second) % 60:02}"


def _line(recording: LongRecording, parts: int) -> RecordingLine:
    section = recording.section.name if recording.section else "everyone"
    return RecordingLine(
        recording.pk, recording.file_name, length_words(recording.seconds), parts, section
    )


def _recordings(account: Account, check: PlayingCheck) -> tuple[RecordingLine, ...]:
    rows = (
        LongRecording.objects.visible_to(account)
        .filter(check_row=check)
        .select_related("section")
        .prefetch_related("spans")
    )
    return tuple(_line(row, len(row.spans.all())) for row in rows)


def _sections(roster: _Roster) -> tuple[RosterSection, ...]:
    """Those still open by section."""
    people: dict[tuple[int, str], list[RosterPerson]] = {}
    for seat in roster.open_seats:
        people.setdefault((seat.section_pk, seat.section), []).append(
            RosterPerson(seat.musician_pk, seat.name)
        )
    return tuple(RosterSection(pk, name, tuple(rows)) for (pk, name), rows in people.items())


def _all_sections(check: PlayingCheck) -> tuple[RosterPerson, ...]:
    """Every section of the ensemble, to say whose roster a row of takes follows."""
    return tuple(
        RosterPerson(pk, name)
        for pk, name in check.ensemble.sections.values_list("pk", "name")
    )
