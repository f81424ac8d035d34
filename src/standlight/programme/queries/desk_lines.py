"""The comment bank by criterion, as its page shows it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from standlight.criteria import CRITERIA
from standlight.programme.fill_ins import FILL_INS
from standlight.programme.languages import LANGUAGES
from standlight.programme.models import Account, CommentLine
from standlight.ratings import LEVEL_NAMES


@dataclass(frozen=True, slots=True)
class BankLine:
    """One line: where in an answer it goes, at which level it is offered, languages it has."""

    pk: int
    place: str
    level: str
    text: str
    languages: str = ""


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
class FillIn:
    """What may stand in braces, and what takes its place."""

    key: str
    words: str


FILL_IN_WORDS = tuple(FillIn(key, words) for key, words in FILL_INS.items())


@dataclass(frozen=True, slots=True)
class TranslatedLine:
    """A line in another language; ``tag`` for the browser, ``name`` for the director."""

    tag: str
    name: str
    text: str


@dataclass(frozen=True, slots=True)
class LinesPage:
    """The whole bank, the selects of its form, and the rater's preference."""

    criteria: tuple[BankCriterion, ...]
    criterion_choices: tuple[Choice, ...]
    place_choices: tuple[Choice, ...]
    level_choices: tuple[Choice, ...]
    readings_first: bool
    text: str = ""
    fill_ins: tuple[FillIn, ...] = FILL_IN_WORDS


@dataclass(frozen=True, slots=True)
class LinePage:
    """One line with the selects of its form."""

    pk: int
    text: str
    criterion_choices: tuple[Choice, ...]
    place_choices: tuple[Choice, ...]
    level_choices: tuple[Choice, ...]
    translations: tuple[TranslatedLine, ...] = ()
    language_choices: tuple[Choice, ...] = ()
    translation: str = ""
    fill_ins: tuple[FillIn, ...] = FILL_IN_WORDS


Page = TypeVar("Page", LinesPage, LinePage)


def criterion_name(key: str) -> str:
    """The criterion's name as people read it.

    >>> criterion_name("intonation")
    'Intonation'
    """
    return CRITERIA[key].name


def lines_page(account: Account) -> LinesPage:
    """The programme's bank. Two queries."""
    order = list(CommentLine.PLACES)
    rows = sorted(
        CommentLine.objects.visible_to(account).prefetch_related("translations"),
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
    """One line ready to change, with what it says in other languages."""
    translations = tuple(
        TranslatedLine(one.language, LANGUAGES[one.language].name, one.text)
        for one in row.translations.all()
    )
    return LinePage(
        row.pk,
        row.text,
        _criteria(row.criterion),
        _places(row.place),
        _levels(row.level),
        translations,
        tuple(Choice(tag, language.name) for tag, language in LANGUAGES.items()),
    )


def typed(page: Page, cells: Mapping[str, str]) -> Page:
    """The page with what was typed in a form that was refused; nothing else changes."""
    chosen = {
        "criterion_choices": cells.get("criterion"),
        "place_choices": cells.get("place"),
        "level_choices": cells.get("level"),
        "language_choices": cells.get("language"),
    }
    changes: dict[str, object] = {
        name: tuple(replace(one, chosen=one.value == value) for one in getattr(page, name))
        for name, value in chosen.items()
        if value is not None and hasattr(page, name)
    }
    for name in ("text", "translation"):
        if name in cells and hasattr(page, name):
            changes[name] = cells[name]
    return replace(page, **changes)


def _bank_line(row: CommentLine) -> BankLine:
    level = LEVEL_NAMES.get(row.level or 0, "any level")
    languages = ", ".join(LANGUAGES[one.language].name for one in row.translations.all())
    return BankLine(row.pk, CommentLine.PLACES[row.place], level, row.text, languages)


def _criteria(chosen: str) -> tuple[Choice, ...]:
    return tuple(Choice(key, row.name, key == chosen) for key, row in CRITERIA.items())


def _places(chosen: str) -> tuple[Choice, ...]:
    return tuple(Choice(key, word, key == chosen) for key, word in CommentLine.PLACES.items())


def _levels(chosen: int | None) -> tuple[Choice, ...]:
    named = [Choice(str(key), word, key == chosen) for key, word in LEVEL_NAMES.items()]
    return (Choice("", "any level", chosen is None), *named)
