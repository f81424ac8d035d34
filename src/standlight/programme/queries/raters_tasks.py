"""What each task told us: how hard, how telling, which levels it used, what it added."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from standlight.programme.models import Account
from standlight.programme.queries.level_amounts import about_words, crosses_zero, likely_words
from standlight.programme.queries.rater_figures import linked
from standlight.programme.queries.rater_names import Names, names_for
from standlight.programme.queries.raters_values import TaskBar, TaskFinding, TasksPage
from standlight.programme.queries.studies import study_for
from standlight.programme.queries.study_days import NONE_YET, as_of_words
from standlight.ratings import LEVEL_NAMES
from standlight.ratings.marking_values import count_of
from standlight.ratings.task_review import TASK_REMARKS

Json = dict[str, Any]

FEW_TAKES = "few_takes"

BAR_LEFT, BAR_ROW, LONGEST_BAR = 84.0, 22.0, 190.0
"""The small picture in its own units: where bars begin, the height of a row, the longest bar."""

MUCH, LITTLE = 1.5, 0.5
"""Times its share of all takes from which a task brought much, and to which little (our choice)."""

SAID_ELSEWHERE = frozenset({"no_minutes", "one_task", "not_comparable"})
"""Remarks that the page says otherwise: minutes are nowhere noted; no hardness is shown."""

REST_SENTENCE = (
    "Nothing stands out here: as far as the takes can show, they were about as hard as the "
    "others, every level was given, and each brought about as much as its number of takes would."
)
"""What is said once of all tasks that do not stand out."""


def tasks_page(account: Account) -> TasksPage:
    """Every task that ``account`` may read: what stands out first, then the rest together."""
    study = study_for(account)
    if study is None:
        return TasksPage("", NONE_YET, ())
    rows = study.body.get("tasks") or []
    names = names_for(account)
    ordered = sorted(
        rows, key=lambda row: (names.task(row["task"]).ensemble, -(row.get("added") or 0.0))
    )
    n_takes = sum(row["n_takes"] for row in rows)
    found = [(row, tuple(_stands_out(row, n_takes))) for row in ordered]
    return TasksPage(
        as_of_words(study.made_at, study.changed_since),
        "" if rows else "No task has levels yet.",
        tuple(_finding(row, names, said) for row, said in found if said),
        linked("task_hardness", "telling_apart", "level_use", "task_added"),
        tuple(_finding(row, names, _only_counted(row)) for row, said in found if not said),
        REST_SENTENCE,
    )


def _finding(row: Json, names: Names, said: tuple[str, ...]) -> TaskFinding:
    """One task in words and bars."""
    name = names.task(row["task"])
    return TaskFinding(
        name=name.title,
        where=f"{name.ensemble}, {count_of(row['n_takes'], 'take')}",
        sentences=said,
        bars=_bars(row["level_counts"]),
    )


def _stands_out(row: Json, n_takes: int) -> Iterator[str]:
    """What sets a task apart from most, a sentence each; nothing of one with few takes."""
    if FEW_TAKES in row["remarks"]:
        return
    if row["hardness_points"] is not None and not crosses_zero(row["low"], row["high"]):
        yield _hardness(row["hardness_points"], row["low"], row["high"])
    yield from (TASK_REMARKS[code] for code in row["remarks"] if code not in SAID_ELSEWHERE)
    unused = [LEVEL_NAMES[level] for level in row["unused"]]
    if unused:
        yield f"Nobody got {' or '.join(unused)}."
    share = row["n_takes"] / n_takes
    if row["added"] is not None and not LITTLE < row["added"] / share < MUCH:
        yield (
            f"It brought {'much' if row['added'] > share else 'little'} for its takes: "
            f"{100 * row['added']:.0f} in 100 of all that the tasks told, with "
            f"{100 * share:.0f} in 100 of the takes."
        )


def _only_counted(row: Json) -> tuple[str, ...]:
    """That a task had too few takes to say more."""
    return (TASK_REMARKS[FEW_TAKES],) if FEW_TAKES in row["remarks"] else ()


def _hardness(points: float, low: float, high: float) -> str:
    """How much harder or easier than the others a task surely was.

    >>> _hardness(0.34, 0.1, 0.6)
    'Harder than the others: the same musicians get about a third of a level less here (...).'
    """
    word, less = ("Harder", "less") if points > 0 else ("Easier", "more")
    return (
        f"{word} than the others: the same musicians get {about_words(points)} {less} here "
        f"({likely_words(low, high)})."
    )


def _bars(counts: Sequence[Sequence[int]]) -> tuple[TaskBar, ...]:
    """A bar for each level, as long as its count; none where nothing was given."""
    most = max((count for _, count in counts), default=0)
    if not most:
        return ()
    bars = []
    for place, (level, count) in enumerate(counts):
        length = LONGEST_BAR * count / most
        bars.append(
            TaskBar(
                LEVEL_NAMES.get(level, str(level)), count, 2 + BAR_ROW * place, length,
                BAR_LEFT + length + 6,
            )
        )  # fmt: skip
    return tuple(bars)
