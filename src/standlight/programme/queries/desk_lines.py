"""The comment bank by criterion, as its page shows it."""

from __future__ import annotations

from dataclasses import dataclass

from standlight.criteria import CRITERIA
from standlight.programme.models import Account, CommentLine
from standlight.ratings import LEVEL_NAMES


@dataclass(frozen=True, slots=True)
class BankLine:
    """One line: where in an answer it goes and at which level it is offered."""

    pk: int
    place: str
    level: str
    text: str


@dataclass(frozen=True, slots=True)
class BankCriterion:
    """The lines of one criterion, by place, then level."""

    name: str
    lines: tuple[BankLine, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """One option of a select."""

    value: str
    word: str
    chosen: bool = False


@dataclass(frozen=True, slots=True)
class LinesPage:
    """The whole bank, the selects of its form, and the rater's preference."""

    criteria: tuple[BankCriterion, ...]
    criterion_choices: tuple[Choice, ...]
    place_choices: tuple[Choice, ...]
    level_choices: tuple[Choice, ...]
    readings_first: bool


@dataclass(frozen=True, slots=True)
class LinePage:
    """One line with the selects of its form."""

    pk: int
    text: str
    criterion_choices: tuple[Choice, ...]
    place_choices: tuple[Choice, ...]
    level_choices: tuple[Choice, ...]


def criterion_name(key: str) -> str:
    """The criterion's name as people read it.

    >>> criterion_name("intonation")
    'Intonation'
    """
    return CRITERIA[key].name


def lines_page(account: Account) -> LinesPage:
    """The programme's bank. One query."""
    order = list(CommentLine.PLACES)
    rows = sorted(
        CommentLine.objects.visible_to(account),
        key=lambda row: (order.index(row.place), row.level or 0, row.pk),
    )
    criteria = tuple(
        BankCriterion(criterion.name, lines)
        for criterion in CRITERIA.values()
        if (lines := tuple(_bank_line(row) for row in rows if row.criterion == criterion.key))
    )
    return LinesPage(
        criteria,
        _criteria(""),
        _places(CommentLine.NEXT_STEP),
        _levels(None),
        account.readings_before_rating,
    )


def line_page(row: CommentLine) -> LinePage:
    """One line ready to change."""
    return LinePage(
        row.pk, row.text, _criteria(row.criterion), _places(row.place), _levels(row.level)
    )


def _bank_line(row: CommentLine) -> BankLine:
    level = LEVEL_NAMES.get(row.level or 0, "any level")
    return BankLine(row.pk, CommentLine.PLACES[row.place], level, row.text)


def _criteria(chosen: str) -> tuple[Choice, ...]:
    return tuple(Choice(key, row.name, key == chosen) for key, row in CRITERIA.items())


def _places(chosen: str) -> tuple[Choice, ...]:
    return tuple(Choice(key, word, key == chosen) for key, word in CommentLine.PLACES.items())


def _levels(chosen: int | None) -> tuple[Choice, ...]:
    named = [Choice(str(key), word, key == chosen) for key, word in LEVEL_NAMES.items()]
    return (Choice("", "any level", chosen is None), *named)
