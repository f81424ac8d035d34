"""What a director does with a sheet that was sent: open, give levels, reply, put on the wall."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.kinds import Kind, is_blank
from standlight.programme.models import (
    Account,
    Assignment,
    CommentLine,
    Reply,
    Sheet,
    SheetLevel,
)
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading import consents, rubric_of
from standlight.programme.queries.reading_sheet import LINE_OF, bank_key
from standlight.ratings import NOT_HEARD, level_name

LONGEST_LINE = 400
"""Characters of one line of a reply."""


@transaction.atomic
def open_sheet(account: Account, sheet: Sheet) -> bool:
    """Note who opened a musician's sheet first, and when; True the first time, False after.

    Raises ``NotAllowed`` for a sheet that is not sent.
    """
    _must_be_sent(sheet)
    if not account.is_director or sheet.author_id == account.pk:
        return False
    now = timezone.now()
    # One conditional update: two directors who open at once make one first opening.
    first = Sheet.objects.filter(pk=sheet.pk, sent_at__isnull=False, opened_at__isnull=True).update(
        opened_at=now, opened_by=account
    )
    if first:
        sheet.opened_at, sheet.opened_by = now, account
    return bool(first)


@transaction.atomic
def reply(account: Account, sheet: Sheet, words: str = "", next_step: str = "") -> Reply:
    """Keep two lines on a sheet; a second reply replaces the first and counts as unseen.

    Raises ``StandlightError`` when both lines are empty or one is too long, ``NotAllowed`` for a
    sheet that is not sent or is the director's own.
    """
    _must_be_sent(sheet)
    if sheet.author.is_director:
        raise NotAllowed("a director's own sheet gets no reply", slip="open a musician's sheet")
    lines = {"words": _line(words, "line"), "next_step": _line(next_step, "next step")}
    if not any(lines.values()):
        raise StandlightError(
            "a reply needs a line", slip="a word on what you read, or a next step"
        )
    kept, _ = Reply.objects.update_or_create(
        sheet=sheet, defaults={**lines, "written_by": account, "seen_at": None}
    )
    open_sheet(account, sheet)
    return kept


@transaction.atomic
def give_level(account: Account, sheet: Sheet, criterion: str, value: str) -> SheetLevel:
    """``account``'s level ("1" to "4" or "not_shown") for a row of the rubric.

    The same level again changes nothing; another one retires the old. Raises
    ``StandlightError`` for a level that is none, ``NotAllowed`` for a sheet that is not sent and
    for a row that the kind does not have.
    """
    _must_be_sent(sheet)
    kind = kind_in(sheet.assignment.kind)
    rows = {row.key for row in rubric_of(kind, sheet.step)}
    if criterion not in rows or sheet.author.is_director:
        raise NotAllowed(f"no level is given for {criterion!r} here", where=kind.name)
    level_name(value)
    if value == NOT_HEARD:
        raise StandlightError("a sheet is read, not heard", slip="choose “not shown” instead")
    held = (
        SheetLevel.objects.select_for_update()
        .filter(sheet=sheet, rater=account, criterion=criterion, retired_at__isnull=True)
        .first()
    )
    if held is not None and held.value == value:
        return held
    if held is not None:
        held.retired_at = timezone.now()
        held.save(update_fields=["retired_at"])
    return SheetLevel.objects.create(sheet=sheet, rater=account, criterion=criterion, value=value)


@transaction.atomic
def put_on_wall(account: Account, sheet: Sheet) -> None:
    """Show a sheet to the group; raises ``NotAllowed`` unless its owner says yes in it.

    A kind of work that is never shown to the group has no wall.
    """
    _must_be_sent(sheet)
    if not account.is_director:
        raise NotAllowed("a director puts sheets on the wall")
    if "group" not in kind_in(sheet.assignment.kind).seen_by:
        raise NotAllowed("this kind of work is not shown to the group")
    if not consents(sheet):
        raise NotAllowed(
            f"{sheet.author.shown_name} has not agreed to share this",
            slip="only what its owner shares can go on the wall",
        )
    Sheet.objects.filter(pk=sheet.pk).update(on_wall=True)
    sheet.on_wall = True


@transaction.atomic
def take_off_wall(account: Account, sheet: Sheet) -> None:
    """Take a sheet off the wall; one that is not on it stays off.

    Raises ``NotAllowed`` for anyone but a director.
    """
    if not account.is_director:
        raise NotAllowed("a director takes sheets off the wall")
    Sheet.objects.filter(pk=sheet.pk).update(on_wall=False)
    sheet.on_wall = False


@transaction.atomic
def show_seen(account: Account, assignment: Assignment, step: str) -> int:
    """Send everything that ``account`` noted about musicians at a step; how many sheets that is.

    An observation tells what was seen, so nothing has to be complete; blank sheets stay back.
    """
    now = timezone.now()
    rows = Sheet.objects.select_for_update().filter(
        assignment=assignment, author=account, step=step, about__isnull=False, sent_at__isnull=True
    )
    told = [row.pk for row in rows if not is_blank(row.answers)]
    return Sheet.objects.filter(pk__in=told).update(sent_at=now)


@transaction.atomic
def keep_reply_line(
    account: Account,
    kind: Kind,
    place: str,
    text: str,
    *,
    row: str = "",
    level: int | None = None,
) -> CommentLine:
    """Add a line to the comment bank for replies to a kind of work; the same twice is kept once.

    ``place`` is a key of ``LINE_OF``; with ``row`` and ``level`` it is offered for that level of
    that row of a rubric. Raises ``StandlightError`` for a line without words, one that is too
    long, and a place that no reply has.
    """
    text = _line(text, "line")
    if not text:
        raise StandlightError("a comment line needs words")
    if place not in LINE_OF:
        raise StandlightError(f"{place!r} is no line of a reply")
    fields = {"criterion": row or bank_key(kind), "place": place, "text": text, "level": level}
    same = CommentLine.objects.filter(programme=account.programme, **fields).first()
    return same or CommentLine.objects.create(programme=account.programme, **fields)


def _must_be_sent(sheet: Sheet) -> None:
    """Raises ``NotAllowed`` for a draft: it is its author's alone."""
    if sheet.sent_at is None:
        raise NotAllowed("this sheet has not been sent", where=sheet.author.shown_name)


def _line(text: str, what: str) -> str:
    """``text`` without spare blanks; raises ``StandlightError`` when it is too long."""
    text = " ".join(text.split())
    if len(text) > LONGEST_LINE:
        raise StandlightError(
            f"this {what} has {len(text)} characters, and {LONGEST_LINE} fit",
            slip="say the most useful half",
        )
    return text
