"""A list of talks kept short: what many of a group have in common is one word to all. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace

from standlight.programme.queries.talks_values import CommonRule, Sections, TalkGroup, TalkRow

MOST_READ = 8
"""So many names of one rule in one group are read anyhow (our choice)."""

ONE_IN = 3
"""From one in so many of a group on, a rule says something of the group (our choice)."""


def folded(group: TalkGroup, names: Mapping[str, str]) -> TalkGroup:
    """The group with those folded away whom only common rules name; ``names`` are the rules'.

    Who asked for a talk, or is named by any other rule, stays in the list with every reason.
    """
    n_here = sum(len(people) for _, people in group.people)
    rows = [row for _, found in group.sections for row in found]
    counts = Counter(one.code for row in rows for one in row.reasons if one.may_rest)
    common = {code for code, n in counts.items() if n > max(MOST_READ, n_here // ONE_IN)}
    if not common:
        return group

    def only_common(row: TalkRow) -> bool:
        return all(one.code in common for one in row.reasons)

    return replace(
        group,
        sections=_those(group.sections, lambda row: not only_common(row)),
        folded=_those(group.sections, only_common),
        common=tuple(
            CommonRule(name, counts[code], n_here) for code, name in names.items() if code in common
        ),
    )


def narrowed(group: TalkGroup, code: str) -> TalkGroup:
    """The group with those alone whom one rule names; their other reasons stay."""
    return replace(
        group,
        sections=_those(group.sections, lambda row: any(one.code == code for one in row.reasons)),
    )


def _those(sections: Sections, wanted: Callable[[TalkRow], bool]) -> Sections:
    """The sections with the rows that are wanted; a section without any is left out."""
    kept = ((name, tuple(row for row in rows if wanted(row))) for name, rows in sections)
    return tuple(pair for pair in kept if pair[1])
