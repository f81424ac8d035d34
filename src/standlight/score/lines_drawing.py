"""Tempo and loudness of a take drawn as a line under the measures, with the same in words.

A picture is one small SVG with presentation attributes only: thin strokes in the page's own
ink (``currentColor``), one accent for what was heard. Nothing is told by colour alone, and
`tempo_words` and `loudness_words` say beside it what the picture shows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from lxml import etree

from standlight.score.values import Passage

WIDTH, HEIGHT = 360.0, 132.0
"""Size in the drawing's own units; a phone is about so many pixels wide."""

LEFT, RIGHT, TOP, BOTTOM = 40.0, 352.0, 10.0, 96.0
"""The field of the line; figures stand left of it, measures and dynamics under it."""

ACCENT = "#b5651d"
"""Default colour of what was heard; a page's style sheet may override it."""

FONT = 11.0
MOST_NUMBERS = 8
"""More measure numbers than this would touch on a phone."""

LEAST_TEMPO_SHARE = 0.06
"""The tempo axis spans at least so much of the marked tempo to both sides: twice the 3 percent
that are noticed in a sequence (Drake & Botte 1993, abstract), so that a steady beat looks so."""

LEAST_LU = 6.0
"""The loudness axis spans at least so much to both sides of the middle: twice the contrast
that is called little, so that chance looks small."""

NOTICED_SHARE = 0.03
"""A tempo change that is noticed in a sequence (Drake & Botte 1993, abstract)."""

LITTLE_LU = 3.0
"""A contrast under this is called little (1 dB is just heard: textbook, from memory)."""

SURE = 1.96
"""Standard errors of a 95 percent interval (normal distribution)."""

_NAMESPACE = "http://www.w3.org/2000/svg"


@dataclass(frozen=True, slots=True)
class LinePoint:
    """A value at ``quarters`` into the passage, with its standard error and its stretch.

    No line joins two stretches: between them the playing stopped.
    """

    quarters: float
    value: float
    se: float = 0.0
    stretch: int = 0


def draw_tempo(points: Sequence[LinePoint], marked_qpm: float, passage: Passage) -> str:
    """The tempo curve (quarters a minute) as SVG, the marked tempo as a dashed line.

    Raises ValueError without points.
    """
    _needed(points)
    reach = LEAST_TEMPO_SHARE * marked_qpm
    low = min(min(point.value for point in points), marked_qpm) - reach / 2.0
    high = max(max(point.value for point in points), marked_qpm) + reach / 2.0
    low, high = min(low, marked_qpm - reach), max(high, marked_qpm + reach)
    picture = _Picture(passage, low, high, "Tempo over the measures")
    picture.measures()
    picture.band(points)
    picture.rule(marked_qpm, dashed=True)
    picture.figure(f"{marked_qpm:.0f}", marked_qpm)
    top, bottom = max(p.value for p in points), min(p.value for p in points)
    room = (high - low) * FONT / (BOTTOM - TOP)
    if abs(top - marked_qpm) > room:
        picture.figure(f"{top:.0f}", top)
    if abs(bottom - marked_qpm) > room:
        picture.figure(f"{bottom:.0f}", bottom)
    picture.line(points)
    return picture.text()


def draw_loudness(points: Sequence[LinePoint], passage: Passage) -> str:
    """The loudness line (LU from the take's middle) as SVG, the marked dynamics under it.

    Raises ValueError without points.
    """
    _needed(points)
    low = min(-LEAST_LU, min(point.value for point in points))
    high = max(LEAST_LU, max(point.value for point in points))
    picture = _Picture(passage, low, high, "Loudness over the measures")
    picture.measures()
    picture.rule(0.0, dashed=True)
    picture.words("louder", LEFT - 4.0, TOP + FONT, "end")
    picture.words("softer", LEFT - 4.0, BOTTOM, "end")
    for quarters, dynamic in dynamics_of(passage):
        picture.dynamic(dynamic, quarters)
    picture.line(points)
    return picture.text()


def dynamics_of(passage: Passage) -> tuple[tuple[float, str], ...]:
    """Where each marked dynamic begins, in quarters, and what it is; repeats left out."""
    found: list[tuple[float, str]] = []
    for note in passage.notes:
        if note.dynamic and (not found or found[-1][1] != note.dynamic):
            found.append((float(note.onset_quarters), note.dynamic))
    return tuple(found)


def tempo_words(
    points: Sequence[LinePoint], marked_qpm: float, passage: Passage, *, figures: bool = True
) -> str:
    """What a tempo curve shows, in sentences; with or without its figures.

    Fast and slow places are named when they are farther apart than is noticed and than chance.
    """
    _needed(points)
    slow = min(points, key=lambda point: point.value)
    fast = max(points, key=lambda point: point.value)
    middle = median(point.value for point in points)
    chance = SURE * (slow.se**2 + fast.se**2) ** 0.5
    apart = fast.value - slow.value
    marked = f" The marked tempo is {marked_qpm:.0f} quarters a minute." if figures else ""
    if apart < 2.0 * NOTICED_SHARE * middle or apart < chance:
        said = f" near {middle:.0f}" if figures else ""
        return f"The tempo stays{said or ' steady'} all the way.{marked}"
    slowest, fastest = _measure(passage, slow), _measure(passage, fast)
    if figures:
        slowest, fastest = f"{slowest} ({slow.value:.0f})", f"{fastest} ({fast.value:.0f})"
    if _measure(passage, slow) == _measure(passage, fast):
        return f"The tempo changes most in measure {_measure(passage, slow)}.{marked}"
    return f"Slowest in measure {slowest}, fastest in measure {fastest}.{marked}"


def loudness_words(
    points: Sequence[LinePoint], passage: Passage, *, figures: bool = True
) -> str:
    """What a loudness line shows: each marked dynamic against the one before, loudest, softest.

    Words compare inside this take only.
    """
    _needed(points)
    said = []
    marks = dynamics_of(passage)
    ends = [*(quarters for quarters, _ in marks), float(passage.length_quarters)][1:]
    levels = []
    for (start, dynamic), end in zip(marks, ends, strict=True):
        inside = [point.value for point in points if start <= point.quarters < end]
        if inside:
            levels.append((dynamic, median(inside)))
    for (before, softer), (after, louder) in zip(levels, levels[1:], strict=False):
        said.append(_change(before, after, louder - softer, figures))
    means = _by_measure(points, passage)
    loudest, softest = max(means, key=lambda m: means[m]), min(means, key=lambda m: means[m])
    if means[loudest] - means[softest] >= LITTLE_LU:
        said.append(
            f"Loudest in measure {_printed(passage, loudest)}, "
            f"softest in measure {_printed(passage, softest)}."
        )
    return " ".join(said) or "The loudness stays about the same all the way."


def _change(before: str, after: str, apart: float, figures: bool) -> str:
    """One marking against the one before it, in words."""
    how = "about as loud as"
    if abs(apart) >= LITTLE_LU:
        how = "louder than" if apart > 0 else "softer than"
    size = f" ({'+' if apart > 0 else '−'}{abs(apart):.0f} LU)" if figures else ""
    return f"Under {after} it is {how} under {before}{size}."


def _needed(points: Sequence[LinePoint]) -> None:
    """Refuse a line without points."""
    if not points:
        raise ValueError("a line without points has no picture (a report of the first edition?)")


def _place_of(passage: Passage, quarters: float) -> int:
    """The measure, from 0, that holds a place."""
    starts = _starts(passage)
    return max((m for m, start in enumerate(starts) if start <= quarters + 1e-6), default=0)


def _starts(passage: Passage) -> list[float]:
    """Where each measure of the passage begins, from 0; by its notes where none are listed."""
    if passage.measures:
        first = passage.measures[0].onset_quarters
        return [float(measure.onset_quarters - first) for measure in passage.measures]
    begins: dict[int, float] = {}
    for note in passage.notes:
        begins.setdefault(note.measure, float(note.onset_quarters))
    return [begins[measure] for measure in sorted(begins)] or [0.0]


def _printed(passage: Passage, measure: int) -> str:
    """The printed number of a measure, or its count from 1."""
    if measure < len(passage.measures):
        return passage.measures[measure].printed
    return str(measure + 1)


def _measure(passage: Passage, point: LinePoint) -> str:
    """The printed number of the measure that holds ``point``."""
    return _printed(passage, _place_of(passage, point.quarters))


def _by_measure(points: Sequence[LinePoint], passage: Passage) -> dict[int, float]:
    """The middle value of each measure that has points."""
    values: dict[int, list[float]] = {}
    for point in points:
        values.setdefault(_place_of(passage, point.quarters), []).append(point.value)
    return {measure: median(here) for measure, here in values.items()}


class _Picture:
    """One drawing: a field with musical time to the right and a value upwards."""

    def __init__(self, passage: Passage, low: float, high: float, name: str) -> None:
        self.passage, self.low, self.high = passage, low, high
        self.length = max(float(passage.length_quarters), 1.0)
        self.root = etree.Element(
            f"{{{_NAMESPACE}}}svg",
            {
                "viewBox": f"0 0 {WIDTH:.0f} {HEIGHT:.0f}", "role": "img", "class": "take-line",
                "font-size": f"{FONT:.0f}", "fill": "none", "aria-label": name,
            },
            nsmap={None: _NAMESPACE},
        )  # fmt: skip

    def x(self, quarters: float) -> float:
        """Across, by musical time."""
        return LEFT + (RIGHT - LEFT) * min(max(quarters / self.length, 0.0), 1.0)

    def y(self, value: float) -> float:
        """Upwards, by value."""
        return BOTTOM - (BOTTOM - TOP) * (value - self.low) / max(self.high - self.low, 1e-9)

    def part(self, tag: str, **attributes: str) -> etree._Element:
        """One element of the drawing; an underscore stands for a hyphen."""
        named = {name.rstrip("_").replace("_", "-"): value for name, value in attributes.items()}
        return etree.SubElement(self.root, f"{{{_NAMESPACE}}}{tag}", named)

    def words(self, words: str, x: float, y: float, anchor: str) -> None:
        """A short text in the page's own font."""
        text = self.part(
            "text", x=f"{x:.1f}", y=f"{y:.1f}", text_anchor=anchor, fill="currentColor"
        )
        text.text = words

    def measures(self) -> None:
        """A thin line at each measure, its printed number under every so many."""
        starts = _starts(self.passage)
        every = -(-len(starts) // MOST_NUMBERS)
        for measure, start in enumerate(starts):
            x = self.x(start)
            self.part(
                "path", d=f"M{x:.1f} {TOP:.1f}V{BOTTOM:.1f}", stroke="currentColor",
                stroke_width="0.5", stroke_opacity="0.35",
            )  # fmt: skip
            if measure % every == 0:
                self.words(_printed(self.passage, measure), x, BOTTOM + FONT + 2.0, "middle")

    def rule(self, value: float, *, dashed: bool) -> None:
        """A thin line across at ``value``."""
        y = self.y(value)
        self.part(
            "path", d=f"M{LEFT:.1f} {y:.1f}H{RIGHT:.1f}", stroke="currentColor",
            stroke_width="1", stroke_dasharray="5 4" if dashed else "none",
        )  # fmt: skip

    def figure(self, words: str, value: float) -> None:
        """A figure left of the field at the height of ``value``."""
        self.words(words, LEFT - 4.0, self.y(value) + FONT / 3.0, "end")

    def dynamic(self, dynamic: str, quarters: float) -> None:
        """A marked dynamic under the place where it begins."""
        text = self.part(
            "text", x=f"{self.x(quarters):.1f}", y=f"{BOTTOM + 2.6 * FONT:.1f}",
            text_anchor="start", fill="currentColor", font_weight="700", font_style="italic",
        )  # fmt: skip
        text.text = dynamic

    def band(self, points: Sequence[LinePoint]) -> None:
        """How sure a line is: a pale band of two standard errors to both sides."""
        for run in _runs(points):
            up = [(p.quarters, min(p.value + SURE * p.se, self.high)) for p in run]
            down = [(p.quarters, max(p.value - SURE * p.se, self.low)) for p in reversed(run)]
            corners = " ".join(f"{self.x(q):.1f},{self.y(v):.1f}" for q, v in [*up, *down])
            self.part("polygon", points=corners, fill="currentColor", fill_opacity="0.12")

    def line(self, points: Sequence[LinePoint]) -> None:
        """What was heard: a strong line for each stretch, a dot where a stretch is one point."""
        for run in _runs(points):
            places = [f"{self.x(p.quarters):.1f},{self.y(p.value):.1f}" for p in run]
            if len(run) == 1:
                x, y = places[0].split(",")
                self.part("circle", cx=x, cy=y, r="2.5", fill=ACCENT, class_="heard-dot")
                continue
            self.part(
                "polyline", points=" ".join(places), stroke=ACCENT, stroke_width="2.5",
                stroke_linejoin="round", class_="heard-line",
            )  # fmt: skip

    def text(self) -> str:
        """The drawing as SVG."""
        return etree.tostring(self.root, encoding="unicode")


def _runs(points: Sequence[LinePoint]) -> list[list[LinePoint]]:
    """The points of each stretch, in order."""
    runs: dict[int, list[LinePoint]] = {}
    for point in points:
        runs.setdefault(point.stretch, []).append(point)
    return list(runs.values())
