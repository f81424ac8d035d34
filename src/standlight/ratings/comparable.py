"""What may be compared: a rank test that finds the classes the ratings alone join. Pure.

A connected graph is not enough: raters who each rate their own students on the same tasks
are one component, and yet nothing says whether a rater is strict or the students weak. The
students are eliminated from the Gram matrix of the design; what it cannot see (its null
vectors) moves some elements against others, and elements that always move together are
one class.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from standlight.ratings.ratings_table import FACETS, Ratings

_FLAT, _APART = 1e-12, 1e-8
"""Eigenvalues below this share of the largest are none; entries of the null vectors that
differ by more are different. Both follow from double precision, far from either side."""


@dataclass(frozen=True, slots=True)
class Comparable:
    """Classes of elements within which ratings alone can rank.

    Each is a tuple of tuples of names; ``facets`` maps a facet of ``FACETS`` to its classes.
    """

    students: tuple[tuple[str, ...], ...]
    facets: dict[str, tuple[tuple[str, ...], ...]]

    @property
    def all_joined(self) -> bool:
        """Whether every facet, and the students, are one class."""
        return len(self.students) == 1 and all(len(each) == 1 for each in self.facets.values())

    def sentences(self) -> tuple[str, ...]:
        """What must not be ranked across, one sentence a facet; none when all is joined."""
        return tuple(
            f"The {name}s fall into {len(classes)} classes that these ratings do not join:"
            f" {'; '.join(_shown(each) for each in classes[:_CLASSES_SHOWN])}"
            f"{'; ...' if len(classes) > _CLASSES_SHOWN else ''}."
            for name, classes in (("student", self.students), *self.facets.items())
            if len(classes) > 1
        )


_NAMES_SHOWN, _CLASSES_SHOWN = 4, 6


def comparable_classes(ratings: Ratings) -> Comparable:
    """The comparable classes of ``ratings``; linear in ratings, cubic in elements."""
    sizes = [len(names) for names in ratings.names]
    offsets = np.concatenate([[0], np.cumsum(sizes)])
    n_students, n_ratings = len(ratings.students), ratings.n_ratings
    columns = (ratings.elements + offsets[:3]).ravel()
    rows = np.repeat(np.arange(n_ratings), 3)
    design = sparse.csr_matrix(
        (np.ones(3 * n_ratings), (rows, columns)), shape=(n_ratings, offsets[3])
    )
    own = sparse.csr_matrix(
        (np.ones(n_ratings), (ratings.student, np.arange(n_ratings))),
        shape=(n_students, n_ratings),
    )
    per_student = np.bincount(ratings.student, minlength=n_students)
    sums = own @ design
    means = sparse.diags(1 / per_student) @ sums
    gram = (design.T @ design - sums.T @ means).toarray()
    values, vectors = np.linalg.eigh(gram)
    unseen = vectors[:, values < _FLAT * max(values.max(), 1.0)]
    facets = {
        name: _classes(unseen[offsets[place] : offsets[place + 1]], ratings.names[place])
        for place, name in enumerate(FACETS)
    }
    return Comparable(_classes(means @ unseen, ratings.students), facets)


def _classes(rows: np.ndarray, names: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
    """Names whose ``rows`` are equal, together; largest class first, then by name."""
    labels = np.column_stack([_labels(column) for column in rows.T])
    gathered: dict[tuple[int, ...], list[str]] = {}
    for label, name in zip(labels.tolist(), names, strict=True):
        gathered.setdefault(tuple(label), []).append(name)
    classes = [tuple(each) for each in gathered.values()]
    return tuple(sorted(classes, key=lambda each: (-len(each), each)))


def _labels(column: np.ndarray) -> np.ndarray:
    """(n,) numbers that are equal where the entries are, but for rounding."""
    order = np.argsort(column, kind="stable")
    steps = np.diff(column[order], prepend=column[order[:1]]) > _APART
    labels = np.empty(len(column), dtype=np.int64)
    labels[order] = np.cumsum(steps)
    return labels


def _shown(names: tuple[str, ...]) -> str:
    """A class in words, cut short."""
    shown = ", ".join(names[:_NAMES_SHOWN])
    rest = len(names) - _NAMES_SHOWN
    return f"{shown} and {rest} more" if rest > 0 else shown
