"""Log odds fitted on made takes, for the benchmarks that fit what the listener weighs."""

from __future__ import annotations

import numpy as np

PENALTY, ROUNDS = 3.3, 40
"""Ridge of the standardized weights, and most steps of Newton's method."""


def fitted(signs: np.ndarray, true: np.ndarray, rest: np.ndarray | float = 0.0) -> np.ndarray:
    """Weights of a logistic regression of ``true`` on ``signs`` (rows).

    ``rest`` are log odds that stand beside them, ``(rows,)``.

    >>> true = np.array([1, 1, 1, 0], bool)
    >>> fitted(np.ones((4, 1)), true).round(1).tolist()
    [0.2]
    """
    spread = signs.std(axis=0)
    scale = np.where(spread > 0.0, spread, 1.0)
    rows, weights = signs / scale, np.zeros(signs.shape[1])
    for _ in range(ROUNDS):
        chance = 1.0 / (1.0 + np.exp(-(rest + rows @ weights)))
        slope = rows.T @ (true - chance) - PENALTY * weights
        bend = (rows * (chance * (1.0 - chance))[:, None]).T @ rows + PENALTY * np.eye(len(weights))
        step = np.linalg.solve(bend, slope)
        weights += step
        if np.abs(step).max() < 1e-9:
            break
    return weights / scale


def by_the_others(signs: np.ndarray, true: np.ndarray, groups: np.ndarray) -> np.ndarray:
    """Log odds of each row by the weights fitted on the rows of all other ``groups``, ``(rows,)``.

    >>> signs = np.array([[1.0, -1.0], [1.0, 1.0]] * 20)
    >>> odds = by_the_others(signs, signs[:, 1] > 0.0, np.arange(40) // 10)
    >>> bool(np.all((odds > 0.0) == (signs[:, 1] > 0.0)))
    True
    """
    odds = np.zeros(len(true))
    for group in np.unique(groups):
        here = groups == group
        odds[here] = signs[here] @ fitted(signs[~here], true[~here])
    return odds
