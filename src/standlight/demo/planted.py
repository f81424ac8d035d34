"""What is hidden in an invented year, and the levels that follow: the facet model, drawn. Pure.

log P(k)/P(k - 1) = musician on that day + impression of the take - passage - criterion - rater
- threshold. A seed chooses what is planted, so that nothing which reads
the levels can know it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

THRESHOLDS = (-1.5, 0.0, 1.5)
"""Logits at which one of the four levels overtakes the one below it: our choice."""

STRICT_LOGITS = (0.8, 1.1)
"""How much stricter a strict director is: a third of a level to half a level, as drawn."""

IMPRESSION_SD = 0.7
"""Logits by which one director's levels of one take rise and fall together, whatever the
criterion: the spread of the trial."""

DAY_SD = 0.4
"""Logits by which a musician's days differ, for every director alike, in half of the years: a
good day is no halo, and looks like one."""

STOPPED_AT = 0.33
"""Share of the year after which a section that stops has grown all it will: the winter concert."""

GROWTH, GROWTH_SD = 2.3, 0.4
"""Logits a musician grows in a year (about a level), and how much musicians differ."""

LEAST_IN_SECTION = 11
"""A section that is planted to stop has so many musicians, or nobody could tell."""


@dataclass(frozen=True, slots=True)
class Plants:
    """What is true of a year and hidden in it; an empty name and a zero are nothing planted.

    ``strict_criterion`` is empty where the strict director is strict on every criterion.
    """

    strict_director: str = ""
    strict_criterion: str = ""
    strict_logits: float = 0.0
    impression_sd: float = 0.0
    day_sd: float = 0.0
    still_group: str = ""
    still_section: str = ""

    def severity(self, director: str, criterion: str) -> float:
        """Logits by which ``director`` is stricter on ``criterion``."""
        strict = director == self.strict_director
        return self.strict_logits if strict and self.strict_criterion in ("", criterion) else 0.0

    def grown(self, group: str, section: str, share: float) -> float:
        """Share of the year's growth a musician of the section has at ``share`` of the year.

        >>> Plants().grown("choir", "Alto", 0.5)
        0.5
        >>> Plants(still_group="choir", still_section="Alto").grown("choir", "Alto", 0.5)
        0.33
        """
        still = (group, section) == (self.still_group, self.still_section)
        return min(share, STOPPED_AT) if still else share


def draw_plants(
    rng: np.random.Generator,
    directors: Sequence[str],
    criteria: Sequence[str],
    sizes: Mapping[tuple[str, str], int],
    planted: tuple[bool, bool, bool] = (True, True, True),
) -> Plants:
    """Plants by chance: a strict director, a halo over criteria, a section that stops.

    ``planted`` says which of the three there are at all; ``sizes`` are musicians by group and
    section. The same draws are made either way, so that a year differs in what is planted only.
    """
    strict, halo, still = planted
    director = str(rng.choice(directors))
    criterion = str(rng.choice(("", *criteria)))
    logits = float(rng.uniform(*STRICT_LOGITS))
    large = [place for place, size in sizes.items() if size >= LEAST_IN_SECTION]
    large = large or [max(sizes, key=lambda place: sizes[place])]
    group, section = large[int(rng.integers(len(large)))]
    days_differ = bool(rng.random() < 0.5)
    return Plants(
        strict_director=director if strict else "",
        strict_criterion=criterion if strict else "",
        strict_logits=logits if strict else 0.0,
        impression_sd=IMPRESSION_SD if halo else 0.0,
        day_sd=DAY_SD if days_differ else 0.0,
        still_group=group if still else "",
        still_section=section if still else "",
    )


def drawn_levels(logits: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A level from 1 to 4 for each of ``logits`` (any shape), by the rating scale model.

    >>> drawn_levels(np.array([-9.0, 9.0]), np.random.default_rng(1)).tolist()
    [1, 4]
    """
    shares = level_shares(logits).cumsum(axis=-1)
    return 1 + (shares[..., :-1] < rng.random(logits.shape)[..., None]).sum(axis=-1)


def level_shares(logits: np.ndarray) -> np.ndarray:
    """Chance of each level (last axis) at ``logits``.

    >>> level_shares(np.array([0.0])).round(2).tolist()
    [[0.09, 0.41, 0.41, 0.09]]
    """
    cumulated = np.concatenate([[0.0], np.cumsum(THRESHOLDS)])
    weights = np.exp(np.arange(len(cumulated)) * logits[..., None] - cumulated)
    return weights / weights.sum(axis=-1, keepdims=True)
