"""What an author does with a sheet: begin, save, add a recording, send, take it up again.

Every act is safe to repeat. A save never refuses a wrong answer: what is typed is kept, and what
another window kept in between goes to ``OlderAnswer`` before it is overwritten.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.kinds import Field, Standing, Step, is_blank, standing_of
from standlight.kinds.field_types import MOST_CHARACTERS
from standlight.programme import store
from standlight.programme.accommodations import SPOKEN
from standlight.programme.actions.takes import LARGEST_FILE_BYTES, TooLarge
from standlight.programme.clean_text import without_broken
from standlight.programme.models import (
    Account,
    Assignment,
    Musician,
    OlderAnswer,
    Reply,
    Sheet,
    SheetSound,
)
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.work_steps import step_of
from standlight.programme.sheet_remarks import forget_remarks, keep_remarks

MOST_ANSWER_BYTES = 400_000
"""One answer as it is kept: a list of forty rows of long text is far below."""

MOST_TIMES = 400
"""Sheets of one step that one author may begin: two a school day."""

SPEAKABLE = ("short", "long")
"""Types of questions that may be answered aloud, where that is an accommodation."""


@dataclass(frozen=True, slots=True)
class Save:
    """One answer to keep. ``stamp`` names this save, ``seen`` the one that the window had before.

    ``tried`` are stamps that the window sent without hearing whether they arrived.
    """

    answer: object
    stamp: str
    seen: str = ""
    tried: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Clash:
    """What another window had kept for ``question`` in between; it is an older answer now."""

    question: str
    answer: object


@dataclass(frozen=True, slots=True)
class Saved:
    """The stamp of each answer now kept, clashes, and a sentence for each that was not kept."""

    stamps: Mapping[str, str]
    clashes: tuple[Clash, ...] = ()
    refused: Mapping[str, str] = field(default_factory=dict)


class NotComplete(StandlightError):
    """A sheet is sent too early; ``standing`` says what is open and what is wrong."""

    def __init__(self, standing: Standing) -> None:
        """Keep the whole ``standing``; the error's own sentence is the first of it."""
        super().__init__((*standing.open, *standing.wrong)[0].words)
        self.standing = standing


@transaction.atomic
def begin(
    account: Account, assignment: Assignment, step_key: str, about: Musician | None = None
) -> Sheet:
    """The open sheet of ``account`` at a step: the one begun, or the next where one may come.

    A musician's is about the musician; ``about`` says whom a director observes. Raises
    ``NotAllowed`` where this person may not, or may not once more.
    """
    step = step_of(assignment, step_key)
    about = _about(account, assignment, step_key, about)
    rows = Sheet.objects.filter(
        assignment=assignment, author=account, about=about, step=step_key
    ).order_by("number")
    sheets = list(rows)
    for sheet in sheets:
        if sheet.sent_at is None:
            return sheet
    most = MOST_TIMES if step.most_times is None else step.most_times
    if len(sheets) >= most:
        raise NotAllowed(
            "you have sent this already", slip="open it and take it up again to change it"
        )
    number = max((sheet.number for sheet in sheets), default=0) + 1
    return Sheet.objects.create(
        assignment=assignment, author=account, about=about, step=step_key, number=number
    )


@transaction.atomic
def save(sheet: Sheet, saves: Mapping[str, Save]) -> Saved:
    """Keep answers, question key to `Save`; the same again changes nothing.

    Raises ``NotAllowed`` only when the sheet is sent. An answer that cannot be kept has a sentence
    in ``refused``, and all others are kept.
    """
    row = Sheet.objects.select_related("assignment__kind").get(pk=sheet.pk)
    if row.sent_at is not None:
        raise NotAllowed("this is sent already", slip="take it up again to change it")
    step = step_of(row.assignment, row.step)
    stamps: dict[str, str] = {}
    clashes: list[Clash] = []
    refused: dict[str, str] = {}
    for question, given in saves.items():
        one = replace(given, answer=_cleaned(given.answer))
        problem = _unkept(row, step, question, one.answer)
        if problem:
            refused[question] = problem
            continue
        stamps[question] = one.stamp
        before, stamp = row.answers.get(question), row.stamps.get(question, "")
        if stamp == one.stamp:
            continue
        foreign = stamp != one.seen and stamp not in one.tried
        if foreign and not is_blank(before) and before != one.answer:
            OlderAnswer.objects.create(sheet=row, question=question, answer=before)
            clashes.append(Clash(question, before))
        row.answers[question], row.stamps[question] = one.answer, one.stamp
    row.saved_at = timezone.now()
    row.save(update_fields=("answers", "stamps", "saved_at"))
    sheet.answers, sheet.stamps, sheet.saved_at = row.answers, row.stamps, row.saved_at
    return Saved(stamps, tuple(clashes), refused)


@transaction.atomic
def send(sheet: Sheet) -> Sheet:
    """Hand the sheet in; spots and measures in it become remarks on the piece.

    A sent sheet stays as it is. Raises `NotComplete` while something is open or wrong.
    """
    row = Sheet.objects.select_related("assignment__kind", "assignment__piece").get(pk=sheet.pk)
    if row.sent_at is None:
        step = step_of(row.assignment, row.step)
        standing = standing_of(step, row.answers)
        if not standing.complete:
            raise NotComplete(standing)
        row.sent_at = timezone.now()
        row.save(update_fields=("sent_at",))
        keep_remarks(row, step)
    sheet.sent_at = row.sent_at
    return row


@transaction.atomic
def take_up_again(sheet: Sheet) -> Sheet:
    """Make a sent sheet open again, as long as no director has opened it."""
    row = Sheet.objects.select_related("assignment").get(pk=sheet.pk)
    if row.sent_at is None:
        return row
    if row.opened_at is not None:
        raise NotAllowed("your director has read this already", slip="tell them what you would add")
    others = Sheet.objects.filter(
        assignment=row.assignment, author=row.author, about=row.about, step=row.step
    )
    if others.filter(sent_at__isnull=True).exists():
        raise NotAllowed("another one of these is open", slip="finish or empty that one first")
    row.sent_at = None
    row.on_wall = False
    row.save(update_fields=("sent_at", "on_wall"))
    forget_remarks(row)
    sheet.sent_at = None
    return row


@transaction.atomic
def say_consent(sheet: Sheet, question: str, agrees: bool) -> Sheet:
    """The owner says yes or no to sharing, at any time; with no yes left it leaves the wall."""
    row = Sheet.objects.select_related("assignment__kind").get(pk=sheet.pk)
    step = step_of(row.assignment, row.step)
    asked = [one.key for one in step.fields if one.type == "consent"]
    if question not in asked:
        raise StandlightError("this is no question about sharing", where=question)
    row.answers[question] = bool(agrees)
    if not any(row.answers.get(key) is True for key in asked):
        row.on_wall = False
    row.save(update_fields=("answers", "on_wall"))
    sheet.answers, sheet.on_wall = row.answers, row.on_wall
    return row


def keep_sound(sheet: Sheet, question: str, data: bytes, media_type: str = "") -> SheetSound:
    """Keep a recording as the answer to ``question``: its sound alone, as a file that can seek.

    Only questions for a recording take one (in a list too, where its row then names it), and text
    answers of whoever may speak them. The same bytes again change nothing. Raises ``TooLarge``,
    ``UnreadableTake`` or ``NotAllowed``.
    """
    step = step_of(sheet.assignment, sheet.step)
    inside = [column for one in step.fields for column in one.columns]
    asked = next((one for one in (*step.fields, *inside) if one.key == question), None)
    if asked is None or not (asked.type == "recording" or _may_speak(sheet, asked.type)):
        raise NotAllowed("this question takes no recording", where=question)
    if len(data) > LARGEST_FILE_BYTES:
        raise TooLarge(
            f"the file has {len(data) // 10**6} MB, more than {LARGEST_FILE_BYTES // 10**6} MB",
            slip="a video in high quality? record only the sound",
        )
    # The decoder brings numpy: only a process that meets a recording pays for it.
    from standlight.workshop.decoding import decode_with_copy

    recording, copy = decode_with_copy(data)
    digest = store.keep(copy)
    return _keep_sound_row(sheet, asked, digest, float(recording.seconds), asked in step.fields)


@transaction.atomic
def see_reply(sheet: Sheet) -> None:
    """Note that the author has looked at what came back; the first time counts."""
    Reply.objects.filter(sheet=sheet, seen_at__isnull=True).update(seen_at=timezone.now())


def _about(
    account: Account, assignment: Assignment, step_key: str, about: Musician | None
) -> Musician | None:
    """Whom the sheet is about; raises ``NotAllowed`` where this person may not write one."""
    if not Assignment.objects.visible_to(account).filter(pk=assignment.pk).exists():
        raise NotAllowed("this work is not yours")
    if account.is_musician:
        own = Musician.objects.get(account=account)
        if about is not None and about.pk != own.pk:
            raise NotAllowed("you can only write about yourself")
        return own
    side = kind_in(assignment.kind).side_at(step_key)
    if side != ("each" if about is not None else "own"):
        raise NotAllowed("a director fills no such form for this kind of work")
    if about is not None and not about.seats.filter(
        section__ensemble=assignment.ensemble_id
    ).exists():
        raise NotAllowed("this musician is in another group")
    return about


def _unkept(row: Sheet, step: Step, question: str, answer: object) -> str:
    """Why an answer cannot be kept, "" when it can."""
    if question not in {one.key for one in step.fields}:
        return "This question is not asked here any more. Load the page again."
    longest = max((len(text) for text in _texts(answer)), default=0)
    if longest > MOST_CHARACTERS:
        return (
            f"This text is too long to keep ({longest:,} characters; {MOST_CHARACTERS:,} fit). "
            "Make it shorter, or hand it in on paper. Your last version is kept."
        )
    if len(json.dumps(answer)) > MOST_ANSWER_BYTES:
        return "This list is too long to keep. Take some rows out. Your last version is kept."
    if isinstance(answer, dict) and "sound" in answer and not _has_sound(row, answer["sound"]):
        return "This recording is not here any more. Please record it again."
    return ""


def _cleaned(answer: object) -> object:
    """The answer without broken characters."""
    if isinstance(answer, str):
        return without_broken(answer)
    if isinstance(answer, dict):
        return {str(_cleaned(key)): _cleaned(part) for key, part in answer.items()}
    if isinstance(answer, list | tuple):
        return [_cleaned(part) for part in answer]
    return answer


def _texts(answer: object) -> Iterator[str]:
    """Every text inside an answer."""
    if isinstance(answer, str):
        yield answer
    elif isinstance(answer, dict):
        for part in answer.values():
            yield from _texts(part)
    elif isinstance(answer, list | tuple):
        for part in answer:
            yield from _texts(part)


def _has_sound(row: Sheet, key: object) -> bool:
    """True for the key of a recording kept in this sheet."""
    try:
        wanted = UUID(str(key))
    except ValueError:
        return False
    return SheetSound.objects.filter(sheet=row, key=wanted).exists()


@transaction.atomic
def _keep_sound_row(
    sheet: Sheet, asked: Field, digest: str, seconds: float, is_answer: bool
) -> SheetSound:
    """The row of a recording, named as the answer to its question where it is one by itself."""
    row = Sheet.objects.get(pk=sheet.pk)
    if row.sent_at is not None:
        raise NotAllowed("this is sent already", slip="take it up again to change it")
    found = row.sounds.filter(question=asked.key, digest=digest, removed_at=None).first()
    sound = found or SheetSound.objects.create(
        sheet=row, question=asked.key, digest=digest, media_type="audio/flac", seconds=seconds
    )
    if is_answer and row.answers.get(asked.key) != {"sound": str(sound.key)}:
        row.answers[asked.key] = {"sound": str(sound.key)}
        row.stamps[asked.key] = str(sound.key)
    row.saved_at = timezone.now()
    row.save(update_fields=("answers", "stamps", "saved_at"))
    sheet.answers, sheet.stamps = row.answers, row.stamps
    return sound


def _may_speak(sheet: Sheet, field_type: str) -> bool:
    """True for a text answer of a musician who may speak instead of writing."""
    about = sheet.about
    return field_type in SPEAKABLE and about is not None and SPOKEN in about.accommodations
