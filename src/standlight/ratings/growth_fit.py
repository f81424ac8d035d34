"""Straight lines of many musicians at once, with known errors of each point. Pure.

y = sitting + a[line] + b[line] * time + occasion noise + known error; (a, b) normal over the
lines, with a variance each and a correlation. A sitting is one task asked of one ensemble
at one time, and has a place of its own: so whatever all who sat had in common (how hard the
task was, how strict the evening) is in no musician's line. The variances are found by
restricted maximum likelihood (Patterson & Thompson 1971; Laird & Ware 1982 for lines), which
no mixed-model library does with known errors of its own for each point.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import minimize

LEAST_DEVIATION, MOST_DEVIATION = 0.02, 6.0
"""Bounds of every standard deviation (logits, logits a year); nothing is learned outside."""

TWIST = 0.3
"""Standard deviation of a normal prior on the inverse hyperbolic tangent of the correlation of
level and slope: few lines else put it at its bound, and every pooled slope is then read off the
level (intervals of 16 musicians beside each other covered .83). Our choice."""

MOST_TWIST = 1.5
"""Bound of the correlation's inverse hyperbolic tangent (a correlation of .905): our choice."""

SLOPE_GRID = np.geomspace(0.03, 4.0, 13)
"""Standard deviations of slopes (logits a year) over which pooled lines are averaged."""

LIKE_SHARE = 0.35
"""How far (on the log scale) one criterion's spread of slopes may well lie from that of all
criteria together: our choice."""

@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """One row a line and take: ``line``, ``sitting`` numbers, ``time`` (years from the middle),
    ``place`` and ``error`` (variance), in logits.
    """

    line: np.ndarray
    sitting: np.ndarray
    time: np.ndarray
    place: np.ndarray
    error: np.ndarray
    n_lines: int
    n_sittings: int


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviations of level, slope (a year) and occasion, and level-slope correlation."""

    level: float
    slope: float
    occasion: float
    correlation: float


_START = Spread(level=1.0, slope=0.5, occasion=0.5, correlation=0.0)


@dataclass(frozen=True, slots=True, eq=False)
class LineFit:
    """All lines: pooled and unpooled (lines, 2) level and slope beside the sittings' places.

    ``sittings`` (sittings,) with ``covariance``; variances (lines, 2, 2) of ``own`` and
    ``pooled``; ``own_cross`` and ``pooled_cross`` (lines, 2, sittings): covariance of a
    line's error with the errors of the sittings. ``own`` is zero and its variance infinite
    where a line has no two times.
    """

    spread: Spread
    sittings: np.ndarray
    covariance: np.ndarray
    pooled: np.ndarray
    pooled_variance: np.ndarray
    pooled_cross: np.ndarray
    own: np.ndarray
    own_variance: np.ndarray
    own_cross: np.ndarray
    alone_variance: np.ndarray
    log_likelihood: float


@dataclass(frozen=True, slots=True, eq=False)
class _Solved:
    """One solution of the normal equations at given variances."""

    weight: np.ndarray
    square: np.ndarray
    design: np.ndarray
    shrunk: np.ndarray
    sittings: np.ndarray
    information: np.ndarray
    score: np.ndarray
    log_likelihood: float


def fit_spread(
    points: Points,
    start: Spread | None = None,
    *,
    occasion: float | None = None,
    twist: float = TWIST,
) -> Spread:
    """The variances that restricted maximum likelihood finds, within the bounds.

    ``occasion`` holds the occasions' deviation where it is known from elsewhere; ``twist`` is
    how far the correlation may well lie from none.
    """
    start = start or _START
    first = np.array([
        np.log(start.level),
        np.log(start.slope),
        np.log(occasion or start.occasion),
        np.arctanh(start.correlation),
    ])
    bound = (np.log(LEAST_DEVIATION), np.log(MOST_DEVIATION))
    held = bound if occasion is None else (first[2], first[2])

    def cost(each: np.ndarray) -> tuple[float, np.ndarray]:
        spread = _spread(each)
        solved = _solve(points, spread)
        slopes = -_log_likelihood_slopes(points, spread, solved)
        slopes[3] += each[3] / twist**2
        return 0.5 * (each[3] / twist) ** 2 - solved.log_likelihood, slopes

    found = minimize(
        cost,
        first,
        jac=True,
        method="L-BFGS-B",
        bounds=[bound, bound, held, (-MOST_TWIST, MOST_TWIST)],
        options={"ftol": 1e-9, "maxiter": 60},
    )
    return _spread(found.x)


def likely_slope_spread(points: Points, spread: Spread, around: float | None = None) -> float:
    """The mean of the slopes' standard deviation over ``SLOPE_GRID``, the others as they are.

    Unlike the mode it is never nothing, which a few noisy lines would else make it.
    """
    return float(_grid_weights(points, spread, around)[0] @ SLOPE_GRID)


def log_likelihood(points: Points, spread: Spread) -> float:
    """The restricted log-likelihood of ``spread``, without the constant."""
    return _solve(points, spread).log_likelihood


def fit_lines(points: Points, spread: Spread) -> LineFit:
    """All lines at ``spread``: generalised least squares for sittings, best prediction for
    pooled lines, weighted least squares for unpooled ones, with every error (Henderson 1975).
    """
    found = _solve(points, spread)
    covariance = _symmetric_inverse(found.information)
    between = _between(spread)
    rest = found.score - found.design @ found.sittings
    pooled = np.einsum("lij,lj->li", found.shrunk, rest)
    reach = found.shrunk @ found.design
    cross = -(reach @ covariance)
    variance = found.shrunk - cross @ reach.transpose(0, 2, 1)

    alone, known = _safe_inverse(found.square)
    own = np.einsum("lij,lj->li", alone, rest)
    leaning = alone @ found.design
    # What a line's own noise has put into the sittings' places.
    share = np.linalg.inv(np.eye(2) + found.square @ between) @ found.design
    shared = alone @ share @ covariance
    own_cross = shared - leaning @ covariance
    both = shared @ leaning.transpose(0, 2, 1)
    own_variance = (
        alone
        - both
        - both.transpose(0, 2, 1)
        + leaning @ covariance @ leaning.transpose(0, 2, 1)
    )
    own_variance[~known] = np.inf
    alone[~known] = np.inf
    return LineFit(
        spread=spread,
        sittings=found.sittings,
        covariance=covariance,
        pooled=pooled,
        pooled_variance=variance,
        pooled_cross=cross,
        own=own,
        own_variance=own_variance,
        own_cross=own_cross,
        alone_variance=alone,
        log_likelihood=found.log_likelihood,
    )


def pooled_slopes(
    points: Points, fit: LineFit, combination: np.ndarray, around: float | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Pooled slopes plus ``combination`` (lines, sittings) of the sittings' places: value and
    variance, each (lines,).

    Averaged over ``SLOPE_GRID``, the other variances at their best, so that a spread that
    looks like none does not make every line the same and every interval short.
    """
    weight, spreads = _grid_weights(points, fit.spread, around)
    mean, square = np.zeros(points.n_lines), np.zeros(points.n_lines)
    for share, spread in zip(weight.tolist(), spreads, strict=True):
        if share < _NO_SHARE:
            continue
        each = fit_lines(points, spread)
        value = each.pooled[:, 1] + combination @ each.sittings
        variance = slope_variance(
            each.pooled_variance, each.pooled_cross, each.covariance, combination
        )
        mean += share * value
        square += share * (variance + value**2)
    return mean, np.maximum(square - mean**2, 0.0)


def _grid_weights(
    points: Points, spread: Spread, around: float | None
) -> tuple[np.ndarray, list[Spread]]:
    """Weights of ``SLOPE_GRID``: likelihood times a prior that keeps off the bound (gamma of
    shape 2, Chung et al. 2013, here of rate 1 a logit), and, with ``around``, a log-normal one
    around that.
    """
    spreads = [replace(spread, slope=float(each)) for each in SLOPE_GRID]
    weight = np.array([_solve(points, each).log_likelihood for each in spreads])
    if around is not None:
        weight -= 0.5 * (np.log(SLOPE_GRID / around) / LIKE_SHARE) ** 2
    # The grid is even in the logarithm, so one more power of the deviation belongs to it.
    weight += 2 * np.log(SLOPE_GRID) - SLOPE_GRID
    weight = np.exp(weight - weight.max())
    return weight / weight.sum(), spreads


def slope_variance(
    variance: np.ndarray, cross: np.ndarray, covariance: np.ndarray, combination: np.ndarray
) -> np.ndarray:
    """Variance (lines,) of slope + ``combination`` (lines, sittings) @ places of sittings."""
    return (
        variance[:, 1, 1]
        + 2 * np.einsum("lj,lj->l", cross[:, 1], combination)
        + np.einsum("lj,lj->l", combination @ covariance, combination)
    )


_NO_SHARE = 1e-4


def _spread(parameters: np.ndarray) -> Spread:
    """From what is climbed: three logarithms and the correlation's inverse tangent."""
    level, slope, occasion = np.exp(parameters[:3]).tolist()
    return Spread(level, slope, occasion, float(np.tanh(parameters[3])))


def _between(spread: Spread) -> np.ndarray:
    """Covariance (2, 2) of level and slope over the lines."""
    root = _root(spread)
    return root @ root.T


def _root(spread: Spread) -> np.ndarray:
    """Lower triangle whose square is the covariance of level and slope."""
    twist = spread.correlation
    return np.array(
        [[spread.level, 0.0], [twist * spread.slope, spread.slope * (1 - twist**2) ** 0.5]]
    )


def _solve(points: Points, spread: Spread) -> _Solved:
    """Normal equations of the sittings' places, with the lines eliminated two by two."""
    n_lines, n_sittings = points.n_lines, points.n_sittings
    variance = spread.occasion**2 + points.error
    weight = 1 / variance

    def by_line(values: np.ndarray) -> np.ndarray:
        return np.bincount(points.line, weights=values, minlength=n_lines)

    time, place = points.time, points.place
    moments = [by_line(weight * time**power) for power in range(3)]
    square = np.stack([[moments[0], moments[1]], [moments[1], moments[2]]]).transpose(2, 0, 1)
    score = np.stack([by_line(weight * place), by_line(weight * time * place)], axis=1)
    at = points.line * n_sittings + points.sitting
    design = np.stack(
        [
            np.bincount(at, weights=weight * time**power, minlength=n_lines * n_sittings)
            for power in range(2)
        ],
        axis=1,
    ).reshape(n_lines, n_sittings, 2).transpose(0, 2, 1)  # fmt: skip
    root = _root(spread)
    inner = np.eye(2) + root.T @ square @ root
    shrunk = root @ np.linalg.inv(inner) @ root.T
    flat = design.reshape(n_lines * 2, n_sittings)
    reached = (shrunk @ design).reshape(n_lines * 2, n_sittings)
    information = np.diag(
        np.bincount(points.sitting, weights=weight, minlength=n_sittings)
    ) - flat.T @ reached
    right = (
        np.bincount(points.sitting, weights=weight * place, minlength=n_sittings)
        - reached.T @ score.ravel()
    )
    lower = np.linalg.cholesky(information)
    half = np.linalg.solve(lower, right)
    sittings = np.linalg.solve(lower.T, half)
    misfit = (
        weight @ place**2 - np.einsum("li,lij,lj->", score, shrunk, score) - half @ half
    )
    log_likelihood = -0.5 * (
        np.log(variance).sum()
        + np.log(np.linalg.det(inner)).sum()
        + 2 * np.log(np.diag(lower)).sum()
        + misfit
    )
    return _Solved(
        weight, square, design, shrunk, sittings, information, score, float(log_likelihood)
    )


def _log_likelihood_slopes(points: Points, spread: Spread, solved: _Solved) -> np.ndarray:
    """Slopes (4,) of the restricted log-likelihood by what ``_spread`` reads.

    Half of each covariance's slope against (P y y' P - P), with P = V^-1 - V^-1 X C X' V^-1
    (Harville 1977); a line's part of P needs its own two moments only.
    """
    covariance = _symmetric_inverse(solved.information)
    outside = np.linalg.inv(np.eye(2) + solved.square @ _between(spread))
    rest = np.einsum(
        "lij,lj->li", outside, solved.score - solved.design @ solved.sittings
    )
    reach = outside @ solved.design
    known = outside @ solved.square - reach @ covariance @ reach.transpose(0, 2, 1)
    lines = 0.5 * (rest.T @ rest - known.sum(axis=0))
    twist, level, slope = spread.correlation, spread.level, spread.slope
    both = 2 * lines[0, 1] * twist * level * slope
    return np.array([
        2 * lines[0, 0] * level**2 + both,
        2 * lines[1, 1] * slope**2 + both,
        2 * spread.occasion**2 * _by_variance(points, solved, covariance),
        2 * lines[0, 1] * level * slope * (1 - twist**2),
    ])


def _by_variance(points: Points, solved: _Solved, covariance: np.ndarray) -> float:
    """Slope of the restricted log-likelihood by a variance that every point has more."""
    weight, line, sitting, time = solved.weight, points.line, points.sitting, points.time
    shrunk = solved.shrunk
    from_start, from_time = (
        shrunk[line, row, 0] + shrunk[line, row, 1] * time for row in range(2)
    )
    reach = shrunk @ solved.design
    lean = -(reach[line, 0] + reach[line, 1] * time[:, None])
    lean[np.arange(len(line)), sitting] += 1.0
    pooled = np.einsum(
        "lij,lj->li", shrunk, solved.score - solved.design @ solved.sittings
    )
    left = points.place - solved.sittings[sitting] - pooled[line, 0] - pooled[line, 1] * time
    inner = weight - weight**2 * (from_start + from_time * time)
    inner -= weight**2 * np.einsum("nj,nj->n", lean @ covariance, lean)
    return float(0.5 * (weight**2 * left**2 - inner).sum())


def _symmetric_inverse(matrix: np.ndarray) -> np.ndarray:
    """Inverse of a symmetric positive matrix, symmetric too."""
    inverse = np.linalg.inv(matrix)
    return (inverse + inverse.T) / 2


_FLAT = 1e-10


def _safe_inverse(square: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Inverses (lines, 2, 2), zero where there is none; and where there is one."""
    determinant = np.linalg.det(square)
    known = determinant > _FLAT * np.maximum(square[:, 0, 0] * square[:, 0, 0], _FLAT)
    inverse = np.zeros_like(square)
    inverse[known] = np.linalg.inv(square[known])
    return inverse, known
