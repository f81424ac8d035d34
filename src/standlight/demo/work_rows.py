"""The demo's written work as rows: given out by the same acts as a director's, sheets in bulk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import F, OuterRef, Subquery
from django.utils import timezone

from standlight.demo.loading import Loading
from standlight.demo.work_plan import SheetPlan, Work
from standlight.demo.work_table import Given
from standlight.kinds import Step
from standlight.programme.actions import assignments as acts
from standlight.programme.models import (
    Account,
    Assignment,
    Remark,
    Reply,
    Sheet,
    WorkExcuse,
)
from standlight.programme.queries.work_steps import step_of
from standlight.programme.sheet_remarks import remarks_of

WRITING_TIME = timedelta(minutes=6)
"""How long before it was last saved a sheet was begun."""


@dataclass(slots=True)
class _Rows:
    """The loading, and the assignments written so far by key."""

    loading: Loading
    given: dict[str, Assignment]

    def account(self, who: str) -> Account:
        """A musician by roster id, or a director by key."""
        musician = self.loading.musicians.get(who)
        return musician.account if musician else self.loading.directors[who]


def write_work(loading: Loading, work: Work) -> None:
    """Write everything that was given out, answered and read in the scenario being loaded."""
    rows = _Rows(loading, {given.key: _give(loading, given) for given in work.given})
    sheets = _sheets(rows, work.sheets)
    _replies(rows, work.sheets, sheets)
    _remarks(rows, work.sheets, sheets)
    for plan in work.excuses:
        assignment = rows.given[plan.given]
        WorkExcuse.objects.create(
            assignment=assignment,
            musician=loading.musicians[plan.roster_id],
            reason=plan.reason,
            until=plan.until,
            given_by=assignment.made_by,
        )


def _give(loading: Loading, given: Given) -> Assignment:
    """One assignment, given out and published on the morning of its first day."""
    group = next(group for group in loading.plan.groups if group.key == given.group)
    today, piece = loading.plan.today, loading.pieces.get(given.piece)
    assignment = acts.give_out(
        loading.directors[group.director],
        acts.Giving(
            ensemble_pk=loading.ensembles[given.group].pk,
            kind_key=given.kind,
            title=given.title,
            note=given.note,
            piece_pk=None if piece is None else piece.pk,
            section_pks=[loading.sections[given.group, name].pk for name in given.sections],
            rules=given.rules,
            starts_on=today + timedelta(given.starts_in),
            due_on=None if given.due_in is None else today + timedelta(given.due_in),
            sound_name=given.sound_name,
        ),
    )
    acts.publish(assignment)
    morning = _aware(datetime.combine(assignment.starts_on, datetime.min.time()))
    assignment.made_at = morning + timedelta(hours=7, minutes=30)
    assignment.published_at = morning + timedelta(hours=7, minutes=40)
    if given.laid_open_in is not None:
        acts.lay_open(assignment)
        day = timedelta(given.laid_open_in - given.starts_in)
        assignment.laid_open_at = morning + day + timedelta(hours=11)
    assignment.save(update_fields=["made_at", "published_at", "laid_open_at"])
    return assignment


def _sheets(rows: _Rows, plans: Sequence[SheetPlan]) -> list[Sheet]:
    """Every sheet, in the order of ``plans``."""
    made = Sheet.objects.bulk_create(
        Sheet(
            assignment=rows.given[plan.given],
            author=rows.account(plan.author),
            about=rows.loading.musicians.get(plan.about),
            step=plan.step,
            number=plan.number,
            answers=plan.answers,
            saved_at=_aware(plan.saved_at),
            sent_at=plan.sent_at and _aware(plan.sent_at),
            opened_at=plan.opened_at and _aware(plan.opened_at),
            opened_by=rows.given[plan.given].made_by if plan.opened_at else None,
            on_wall=plan.on_wall,
        )
        for plan in plans
    )
    # The row stamps its own beginning when it is made; the demo's sheets are older than today.
    Sheet.objects.filter(assignment__in=rows.given.values()).update(
        started_at=F("saved_at") - WRITING_TIME
    )
    return made


def _replies(rows: _Rows, plans: Sequence[SheetPlan], sheets: Sequence[Sheet]) -> None:
    """The replies, written when the sheet was opened."""
    Reply.objects.bulk_create(
        Reply(
            sheet=row,
            words=plan.reply.words,
            next_step=plan.reply.next_step,
            written_by=row.assignment.made_by,
            seen_at=plan.reply.seen_at and _aware(plan.reply.seen_at),
        )
        for plan, row in zip(plans, sheets, strict=True)
        if plan.reply
    )
    ours = Reply.objects.filter(sheet__assignment__in=rows.given.values())
    ours.update(written_at=_of_its_sheet("opened_at"))


def _remarks(rows: _Rows, plans: Sequence[SheetPlan], sheets: Sequence[Sheet]) -> None:
    """The remarks that sending a sheet makes, as old as the sheet."""
    parts = {
        (rows.loading.pieces[piece].pk, rows.account(who).pk): part.pk
        for (piece, who), part in rows.loading.castings.items()
    }
    steps: dict[tuple[str, str], Step] = {}
    made = []
    for plan, row in zip(plans, sheets, strict=True):
        if plan.sent_at is None:
            continue
        key = (plan.given, plan.step)
        if key not in steps:
            steps[key] = step_of(row.assignment, plan.step)
        made += remarks_of(row, steps[key], lambda piece, who: parts.get((piece.pk, who.pk)))
    Remark.objects.bulk_create(made)
    ours = Remark.objects.filter(sheet__assignment__in=rows.given.values())
    ours.update(made_at=_of_its_sheet("sent_at"))


def _of_its_sheet(name: str) -> Subquery:
    """A time of the row's sheet, for an update of all rows at once."""
    return Subquery(Sheet.objects.filter(pk=OuterRef("sheet_id")).values(name)[:1])


def _aware(local: datetime) -> datetime:
    return timezone.make_aware(local)
