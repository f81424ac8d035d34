"""A marking period as a page: rows in roster order, the mark last, what to look at first.

An open period is a preview, worked out anew each time; a closed one is its frozen copy, with what
was changed since, and beside it what came in later and changes nothing by itself.
"""

from __future__ import annotations

import datetime
import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.utils import timezone

from standlight.programme.dates import date_words
from standlight.programme.marking_terms import Terms, terms_of
from standlight.programme.models import (
    Account,
    Ensemble,
    MarkChange,
    MarkingPeriod,
    PeriodMarks,
    PostedMark,
)
from standlight.programme.queries.marks_files import files_of
from standlight.programme.queries.marks_values import (
    AskedAbout,
    MarkCell,
    MarkedColumn,
    MarkedLevel,
    MarkRow,
    PeriodPage,
    ShownChange,
    ShownLine,
    ToLook,
    column_of,
    look_part,
    row_of,
)
from standlight.programme.queries.marks_works import Column, Gathered, OneWork, gather
from standlight.programme.queries.standing import SeatRow
from standlight.ratings import (
    BY_CRITERION,
    FLAGS,
    Mark,
    MarkLine,
    far_in,
    flags_of,
    group_lines,
    level_name,
    mark,
)
from standlight.ratings.marking_values import RATED, rounded

CAME_LATE = "Levels that came after closing"
NOT_POSTED = "Not in the closed period"
"""Headings of what is told beside a closed period."""


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


def marks_of(ensemble: Ensemble, period: MarkingPeriod) -> PeriodMarks:
    """The period's row, or a new one that is not saved: an open period on plain terms."""
    found = (
        PeriodMarks.objects.filter(ensemble=ensemble, period=period)
        .select_related("closed_by")
        .first()
    )
    return found or PeriodMarks(ensemble=ensemble, period=period)


def period_page(ensemble: Ensemble, period: MarkingPeriod) -> PeriodPage:
    """The table of one ensemble and period, open or closed."""
    marks = marks_of(ensemble, period)
    live = preview(ensemble, period, terms_of(marks.terms))
    return live if marks.closed_at is None else _closed(marks, live)


def preview(ensemble: Ensemble, period: MarkingPeriod, terms: Terms) -> PeriodPage:
    """The period as its levels stand now; nothing is final."""
    today = timezone.localdate()
    found = gather(ensemble, period, terms, today)
    works = {pk: [one.work for one in mine] for pk, mine in found.works.items()}
    group = group_lines(list(works.values()), terms.policy, found.span_days)
    before, before_name = marks_before(ensemble, period)
    made_of = {
        pk: mark(mine, terms.policy, group=group, names=found.names) for pk, mine in works.items()
    }
    changes = [made.value - before[pk] for pk, made in made_of.items()
               if made.value is not None and pk in before]  # fmt: skip
    far = far_in(works.values(), changes)
    rows = []
    for seat in found.people:
        mine, made = works[seat.musician_pk], made_of[seat.musician_pk]
        flags = flags_of(
            made,
            mine,
            names=found.names,
            before=before.get(seat.musician_pk),
            before_name=before_name,
            far=far,
        )
        asked = tuple(AskedAbout(flag.kind, flag.sentence) for flag in flags)
        rows.append(_row(seat, found, made, terms, asked, today))
    columns = tuple(
        MarkedColumn(column.key, column.title, column.due_on, column.names)
        for column in found.columns
    )
    return PeriodPage(
        ensemble.pk,
        ensemble.name,
        period.pk,
        period.name,
        period.starts_on,
        period.ends_on,
        columns,
        tuple(rows),
        terms.sentences,
        terms.policy.policy.name,
        terms.policy.conversion.caution,
        to_look_at(rows),
        state_of(rows, terms),
    )


def marks_before(ensemble: Ensemble, period: MarkingPeriod) -> tuple[dict[int, float], str]:
    """Marks by musician of the last closed period before this one, and its name."""
    last = (
        PeriodMarks.objects.filter(
            ensemble=ensemble, closed_at__isnull=False, period__ends_on__lt=period.starts_on
        )
        .select_related("period")
        .order_by("-period__ends_on")
        .first()
    )
    if last is None:
        return {}, ""
    posted = last.posted.filter(value__isnull=False).values_list("musician_id", "value")
    return dict(posted), last.period.name


def to_look_at(rows: Sequence[MarkRow]) -> tuple[ToLook, ...]:
    """Questions grouped by kind, the gravest kind first."""
    parts = [
        look_part(
            heading,
            (
                (row.musician_pk, row.name, flag.sentence)
                for row in rows
                for flag in row.flags
                if flag.kind == kind
            ),
        )
        for kind, heading in FLAGS.items()
    ]
    return tuple(part for part in parts if part.lines)


def state_of(rows: Sequence[MarkRow], terms: Terms) -> str:
    """A digest of what a preview shows."""
    shown = [(row.musician_pk, row.word, row.printed, _told(row)) for row in rows]
    text = json.dumps([shown, terms.sentences])
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _row(
    seat: SeatRow,
    found: Gathered,
    made: Mark,
    terms: Terms,
    flags: tuple[AskedAbout, ...],
    today: datetime.date,
) -> MarkRow:
    by_criterion = terms.policy.by == BY_CRITERION
    return MarkRow(
        seat.musician_pk,
        seat.roster_id,
        seat.given_name,
        seat.family_name,
        seat.section,
        _seat_note(seat, today),
        tuple(
            _cell(column, one)
            for column, one in zip(found.columns, found.works[seat.musician_pk], strict=True)
        ),
        made.value,
        made.printed,
        made.word,
        made.percent,
        _likely(made.low, made.high),
        made.because,
        tuple(_line(line, found.names, by_criterion) for line in made.lines),
        made.left_out,
        made.n_levels,
        made.n_works,
        flags,
    )


def _seat_note(seat: SeatRow, today: datetime.date) -> str:
    """Who left stays explained."""
    if seat.left_on is not None and seat.left_on <= today:
        return f"left on {date_words(seat.left_on)}; work due before that counts"
    return ""


def _cell(column: Column, one: OneWork) -> MarkCell:
    levels = ()
    if one.work.state == RATED:
        levels = tuple(
            _level(name, one.work.levels.get(key, ""))
            for key, name in zip(column.criteria, column.names, strict=True)
        )
    return MarkCell(
        column.key,
        column.pk if column.is_check else 0,
        column.title,
        one.words,
        levels,
        one.can_excuse and column.is_check,
        one.is_excused,
    )


def _level(name: str, given: str) -> MarkedLevel:
    return MarkedLevel(
        name, given if given.isdigit() else "", level_name(given) if given else "no level yet"
    )


def _line(line: MarkLine, names: dict[str, str], by_criterion: bool) -> ShownLine:
    shown = [f"{level:g}" if by_criterion else f"{rounded(level):.2f}" for level in line.levels]
    counted = [shown[place] for place in line.counted]
    likely = _likely(line.low, line.high)
    return ShownLine(
        names.get(line.key, "All checks"),
        ", ".join(shown),
        "all" if len(counted) == len(shown) else ", ".join(counted),
        f"{rounded(line.value):.2f} ({likely})" if likely else f"{rounded(line.value):.2f}",
    )


def _likely(low: float | None, high: float | None) -> str:
    return "" if low is None or high is None else f"likely {low:.1f} to {high:.1f}"


def _told(row: MarkRow) -> list[tuple[str, str]]:
    """The levels of a row by column, as they are compared; work without one is not told."""
    return [(cell.key, cell.figures) for cell in row.cells if cell.levels]


def _closed(marks: PeriodMarks, live: PeriodPage) -> PeriodPage:
    """The frozen copy with its changes, and what came in later."""
    posted = list(marks.posted.all())
    changes = list(
        MarkChange.objects.filter(posted__marks=marks).select_related(
            "changed_by", "posted__musician"
        )
    )
    changed = {change.posted_id for change in changes}
    now = {row.musician_pk: row for row in live.rows}
    rows = [posted_row(one, one.pk in changed, now.get(one.musician_id)) for one in posted]
    known = {row.musician_pk for row in rows}
    new = [row for row in live.rows if row.musician_pk not in known and row.value is not None]
    since = [
        look_part(
            CAME_LATE, ((row.musician_pk, row.name, row.since) for row in rows if row.since)
        ),
        look_part(
            NOT_POSTED,
            (
                (row.musician_pk, row.name, f"By the policy the mark would be {_in_words(row)}.")
                for row in new
            ),
        ),
    ]
    return replace(
        live,
        columns=tuple(column_of(data) for data in marks.columns),
        rows=tuple(rows),
        policy=tuple(marks.sentences),
        caution="",
        to_look=(),
        closed_at=marks.closed_at,
        closed_by=str(marks.closed_by or ""),
        since=tuple(part for part in since if part.lines),
        changes=tuple(_change(change) for change in changes),
        files=files_of(marks, rows),
    )


def posted_row(posted: PostedMark, changed: bool, now: MarkRow | None) -> MarkRow:
    """The frozen row with the mark as it stands, and how its work differs ``now``."""
    row = row_of(posted.body)
    since = ""
    if now is not None and _told(now) != _told(row):
        same = (now.printed, now.word) == (row.printed, row.word)
        now_words = "stay the same" if same else f"be {_in_words(now)}"
        since = f"By the policy the mark would now {now_words}. Posted: {_in_words(row)}."
    return replace(
        row,
        value=posted.value,
        printed="" if posted.value is None else f"{rounded(posted.value):.2f}",
        word=posted.word,
        percent=posted.percent,
        flags=(),
        changed=changed,
        since=since,
        note=now.note if now is not None and now.note else row.note,
        likely="" if changed else row.likely,
    )


def _in_words(row: MarkRow) -> str:
    return f"{row.printed} {row.word}".strip()


def _change(change: MarkChange) -> ShownChange:
    return ShownChange(
        change.posted.musician_id,
        str(change.posted.musician),
        change.changed_at,
        str(change.changed_by),
        change.from_words,
        change.to_words,
        change.why,
    )

