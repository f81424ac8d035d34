"""What to look at before marks are final: too little evidence, a level or a mark out of line. Pure.

A flag is a question to the director and changes nothing. What is out of line is told by the
distances that are usual in the group (``far_in``), so that a few are asked about, not a third.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from standlight.ratings.levels import LEVEL_NAMES
from standlight.ratings.marking_distances import Far, checks_beside, levels_beside
from standlight.ratings.marking_values import RATED, WORK_STATES, Mark, Work, count_of

NOT_ENOUGH, ODD_LEVEL, ODD_CHECK, ODD_CHANGE, NEWER_WAITS = (
    "not_enough",
    "odd_level",
    "odd_check",
    "odd_change",
    "newer_waits",
)
FLAGS = {
    NOT_ENOUGH: "Not enough evidence",
    ODD_CHANGE: "Far from the last mark",
    ODD_CHECK: "One check out of line",
    ODD_LEVEL: "One level out of line",
    NEWER_WAITS: "A newer try waits for you",
}
"""Kinds of flags, the first to look at first."""

USUAL = Far()
"""Our own distances, where a group does not tell what is usual in it."""


@dataclass(frozen=True, slots=True)
class Flag:
    """One question: its ``kind`` (a key of ``FLAGS``) and a sentence."""

    kind: str
    sentence: str


def flags_of(
    mark: Mark,
    works: Sequence[Work],
    *,
    names: Mapping[str, str] | None = None,
    before: float | None = None,
    before_name: str = "the period before",
    far: Far = USUAL,
) -> tuple[Flag, ...]:
    """Every question about one musician's ``mark``; ``before`` is the last period's value.

    ``far`` is what is far in the musician's group.

    >>> works = [Work("March", "rated", {"tone": "1"}), Work("Waltz", "rated", {"tone": "4"}),
    ...          Work("Song", "rated", {"tone": "3"})]
    >>> flags_of(Mark(2.67, "Secure", ()), works, before=3.8)[1].sentence
    'March comes to 1.00, and the other 2 checks are near 3.50. Listen again?'
    """
    found: list[Flag] = []
    if mark.value is None:
        found.append(Flag(NOT_ENOUGH, _what_there_is(mark, works)))
    elif before is not None and abs(mark.value - before) >= far.change - 1e-9:
        way = "higher" if mark.value > before else "lower"
        found.append(
            Flag(
                ODD_CHANGE,
                f"{abs(mark.value - before):.1f} levels {way} than {before_name} ({before:.2f}).",
            )
        )
    found += _odd_checks(works, far)
    found += _odd_levels(works, names or {}, far)
    waiting = [work.title for work in works if work.newer_waits]
    if waiting:
        found.append(Flag(NEWER_WAITS, f"A newer try is not rated yet: {', '.join(waiting)}."))
    return tuple(found)


def _what_there_is(mark: Mark, works: Sequence[Work]) -> str:
    """How many levels there are, and where the rest of the work stands."""
    levels = f"Only {count_of(mark.n_levels, 'level')} in {count_of(mark.n_works, 'check')}"
    counts = {
        words: sum(work.state == state for work in works)
        for state, words in WORK_STATES.items()
        if state != RATED
    }
    rest = [f"{count} {words}" for words, count in counts.items() if count]
    return f"{levels if mark.n_levels else 'No level'}{': ' if rest else ''}{'; '.join(rest)}."


def _odd_checks(works: Sequence[Work], far: Far) -> list[Flag]:
    """Checks whose mean lies far from the middle of the musician's other checks."""
    return [
        Flag(
            ODD_CHECK,
            f"{one.title} comes to {one.value:.2f}, and the other {count_of(one.n, 'check')} are "
            f"near {one.middle:.2f}. Listen again?",
        )
        for one in checks_beside(works)
        if abs(one.off) >= far.check - 1e-9
    ]


def _odd_levels(works: Sequence[Work], names: Mapping[str, str], far: Far) -> list[Flag]:
    """Single levels far from the middle of the same criterion's other levels."""
    return [
        Flag(
            ODD_LEVEL,
            f"{one.title}, {names.get(one.criterion, one.criterion)}: {LEVEL_NAMES[int(one.value)]}"
            f"; the other {one.n} are near {one.middle:g}. Listen again?",
        )
        for one in levels_beside(works)
        if abs(one.off) >= far.level - 1e-9
    ]
