"""The table's rows: what is required, what was measured, and whether that is enough."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Goal:
    """A required figure and an aim; ``low`` when smaller is better. None: only reported."""

    required: float | None = None
    aim: float | None = None
    low: bool = False

    def reached(self, value: float | None, goal: float | None) -> bool:
        """True when ``value`` is as good as ``goal``."""
        if goal is None or value is None:
            return goal is None
        return value <= goal if self.low else value >= goal


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table; ``values`` stand against ``goals`` in order."""

    what: str
    measured: str
    goals: tuple[Goal, ...] = ()
    values: tuple[float | None, ...] = ()
    baseline: str = ""

    @property
    def verdict(self) -> str:
        """aim, met, missed, or reported where the issue asks for no figure.

        >>> Row("x", "", (Goal(0.9, 0.97),), (0.95,)).verdict
        'met'
        >>> Row("x", "", (Goal(10, 6, low=True),), (12,)).verdict
        'missed'
        """
        pairs = list(zip(self.goals, self.values, strict=True))
        if not any(goal.required is not None for goal, _ in pairs):
            return "reported"
        if all(goal.reached(value, goal.aim) for goal, value in pairs):
            return "aim"
        met = all(goal.reached(value, goal.required) for goal, value in pairs)
        return "met" if met else "missed"


def words(goals: Sequence[Goal], which: str) -> str:
    """The required or aimed figures of a row, with a slash between them.

    >>> words((Goal(10, 6), Goal(0.92)), "required")
    '10 / .92'
    """
    found = [getattr(goal, which) for goal in goals]
    return " / ".join("-" if one is None else f"{one:g}".removeprefix("0") or "0" for one in found)


def as_markdown(title: str, rows: Sequence[Row]) -> str:
    """A section as a Markdown table."""
    lines = [f"### {title}", "",
             "| what | required | aim | measured (95 % interval) | verdict | baseline |",
             "| --- | --- | --- | --- | --- | --- |"]  # fmt: skip
    for row in rows:
        required, aim = words(row.goals, "required"), words(row.goals, "aim")
        cells = (row.what, required, aim, row.measured, row.verdict, row.baseline)
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join([*lines, ""])
