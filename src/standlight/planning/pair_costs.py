"""What it costs to have two members in one group: every aim as a sum over pairs. Pure."""

from __future__ import annotations

import numpy as np

from standlight.planning.group_values import ANY, SAME, GroupRequest

PART_COST, ANSWER_COST, MAP_COST, LEVEL_COST, REPEAT_COST = 1.0, 0.7, 0.7, 0.5, 0.8
"""What aims weigh beside each other (our choice): parts first, then new company, answers and
listening maps that differ, then levels. Sectionals hold the part together with the same weight."""

REPEAT_FADES = 0.7
"""Each grouping further back counts so much less (our choice)."""


def pair_costs(request: GroupRequest) -> np.ndarray:
    """(n, n) symmetric, diagonal 0: the cost of each pair, about -1 to 2; wishes left aside.

    Levels cost their product as deviations from the mean in standard deviations: summed over the
    pairs of a group that is, up to a constant, the square of the group's own deviation.
    """
    costs = _parts(request) + ANSWER_COST * _answers(request) + MAP_COST * _maps(request)
    costs += LEVEL_COST * _levels(request) + REPEAT_COST * _repeats(request)
    np.fill_diagonal(costs, 0.0)
    return costs


def _parts(request: GroupRequest) -> np.ndarray:
    """Same parts cost where they are to be mixed, different ones where not."""
    if request.parts == ANY:
        return np.zeros((len(request.members),) * 2)
    parts = np.array([member.part for member in request.members])
    same = parts[:, None] == parts[None, :]
    return PART_COST * (~same if request.parts == SAME else same).astype(float)


def _answers(request: GroupRequest) -> np.ndarray:
    """1 where both gave the same answer."""
    answers = np.array([member.answer for member in request.members])
    return ((answers[:, None] == answers[None, :]) & (answers != "")[:, None]).astype(float)


def map_distances(request: GroupRequest) -> np.ndarray:
    """(n, n) mean seconds between two listening maps over events that both pinned; nan if none."""
    events = max(len(member.listening) for member in request.members)
    seconds = np.full((len(request.members), events), np.nan)
    for row, member in enumerate(request.members):
        pinned = [np.nan if at is None else at for at in member.listening]
        seconds[row, : len(pinned)] = pinned
    apart = np.abs(seconds[:, None, :] - seconds[None, :, :])
    both = np.isfinite(apart)
    total = np.where(both, apart, 0.0).sum(axis=2)
    return np.where(both.any(axis=2), total / np.maximum(both.sum(axis=2), 1), np.nan)


def _maps(request: GroupRequest) -> np.ndarray:
    """1 for the same map, falling to 0 at the distance of three in four pairs or more."""
    apart = map_distances(request)
    off_diagonal = apart[~np.eye(len(apart), dtype=bool)]
    known = off_diagonal[np.isfinite(off_diagonal)]
    if not len(known) or np.quantile(known, 0.75) == 0:
        return np.zeros_like(apart)
    near = 1.0 - np.minimum(apart / np.quantile(known, 0.75), 1.0)
    return np.where(np.isfinite(near), near, 0.0)


def _levels(request: GroupRequest) -> np.ndarray:
    """Product of deviations; who has no level counts as the mean."""
    known = [member.level for member in request.members if member.level is not None]
    spread = float(np.std(known)) if known else 0.0
    if not spread:
        return np.zeros((len(request.members),) * 2)
    mean = float(np.mean(known))
    off = np.array([0.0 if member.level is None else (member.level - mean) / spread
                    for member in request.members])  # fmt: skip
    return np.outer(off, off)


def _repeats(request: GroupRequest) -> np.ndarray:
    """Times together before, the latest counting most."""
    place = {member.key: index for index, member in enumerate(request.members)}
    costs = np.zeros((len(request.members),) * 2)
    for back, grouping in enumerate(request.earlier):
        for group in grouping:
            own = [place[key] for key in group if key in place]
            costs[np.ix_(own, own)] += REPEAT_FADES**back
    return costs
