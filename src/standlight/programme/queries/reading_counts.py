"""Counts and spreads of a whole group's answers, with the directors' own beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from standlight.kinds import Field, Spread, Step, cells, columns_of, counted, spread

ORDERED = ("levels", "scale")
"""Types whose answers lie in an order, so that they have a middle."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One answer that can be given: how many gave it, and which directors did."""

    label: str
    n: int
    width: int
    directors: str


@dataclass(frozen=True, slots=True)
class CountTable:
    """How many gave each answer to one question or column; ``answered`` are those who did.

    ``unchosen`` are the answers that nobody gave, where no order holds them between others.
    """

    name: str
    bars: tuple[Bar, ...]
    answered: int
    unchosen: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SpreadRow:
    """One caption: where the group's answers lie, in words, and each director's own."""

    name: str
    median: str
    lowest: str
    highest: str
    n: int
    directors: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Beside:
    """One musician's own answers, caption by caption."""

    who: str
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SpreadTable:
    """Own against group and director, caption by caption."""

    captions: tuple[str, ...]
    directors: tuple[str, ...]
    rows: tuple[SpreadRow, ...]
    beside: tuple[Beside, ...]


@dataclass(frozen=True, slots=True)
class Caption:
    """Something rated: its name, the question of one answer, and who gave what (owner, answer)."""

    name: str
    field: Field
    group: tuple[tuple[int, object], ...]
    directors: tuple[tuple[int, object], ...]


Named = Sequence[tuple[str, object]]
"""Directors' own answers: shown name and answer."""


def count_tables(
    field: Field, answers: Sequence[object], own: Named
) -> tuple[CountTable, ...]:
    """Counts of a question, or of each column of a list that can be counted."""
    if field.options or counted(field, []):
        return (_table(field.prompt, field, answers, own),)
    tables = []
    for column in columns_of(field):
        if not counted(column, []):
            continue
        given = [cell for _, cell in cells(field, column.key, answers)]
        ours = [
            (own[owner][0], cell)
            for owner, cell in cells(field, column.key, [answer for _, answer in own])
        ]
        tables.append(_table(column.prompt, column, given, ours))
    return tuple(tables)


def _table(name: str, field: Field, answers: Sequence[object], own: Named) -> CountTable:
    """The counts of one question."""
    rows = counted(field, answers)
    most = max((row.n for row in rows), default=0)
    by_director = [(name, {row.key for row in counted(field, [given]) if row.n})
                   for name, given in own]  # fmt: skip
    answered = sum(any(row.n for row in counted(field, [answer])) for answer in answers)
    bars = tuple(
        Bar(
            row.label,
            row.n,
            round(100 * row.n / most) if most else 0,
            ", ".join(dict.fromkeys(who for who, keys in by_director if row.key in keys)),
        )
        for row in rows
    )
    shown = tuple(bar for bar in bars if bar.n or bar.directors or field.type in ORDERED)
    unchosen = tuple(bar.label for bar in bars if bar not in shown)
    return CountTable(name, shown, answered, unchosen)


def spread_table(
    step: Step, group: Sequence[tuple[str, dict]], own: Sequence[tuple[str, dict]]
) -> SpreadTable | None:
    """Every caption of a step; ``None`` where it asks for no levels and no scale.

    ``group`` and ``own`` are names with whole sheets of answers.
    """
    captions = [
        caption
        for field in step.fields
        for caption in _captions(
            field,
            [answer.get(field.key) for _, answer in group],
            [answer.get(field.key) for _, answer in own],
        )
    ]
    if not captions:
        return None
    given = [dict(caption.group) for caption in captions]
    return SpreadTable(
        tuple(caption.name for caption in captions),
        tuple(name for name, _ in own),
        tuple(_spread_row(caption, len(own)) for caption in captions),
        tuple(
            Beside(
                who,
                tuple(
                    _said(caption.field, held.get(owner))
                    for caption, held in zip(captions, given, strict=True)
                ),
            )
            for owner, (who, _) in enumerate(group)
            if any(owner in held for held in given)
        ),
    )


def _captions(field: Field, answers: Sequence[object], own: Sequence[object]) -> list[Caption]:
    """What one question rates: itself, or the rated columns of a list, line by line."""
    if field.type in ORDERED:
        return [Caption(field.prompt, field, _given(field, answers), _given(field, own))]
    rated = [column for column in field.columns if column.type in ORDERED]
    if field.type != "rows" or not rated:
        return []
    names = _line_names(field, rated, [*answers, *own])
    return [
        Caption(
            name if len(rated) == 1 else f"{name}: {column.prompt}",
            column,
            _of_line(field, column, key, answers),
            _of_line(field, column, key, own),
        )
        for key, name in names.items()
        for column in rated
    ]


def _given(field: Field, answers: Sequence[object]) -> tuple[tuple[int, object], ...]:
    """Owner and answer of what can be counted."""
    return tuple(
        (owner, answer) for owner, answer in enumerate(answers) if spread(field, [answer])
    )


def _line_names(
    field: Field, rated: Sequence[Field], answers: Sequence[object]
) -> dict[str, str]:
    """What the lines of a list are about, by their first column that is not rated itself."""
    names: dict[str, str] = {}
    for answer in answers:
        for row in answer if isinstance(answer, list) else ():
            name = _line_name(field, rated, row)
            if name:
                names.setdefault(name.casefold(), name)
    return names


def _line_name(field: Field, rated: Sequence[Field], row: object) -> str:
    """The name of one line: the label of a choice, or the words typed; "" for none."""
    first = next((column for column in field.columns if column not in rated), None)
    if first is None or not isinstance(row, dict):
        return ""
    given = row.get(first.key)
    labels = {option.key: option.label for option in first.options}
    name = labels.get(given, given) if isinstance(given, str) else ""
    return " ".join(name.split()) if isinstance(name, str) else ""


def _of_line(
    field: Field, column: Field, key: str, answers: Sequence[object]
) -> tuple[tuple[int, object], ...]:
    """Owner and answer of the lines about ``key``; of several the last."""
    rated = [one for one in field.columns if one.type in ORDERED]
    found = {
        owner: row.get(column.key)
        for owner, answer in enumerate(answers)
        for row in (answer if isinstance(answer, list) else ())
        if _line_name(field, rated, row).casefold() == key and spread(column, [row.get(column.key)])
    }
    return tuple(found.items())


def _spread_row(caption: Caption, n_directors: int) -> SpreadRow:
    """The middle and the ends of one caption."""
    found = spread(caption.field, [answer for _, answer in caption.group])
    ours = dict(caption.directors)
    said = tuple(_said(caption.field, ours.get(owner)) for owner in range(n_directors))
    if found is None:
        return SpreadRow(caption.name, "", "", "", 0, said)
    return SpreadRow(caption.name, *_spread_words(caption.field, found), found.n, said)


def _spread_words(field: Field, found: Spread) -> tuple[str, str, str]:
    """Median, lowest and highest as words."""
    return tuple(step_words(field, at) for at in (found.median, found.lowest, found.highest))


def step_words(field: Field, at: float) -> str:
    """A step of a scale or level row in words; halves lie between two.

    >>> from standlight.kinds import Option
    >>> row = Field("tone", "levels", "?", options=(Option("a", "rough"), Option("b", "clear")))
    >>> step_words(row, 1), step_words(row, 1.5), step_words(Field("s", "scale", "?"), 2.5)
    ('rough', 'rough to clear', '2.5')
    """
    if field.type == "scale":
        return f"{at:g}"
    low, high = int(at), int(at + 0.5)
    labels = [field.options[place - 1].label for place in dict.fromkeys((low, high))]
    return " to ".join(labels)


def _said(field: Field, answer: object) -> str:
    """One answer in the same words; "" for none."""
    found = spread(field, [answer])
    return step_words(field, found.median) if found else ""
