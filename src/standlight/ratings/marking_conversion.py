"""From a mean level to what the school prints: level words, symbols, or percents. Pure.

Level words are the default. Percents need a percent for each level from the school's own
table: the plain share of four (3 of 4 is 75 percent) is nowhere assumed, and a table that
amounts to it is told.
"""

from __future__ import annotations

from dataclasses import dataclass

from standlight.errors import StandlightError
from standlight.ratings.levels import LEVEL_NAMES
from standlight.ratings.marking_values import HIGHEST, LOWEST, rounded

LEVELS, SYMBOLS, PERCENTS = "levels", "symbols", "percents"
CONVERSIONS = {
    LEVELS: "Level words only",
    SYMBOLS: "The school's letters or symbols",
    PERCENTS: "The school's percents",
}
"""What a mark may be printed as."""

LONGEST_SYMBOL = 20
"""Characters of one printed word or symbol."""

FORMULA_STARTS = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"
"""First characters that a spreadsheet takes for a formula: OWASP, CSV injection, and their
full-width forms. No symbol of a school's table may begin with one."""

PLAIN_STEPS: tuple[tuple[float, str], ...] = tuple(
    (float(level) if level == LOWEST else level - 0.5, LEVEL_NAMES[level])
    for level in sorted(LEVEL_NAMES, reverse=True)
)
"""A mean goes to the nearest level, half-way goes up: our choice; schools differ."""


@dataclass(frozen=True, slots=True)
class Conversion:
    """A school's table. ``steps`` are (lowest mean that earns it, printed word), highest first.

    ``percents`` are the school's percent of level 1, 2, 3, 4; between two levels a straight line
    is drawn. Without percents the steps are used.
    """

    kind: str = LEVELS
    steps: tuple[tuple[float, str], ...] = PLAIN_STEPS
    percents: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a table that is out of order, has a hole at the bottom, or falls."""
        if self.kind not in CONVERSIONS:
            raise ValueError(f"{self.kind!r} is no kind of conversion")
        floors = [floor for floor, _ in self.steps]
        if not floors or floors != sorted(floors, reverse=True) or len(set(floors)) < len(floors):
            raise ValueError("the conversion table must fall from the highest step to the lowest")
        if floors[-1] > LOWEST:
            raise ValueError("the lowest step must begin at level 1 or under it")
        if self.kind == PERCENTS and len(self.percents) != HIGHEST:
            raise ValueError("a table of percents needs one for each level")
        if list(self.percents) != sorted(self.percents):
            raise ValueError("a higher level cannot have a lower percent")
        if any(not 0 <= percent <= 100 for percent in self.percents):
            raise ValueError("a percent lies between 0 and 100")

    def percent_for(self, mean: float) -> float | None:
        """The percent of a mean, to one decimal; ``None`` unless the table is one of percents.

        >>> Conversion(PERCENTS, percents=(60, 75, 90, 100)).percent_for(3.4)
        94.0
        """
        if self.kind != PERCENTS:
            return None
        shown = rounded(mean)
        below = min(int(shown), HIGHEST - 1)
        low, high = self.percents[below - 1], self.percents[below]
        return round(low + (shown - below) * (high - low) + 1e-9, 1)

    def word_for(self, mean: float) -> str:
        """What is printed for a mean.

        >>> Conversion().word_for(2.49), Conversion().word_for(2.5)
        ('Developing', 'Secure')
        """
        percent = self.percent_for(mean)
        if percent is not None:
            return f"{percent:g} percent"
        return next(word for floor, word in self.steps if rounded(mean) >= floor)

    @property
    def sentence(self) -> str:
        """The table in one sentence."""
        if self.kind == PERCENTS:
            table = ", ".join(
                f"{LEVEL_NAMES[level]} is {percent:g}"
                for level, percent in enumerate(self.percents, start=LOWEST)
            )
            return f"The school's table of percents: {table}; between two levels in proportion."
        table = ", ".join(f"{floor:g} and up is {word}" for floor, word in self.steps[:-1])
        last = f"below that {self.steps[-1][1]}."
        whose = "" if self.kind == LEVELS else "The school's table: "
        return f"{whose}{table}; {last}" if table else f"{whose}every mean is {self.steps[-1][1]}."

    @property
    def caution(self) -> str:
        """A sentence where the percents are no more than the plain share of four, else empty."""
        if self.kind == PERCENTS and list(self.percents) == [
            100 * level / HIGHEST for level in sorted(LEVEL_NAMES)
        ]:
            return (
                "These percents are the plain share of four: Secure becomes 75, which many "
                "schools read as weak work. Use them only if your school has decided so."
            )
        return ""


def typed_steps(rows: list[tuple[str, str]]) -> tuple[tuple[float, str], ...]:
    """Steps as a director typed them, (lowest mean, printed word), in any order.

    Raises ``StandlightError`` with the row. Empty rows are left out.

    >>> typed_steps([("1", "C"), ("3,5", "A"), ("2.5", "B"), ("", "")])
    ((3.5, 'A'), (2.5, 'B'), (1.0, 'C'))
    """
    found: list[tuple[float, str]] = []
    for floor, symbol in rows:
        symbol = " ".join(symbol.split())
        if not floor.strip() and not symbol:
            continue
        value = typed_number(floor, f"the row of {symbol or 'an empty symbol'}")
        if not symbol or len(symbol) > LONGEST_SYMBOL:
            raise StandlightError(
                f"a step needs a symbol of at most {LONGEST_SYMBOL} characters",
                where=f"the row of {floor.strip()}",
            )
        if symbol[0] in FORMULA_STARTS:
            raise StandlightError(
                f"{symbol} begins with a sign that a spreadsheet takes for a formula",
                where=f"the row of {floor.strip()}",
                slip="write the letter first",
            )
        found.append((value, symbol))
    found.sort(reverse=True)
    if not found:
        raise StandlightError("the table has no row", slip="fill one row for each symbol")
    if found[-1][0] > LOWEST:
        raise StandlightError(
            f"the lowest row begins at {found[-1][0]:g}, and levels begin at {LOWEST}",
            slip="give the last symbol the number 1",
        )
    if len({floor for floor, _ in found}) < len(found):
        raise StandlightError("two rows of the table begin at the same number")
    return tuple(found)


def typed_percents(cells: list[str]) -> tuple[float, ...]:
    """Percents as typed, one for each level from the lowest; ``StandlightError`` names the level.

    >>> typed_percents(["60", "75", "90", "100"])
    (60.0, 75.0, 90.0, 100.0)
    """
    found = tuple(
        typed_number(cell, f"the percent of {LEVEL_NAMES[level]}")
        for level, cell in enumerate(cells, start=LOWEST)
    )
    if any(not 0 <= percent <= 100 for percent in found):
        raise StandlightError("a percent lies between 0 and 100")
    if list(found) != sorted(found):
        raise StandlightError(
            "a higher level cannot have a lower percent", slip="was the table typed from the top?"
        )
    return found


def typed_number(text: str, where: str) -> float:
    """A number as typed, a comma or a point; ``StandlightError`` says where it is none.

    >>> typed_number(" 2,5 ", "a row")
    2.5
    """
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        raise StandlightError(f"“{text.strip()}” is no number", where=where) from None
    if value != value or value in (float("inf"), float("-inf")):
        raise StandlightError(f"“{text.strip()}” is no number", where=where)
    return value
