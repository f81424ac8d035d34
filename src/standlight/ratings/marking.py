"""A period's mark from levels, by one stated policy, with its reason in words. Pure.

The policy: of each piece of work only the newest rated attempt counts; each
criterion is the mean of its levels over the period's checks; the mark is the mean of
the criteria. Work that is missing, excused or not rated is left out and never
counts as zero; *not shown* and *could not be heard* are no levels. With too few levels
there is no mark, and the reason says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from standlight.ratings.levels import LEVEL_NAMES, NO_LEVEL_NAMES

RATED, WAITING, EXCUSED, MISSING, NOT_ASKED = (
    "rated",
    "waiting",
    "excused",
    "missing",
    "not_asked",
)
WORK_STATES = {
    RATED: "rated",
    WAITING: "not rated yet",
    EXCUSED: "excused",
    MISSING: "missing",
    NOT_ASKED: "not asked",
}
"""What can be said of one musician's work for one check, in words."""


@dataclass(frozen=True, slots=True)
class Work:
    """One musician's work for one check: its state and the newest rated attempt's levels.

    ``levels`` maps a criterion's key to ``"1"`` to ``"4"``, ``"not_shown"`` or ``"not_heard"``.
    """

    title: str
    state: str
    levels: dict[str, str] = field(default_factory=dict)
    attempt: int = 1

    def __post_init__(self) -> None:
        """Refuse an unknown state, and a level that is none."""
        if self.state not in WORK_STATES:
            raise ValueError(f"{self.state!r} is no state of work")
        for given in self.levels.values():
            if given not in NO_LEVEL_NAMES and (
                not given.isdigit() or int(given) not in LEVEL_NAMES
            ):
                raise ValueError(f"{given!r} is no level (counted from 0?)")


@dataclass(frozen=True, slots=True)
class MarkPolicy:
    """How levels become a mark: the fewest levels that make one, and the conversion table.

    ``steps`` are (lowest mean that earns it, printed word), highest first; the last must
    begin at or under 1, the lowest level there is.
    """

    fewest_levels: int
    steps: tuple[tuple[float, str], ...]

    def __post_init__(self) -> None:
        """Refuse a table that is out of order or has a hole at the bottom."""
        floors = [floor for floor, _ in self.steps]
        if not floors or floors != sorted(floors, reverse=True) or len(set(floors)) < len(floors):
            raise ValueError("the conversion table must fall from the highest step to the lowest")
        if floors[-1] > min(LEVEL_NAMES):
            raise ValueError("the lowest step must begin at level 1 or under it")

    def word_for(self, mean: float) -> str:
        """The printed word of a mean level.

        >>> PLAIN_POLICY.word_for(2.49), PLAIN_POLICY.word_for(2.5)
        ('Developing', 'Secure')
        """
        return next(word for floor, word in self.steps if rounded(mean) >= floor)

    def sentences(self) -> tuple[str, ...]:
        """The policy as it is shown beside the marks, one sentence a rule."""
        table = ", ".join(f"{floor:g} and up is {word}" for floor, word in self.steps[:-1])
        return (
            "Of each check only the newest rated try counts.",
            "Each criterion is the mean of its levels over the period's checks; "
            "the mark is the mean of the criteria.",
            "Missing, excused and unrated work is left out and is never a zero. "
            "“Not shown” and “could not be heard” are left out too.",
            f"With fewer than {self.fewest_levels} levels there is no mark.",
            f"{table}; below that {self.steps[-1][1]}.",
        )


FEWEST_LEVELS = 3
"""One check with three criteria is the least that makes a mark: common practice, no source."""

PLAIN_POLICY = MarkPolicy(
    FEWEST_LEVELS,
    tuple(
        (1.0 if level == min(LEVEL_NAMES) else level - 0.5, LEVEL_NAMES[level])
        for level in sorted(LEVEL_NAMES, reverse=True)
    ),
)
"""The one policy of this edition: a mean goes to the nearest level, half-way goes up."""


@dataclass(frozen=True, slots=True)
class CriterionMean:
    """The mean of one criterion over the period, and how many levels it rests on."""

    criterion: str
    mean: float
    n_levels: int


@dataclass(frozen=True, slots=True)
class Mark:
    """A mark, or ``None`` with the reason; ``because`` says in sentences how it came about."""

    value: float | None
    word: str
    because: tuple[str, ...]
    criteria: tuple[CriterionMean, ...] = ()


def rounded(mean: float) -> float:
    """A mean to two decimals, as it is printed, so that the word agrees with the figure.

    >>> rounded(2.4999999)
    2.5
    """
    return round(mean + 1e-9, 2)


def criterion_means(works: Sequence[Work]) -> tuple[CriterionMean, ...]:
    """The mean level a criterion over ``works``, in the order the criteria first appear.

    >>> criterion_means([Work("A", RATED, {"tone": "3"}), Work("B", RATED, {"tone": "2"})])
    (CriterionMean(criterion='tone', mean=2.5, n_levels=2),)
    """
    gathered: dict[str, list[int]] = {}
    for work in works:
        if work.state != RATED:
            continue
        for criterion, given in work.levels.items():
            if given not in NO_LEVEL_NAMES:
                gathered.setdefault(criterion, []).append(int(given))
    return tuple(
        CriterionMean(criterion, sum(levels) / len(levels), len(levels))
        for criterion, levels in gathered.items()
    )


def mark(works: Sequence[Work], policy: MarkPolicy = PLAIN_POLICY) -> Mark:
    """The mark of one musician's ``works`` of a period under ``policy``.

    >>> levels = {"rhythm": "3", "notes": "4", "tone": "3"}
    >>> mark([Work("March", RATED, levels), Work("Waltz", MISSING)]).word
    'Secure'
    >>> mark([Work("Waltz", MISSING)]).because[0]
    'No mark: 0 levels, and a mark needs at least 3.'
    """
    criteria = criterion_means(works)
    n_levels = sum(row.n_levels for row in criteria)
    left_out = _left_out(works)
    if n_levels < policy.fewest_levels:
        reason = (
            f"No mark: {n_levels} level{'' if n_levels == 1 else 's'}, "
            f"and a mark needs at least {policy.fewest_levels}."
        )
        return Mark(None, "no mark", (reason, *left_out), criteria)
    mean = sum(row.mean for row in criteria) / len(criteria)
    n_works = sum(work.state == RATED for work in works)
    reason = (
        f"The mean of {len(criteria)} criteria, from {n_levels} levels "
        f"in {n_works} check{'' if n_works == 1 else 's'}, is {rounded(mean):.2f}: "
        f"{policy.word_for(mean)}."
    )
    return Mark(mean, policy.word_for(mean), (reason, *left_out), criteria)


def _left_out(works: Sequence[Work]) -> tuple[str, ...]:
    """One sentence for each state of work that did not enter the mark, and for non-levels."""
    sentences = []
    for state in (MISSING, EXCUSED, WAITING, NOT_ASKED):
        titles = [work.title for work in works if work.state == state]
        if titles:
            sentences.append(f"Left out, {WORK_STATES[state]}: {', '.join(titles)}.")
    for given, words in NO_LEVEL_NAMES.items():
        count = sum(
            value == given
            for work in works
            if work.state == RATED
            for value in work.levels.values()
        )
        if count:
            sentences.append(f"Left out, {words.lower()}: {count}.")
    return tuple(sentences)
