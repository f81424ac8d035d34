"""Up to three places worth another listen, in words first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from standlight.criteria.places import printed
from standlight.criteria.values import Criterion, Trouble
from standlight.passages import counted

if TYPE_CHECKING:
    from standlight.score.values import Passage
    from standlight.sound.values import Performance

MOST_SPOTS = 3
"""A musician can work on three places at once at most (common practice, no source)."""

WIDEST_MEASURES = 2
"""A spot is one measure or two neighbours: longer is no place."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place worth listening to again: a criterion, 0-based measures of the passage, words."""

    criterion: str
    first_measure: int
    last_measure: int
    sentence: str


def spots_of(performance: Performance, criteria: Sequence[Criterion]) -> tuple[Spot, ...]:
    """The places with most trouble among ``criteria``, in the order of the music.

    Each place is one or two measures and one kind of trouble; larger and more troubles
    come first when choosing, and no two places overlap.
    """
    candidates = []
    for criterion in criteria:
        if criterion.find is None:
            continue
        by_kind: dict[str, list[Trouble]] = {}
        for trouble in criterion.find(performance):
            by_kind.setdefault(trouble.many, []).append(trouble)
        for troubles in by_kind.values():
            candidates.extend(_places(performance.passage, criterion, troubles))
    chosen: list[Spot] = []
    for _, spot in sorted(candidates, key=lambda pair: -pair[0]):
        apart = all(
            spot.last_measure < other.first_measure or spot.first_measure > other.last_measure
            for other in chosen
        )
        if apart and len(chosen) < MOST_SPOTS:
            chosen.append(spot)
    return tuple(sorted(chosen, key=lambda spot: spot.first_measure))


def _places(
    passage: Passage, criterion: Criterion, troubles: list[Trouble]
) -> list[tuple[float, Spot]]:
    """Every run of one or two measures that holds troubles of one kind, with its weight."""
    by_measure: dict[int, list[Trouble]] = {}
    for trouble in troubles:
        by_measure.setdefault(passage.notes[trouble.index].measure, []).append(trouble)
    places = []
    for first in by_measure:
        for width in range(1, WIDEST_MEASURES + 1):
            last = first + width - 1
            if last not in by_measure:
                continue
            here = [one for m in range(first, last + 1) for one in by_measure.get(m, [])]
            weight = sum(one.size for one in here) / width**0.5
            words = counted(len(here), here[0].one, here[0].many)
            sentence = f"{_measures_in_words(passage, first, last)}: {words}."
            places.append((weight, Spot(criterion.key, first, last, sentence)))
    return places


def _measures_in_words(passage: Passage, first: int, last: int) -> str:
    """Printed measure numbers as a musician says them."""
    start, end = printed(passage, first), printed(passage, last)
    return f"Measure {start}" if first == last else f"Measures {start} to {end}"
