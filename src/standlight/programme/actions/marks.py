"""What a director does in a marking period: add one, excuse, choose the policy, close, change."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.marking_terms import Terms, data_of, terms_of
from standlight.programme.models import (
    Account,
    Ensemble,
    MarkChange,
    MarkExport,
    MarkingPeriod,
    Musician,
    PeriodMarks,
    PlayingCheck,
    PostedMark,
    Turn,
)
from standlight.programme.queries.marks import period_page, preview
from standlight.programme.queries.marks_files import FORMS, changed_rows, last_told, told_of
from standlight.programme.queries.marks_values import MarkRow, column_data, row_data
from standlight.ratings import NO_MARK, typed_number
from standlight.ratings.marking_values import HIGHEST, LOWEST, rounded

LONGEST_WHY = 400
"""Characters of the reason for a change."""


@transaction.atomic
def add_period(
    account: Account, *, name: str, starts_on: datetime.date | None, ends_on: datetime.date | None
) -> MarkingPeriod:
    """Add a marking period; raises ``StandlightError`` without a name or with days swapped."""
    name = " ".join(name.split())
    if not name or len(name) > 60:
        raise StandlightError("a marking period needs a name of at most 60 characters")
    if starts_on is None or ends_on is None:
        raise StandlightError("a marking period needs its first and its last day")
    if ends_on < starts_on:
        raise StandlightError("the last day comes before the first", slip="were the two swapped?")
    return MarkingPeriod.objects.create(
        programme=account.programme, name=name, starts_on=starts_on, ends_on=ends_on
    )


@transaction.atomic
def excuse(check: PlayingCheck, musician: Musician, excused: bool) -> Turn:
    """Excuse a musician from a check, or ask again; a turn that was sent cannot be excused."""
    turns = Turn.objects.select_for_update().filter(check_row=check, musician=musician)
    if turns.filter(sent_at__isnull=False).exists():
        raise NotAllowed("this check was sent already", where=musician.name)
    turn = turns.order_by("attempt").first() or Turn(check_row=check, musician=musician, attempt=1)
    turn.excused = excused
    turn.save()
    return turn


@transaction.atomic
def choose_terms(ensemble: Ensemble, period: MarkingPeriod, terms: Terms) -> PeriodMarks:
    """Keep how the period's marks are made; raises ``NotAllowed`` once it is closed."""
    marks = _row(ensemble, period)
    if marks.closed_at is not None:
        raise NotAllowed("this period is closed, and its policy stays", where=period.name)
    marks.terms = data_of(terms)
    marks.save(update_fields=["terms"])
    return marks


@transaction.atomic
def close_period(
    account: Account, ensemble: Ensemble, period: MarkingPeriod, *, seen: str, looked: bool
) -> PeriodMarks:
    """Close (post) a period: every mark and its reason are kept as they are now.

    ``seen`` is the state of the page that the director closes from: when a level came in since,
    ``StandlightError`` asks to look again. ``looked`` says that the questions were looked at.
    Raises ``NotAllowed`` when it is closed already.
    """
    marks = _row(ensemble, period)
    if marks.closed_at is not None:
        raise NotAllowed(f"this period was closed by {marks.closed_by}", where=period.name)
    page = preview(ensemble, period, terms_of(marks.terms))
    if not page.rows or not page.columns:
        raise StandlightError("there is nothing to close: no work or no musicians in the period")
    if page.state != seen:
        raise StandlightError(
            "a level or the policy has changed since you opened this page, so it was not closed",
            slip="look again, then close",
        )
    if page.to_look and not looked:
        raise StandlightError("say that you have looked at the questions, then close")
    now = timezone.now()
    marks.closed_at, marks.closed_by = now, account
    marks.columns = [column_data(column) for column in page.columns]
    marks.sentences = list(page.policy)
    marks.save()
    PostedMark.objects.bulk_create(
        _posted(marks, row, order, now) for order, row in enumerate(page.rows)
    )
    return marks


@transaction.atomic
def change_mark(
    account: Account, marks: PeriodMarks, musician: Musician, *, to: str, why: str
) -> MarkChange:
    """Change one mark of a closed period, with a reason; the frozen copy keeps what it said.

    ``to`` is typed: a mean from 1 to 4, or empty for no mark. A musician who is not in the
    closed period gets a mark by this. Raises ``NotAllowed`` for an open period.
    """
    if marks.closed_at is None:
        raise NotAllowed("this period is not closed yet", slip="change the levels instead")
    why = " ".join(why.split())
    if not why or len(why) > LONGEST_WHY:
        raise StandlightError(f"a change needs a reason of at most {LONGEST_WHY} characters")
    value = None
    if to.strip():
        value = rounded(typed_number(to, "the new mark"))
        if not LOWEST <= value <= HIGHEST:
            raise StandlightError(f"a mark lies between {LOWEST} and {HIGHEST}", where=to.strip())
    posted = PostedMark.objects.select_for_update().filter(marks=marks, musician=musician).first()
    posted = posted or _late(marks, musician)
    before = _words(posted)
    table = terms_of(marks.terms).policy.conversion
    posted.value = value
    posted.word = NO_MARK if value is None else table.word_for(value)
    posted.percent = None if value is None else table.percent_for(value)
    if _words(posted) == before:
        raise StandlightError("this is the mark already", where=musician.name)
    posted.save(update_fields=["value", "word", "percent"])
    return MarkChange.objects.create(
        posted=posted,
        changed_at=timezone.now(),
        changed_by=account,
        from_words=before,
        to_words=_words(posted),
        why=why,
    )


@dataclass(frozen=True, slots=True)
class MadeFile:
    """A file for the school: its name without an ending, its bytes, how many rows."""

    name: str
    data: bytes
    n_rows: int


@transaction.atomic
def export(account: Account, marks: PeriodMarks, form: str, *, only_new: bool) -> MadeFile:
    """A file of a closed period, and remember what it told; ``only_new`` leaves out what was told.

    Raises ``NotAllowed`` for an open period, ``StandlightError`` when nothing is new.
    """
    if marks.closed_at is None:
        raise NotAllowed("this period is not closed yet", slip="close it, then export")
    if form not in FORMS:
        raise StandlightError("choose a form of file")
    page = period_page(marks.ensemble, marks.period)
    told = last_told(marks, form)
    rows = changed_rows(page.rows, told) if only_new else list(page.rows)
    if only_new and not rows:
        raise StandlightError("nothing has changed since the last file")
    made = FORMS[form]
    text = made.text(page, rows, terms_of(marks.terms), only_new)
    MarkExport.objects.create(
        marks=marks,
        form=form,
        exported_at=timezone.now(),
        exported_by=account,
        told={**told, **{str(row.musician_pk): told_of(row) for row in rows}},
        n_rows=len(rows),
    )
    return MadeFile(made.file_name, text.encode(made.encoding), len(rows))


def _row(ensemble: Ensemble, period: MarkingPeriod) -> PeriodMarks:
    """The period's row, made when there is none, held until the transaction ends."""
    PeriodMarks.objects.get_or_create(ensemble=ensemble, period=period)
    return PeriodMarks.objects.select_for_update(of=("self",)).get(ensemble=ensemble, period=period)


def _posted(
    marks: PeriodMarks, row: MarkRow, order: int, moment: datetime.datetime
) -> PostedMark:
    return PostedMark(
        marks=marks,
        musician_id=row.musician_pk,
        order=order,
        value=row.value,
        word=row.word,
        percent=row.percent,
        body=row_data(row),
        posted_at=moment,
    )


def _late(marks: PeriodMarks, musician: Musician) -> PostedMark:
    """A posted mark for somebody whom the closing did not know: none yet, with that reason."""
    live = preview(marks.ensemble, marks.period, terms_of(marks.terms))
    row = next((one for one in live.rows if one.musician_pk == musician.pk), None)
    if row is None:
        raise NotAllowed("this musician has no place in the period", where=musician.name)
    data = row_data(row)
    data.update(
        value=None,
        printed="",
        word=NO_MARK,
        percent=None,
        likely="",
        because=["Not in the period when it was closed."],
        flags=[],
    )
    return PostedMark.objects.create(
        marks=marks,
        musician=musician,
        order=marks.posted.count(),
        word=NO_MARK,
        body=data,
        posted_at=timezone.now(),
    )


def _words(posted: PostedMark) -> str:
    """A posted mark in words."""
    return posted.word if posted.value is None else f"{rounded(posted.value):.2f} {posted.word}"
