"""A part's skyline: how demand runs through it, drawn as one bar a measure, with its numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from standlight.passages import Survey, skyline

WIDTH_PX = 880
"""The drawing of a short piece fills this; a longer one is scrolled sideways."""

NARROWEST_PX, WIDEST_PX = 8, 28
"""A measure's width: a handle can still be set to it by finger; a short piece is not spread out."""

PAD_PX = 52
"""Room at both ends, as wide as a handle's grip."""

TALLEST_PX, TOP_PX = 96, 24
"""Height of a bar of demand 100; above it stand rehearsal letters."""

FOOT_PX = 26
"""Room for printed numbers under the bars."""

NUMBER_EVERY_PX = 64
"""Printed numbers stand at least this far apart."""

_STEPS = (1, 2, 4, 5, 8, 10, 16, 20)
"""Numbers stand at every so many measures."""


@dataclass(frozen=True, slots=True)
class Label:
    """A word under or over the bars, at ``x`` pixels."""

    x: int
    text: str


@dataclass(frozen=True, slots=True)
class Bars:
    """The bars of a part for passages of ``length`` measures, as an SVG path."""

    length: int
    path: str
    width: int

    height = TOP_PX + TALLEST_PX + FOOT_PX


@dataclass(frozen=True, slots=True)
class Bounds:
    """Everything the skyline draws: ``n`` measures of ``unit`` pixels, and where the ends stand."""

    n: int
    unit: int
    first: int
    last: int
    first_words: str
    last_words: str
    bars: Bars
    numbers: tuple[Label, ...]
    letters: tuple[Label, ...]
    movements: tuple[Label, ...]

    pad = PAD_PX
    top_y = TOP_PX
    foot_y = TOP_PX + TALLEST_PX
    height = TOP_PX + TALLEST_PX + FOOT_PX
    tall = TALLEST_PX

    @property
    def width(self) -> int:
        """Width of the drawing in pixels."""
        return 2 * PAD_PX + self.n * self.unit

    @property
    def first_x(self) -> int:
        """Where the first measure begins."""
        return PAD_PX + self.first * self.unit

    @property
    def last_x(self) -> int:
        """Where the last measure ends."""
        return PAD_PX + (self.last + 1) * self.unit

    @property
    def band_width(self) -> int:
        """Width of what lies between the ends."""
        return self.last_x - self.first_x


def unit_px(n_measures: int) -> int:
    """The width of a measure in pixels.

    >>> unit_px(20), unit_px(104), unit_px(900)
    (28, 8, 8)
    """
    return min(WIDEST_PX, max(NARROWEST_PX, WIDTH_PX // max(1, n_measures)))


def bars_of(survey: Survey, part: int, length: int) -> Bars:
    """The skyline of a part for passages of ``length`` measures.

    A bar stands where a passage of that length can begin; its height is what it asks.
    """
    heights = skyline(survey, part, length)
    unit = unit_px(len(heights))
    steps = []
    for at, demand in enumerate(heights):
        if demand is not None:
            tall = max(2, round(TALLEST_PX * demand))
            left = PAD_PX + at * unit
            steps.append(f"M{left} {TOP_PX + TALLEST_PX}v-{tall}h{unit - 1}v{tall}z")
    return Bars(length, "".join(steps), 2 * PAD_PX + len(heights) * unit)


def bounds_of(
    survey: Survey, part: int, first: int, last: int, labels: Sequence[str]
) -> Bounds:
    """The skyline with handles at ``first`` and ``last``; ``labels`` name the measures."""
    setting = survey.setting
    count = len(setting.printed)
    unit = unit_px(count)
    every = next((one for one in _STEPS if one * unit >= NUMBER_EVERY_PX), _STEPS[-1])
    starts = [
        at for at in range(count)
        if at == 0 or setting.movements[at] != setting.movements[at - 1]
    ]  # fmt: skip
    return Bounds(
        n=count,
        unit=unit,
        first=first,
        last=last,
        first_words=f"measure {labels[first]}",
        last_words=f"measure {labels[last]}",
        bars=bars_of(survey, part, last - first + 1),
        numbers=tuple(
            Label(PAD_PX + at * unit, setting.printed[at]) for at in range(0, count, every)
        ),
        letters=tuple(
            Label(PAD_PX + at * unit, setting.letters[at])
            for at in range(count)
            if setting.letters[at]
        ),
        movements=tuple(
            Label(PAD_PX + at * unit, f"movement {setting.movements[at] + 1}")
            for at in starts[1:]
        ),
    )
