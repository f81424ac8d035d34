"""How levels become one figure: the table of policies. Pure.

A policy takes levels in order of day and says which of them count, and how. None of them knows
work that is missing: it is not there. Adding a policy is one line in ``POLICIES``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from standlight.ratings.marking_conversion import Conversion
from standlight.ratings.marking_trend import FEWEST_MUSICIANS, GroupTrend, own_trend
from standlight.ratings.marking_values import HIGHEST, LOWEST, Dated, Figure, count_of

BY_CRITERION, BY_WORK = "criterion", "work"
WAYS = {
    BY_CRITERION: "Criterion by criterion: a criterion asked often does not outweigh one asked "
    "once",
    BY_WORK: "Check by check: each check counts as the mean of its levels",
}
"""What is put together first."""

FEWEST_LEVELS = 3
"""One check with three criteria is the least that makes a mark: common practice, no source."""

MOST_LEVELS = 40
"""More than a period has; keeps typed numbers in reason."""

NEW_SHARE = 0.65
"""What the newest level counts under "newer counts more": common practice, no source."""

SHARES = (0.05, 0.95)
"""Bounds of that share: beyond them the policy is the mean of none or the newest level alone."""


@dataclass(frozen=True, slots=True)
class MarkPolicy:
    """How one period's levels become marks.

    ``key`` is a key of ``POLICIES`` and ``by`` one of ``WAYS``. ``n`` and ``of_last`` belong to
    the policies that count some levels only, ``new_share`` (0 to 1) to the one in which newer
    levels count more. With fewer levels or works than ``fewest_levels`` and ``fewest_works`` there
    is no mark.
    """

    key: str = "mean"
    by: str = BY_CRITERION
    n: int = 3
    of_last: int | None = None
    new_share: float = NEW_SHARE
    fewest_levels: int = FEWEST_LEVELS
    fewest_works: int = 1
    conversion: Conversion = field(default_factory=Conversion)

    def __post_init__(self) -> None:
        """Refuse an unknown policy and numbers that no policy can follow."""
        if self.key not in POLICIES or self.by not in WAYS:
            raise ValueError(f"{self.key!r} by {self.by!r} is no policy")
        if not 1 <= self.n <= MOST_LEVELS:
            raise ValueError("the number of levels that count lies between 1 and 40")
        if self.of_last is not None and not self.n <= self.of_last <= MOST_LEVELS:
            raise ValueError("the best are taken from no fewer levels than count")
        if not SHARES[0] <= self.new_share <= SHARES[1]:
            raise ValueError("the newest level counts between 5 and 95 percent")
        if self.fewest_levels < 1 or self.fewest_works < 1:
            raise ValueError("a mark needs one level at least")

    @property
    def policy(self) -> Policy:
        """The row of the table."""
        return POLICIES[self.key]

    @property
    def sentence(self) -> str:
        """The policy as one sentence that a parent can follow."""
        unit = "level" if self.by == BY_CRITERION else "check"
        rule = self.policy.rule(self, unit)
        if self.by == BY_CRITERION:
            return f"In each criterion {rule}; the mark is the mean of the criteria."
        return f"Each check counts as the mean of its levels; of the checks {rule}."

    def sentences(self) -> tuple[str, ...]:
        """Everything that holds for every mark of the period, one sentence a rule."""
        works = ""
        if self.fewest_works > 1:
            works = f" from {self.fewest_works} checks or more"
        return (
            "Of each check one try counts: the newest that is rated, or the best where the check "
            "says so.",
            self.sentence,
            "Missing, excused, absent, not assessed and unrated work is left out and is never a "
            "zero. “Not shown” and “could not be heard” are left out too.",
            f"A mark needs {count_of(self.fewest_levels, 'level')} or more{works}.",
            self.conversion.sentence,
        )


@dataclass(frozen=True, slots=True)
class Policy:
    """One way to make a figure of levels.

    ``about`` says when it serves and what it costs; ``settings`` are the fields of `MarkPolicy`
    that it reads; ``order_matters`` says whether the days of the levels count.
    """

    name: str
    about: str
    rule: Callable[[MarkPolicy, str], str]
    figure: Callable[[Sequence[Dated], MarkPolicy, GroupTrend | None], Figure]
    order_matters: Callable[[MarkPolicy], bool]
    settings: tuple[str, ...] = ()


def figure_of(
    levels: Sequence[Dated], policy: MarkPolicy, group: GroupTrend | None = None
) -> Figure:
    """The figure of one or more ``levels`` in any order under ``policy``; days put them in order.

    >>> levels = [Dated(2, 0), Dated(3, 10), Dated(4, 20)]
    >>> figure_of(levels, MarkPolicy("last_n", n=2)).value
    3.5
    """
    in_order = sorted(levels, key=lambda level: level.day)
    return policy.policy.figure(in_order, policy, group)


def mean_of(levels: Sequence[Dated]) -> float:
    """The plain mean."""
    return sum(level.level for level in levels) / len(levels)


def _mean(levels: Sequence[Dated], policy: MarkPolicy, group: GroupTrend | None) -> Figure:
    return Figure(mean_of(levels), _all(levels))


def _weighted(levels: Sequence[Dated], policy: MarkPolicy, group: GroupTrend | None) -> Figure:
    weights = sum(level.weight for level in levels)
    if weights <= 0:
        note = "every check here has weight 0, so all count the same"
        return Figure(mean_of(levels), _all(levels), note=note)
    value = sum(level.level * level.weight for level in levels) / weights
    return Figure(value, tuple(n for n, level in enumerate(levels) if level.weight > 0))


def _recent(levels: Sequence[Dated], policy: MarkPolicy, group: GroupTrend | None) -> Figure:
    return Figure(levels[-1].level, (len(levels) - 1,))


def _last_n(levels: Sequence[Dated], policy: MarkPolicy, group: GroupTrend | None) -> Figure:
    counted = _all(levels)[-policy.n :]
    return Figure(mean_of([levels[n] for n in counted]), counted)


def _decaying(levels: Sequence[Dated], policy: MarkPolicy, group: GroupTrend | None) -> Figure:
    value = levels[0].level
    for level in levels[1:]:
        value += policy.new_share * (level.level - value)
    return Figure(value, _all(levels))


def _best_n(levels: Sequence[Dated], policy: MarkPolicy, group: GroupTrend | None) -> Figure:
    among = _all(levels)[-policy.of_last :] if policy.of_last else _all(levels)
    best = sorted(among, key=lambda n: (-levels[n].level, -n))[: policy.n]
    return Figure(mean_of([levels[n] for n in best]), tuple(sorted(best)))


def _trend(levels: Sequence[Dated], policy: MarkPolicy, group: GroupTrend | None) -> Figure:
    """The line's height on the last day, kept between the lowest and highest level given."""
    if group is None:
        return Figure(
            mean_of(levels),
            _all(levels),
            note="too few musicians have two levels on different days for a line, so all levels "
            "count the same",
        )
    own = own_trend(levels, group)
    given = [level.level for level in levels]
    value = min(max(own.end_level, min(given)), max(given))
    low = max(min(own.low, value), float(LOWEST))
    return Figure(value, _all(levels), low, min(max(own.high, value), float(HIGHEST)))


def _all(levels: Sequence[Dated]) -> tuple[int, ...]:
    return tuple(range(len(levels)))


def _best_rule(policy: MarkPolicy, unit: str) -> str:
    among = f" of the newest {policy.of_last}" if policy.of_last else ""
    return f"the best {count_of(policy.n, unit)}{among} {_count(policy.n)}"


def _count(number: int) -> str:
    return "counts" if number == 1 else "count the same"


def _no(policy: MarkPolicy) -> bool:
    return False


def _yes(policy: MarkPolicy) -> bool:
    return True


POLICIES: dict[str, Policy] = {
    "mean": Policy(
        "All levels count the same",
        "Steady, and easy to explain. It is slow to show that somebody has grown.",
        lambda policy, unit: f"all {unit}s count the same",
        _mean,
        _no,
    ),
    "weighted": Policy(
        "Some checks count more",
        "For a concert check or a jury that should weigh more. Say the weights before the work.",
        lambda policy, unit: f"{unit}s count by the weight of their check",
        _weighted,
        _no,
        ("weights",),
    ),
    "recent": Policy(
        "Only the newest counts",
        "Shows where somebody stands now, but a single bad or lucky day decides.",
        lambda policy, unit: f"only the newest {unit} counts",
        _recent,
        _yes,
    ),
    "last_n": Policy(
        "The newest few count",
        "Nearer to now than the mean, and steadier than the newest alone.",
        lambda policy, unit: (
            f"the newest {count_of(policy.n, unit)} {_count(policy.n)}, and older ones do not count"
        ),
        _last_n,
        _yes,
        ("n",),
    ),
    "decaying": Policy(
        "Newer counts more",
        "Each new level moves the figure; old ones fade. Harder to explain than the newest few.",
        lambda policy, unit: (
            f"each newer {unit} counts {100 * policy.new_share:g} percent and everything before "
            f"it {100 - 100 * policy.new_share:g} percent"
        ),
        _decaying,
        _yes,
        ("new_share",),
    ),
    "best_n": Policy(
        "The best few count",
        "Forgives bad days. It reads higher than the playing usually is, the more work the more.",
        _best_rule,
        _best_n,
        lambda policy: policy.of_last is not None,
        ("n", "of_last"),
    ),
    "trend": Policy(
        "A line through all levels",
        "Uses every level and shows growth, with how sure it is. Where a musician has few levels "
        "it leans on the group, which some families will ask about. It needs "
        f"{FEWEST_MUSICIANS} musicians or more with two checks each.",
        lambda policy, unit: (
            f"a straight line is laid through the {unit}s, drawn toward the line of the whole "
            f"group where {unit}s are few, and its height on the last day counts"
        ),
        _trend,
        _yes,
    ),
}
"""The policies, in the order the page offers them."""

PLAIN_POLICY = MarkPolicy()
"""What a period has until its director chooses: the mean of criterion means, in level words."""
