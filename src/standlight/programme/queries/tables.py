"""The pages of ranges, grades and weights: every row with what ships beside what was changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils.text import slugify

from standlight.music import pitch_name
from standlight.passages import (
    RANGE_NAMES,
    SHIPPED_TABLES,
    VOICE_STAGES,
    Cell,
    Tables,
    VoiceStage,
    cells_of,
)
from standlight.programme.models import Account, Ensemble, Section
from standlight.programme.table_words import CELL_WORDS, CHOICES, RowSlip, Texts, said
from standlight.programme.tables import ProgrammeTables, tables_in_force
from standlight.score import INSTRUMENTS

SOURCE_WORDS = {
    "M": "from memory",
    "C": "from common practice",
    "P": "from one printed chart",
    "T": "from two or more printed charts",
}
"""Where a shipped row is from: the flags of the instruments table, in words."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One choice of a field."""

    text: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Field:
    """One cell as a field: its name in the form, its text, its words, its choices.

    ``label`` names row and cell, for who hears the page. ``ships`` is what ships, in words;
    ``changed`` when the programme's own value differs.
    """

    name: str
    text: str
    words: str
    label: str
    ships: str
    changed: bool
    choices: tuple[Choice, ...] = ()


@dataclass(frozen=True, slots=True)
class RangePair:
    """The two ends of one range: what it is called, how it sounds, what ships if that differs.

    ``sounds`` is empty where the instrument sounds as written or has no such range.
    """

    words: str
    low: Field
    high: Field
    sounds: str
    ships: str


@dataclass(frozen=True, slots=True)
class Line:
    """A row of a table: key, anchor, words, a remark, and its fields or pairs of fields."""

    key: str
    anchor: str
    words: str
    remark: str
    fields: tuple[Field, ...] = ()
    pairs: tuple[RangePair, ...] = ()
    changed: bool = False
    slipped: bool = False


@dataclass(frozen=True, slots=True)
class GroupGrade:
    """A group and the grade of the music it plays, ``None`` while nobody has said."""

    pk: int
    name: str
    music_grade: int | None


@dataclass(frozen=True, slots=True)
class TablePage:
    """One table. ``folded`` are instruments of no section that the director sees.

    ``may_change`` for the lead director; ``slips`` are what a form just sent has wrong;
    ``fallen`` sentences on edits that a newer edition of the shipped table has no place for.
    """

    name: str
    may_change: bool
    lines: tuple[Line, ...]
    folded: tuple[Line, ...]
    n_changed: int
    slips: tuple[tuple[str, str], ...]
    fallen: tuple[str, ...]
    groups: tuple[GroupGrade, ...] = ()
    stages: tuple[VoiceStage, ...] = ()

    @property
    def folded_open(self) -> bool:
        """True when a folded row was changed or has a slip: nobody should have to look for it."""
        return any(line.changed or line.slipped for line in self.folded)


def table_page(
    account: Account, name: str, *, typed: Texts | None = None, slips: Sequence[RowSlip] = ()
) -> TablePage:
    """The page of the table ``name``; ``typed`` stands in the fields of a form that had slips.

    Two queries, and one of the groups.
    """
    table = _Table(name, tables_in_force(account.programme), typed or {}, slips)
    lines = tuple(_LINES[name](table, key) for key in table.present)
    used = set(_instruments_of(account)) if name == "ranges" else set()
    folded = [line for line in lines if used and line.key not in used]
    return TablePage(
        name=name,
        may_change=account.is_lead,
        lines=tuple(line for line in lines if line not in folded),
        folded=tuple(folded),
        n_changed=sum(len(cells) for cells in table.changes.values()),
        slips=tuple((_anchor(slip.row), slip.sentence) for slip in slips),
        fallen=table.used.fallen,
        groups=_groups(account) if name == "grades" else (),
        stages=VOICE_STAGES if name == "ranges" else (),
    )


class _Table:
    """One table under way: present and shipped cells, what was typed, what has a slip."""

    def __init__(
        self, name: str, used: ProgrammeTables, typed: Texts, slips: Sequence[RowSlip]
    ) -> None:
        self.used, self.typed = used, typed
        self.present = cells_of(used.tables, name)
        self.shipped = cells_of(SHIPPED_TABLES, name)
        self.changes: Mapping[str, Mapping[str, Cell]] = used.changes.get(name, {})
        self.slipped = {slip.row for slip in slips}

    def field(self, key: str, cell: str, row_words: str) -> Field:
        """The field of one cell."""
        text = self.typed.get(key, {}).get(cell, said(key, cell, self.present[key][cell]))
        choices = CHOICES.get(cell, {})
        offered = choices if text in choices or not choices else {text: text, **choices}
        ships = said(key, cell, self.shipped[key][cell])
        return Field(
            name=f"{cell}:{key}",
            text=text,
            words=CELL_WORDS[cell],
            label=f"{row_words}, {CELL_WORDS[cell]}",
            ships=choices.get(ships, ships),
            changed=cell in self.changes.get(key, {}),
            choices=tuple(Choice(one, words, one == text) for one, words in offered.items()),
        )

    def line(self, key: str, words: str, remark: str, **more: tuple) -> Line:
        """A row of the table."""
        return Line(
            key, _anchor(key), words, remark,
            changed=key in self.changes, slipped=key in self.slipped, **more,
        )  # fmt: skip


def _range_line(table: _Table, key: str) -> Line:
    """An instrument with its three ranges."""
    source = SOURCE_WORDS[INSTRUMENTS[key].source]
    pairs = tuple(_pair(table, key, which) for which in RANGE_NAMES)
    return table.line(key, key, source, pairs=pairs)


def _pair(table: _Table, key: str, which: str) -> RangePair:
    """One range of an instrument."""
    low, high = (table.field(key, f"{which}_{end}_midi", key) for end in ("low", "high"))
    midi = [table.present[key][f"{which}_{end}_midi"] for end in ("low", "high")]
    sounds = "" if None in midi or not INSTRUMENTS[key].transposition else (
        f"{pitch_name(midi[0])} to {pitch_name(midi[1])}"
    )  # fmt: skip
    ships = ""
    if low.changed or high.changed:
        ships = f"{low.ships} to {high.ships}" if low.ships else "no range of its own"
    return RangePair(RANGE_NAMES[which], low, high, sounds, ships)


def _grade_line(table: _Table, key: str) -> Line:
    """A grade with its five cells."""
    words = f"Grade {key}"
    fields = tuple(table.field(key, cell, words) for cell in table.present[key])
    return table.line(key, words, "", fields=fields)


def _weight_line(table: _Table, key: str) -> Line:
    """A feature of demand with its weight."""
    words = table.used.tables.weight_words[key]
    return table.line(key, words, "", fields=(table.field(key, "weight", words),))


_LINES = {"ranges": _range_line, "grades": _grade_line, "weights": _weight_line}
"""How a row of each table becomes a line."""


def grade_choices(account: Account) -> tuple[tuple[int, str], ...]:
    """The grades of music by number with their words, as the programme has them."""
    tables: Tables = tables_in_force(account.programme).tables
    return tuple((number, grade.words) for number, grade in sorted(tables.grades.items()))


def _instruments_of(account: Account) -> list[str]:
    """Instruments of the sections that the director sees."""
    sections = Section.objects.visible_to(account)
    return list(sections.values_list("instrument", flat=True).order_by().distinct())


def _groups(account: Account) -> tuple[GroupGrade, ...]:
    """The groups that the director sees, in the order of the day."""
    rows = Ensemble.objects.visible_to(account).values_list("pk", "name", "music_grade")
    return tuple(GroupGrade(*row) for row in rows)


def _anchor(key: str) -> str:
    """A row's place on its page."""
    return f"row-{slugify(key)}"
