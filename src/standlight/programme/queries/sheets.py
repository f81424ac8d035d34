"""One sheet as its author sees it: what is asked, who reads it, what came back."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass

from standlight.kinds import READERS, Kind, RubricRow, Step
from standlight.programme.accommodations import SPOKEN
from standlight.programme.models import (
    Account,
    Assignment,
    Casting,
    Musician,
    Piece,
    Remark,
    Reply,
    Sheet,
    SheetLevel,
    WorkExcuse,
)
from standlight.programme.phrases import listed
from standlight.programme.queries.assignments import Excuse, own_due_day
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.laid_before import Laid, laid_before
from standlight.programme.queries.musician_words import LEVEL_WORDS, due_words
from standlight.programme.queries.reading_answers import Shown, shown_answers, sounds_of
from standlight.programme.queries.school import adults_who_read
from standlight.programme.queries.sheet_forms import (
    FormChoice,
    FormField,
    Setting,
    choice_words,
    clock_words,
    form_of,
    limits_of,
)
from standlight.programme.queries.work_steps import step_of

__all__ = [
    "CameBackSheet",
    "FormChoice",
    "FormField",
    "OwnLevel",
    "Seen",
    "Setting",
    "SheetPage",
    "choice_words",
    "clock_words",
    "came_back_sheet",
    "form_of",
    "last_sent",
    "limits_of",
    "readers_of",
    "setting_of",
    "sheet_page",
    "unsent_sheet",
]

ANY_TIME = "Any time this year"

NOT_SHOWN_HERE = "Not shown in this answer"


@dataclass(frozen=True, slots=True)
class OwnLevel:
    """A level for one row of the rubric, in words; ``descriptor`` says what it stands for."""

    name: str
    level: str
    descriptor: str


@dataclass(frozen=True, slots=True)
class Seen:
    """What a director wrote on the same form about the musician: answers as they are read."""

    by: str
    answers: tuple[Shown, ...]


@dataclass(frozen=True, slots=True)
class CameBackSheet:
    """What a director gave back on one sheet; ``seen`` is shown once both are sent."""

    words: str
    next_step: str
    written_by: str
    levels: tuple[OwnLevel, ...]
    seen: tuple[Seen, ...]


@dataclass(frozen=True, slots=True)
class SheetPage:
    """All that the page of one sheet shows; ``sheet`` is "" while nothing is kept yet.

    ``owner`` names the author for the browser's own store; ``readers`` are sentences of who can
    read; ``shown`` are the answers once the sheet is sent.
    """

    assignment: int
    step: str
    sheet: str
    owner: str
    number: int
    title: str
    kind: str
    step_name: str
    aim: str
    note: str
    piece: str
    due: str
    asked: str
    many_steps: bool
    may_come_again: bool
    readers: tuple[str, ...]
    safety_contact: str
    accommodation: str
    changed_goal: str
    setting: Setting
    sound_name: str
    laid: tuple[Laid, ...]
    form: tuple[FormField | FormChoice, ...]
    consents: tuple[FormField, ...]
    stamps: Mapping[str, str]
    sent_at: datetime.datetime | None
    opened: bool
    on_wall: bool
    shown: tuple[Shown, ...]
    back: CameBackSheet | None


def unsent_sheet(account: Account, assignment: Assignment, step_key: str) -> Sheet:
    """The open sheet of a musician at a step, or a blank one that is not kept yet."""
    found = Sheet.objects.filter(
        assignment=assignment, author=account, step=step_key, sent_at__isnull=True
    ).first()
    if found is not None:
        found.assignment = assignment
        return found
    musician = Musician.objects.filter(account=account).first()
    return Sheet(assignment=assignment, author=account, about=musician, step=step_key, number=0)


def last_sent(account: Account, assignment: Assignment, step: Step) -> Sheet | None:
    """The last sheet of a step that may not come again; ``None`` while one may be begun."""
    if step.most_times is None:
        return None
    sent = list(
        Sheet.objects.filter(assignment=assignment, author=account, step=step.key).order_by(
            "number"
        )
    )
    return sent[-1] if len(sent) >= step.most_times else None


def sheet_page(
    account: Account,
    sheet: Sheet,
    *,
    today: datetime.date,
    answers: Mapping[str, object] | None = None,
    tell: bool = False,
) -> SheetPage:
    """The page of ``sheet`` for its author; ``answers`` stand in for those that are kept.

    With ``tell`` every question says what is open or wrong. Raises ``StandlightError`` where the
    kind has no such step.
    """
    assignment = sheet.assignment
    kind = kind_in(assignment.kind)
    step = step_of(assignment, sheet.step)
    musician = sheet.about
    setting = setting_of(account, assignment, step, musician)
    given = sheet.answers if answers is None else answers
    form = form_of(step, given, setting, stamps=sheet.stamps, tell=tell)
    kept = not sheet._state.adding
    return SheetPage(
        assignment=assignment.pk,
        step=step.key,
        sheet=str(sheet.pk) if kept else "",
        owner=f"work-{account.pk}",
        number=sheet.number,
        title=assignment.title,
        kind=kind.name,
        step_name=step.name,
        aim=kind.aim,
        note=assignment.note,
        piece=assignment.piece.title if assignment.piece is not None else "",
        due=_due(assignment, musician, today),
        asked=_asked(step),
        many_steps=len(kind.steps) > 1,
        may_come_again=step.most_times is None or step.most_times > max(sheet.number, 1),
        readers=readers_of(assignment, kind),
        safety_contact=account.programme.safety_contact,
        accommodation=musician.agreed_words if musician is not None else "",
        changed_goal=musician.changed_goal if musician is not None else "",
        setting=setting,
        sound_name=assignment.sound_name,
        laid=laid_before(step, assignment, account),
        form=form,
        consents=tuple(one for one in form if not one.is_group and one.type == "consent"),
        stamps=sheet.stamps,
        sent_at=sheet.sent_at,
        opened=sheet.opened_at is not None,
        on_wall=sheet.on_wall,
        shown=shown_answers(step, given, sounds_of([sheet])) if sheet.sent_at else (),
        back=came_back_sheet(sheet, step, kind) if kept and sheet.sent_at else None,
    )


def setting_of(
    account: Account, assignment: Assignment, step: Step, musician: Musician | None
) -> Setting:
    """What surrounds the form of a step; pieces are asked for only where a spot needs them."""
    types = {one.type for field in step.fields for one in (field, *field.columns)}
    pieces = _pieces(account, assignment) if "spot" in types else ()
    may_draw = types & {"spot", "measure"} and musician is not None
    drawn = bool(may_draw) and Casting.objects.filter(
        seat__musician=musician, piece__ensemble=assignment.ensemble_id
    ).exclude(piece__score_digest="").exists()
    return Setting(
        assignment=assignment.pk,
        step=step.key,
        pieces=pieces,
        sound=bool(assignment.sound_digest),
        drawn=drawn,
        may_speak=musician is not None and SPOKEN in musician.accommodations,
    )


def readers_of(assignment: Assignment, kind: Kind) -> tuple[str, ...]:
    """Who can read an answer, in sentences: directors by name, then what the group may see."""
    names = sorted(adults_who_read(assignment.ensemble).values_list("shown_name", flat=True))
    sentences = [f"Who can read it: {listed(['you', *(names or ['your directors'])])}."]
    if "group" in kind.seen_by:
        sentences.append(f"Also {READERS['group']}.")
    return tuple(sentences)


def came_back_sheet(sheet: Sheet, step: Step, kind: Kind) -> CameBackSheet | None:
    """Reply, levels and a director's own observation; ``None`` while nothing came back."""
    reply = Reply.objects.select_related("written_by").filter(sheet=sheet).first()
    levels = _levels(sheet, kind) if reply is not None else ()
    seen = _seen(sheet, step) if kind.side_at(step.key) == "each" else ()
    if reply is None and not seen:
        return None
    return CameBackSheet(
        words=reply.words if reply is not None else "",
        next_step=reply.next_step if reply is not None else "",
        written_by=reply.written_by.shown_name if reply is not None else "",
        levels=levels,
        seen=seen,
    )


def _levels(sheet: Sheet, kind: Kind) -> tuple[OwnLevel, ...]:
    """The latest standing level of each row of the rubric."""
    rows = SheetLevel.objects.filter(sheet=sheet, retired_at=None).order_by("given_at")
    given = dict(rows.values_list("criterion", "value"))
    return tuple(
        _own_level(row, given[row.key]) for row in kind.rows_at(sheet.step) if row.key in given
    )


def _own_level(row: RubricRow, value: str) -> OwnLevel:
    """One level with its sentence; an answer that does not show the row has neither."""
    if not value.isdigit():
        return OwnLevel(row.name, NOT_SHOWN_HERE, "")
    return OwnLevel(row.name, LEVEL_WORDS[value], row.descriptors[int(value) - 1])


def _seen(sheet: Sheet, step: Step) -> tuple[Seen, ...]:
    """What directors observed of the musician with the same form, once they sent it."""
    if sheet.about_id is None:
        return ()
    rows = (
        Sheet.objects.filter(
            assignment=sheet.assignment_id, about=sheet.about_id, step=sheet.step,
            sent_at__isnull=False, author__role=Account.DIRECTOR,
        )
        .select_related("author")
        .order_by("number")
    )  # fmt: skip
    return tuple(
        Seen(row.author.shown_name, shown_answers(step, row.answers, {})) for row in rows
    )


def _due(assignment: Assignment, musician: Musician | None, today: datetime.date) -> str:
    """When it is due for this musician, as one says it."""
    excuse = (
        WorkExcuse.objects.filter(assignment=assignment, musician=musician).first()
        if musician is not None
        else None
    )
    extra_days = musician.extra_days if musician is not None else 0
    day = own_due_day(assignment, excuse and Excuse(excuse.reason, excuse.until), extra_days)
    return due_words(day, today) if day is not None else ANY_TIME


def _asked(step: Step) -> str:
    """How often the step is done, where not once; "" otherwise."""
    if step.most_times == 1:
        return ""
    if step.most_times is None:
        more = "as many as you like"
        return f"Do {step.least_times}, or {more}." if step.least_times > 1 else f"Do {more}."
    if step.least_times == step.most_times:
        return f"Do {step.most_times} of these."
    return f"Do {step.least_times} to {step.most_times} of these."


def _pieces(account: Account, assignment: Assignment) -> tuple[str, ...]:
    """Titles of the group's pieces: the one of the work, the last remarked on, then the rest."""
    titles = dict(
        Piece.objects.filter(ensemble=assignment.ensemble_id)
        .order_by("-cycle__concert_on", "title")
        .values_list("pk", "title")
    )
    last = (
        Remark.objects.filter(author=account, piece__ensemble=assignment.ensemble_id)
        .order_by("-made_at", "-pk")
        .values_list("piece_id", flat=True)
        .first()
    )
    first = [titles[pk] for pk in (assignment.piece_id, last) if pk in titles]
    return tuple(dict.fromkeys([*first, *titles.values()]))
