"""A marking period as a page and a file: rows in roster order, the mark last, with its reason."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.programme.models import Account, Ensemble, MarkingPeriod, PlayingCheck
from standlight.programme.queries.standing import (
    ANSWERED,
    EXCUSED,
    MISSING,
    NOT_ASKED,
    OPEN,
    RATED,
    SENT,
    WORDS,
    SeatRow,
    Standing,
    one_seat_each,
    seats_of,
    standing,
    turns_of,
)
from standlight.programme.roster_file import guarded
from standlight.ratings import PLAIN_POLICY, Mark, Work, level_name, mark
from standlight.ratings import marking_values as marking

_WORK_STATE = {
    MISSING: marking.MISSING,
    EXCUSED: marking.EXCUSED,
    NOT_ASKED: marking.NOT_ASKED,
}
"""Standing to the marking's state where the words differ; anything else waits for levels."""


@dataclass(frozen=True, slots=True)
class MarkedLevel:
    """One criterion of one check: its name, the level as a figure and in words, empty if none."""

    criterion: str
    figure: str
    word: str


@dataclass(frozen=True, slots=True)
class MarkCell:
    """One musician's work for one check."""

    check_pk: int
    title: str
    state: str
    levels: tuple[MarkedLevel, ...]
    can_excuse: bool
    is_excused: bool

    @property
    def figures(self) -> str:
        """The levels as figures in the check's order, a dash for none."""
        return " ".join(level.figure or "–" for level in self.levels)


@dataclass(frozen=True, slots=True)
class MarkRow:
    """One musician, a cell a check, and the mark with its reason."""

    musician_pk: int
    roster_id: str
    given_name: str
    family_name: str
    section: str
    cells: tuple[MarkCell, ...]
    mark: Mark
    printed: str
    criteria: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MarkedCheck:
    """A column: the check, its due day, its criteria in order."""

    pk: int
    title: str
    due_on: datetime.date
    criteria: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PeriodPage:
    """A marking period of one ensemble."""

    ensemble_pk: int
    ensemble: str
    period_pk: int
    period: str
    starts_on: datetime.date
    ends_on: datetime.date
    checks: tuple[MarkedCheck, ...]
    rows: tuple[MarkRow, ...]
    policy: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Named:
    """A key and its name, for choosing."""

    pk: int
    name: str


@dataclass(frozen=True, slots=True)
class MarksChoice:
    """Ensembles and periods to choose from."""

    ensembles: tuple[Named, ...]
    periods: tuple[Named, ...]


def marks_choice(account: Account) -> MarksChoice:
    """What the account may choose. Two queries."""
    return MarksChoice(
        tuple(Named(row.pk, row.name) for row in Ensemble.objects.visible_to(account)),
        tuple(Named(row.pk, row.name) for row in MarkingPeriod.objects.visible_to(account)),
    )


def present_period(account: Account, day: datetime.date | None = None) -> MarkingPeriod | None:
    """The period that holds ``day`` (today), else the last that began, else the first."""
    day = day or timezone.localdate()
    periods = list(MarkingPeriod.objects.visible_to(account))
    holding = [row for row in periods if row.starts_on <= day <= row.ends_on]
    begun = [row for row in periods if row.starts_on <= day]
    return (holding or begun[-1:] or periods[:1] or [None])[0]


def period_page(ensemble: Ensemble, period: MarkingPeriod) -> PeriodPage:
    """The table of one ensemble and period. Five queries, whatever the number of musicians."""
    today = timezone.localdate()
    checks = list(
        PlayingCheck.objects.filter(
            ensemble=ensemble,
            published_at__isnull=False,
            due_on__range=(period.starts_on, period.ends_on),
        ).order_by("due_on", "pk")
    )
    turns = turns_of(checks)
    rows = []
    for seat in sorted(one_seat_each(seats_of(ensemble), today), key=_roster_order):
        found = [
            standing(seat, check.due_on, today, turns.get((check.pk, seat.musician_pk), ()))
            for check in checks
        ]
        if seat.here_on(today) or any(one.turns for one in found):
            rows.append(_row(seat, checks, found))
    return PeriodPage(
        ensemble.pk,
        ensemble.name,
        period.pk,
        period.name,
        period.starts_on,
        period.ends_on,
        tuple(
            MarkedCheck(
                check.pk,
                check.title,
                check.due_on,
                tuple(CRITERIA[key].name for key in check.criteria),
            )
            for check in checks
        ),
        tuple(rows),
        PLAIN_POLICY.sentences(),
    )


def _roster_order(seat: SeatRow) -> tuple[str, str, str]:
    return seat.family_name, seat.given_name, seat.roster_id


def work_of(check: PlayingCheck, found: Standing) -> Work:
    """One musician's standing as the marking reads it: the newest rated try counts."""
    rated = found.newest_rated
    if rated is not None:
        asked = {key: rated.levels[key] for key in check.criteria if key in rated.levels}
        return Work(check.title, marking.RATED, asked, rated.attempt)
    return Work(check.title, _WORK_STATE.get(found.state, marking.WAITING))


def _row(seat: SeatRow, checks: Sequence[PlayingCheck], found: Sequence[Standing]) -> MarkRow:
    works = [work_of(check, one) for check, one in zip(checks, found, strict=True)]
    result = mark(works)
    return MarkRow(
        seat.musician_pk,
        seat.roster_id,
        seat.given_name,
        seat.family_name,
        seat.section,
        tuple(
            _cell(check, one, work) for check, one, work in zip(checks, found, works, strict=True)
        ),
        result,
        "" if result.value is None else f"{marking.rounded(result.value):.2f}",
        tuple(
            f"{CRITERIA[one.key].name} {marking.rounded(one.value):.2f} "
            f"({one.n_levels} level{'' if one.n_levels == 1 else 's'})"
            for one in result.lines
        ),
    )


def _cell(check: PlayingCheck, found: Standing, work: Work) -> MarkCell:
    return MarkCell(
        check.pk,
        check.title,
        _state_words(found, work),
        tuple(_level(key, work.levels.get(key, "")) for key in check.criteria)
        if work.state == marking.RATED
        else (),
        found.state in OPEN,
        found.state == EXCUSED,
    )


def _level(criterion: str, given: str) -> MarkedLevel:
    return MarkedLevel(
        CRITERIA[criterion].name,
        given if given.isdigit() else "",
        level_name(given) if given else "no level yet",
    )


def _state_words(found: Standing, work: Work) -> str:
    """Missing, excused, heard live, a newer try waiting: told apart in words."""
    if work.state != marking.RATED:
        return WORDS[found.state]
    words = ["answered" if found.state == ANSWERED else "rated"]
    if found.heard_live:
        words.append("heard live")
    if work.attempt > 1:
        words.append(f"try {work.attempt}")
    if found.state in SENT and found.state not in (ANSWERED, RATED):
        words.append("a newer try waits")
    return ", ".join(words)


def marks_csv(page: PeriodPage) -> bytes:
    """The period as a file in roster order: UTF-8 with a mark, lines ended by CR LF (RFC 4180).

    A cell that a spreadsheet would take for a formula carries a leading apostrophe.
    """
    out = io.StringIO()
    writer = csv.writer(out)
    header = ["roster_id", "family_name", "given_name", "section"]
    for check in page.checks:
        header += [f"{check.title}: {name}" for name in check.criteria]
        header.append(f"{check.title}: state")
    writer.writerow([guarded(cell) for cell in (*header, "mark", "mark_word", "because")])
    for row in page.rows:
        cells = [row.roster_id, row.family_name, row.given_name, row.section]
        for check, cell in zip(page.checks, row.cells, strict=True):
            levels = [level.figure or level.word for level in cell.levels]
            cells += levels or [""] * len(check.criteria)
            cells.append(cell.state)
        cells += [row.printed, row.mark.word, " ".join(row.mark.because)]
        writer.writerow([guarded(cell) for cell in cells])
    return out.getvalue().encode("utf-8-sig")
