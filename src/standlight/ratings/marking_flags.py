"""What to look at before marks are final: too little evidence, a level or a mark out of line. Pure.

A flag is a question to the director and changes nothing. The distances are our choice: they are
set so that ordinary scatter of half a level stays quiet.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from standlight.ratings.levels import LEVEL_NAMES
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

FEWEST_OTHER_LEVELS = 3
"""Other levels of the same criterion that one level is held against."""

FAR_LEVEL = 2.0
"""Whole levels from the middle of the others at which one level is asked about."""

FEWEST_OTHER_CHECKS = 2
FAR_CHECK = 1.5
"""Levels from the middle of the other checks at which one check is asked about."""

FAR_CHANGE = 1.0
"""Levels from the mark of the period before at which a mark is asked about."""


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
) -> tuple[Flag, ...]:
    """Every question about one musician's ``mark``; ``before`` is the last period's value.

    >>> works = [Work("March", "rated", {"tone": "1"}), Work("Waltz", "rated", {"tone": "4"}),
    ...          Work("Song", "rated", {"tone": "3"})]
    >>> flags_of(Mark(2.67, "Secure", ()), works, before=3.8)[1].sentence
    'March comes to 1.00, and the other 2 checks are near 3.50. Listen again?'
    """
    found: list[Flag] = []
    if mark.value is None:
        found.append(Flag(NOT_ENOUGH, _what_there_is(mark, works)))
    elif before is not None and abs(mark.value - before) >= FAR_CHANGE - 1e-9:
        way = "higher" if mark.value > before else "lower"
        found.append(
            Flag(
                ODD_CHANGE,
                f"{abs(mark.value - before):.1f} levels {way} than {before_name} ({before:.2f}).",
            )
        )
    found += _odd_checks(works)
    found += _odd_levels(works, names or {})
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


def _odd_checks(works: Sequence[Work]) -> list[Flag]:
    """Checks whose mean lies far from the middle of the musician's other checks."""
    means = [
        (work.title, sum(work.numbers.values()) / len(work.numbers))
        for work in works
        if work.numbers
    ]
    found = []
    for place, (title, mean) in enumerate(means):
        others = [value for other, (_, value) in enumerate(means) if other != place]
        if len(others) < FEWEST_OTHER_CHECKS:
            continue
        middle = median(others)
        if abs(mean - middle) >= FAR_CHECK - 1e-9:
            found.append(
                Flag(
                    ODD_CHECK,
                    f"{title} comes to {mean:.2f}, and the other "
                    f"{count_of(len(others), 'check')} are near {middle:.2f}. Listen again?",
                )
            )
    return found


def _odd_levels(works: Sequence[Work], names: Mapping[str, str]) -> list[Flag]:
    """Single levels far from the middle of the same criterion's other levels."""
    by_criterion: dict[str, list[tuple[str, int]]] = {}
    for work in works:
        for criterion, level in work.numbers.items():
            by_criterion.setdefault(criterion, []).append((work.title, level))
    found = []
    for criterion, given in by_criterion.items():
        for place, (title, level) in enumerate(given):
            others = [value for other, (_, value) in enumerate(given) if other != place]
            if len(others) >= FEWEST_OTHER_LEVELS and abs(level - median(others)) >= FAR_LEVEL:
                found.append(
                    Flag(
                        ODD_LEVEL,
                        f"{title}, {names.get(criterion, criterion)}: {LEVEL_NAMES[level]}; the "
                        f"other {len(others)} are near {median(others):g}. Listen again?",
                    )
                )
    return found
