"""Pins of a whole group laid on a line: of a piece's measures, or of the clock of a recording."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from standlight.kinds import Pin

TALLEST_PX, MOST_A_PIN_PX, THICKNESS_PX = 84, 14, 5
ABOVE_PX, BELOW_PX = 18, 34
"""Room for the number over the tallest column, and for the scale and the director's own under."""

COLUMNS = 60
"""Columns that a line has at most on the clock: narrower ones could not be told apart."""

TICKS = 8
"""Numbers printed under a line, about."""

APART_PERCENT = 3.5
"""Numbers over columns that stand closer would run into one another."""


@dataclass(frozen=True, slots=True)
class Column:
    """Pins at one place: ``x`` in percent of the line, ``number`` printed over it or ""."""

    x: float
    y: int
    height: int
    number: str
    title: str


@dataclass(frozen=True, slots=True)
class Tick:
    """A number under the line."""

    x: float
    words: str


@dataclass(frozen=True, slots=True)
class Owner:
    """Whose pin it is, and the sheet to open: none for a director's own."""

    who: str
    sheet: UUID | None = None


@dataclass(frozen=True, slots=True)
class SaidPin:
    """One pin in the list: whose, and the words; ``ours`` is a director's own."""

    owner: Owner
    words: str
    ours: bool


@dataclass(frozen=True, slots=True)
class PinPlace:
    """Everything said of one place; ``at_s`` is there on the clock."""

    where: str
    at_s: float | None
    said: tuple[SaidPin, ...]


@dataclass(frozen=True, slots=True)
class PinLine:
    """One line with its columns (the group's), ``ours`` (directors' places, x) and its list."""

    name: str
    columns: tuple[Column, ...]
    ours: tuple[Tick, ...]
    ticks: tuple[Tick, ...]
    height: int
    scale_y: int
    places: tuple[PinPlace, ...]
    total: int


@dataclass(frozen=True, slots=True)
class Scale:
    """How places lie on a line: ``x`` of a place in percent, its words, its ticks."""

    x: Callable[[float], float]
    words: Callable[[float], str]
    ticks: tuple[Tick, ...]
    clock: bool = False


Owned = Sequence[tuple[Owner, Pin]]
"""Pins with whose they are."""


def clock_words(seconds: float) -> str:
    """A moment as minutes and seconds.

    >>> clock_words(62.7)
    '1:02'
    """
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def measure_scale(measures: Sequence[Mapping[str, object]], pins: Sequence[Pin]) -> Scale:
    """A line of measures: all of the piece where they are known, else as far as pins go."""
    places = _places(measures)
    last = max([pin.until or pin.at for pin in pins], default=1)
    if not places or any(str(int(pin.at)) not in places for pin in pins):
        # Numbers that the folder's piece does not print: count them as they are.
        places = {str(number): number - 1 for number in range(1, int(max(last, len(places))) + 1)}
    count = len(places)
    step = _step(count)
    ticks = tuple(
        Tick(_percent(place, count), printed)
        for printed, place in places.items()
        if place == 0 or (printed.isdigit() and int(printed) % step == 0)
    )
    return Scale(
        x=lambda at: _percent(places.get(str(int(at)), 0), count),
        words=lambda at: f"measure {int(at)}",
        ticks=_apart(ticks),
    )


def clock_scale(pins: Sequence[Pin]) -> Scale:
    """A line from the start of the recording to a little after the last pin."""
    last = max([pin.at for pin in pins], default=0.0)
    step = next((one for one in (5, 10, 15, 30, 60, 120, 300, 600, 1800) if one * TICKS >= last), 0)
    step = step or 3600
    end = (int(last) // step + 1) * step
    ticks = tuple(Tick(_along(at, end), clock_words(at)) for at in range(0, end + 1, step))
    width = end / COLUMNS
    return Scale(
        x=lambda at: _along((int(at / width) + 0.5) * width, end),
        words=clock_words,
        ticks=ticks,
        clock=True,
    )


def pin_line(name: str, theirs: Owned, ours: Owned, scale: Scale) -> PinLine:
    """The line of one piece or recording; ``ours`` are the directors' own pins."""
    piled: dict[float, list[Pin]] = {}
    for _, pin in theirs:
        piled.setdefault(scale.x(pin.at), []).append(pin)
    most = max((len(pile) for pile in piled.values()), default=1)
    one_px = min(MOST_A_PIN_PX, TALLEST_PX / most)
    scale_y = ABOVE_PX + round(most * one_px)
    named = _named(piled)
    columns = tuple(
        Column(
            x,
            scale_y - max(2, round(len(pile) * one_px)),
            max(2, round(len(pile) * one_px)),
            str(len(pile)) if x in named else "",
            f"{_span(pile, scale)}: {len(pile)}",
        )
        for x, pile in sorted(piled.items())
    )
    own = sorted({scale.x(pin.at): scale.words(pin.at) for _, pin in ours}.items())
    return PinLine(
        name,
        columns,
        tuple(Tick(x, words) for x, words in own),
        scale.ticks,
        scale_y + BELOW_PX,
        scale_y,
        _listed(theirs, ours, scale),
        len(theirs),
    )


def _listed(theirs: Owned, ours: Owned, scale: Scale) -> tuple[PinPlace, ...]:
    """Pins by place, from and to; directors' own first at each."""
    found: dict[tuple[float, float], list[SaidPin]] = {}
    for is_ours, pins in ((True, ours), (False, theirs)):
        for owner, pin in pins:
            # On the clock a place is a whole second: nobody pins more finely by ear and hand.
            at = float(int(pin.at)) if scale.clock else pin.at
            place = (at, pin.until or at)
            found.setdefault(place, []).append(SaidPin(owner, pin.words, is_ours))
    return tuple(
        PinPlace(_where(first, last, scale), first if scale.clock else None, tuple(said))
        for (first, last), said in sorted(found.items())
    )


def _where(first: float, last: float, scale: Scale) -> str:
    """A place, or from one to another."""
    if last == first:
        return scale.words(first)
    start = scale.words(first).replace("measure ", "measures ")
    return f"{start} to {scale.words(last).removeprefix('measure ')}"


def _named(piled: Mapping[float, Sequence[Pin]]) -> set[float]:
    """Columns whose number is printed: the tallest first, as long as they stand apart."""
    named: set[float] = set()
    for x, _ in sorted(piled.items(), key=lambda row: -len(row[1])):
        if all(abs(x - other) >= APART_PERCENT for other in named):
            named.add(x)
    return named


def _span(pile: Sequence[Pin], scale: Scale) -> str:
    """The place of a column in words; from the first to the last pin in it."""
    first, last = min(pin.at for pin in pile), max(pin.at for pin in pile)
    start, end = scale.words(first), scale.words(last)
    return start if start == end else f"{start} to {end}"


def _places(measures: Sequence[Mapping[str, object]]) -> dict[str, int]:
    """Printed number to place on the line; of a number printed twice the first."""
    places: dict[str, int] = {}
    for place, row in enumerate(measures):
        places.setdefault(str(row["printed"]), place)
    return places


def _step(count: int) -> int:
    """Every how many measures a number is printed."""
    return next((one for one in (1, 2, 5, 10, 20, 50, 100, 200, 500) if one * TICKS >= count), 1000)


def _percent(place: int, count: int) -> float:
    """The middle of a measure on the line."""
    return round(100 * (place + 0.5) / max(count, 1), 2)


def _along(seconds: float, end: float) -> float:
    """A moment on the line."""
    return round(100 * seconds / end, 2)


def _apart(ticks: Sequence[Tick]) -> tuple[Tick, ...]:
    """Ticks without those that would run into the one before."""
    kept: list[Tick] = []
    for tick in ticks:
        if not kept or tick.x - kept[-1].x >= 2 * APART_PERCENT:
            kept.append(tick)
    return tuple(kept)
