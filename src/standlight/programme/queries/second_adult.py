"""What a second adult reads: everything that was sent and what was replied, changing nothing."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from django.db.models import Count, Q

from standlight.programme.models import Account, Assignment, Sheet
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading_answers import Shown, shown_answers, sounds_of

SHEETS_A_PAGE = 30
"""Sheets on one page, so that a page of 160 musicians opens quickly."""


@dataclass(frozen=True, slots=True)
class WritingLine:
    """One piece of work and how many sheets were sent for it."""

    pk: int
    title: str
    ensemble: str
    n_sent: int


@dataclass(frozen=True, slots=True)
class ReadSheet:
    """One sheet: who wrote it, what, and what came back from whom."""

    name: str
    step: str
    sent_at: datetime.datetime
    answers: tuple[Shown, ...]
    reply: tuple[str, ...]
    replied_by: str


@dataclass(frozen=True, slots=True)
class WritingPage:
    """The sheets of one piece of work, the newest first; ``more`` is the next page, 0 for none."""

    line: WritingLine
    sheets: tuple[ReadSheet, ...]
    more: int


def may_read_all(account: Account) -> bool:
    """True for the lead director and for a second adult."""
    return bool(account.is_director and (account.is_lead or account.reads_writing))


def writing_lines(account: Account) -> tuple[WritingLine, ...]:
    """All work of the school for which something was sent, the latest first."""
    rows = (
        Assignment.objects.filter(ensemble__programme=account.programme_id)
        .select_related("ensemble")
        .annotate(n_sent=Count("sheets", filter=Q(sheets__sent_at__isnull=False)))
        .filter(n_sent__gt=0)
        .order_by("-made_at", "-pk")
    )
    return tuple(_line(row, row.n_sent) for row in rows)


def writing_page(assignment: Assignment, page: int) -> WritingPage:
    """One page (from 1) of what was sent for ``assignment``; sheets of directors too."""
    rows = (
        Sheet.objects.filter(assignment=assignment, sent_at__isnull=False)
        .select_related("author", "about", "reply__written_by")
        .order_by("-sent_at", "key")
    )
    first = (page - 1) * SHEETS_A_PAGE
    here = list(rows[first : first + SHEETS_A_PAGE + 1])
    chosen, kind = here[:SHEETS_A_PAGE], kind_in(assignment.kind)
    sounds = sounds_of(chosen)
    steps = {step.key: step for step in kind.steps}
    return WritingPage(
        line=_line(assignment, rows.count()),
        sheets=tuple(
            ReadSheet(
                name=_names(row),
                step=steps[row.step].name,
                sent_at=row.sent_at,
                answers=shown_answers(steps[row.step], row.answers, sounds),
                reply=tuple(
                    line for line in (row.reply.words, row.reply.next_step) if line
                ) if hasattr(row, "reply") else (),
                replied_by=row.reply.written_by.shown_name if hasattr(row, "reply") else "",
            )
            for row in chosen
        ),
        more=page + 1 if len(here) > SHEETS_A_PAGE else 0,
    )


def _names(row: Sheet) -> str:
    """Who wrote, and about whom where that is somebody else."""
    author = row.author.shown_name
    return author if row.about is None or row.about.name == author else (
        f"{author} about {row.about.name}"
    )


def _line(row: Assignment, n_sent: int) -> WritingLine:
    """An assignment as a line."""
    return WritingLine(row.pk, row.title, row.ensemble.name, n_sent)
