"""A period's mark from levels, by one stated policy, with its reason in words. Pure.

Of each piece of work only the newest rated attempt counts. Levels are put together by the
policy's rule (`marking_policies`), criterion by criterion or check by check, and the mark is the
mean of those figures, printed by the school's table (`marking_conversion`). Work that is missing,
excused, absent, not assessed or not rated is left out and never counts as zero; *not shown* and
*could not be heard* are no levels. With too little evidence there is no mark, and the reason says
so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from standlight.ratings.levels import NO_LEVEL_NAMES
from standlight.ratings.marking_policies import (
    BY_CRITERION,
    PLAIN_POLICY,
    MarkPolicy,
    figure_of,
    mean_of,
)
from standlight.ratings.marking_trend import GroupTrend, group_trend
from standlight.ratings.marking_values import (
    RATED,
    WORK_STATES,
    Dated,
    Mark,
    MarkLine,
    Work,
    count_of,
    rounded,
)

NO_MARK = "no mark"
ALL_WORK = ""
"""The key of the group's line where the policy goes check by check."""

Levels = dict[str, list[Dated]]


def mark(
    works: Sequence[Work],
    policy: MarkPolicy = PLAIN_POLICY,
    *,
    group: Mapping[str, GroupTrend] | None = None,
    names: Mapping[str, str] | None = None,
) -> Mark:
    """The mark of one musician's ``works`` of a period under ``policy``.

    ``group`` holds the group's lines by criterion (see `group_lines`); ``names`` gives criteria
    their names for the sentences, else their keys stand.

    >>> levels = {"rhythm": "3", "notes": "4", "tone": "3"}
    >>> mark([Work("March", RATED, levels), Work("Waltz", "missing")]).word
    'Secure'
    >>> mark([Work("Waltz", "missing")]).because[0]
    'No mark: not enough evidence. There are 0 levels in 0 checks, and a mark needs 3 levels.'
    """
    gathered = gathered_levels(works, policy.by)
    n_levels = sum(len(work.numbers) for work in works)
    n_works = sum(bool(work.numbers) for work in works)
    left_out = left_out_of(works)
    lines, notes = _lines(gathered, policy, group or {}, names or {})
    if n_levels < policy.fewest_levels or n_works < policy.fewest_works or not lines:
        because = (_too_little(n_levels, n_works, policy),)
        return Mark(None, NO_MARK, because, lines, left_out, n_levels=n_levels, n_works=n_works)
    value = _middle([line.value for line in lines])
    bounds = [(line.low, line.high) for line in lines if line.low is not None]
    low = high = None
    if bounds and len(bounds) == len(lines):
        low, high = _middle([one for one, _ in bounds]), _middle([one for _, one in bounds])
    because = (
        f"It rests on {count_of(n_levels, 'level')} in {count_of(n_works, 'check')}.",
        policy.sentence,
        *notes,
        _sum_sentence(value, low, high, len(lines), policy),
        f"That prints as {policy.conversion.word_for(value)}. {policy.conversion.sentence}",
    )
    return Mark(
        value,
        policy.conversion.word_for(value),
        because,
        lines,
        left_out,
        low,
        high,
        policy.conversion.percent_for(value),
        n_levels,
        n_works,
    )


def gathered_levels(works: Sequence[Work], by: str) -> Levels:
    """Levels that may count: by criterion, or under one key the mean of each work's levels.

    >>> gathered_levels([Work("A", RATED, {"tone": "3"}), Work("B", RATED, {"tone": "2"})],
    ...                 BY_CRITERION)["tone"][1].level
    2
    """
    gathered: Levels = {}
    for work in works:
        numbers = work.numbers
        if numbers and by != BY_CRITERION:
            mean = sum(numbers.values()) / len(numbers)
            gathered.setdefault(ALL_WORK, []).append(Dated(mean, work.day, work.weight))
        elif numbers:
            for criterion, level in numbers.items():
                gathered.setdefault(criterion, []).append(Dated(level, work.day, work.weight))
    return gathered


def group_lines(
    musicians: Sequence[Sequence[Work]], policy: MarkPolicy, span_days: float
) -> dict[str, GroupTrend]:
    """The group's line for each criterion, for a policy that asks for one; {} for the others.

    A criterion that too few musicians showed on different days has none.
    """
    if policy.key != "trend":
        return {}
    each = [gathered_levels(works, policy.by) for works in musicians]
    keys = {key: None for gathered in each for key in gathered}
    found = {
        key: group_trend([gathered.get(key, []) for gathered in each], span_days) for key in keys
    }
    return {key: line for key, line in found.items() if line is not None}


def left_out_of(works: Sequence[Work]) -> tuple[str, ...]:
    """One sentence for each state of work that did not enter a mark, and for what is no level."""
    sentences = []
    for state, words in WORK_STATES.items():
        titles = [work.title for work in works if work.state == state]
        if titles and state != RATED:
            sentences.append(f"Left out ({words}): {', '.join(titles)}.")
    for given, words in NO_LEVEL_NAMES.items():
        count = sum(
            value == given
            for work in works
            if work.state == RATED
            for value in work.levels.values()
        )
        if count:
            sentences.append(f"Left out ({words[0].lower()}{words[1:]}): {count}.")
    return tuple(sentences)


def _lines(
    gathered: Levels,
    policy: MarkPolicy,
    group: Mapping[str, GroupTrend],
    names: Mapping[str, str],
) -> tuple[tuple[MarkLine, ...], tuple[str, ...]]:
    """A figure for each criterion, and sentences where the policy could not do what it says."""
    lines, notes = [], []
    for key, levels in gathered.items():
        figure = figure_of(levels, policy, group.get(key))
        in_order = sorted(levels, key=lambda level: level.day)
        lines.append(
            MarkLine(
                key,
                figure.value,
                tuple(level.level for level in in_order),
                figure.counted,
                figure.low,
                figure.high,
            )
        )
        if figure.note:
            name = names.get(key, key)
            notes.append(f"{name}: {figure.note}." if name else _sentence(figure.note))
    return tuple(lines), tuple(notes)


def _middle(values: Sequence[float]) -> float:
    """The mean; of bounds too, which is as wide as if all criteria erred together."""
    return mean_of([Dated(value) for value in values])


def _sum_sentence(
    value: float, low: float | None, high: float | None, n_lines: int, policy: MarkPolicy
) -> str:
    """What the figures come to."""
    shown = f"{rounded(value):.2f}"
    likely = "" if low is None or high is None else f" (likely {low:.1f} to {high:.1f})"
    if policy.by != BY_CRITERION:
        return f"That comes to {shown}{likely}, on the scale of levels 1 to 4."
    if n_lines == 1:
        return f"There is one criterion, and it comes to {shown}{likely}, on levels 1 to 4."
    return f"The mean of the {n_lines} criteria is {shown}{likely}, on levels 1 to 4."


def _too_little(n_levels: int, n_works: int, policy: MarkPolicy) -> str:
    """Why there is no mark."""
    there = "is" if n_levels == 1 else "are"
    needs = count_of(policy.fewest_levels, "level")
    if policy.fewest_works > 1:
        needs += f" in {policy.fewest_works} checks"
    return (
        f"No mark: not enough evidence. There {there} {count_of(n_levels, 'level')} in "
        f"{count_of(n_works, 'check')}, and a mark needs {needs}."
    )


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."
