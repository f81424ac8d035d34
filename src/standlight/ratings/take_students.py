"""Where each musician stands when the criteria of a take share a day. Pure.

The scale is the takes' (not shrunk by what they share), and errors are those of ratings that
tell nothing of each other, widened by the root of a design effect. It is pooled over all
musicians: one musician's own would be too rough.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.ratings.take_effects import likeliest, take_likelihood
from standlight.ratings.take_stages import DAY, OTHERS, OWN, STUDENT, Hearings

_LEAST_INFORMATION = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class StudentPlaces:
    """``logits`` and ``errors`` (students,) of ``students``; ``design_effect`` is 1 or more.

    So many times more ratings would be needed for the same error as where nothing is shared.
    """

    students: tuple[str, ...]
    logits: np.ndarray
    errors: np.ndarray
    design_effect: float


def student_places(heard: Hearings) -> StudentPlaces:
    """Places by the likelihood with the day integrated out, weighted as Warm does.

    The weight is the root of the information, so that extreme musicians have a place too.
    """
    free = [STUDENT, DAY] + [OWN] * (heard.n_heard_twice > 0)
    shared = likeliest(heard, free).variances
    alone = np.zeros(OTHERS + 1)
    step = heard.nodes[1] - heard.nodes[0]
    curve = _by_student(heard, shared)
    known = np.maximum(_information(curve, step), _LEAST_INFORMATION)
    at, places = _peaks(curve + 0.5 * np.log(known), heard.nodes)
    free_of_each_other = np.maximum(
        _information(_by_student(heard, alone), step), _LEAST_INFORMATION
    )
    rows = np.arange(len(at))
    design_effect = max(float(free_of_each_other[rows, at].sum() / known[rows, at].sum()), 1.0)
    errors = (design_effect / free_of_each_other[rows, at]) ** 0.5
    return StudentPlaces(heard.students, places, errors, design_effect)


def _by_student(heard: Hearings, variances: np.ndarray) -> np.ndarray:
    """Log-likelihood (students, nodes) of each musician's place."""
    curve = np.zeros((len(heard.students), len(heard.nodes)))
    np.add.at(curve, heard.student, take_likelihood(heard, variances))
    return curve


def _information(curve: np.ndarray, step: float) -> np.ndarray:
    """Minus the second slope of every row of ``curve``; the ends as their neighbours."""
    inner = -np.diff(curve, n=2, axis=1) / step**2
    return np.pad(inner, ((0, 0), (1, 1)), mode="edge")


def _peaks(curve: np.ndarray, nodes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(students,) node of each row's peak, and the place of a parabola through it."""
    at = np.clip(curve.argmax(axis=1), 1, len(nodes) - 2)
    rows = np.arange(len(at))
    before, here, after = (curve[rows, at + move] for move in (-1, 0, 1))
    bend = np.minimum(before - 2 * here + after, -1e-9)
    move = np.clip(0.5 * (before - after) / bend, -1.0, 1.0)
    return at, nodes[at] + move * (nodes[1] - nodes[0])
