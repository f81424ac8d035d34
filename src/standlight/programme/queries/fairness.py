"""How fair the passages of a check are: one sentence, and every part's demand as a mark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from standlight.passages import FEATURES, GROUPS, Tables
from standlight.programme.phrases import listed
from standlight.programme.queries.seeing import ABOUT_THE_SAME_POINTS, points_of

LINES, PERCUSSION, KEYS = GROUPS

MARK_PX = 7
"""Height of a mark in the strip."""

BIN_POINTS = 3
"""Marks of demands this close stand above one another: as wide as a mark on a phone."""

FOOT_PX = 26
"""Room for the scale under the marks."""

MOST_NAMED = 3
"""Parts named in the sentence; of more only the number is said."""

FAR_POINTS = 8
"""A mark farther than this from the middle one is named in the strip (our choice)."""

RIGHT_OF_MIDDLE = 60
"""From here on a name stands to the left of its mark, to stay on the page."""


@dataclass(frozen=True, slots=True)
class PartDemand:
    """One part's demand (0 to 1, ``None`` without a passage of known demand) and its group.

    ``has_passage`` is true also for what has no demand, such as measures on paper.
    """

    name: str
    demand: float | None
    group: str = LINES
    has_passage: bool = True


@dataclass(frozen=True, slots=True)
class Mark:
    """One part in the strip: demand in points, height above the scale, what to print beside it."""

    name: str
    points: int
    group: str
    y: int
    label: str = ""

    @property
    def label_side(self) -> str:
        """The SVG anchor of the label."""
        return "end" if self.points > RIGHT_OF_MIDDLE else "start"

    @property
    def label_x(self) -> int:
        """Where the label stands beside its mark, in pixels."""
        return -MARK_PX if self.label_side == "end" else MARK_PX


@dataclass(frozen=True, slots=True)
class Fairness:
    """``sentence`` says it; ``marks`` draw it; ``groups`` are those there are, lines first.

    ``features`` are what demand is the mean of, in words.
    """

    sentence: str
    marks: tuple[Mark, ...]
    groups: tuple[str, ...]
    features: str

    @property
    def scale_y(self) -> int:
        """Where the line of the scale runs, in pixels from the top."""
        return MARK_PX + max((one.y for one in self.marks), default=0) + MARK_PX // 2

    @property
    def height(self) -> int:
        """Height of the strip in pixels."""
        return self.scale_y + FOOT_PX

    @property
    def placed(self) -> tuple[tuple[Mark, int], ...]:
        """Each mark with its place in pixels from the top."""
        return tuple((one, self.scale_y - MARK_PX - one.y) for one in self.marks)


def fairness_of(parts: Sequence[PartDemand], tables: Tables) -> Fairness:
    """How fair the passages of ``parts`` are."""
    marks = _marks(parts)
    return Fairness(
        sentence=_sentence(parts),
        marks=marks,
        groups=tuple(group for group in GROUPS if any(one.group == group for one in marks)),
        features=listed(
            [tables.weight_words[key] for key in FEATURES if tables.weights.get(key, 0.0) > 0]
        ),
    )


def _sentence(parts: Sequence[PartDemand]) -> str:
    """How many ask about the same, which ask more or less, how many have none.

    >>> _sentence([PartDemand("Flute", 0.55), PartDemand("Oboe", 0.57), PartDemand("Horn", 0.8)])
    '2 parts have a passage that asks about the same (demand 55 to 57 of 100). Horn asks more (80).'
    """
    known = [one for one in parts if one.group == LINES and one.demand is not None]
    said = [*_lines_words(known)]
    for group in (PERCUSSION, KEYS):
        some = [points_of(one.demand) for one in parts if one.group == group]
        points = sorted(one for one in some if one is not None)
        if points:
            span = f"{points[0]} to {points[-1]}" if points[0] != points[-1] else f"{points[0]}"
            said.append(f"{group.capitalize()}, compared among themselves: {span}.")
    unknown = sum(one.has_passage and one.demand is None for one in parts)
    if unknown:
        said.append(f"{unknown} {_plays(unknown)} something whose demand is not known.")
    none = sum(not one.has_passage for one in parts)
    if none:
        said.append(f"{none} {'has' if none == 1 else 'have'} none.")
    return " ".join(said)


def _plays(number: int) -> str:
    """The verb for ``number`` parts."""
    return "plays" if number == 1 else "play"


def _lines_words(known: Sequence[PartDemand]) -> list[str]:
    """The sentences on parts of one line each."""
    if not known:
        return []
    points = {one: points_of(one.demand) for one in known}
    middle = median(points.values())
    near = [one for one in known if abs(points[one] - middle) <= ABOUT_THE_SAME_POINTS]
    if len(known) == 1:
        return [f"1 part has a passage (demand {points[known[0]]} of 100)."]
    if len(near) < max(2, len(known) / 2):
        span = f"{min(points.values())} to {max(points.values())}"
        return [f"{len(known)} parts have passages that do not ask the same: demand {span} of 100."]
    low, high = min(points[one] for one in near), max(points[one] for one in near)
    span = f"{low} to {high}" if low != high else f"{low}"
    said = [f"{len(near)} parts have a passage that asks about the same (demand {span} of 100)."]
    for word, some in (
        ("less", [one for one in known if points[one] < middle - ABOUT_THE_SAME_POINTS]),
        ("more", [one for one in known if points[one] > middle + ABOUT_THE_SAME_POINTS]),
    ):
        if some:
            named = [f"{one.name}" for one in some[:MOST_NAMED]]
            rest = len(some) - len(named)
            who = listed([*named, f"{rest} more"] if rest else named)
            values = [points[one] for one in some]
            span = f"{min(values)} to {max(values)}" if min(values) != max(values) else (
                f"{values[0]}")  # fmt: skip
            said.append(f"{who} ask{'s' if len(some) == 1 else ''} {word} ({span}).")
    return said


def _marks(parts: Sequence[PartDemand]) -> tuple[Mark, ...]:
    """A mark a part with a demand, stacked where they are close; those far off are named."""
    heights: dict[int, int] = {}
    marks = []
    known = [(one, points_of(one.demand)) for one in parts if one.demand is not None]
    middle = median([points for one, points in known if one.group == LINES] or [0])
    for one, points in sorted(known, key=lambda pair: (GROUPS.index(pair[0].group), pair[1])):
        at = points // BIN_POINTS
        far = one.group == LINES and abs(points - middle) > FAR_POINTS and not heights.get(at)
        marks.append(
            Mark(one.name, points, one.group, heights.get(at, 0), one.name if far else "")
        )
        heights[at] = heights.get(at, 0) + MARK_PX
    return tuple(marks)
