"""From repeats, endings and jumps to the order in which the measures are played.

Rules (MusicXML 4.0 report for the signs; that repeats are not taken again after a da capo
or dal segno is common practice, no source): a backward repeat goes to the last forward
repeat, or the start of its movement; an ending is played on the passes it numbers; a fine
or a coda jump counts only after a da capo or dal segno.
"""

from __future__ import annotations

from collections.abc import Sequence

from standlight.score.walked import Signs

_LONGEST_ORDER_PER_MEASURE = 64
"""A guard against signs that go round for ever; no printed piece repeats so often."""


def play_order(signs: Sequence[Signs], movements: Sequence[int]) -> tuple[int, ...]:
    """Measure indexes in the order played; ``movements`` holds each measure's movement.

    >>> play_order([Signs(forward=True), Signs(backward_times=2)], [0, 0])
    (0, 1, 0, 1)
    """
    order: list[int] = []
    start = 0
    while start < len(signs):
        end = start
        while end < len(signs) and movements[end] == movements[start]:
            end += 1
        order.extend(_order_of_movement(signs, start, end))
        start = end
    return tuple(order)


def _order_of_movement(signs: Sequence[Signs], start: int, end: int) -> list[int]:
    """The order of measures ``start`` to ``end`` (exclusive)."""
    endings = _ending_of_each(signs, start, end)
    order: list[int] = []
    at, section, turn, jumped = start, start, 1, False
    longest = (end - start) * _LONGEST_ORDER_PER_MEASURE
    while at < end and len(order) < longest:
        sign = signs[at]
        if endings[at] and at != section and not _plays(endings, at, turn, jumped):
            at += 1
            continue
        if sign.forward and at != section:
            section, turn = at, 1
        order.append(at)
        if sign.fine and jumped:
            break
        if jumped and sign.to_coda:
            coda = _find(signs, "coda", at + 1, end)
            if coda is not None:
                at = coda
                continue
        if not jumped and sign.backward_times and turn < _turns(signs, endings, at):
            turn += 1
            at = section
            continue
        if not jumped and (sign.da_capo or sign.dal_segno):
            segno = _find_last(signs, "segno", start, at + 1) if sign.dal_segno else None
            at, jumped = start if segno is None else segno, True
            section, turn = at, 1
            continue
        begun_inside = section < end and endings[section] == endings[at]
        leaves_ending = endings[at] and not begun_inside and not _ending_follows(endings, at, end)
        if (sign.backward_times and not _ending_follows(endings, at, end)) or leaves_ending:
            section, turn = at + 1, 1
        at += 1
    return order


def _ending_of_each(signs: Sequence[Signs], start: int, end: int) -> dict[int, tuple[int, ...]]:
    """For each measure the passes on which its ending is played; empty outside endings."""
    endings: dict[int, tuple[int, ...]] = {}
    current: tuple[int, ...] = ()
    for at in range(start, end):
        if signs[at].ending:
            current = signs[at].ending
        endings[at] = current
        if signs[at].ending_stops:
            current = ()
    return endings


def _group(endings: dict[int, tuple[int, ...]], at: int) -> list[tuple[int, ...]]:
    """The endings that stand side by side around ``at``, in order."""
    first = at
    while endings.get(first - 1):
        first -= 1
    group = []
    while endings.get(first):
        if not group or group[-1] != endings[first]:
            group.append(endings[first])
        first += 1
    return group


def _plays(endings: dict[int, tuple[int, ...]], at: int, turn: int, jumped: bool) -> bool:
    """Whether the ending at ``at`` is played on this turn; after a jump, only the last one is."""
    if not jumped:
        return turn in endings[at]
    group = _group(endings, at)
    return len(group) > 1 and endings[at] == group[-1]


def _turns(
    signs: Sequence[Signs], endings: dict[int, tuple[int, ...]], at: int
) -> int:
    """How many times the section that ends at ``at`` is played in all."""
    if not endings[at]:
        return signs[at].backward_times or 2
    group = _group(endings, at)
    highest = max(max(numbers) for numbers in group)
    # A single ending is left out on the pass after those it numbers.
    return highest + 1 if len(group) == 1 else highest


def _ending_follows(endings: dict[int, tuple[int, ...]], at: int, end: int) -> bool:
    """Whether the measure after ``at`` lies in an ending."""
    return at + 1 < end and bool(endings[at + 1])


def _find(signs: Sequence[Signs], name: str, first: int, end: int) -> int | None:
    """The first measure from ``first`` on that shows the sign ``name``."""
    return next((at for at in range(first, end) if getattr(signs[at], name)), None)


def _find_last(signs: Sequence[Signs], name: str, first: int, end: int) -> int | None:
    """The last measure before ``end`` that shows the sign ``name``."""
    return next((at for at in range(end - 1, first - 1, -1) if getattr(signs[at], name)), None)
