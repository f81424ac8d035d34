"""One sheet at the Desk: the whole answer, the levels, the lines of a reply, and what is next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.db.models import QuerySet

from standlight.kinds import Kind, Step
from standlight.programme.dates import date_words, days_ahead
from standlight.programme.models import Account, Assignment, CommentLine, Sheet, SheetLevel
from standlight.programme.queries.desk_values import LevelChoice, Offer
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading import (
    consents,
    days_since,
    neighbours,
    order_of,
    places_of,
    rubric_of,
    sent_sheets,
)
from standlight.programme.queries.reading_answers import shown_answers, sounds_of
from standlight.programme.queries.reading_values import (
    OtherSheet,
    ReadingFoot,
    ReadingPage,
    ReplyDraft,
    RubricRow,
    WallState,
)
from standlight.programme.queries.school import adults_who_read
from standlight.ratings import LEVEL_NAMES, NOT_SHOWN, level_name

OFFERS_A_LINE = 3
"""Comment lines offered for one line of the reply, as at the Desk."""

OFFER_KEYS = {CommentLine.NEXT_STEP: "abc", CommentLine.STRENGTH: "stu"}
"""Keys that take a line of the bank, by the place in an answer that the bank has it for."""

LINE_OF = {CommentLine.STRENGTH: "words", CommentLine.NEXT_STEP: "next_step"}
"""The line of a reply that a place of the bank fills."""

NOT_SHOWN_KEY = "0"
NOT_SHOWN_WORDS = "Not shown"

BANK_KEY_LENGTH = 40
"""Characters of a bank line's criterion (``CommentLine.criterion``)."""


def readable(account: Account, assignment: Assignment) -> QuerySet[Sheet]:
    """Sent sheets of an assignment with everything that `reading_page` reads of one."""
    return (
        sent_sheets(account)
        .filter(assignment=assignment)
        .select_related(
            "assignment__kind",
            "assignment__piece",
            "assignment__ensemble__programme",
            "author",
            "about",
            "opened_by",
            "reply__written_by",
        )
    )


def reading_page(account: Account, sheet: Sheet, draft: ReplyDraft | None = None) -> ReadingPage:
    """The page of one sent sheet; ``draft`` replaces what stands in the lines of the reply.

    ``sheet`` comes from `readable`. Other raters' levels are there only once this rater's own
    are whole. About ten queries.
    """
    assignment = sheet.assignment
    kind = kind_in(assignment.kind)
    step = step_in(kind, sheet.step)
    order = order_of(account, assignment)
    _, section = places_of(assignment.ensemble).get(sheet.about_id or 0, (0, "no section"))
    given, others = _levels(account, sheet, kind)
    rows = _rubric(kind, sheet.step, given)
    whole = all(row.given for row in rows)
    previous, following = neighbours(order, sheet.key)
    reply = getattr(sheet, "reply", None)
    return ReadingPage(
        assignment_pk=assignment.pk,
        key=sheet.key,
        title=assignment.title,
        ensemble=assignment.ensemble.name,
        kind=kind.name,
        what=what_words(step, sheet.number),
        step=step.key,
        piece=assignment.piece.title if assignment.piece else "",
        piece_pk=assignment.piece_id,
        musician=sheet.author.shown_name,
        section=section,
        sent=_when(sheet.sent_at),
        opened=_opened(account, sheet),
        accommodation=sheet.about.agreed_labels if sheet.about else "",
        changed_goal=sheet.about.changed_goal if sheet.about else "",
        read_by=readers_of(assignment),
        answers=shown_answers(step, sheet.answers, sounds_of([sheet])),
        rows=rows,
        other_raters=others if whole else (),
        offers=_offers(kind, given, assignment.ensemble.programme_id),
        draft=draft or _draft(reply),
        replied=f"{reply.written_by.shown_name}, {_when(reply.written_at)}" if reply else "",
        seen="seen by the musician" if reply and reply.seen_at else "",
        others=_others(account, kind, sheet),
        wall=_wall(step, sheet),
        has_sound=bool(assignment.sound_digest),
        foot=ReadingFoot(
            place=next((n for n, one in enumerate(order, 1) if one.key == sheet.key), 0),
            sent=len(order),
            unread=sum(one.unread for one in order),
            previous=previous,
            following=following,
        ),
    )


def step_in(kind: Kind, key: str) -> Step:
    """The step ``key`` of a kind; an empty one where an edition has lost it."""
    found = next((step for step in kind.steps if step.key == key), None)
    return found or Step(key, key, kind.steps[0].due, ())


def what_words(step: Step, number: int) -> str:
    """A step's name, with its number where it comes again.

    >>> from standlight.kinds import KINDS
    >>> steps = {step.key: step for step in KINDS["skill_project"].steps}
    >>> what_words(steps["goal"], 1), what_words(steps["check_in"], 2)
    ('My goal', 'Check-in 2')
    """
    return step.name if step.most_times == 1 else f"{step.name} {number}"


def readers_of(assignment: Assignment) -> str:
    """Every adult who can read what is sent here, by name."""
    return ", ".join(adults_who_read(assignment.ensemble).values_list("shown_name", flat=True))


def _when(moment: object) -> str:
    """A day and how long ago it was."""
    return f"{date_words(moment)}, {days_ahead(-days_since(moment))}"


def _opened(account: Account, sheet: Sheet) -> str:
    """Who opened the sheet first, and when; "" for nobody yet, and for oneself today."""
    if sheet.opened_at is None:
        return ""
    if sheet.opened_by_id == account.pk and not days_since(sheet.opened_at):
        return ""
    by = f" by {sheet.opened_by.shown_name}" if sheet.opened_by else ""
    return f"first opened{by} {_when(sheet.opened_at)}"


def _levels(account: Account, sheet: Sheet, kind: Kind) -> tuple[dict[str, str], tuple[str, ...]]:
    """Standing levels of this rater, and one line a colleague. One query."""
    names = {row.key: row.name for row in kind.rubric}
    own: dict[str, str] = {}
    said: dict[str, list[str]] = {}
    rows = (
        SheetLevel.objects.filter(sheet=sheet, retired_at__isnull=True)
        .order_by("rater__shown_name", "pk")
        .values_list("rater_id", "rater__shown_name", "criterion", "value")
    )
    for rater, name, criterion, value in rows:
        if rater == account.pk:
            own[criterion] = value
        else:
            words = f"{names.get(criterion, criterion)} {_value_name(value).lower()}"
            said.setdefault(name, []).append(words)
    return own, tuple(f"{name}: {', '.join(words)}" for name, words in said.items())


def own_levels(account: Account, sheet: Sheet) -> dict[str, str]:
    """The standing levels that this rater gave, by row."""
    rows = SheetLevel.objects.filter(sheet=sheet, rater=account, retired_at__isnull=True)
    return dict(rows.values_list("criterion", "value"))


def _value_name(value: str) -> str:
    """A level in the words of written work."""
    return NOT_SHOWN_WORDS if value == NOT_SHOWN else level_name(value)


def _rubric(kind: Kind, step: str, given: Mapping[str, str]) -> tuple[RubricRow, ...]:
    """The rows that get levels at a step, with what each level means."""
    return tuple(
        RubricRow(
            row.key,
            row.name,
            row.question,
            (
                *(
                    LevelChoice(
                        str(level),
                        word,
                        str(level),
                        row.descriptors[level - 1],
                        given.get(row.key) == str(level),
                    )
                    for level, word in LEVEL_NAMES.items()
                ),
                LevelChoice(
                    NOT_SHOWN,
                    NOT_SHOWN_WORDS,
                    NOT_SHOWN_KEY,
                    "",
                    given.get(row.key) == NOT_SHOWN,
                ),
            ),
            given.get(row.key, ""),
        )
        for row in rubric_of(kind, step)
    )


def bank_key(kind: Kind) -> str:
    """Under which name the bank keeps lines for replies to a kind of work.

    >>> from standlight.kinds import KINDS
    >>> bank_key(KINDS["finds"])
    'kind:finds'
    """
    return f"kind:{kind.key}"[:BANK_KEY_LENGTH]


def bank_place(place: str, given: Mapping[str, str]) -> tuple[str, int | None]:
    """Row and level of the levels given that a line of the bank belongs to; ("", None) for none.

    A next step is about the lowest, a word on what was read about the highest.

    >>> bank_place("next_step", {"reasons": "2", "words": "4", "order": "not_shown"})
    ('reasons', 2)
    >>> bank_place("strength", {})
    ('', None)
    """
    numbered = [(row, int(value)) for row, value in given.items() if value.isdigit()]
    choose = min if place == CommentLine.NEXT_STEP else max
    return choose(numbered, key=lambda pair: pair[1], default=("", None))


def _offers(
    kind: Kind, given: Mapping[str, str], programme_pk: int
) -> dict[str, tuple[Offer, ...]]:
    """Lines of the bank by the line of the reply: for the levels given, then for the kind."""
    wanted = {place: bank_place(place, given) for place in LINE_OF}
    own = bank_key(kind)
    rows = list(
        CommentLine.objects.filter(
            programme=programme_pk,
            criterion__in={own, *(row for row, _ in wanted.values())},
            place__in=LINE_OF,
        ).order_by("pk")
    )
    return {
        LINE_OF[place]: _offered([row for row in rows if row.place == place], place, fits, own)
        for place, fits in wanted.items()
    }


def _offered(
    rows: Sequence[CommentLine], place: str, fits: tuple[str, int | None], own: str
) -> tuple[Offer, ...]:
    """The lines that fit one place, those for the level first."""
    here = [(row.criterion, row.level) for row in rows]
    ranked = [fits, (fits[0], None), (own, None)]
    fitting = [row for one in dict.fromkeys(ranked) for row, at in zip(rows, here, strict=True)
               if at == one]  # fmt: skip
    return tuple(
        Offer(row.pk, place, row.text, key)
        for row, key in zip(fitting[:OFFERS_A_LINE], OFFER_KEYS[place], strict=False)
    )


def _draft(reply: object) -> ReplyDraft:
    """The lines that stand already."""
    return ReplyDraft(reply.words, reply.next_step) if reply else ReplyDraft()


def _others(account: Account, kind: Kind, sheet: Sheet) -> tuple[OtherSheet, ...]:
    """What else this musician sent here. One query."""
    rows = (
        sent_sheets(account)
        .filter(assignment=sheet.assignment_id, author=sheet.author_id)
        .exclude(pk=sheet.pk)
        .values_list("key", "step", "number")
    )
    return tuple(
        OtherSheet(key, what_words(step_in(kind, step), number)) for key, step, number in rows
    )


def _wall(step: Step, sheet: Sheet) -> WallState | None:
    """The wall, where this step asks for a permission to show the group."""
    shown = "group" in kind_in(sheet.assignment.kind).seen_by
    if not shown or not any(field.type == "consent" for field in step.fields):
        return None
    return WallState(sheet.assignment.ensemble_id, consents(sheet), sheet.on_wall)
