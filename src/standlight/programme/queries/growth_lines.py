"""Lines of growth as a page shows them: a criterion, a sentence, a picture, the same in words."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any

from standlight.criteria import CRITERIA
from standlight.programme.dates import date_words
from standlight.programme.queries.growth_picture import (
    GivenMark,
    GrowthPicture,
    LineEnds,
    PlayedSpan,
    SlopeMark,
    growth_picture,
    middle_slack,
    slope_mark,
)
from standlight.programme.queries.growth_words import (
    DIRECTOR_REASONS,
    DIRECTOR_STATES,
    MUSICIAN_REASONS,
    MUSICIAN_STATES,
    Moved,
)
from standlight.programme.queries.level_amounts import interval_figures, level_between
from standlight.programme.queries.rater_figures import linked
from standlight.programme.queries.rater_names import TaskName
from standlight.programme.queries.raters_values import GrowthFinding
from standlight.ratings import LEVEL_NAMES
from standlight.ratings.growth_values import (
    AHEAD,
    BEHIND,
    COULD_BE_CHANCE,
    DAYS_A_YEAR,
    FALLING,
    RISING,
    TOO_FEW,
)

Json = dict[str, Any]

ALL_TOGETHER = "All criteria together"

MARK_WORDS: Mapping[str, str] = {
    RISING: "growing",
    FALLING: "falling",
    AHEAD: "growing more than the group",
    BEHIND: "growing less than the group",
    COULD_BE_CHANCE: "no clear change",
    TOO_FEW: "",
}
"""State of a line to the words of its small mark; a state without words has no mark."""


@dataclass(frozen=True, slots=True)
class Calendar:
    """The day a study counts from, the day it was made, and the name of each task."""

    first_day: datetime.date
    made_on: datetime.date
    tasks: Mapping[str, TaskName]

    def day(self, number: float) -> datetime.date:
        """A day of the study as a date."""
        return self.first_day + datetime.timedelta(int(number))

    def played(self, point: Json) -> str:
        """One point in words: when, what, and its level.

        >>> first, made = datetime.date(2026, 9, 1), datetime.date(2026, 11, 26)
        >>> calendar = Calendar(first, made, {"c1": TaskName("Ode", "Band")})
        >>> calendar.played({"day": 2.6, "task": "c1", "level": 2.5})
        'Sep 3, Ode: between Developing and Secure'
        """
        task = self.tasks.get(point["task"])
        what = f", {task.title}" if task else ""
        day = date_words(self.day(point["day"]), seen_from=self.made_on)
        return f"{day}{what}: {self.level(point)}"

    @staticmethod
    def level(point: Json) -> str:
        """The level that was given, in words."""
        return level_between(point["level"], LEVEL_NAMES)


def director_findings(lines: Iterable[Json], calendar: Calendar) -> tuple[GrowthFinding, ...]:
    """Each criterion of one musician as the director reads it, all together first."""
    return tuple(
        _finding(
            spans, calendar, DIRECTOR_STATES, _director_why, with_lines=lambda line: True,
            figures=("growth", "could_be_chance", "growth_pooled", "growth_unpooled",
                     "reliable_change"),
        )
        for spans in _by_criterion(lines)
    )  # fmt: skip


def musician_findings(lines: Iterable[Json], calendar: Calendar) -> tuple[GrowthFinding, ...]:
    """The same for the musician: no line that stands beside other people's is drawn."""
    return tuple(
        _finding(
            spans, calendar, MUSICIAN_STATES, _musician_why,
            with_lines=lambda line: line["anchored"], figures=(),
        )
        for spans in _by_criterion(lines)
    )  # fmt: skip


def growth_mark(lines: Iterable[Json]) -> SlopeMark | None:
    """The small mark of all criteria together, on the instrument played last."""
    together = [line for line in lines if not line["criterion"] and line["points"]]
    if not together:
        return None
    return _mark(max(together, key=lambda line: line["points"][-1]["day"]))


def _mark(line: Json) -> SlopeMark | None:
    """The small mark of one line; none where nothing can be said."""
    slope = line["unpooled"]
    words = MARK_WORDS[line["state"]] if slope else ""
    if not words:
        return None
    return slope_mark(slope["points_a_year"], slope["low"], slope["high"], words)


def changed_instrument(lines: Iterable[Json]) -> bool:
    """True when the lines are of more than one instrument."""
    return len({line["instrument"] for line in lines if line["points"]}) > 1


def _by_criterion(lines: Iterable[Json]) -> list[list[Json]]:
    """The lines of each criterion in the order played; all together first."""
    found: dict[str, list[Json]] = {}
    for line in lines:
        if line["points"]:
            found.setdefault(line["criterion"], []).append(line)
    keys = [key for key in ("", *CRITERIA) if key in found]
    # One criterion is the same as all together.
    shown = keys[1:] if len(keys) == 2 and not keys[0] else keys
    return [sorted(found[key], key=lambda line: line["points"][0]["day"]) for key in shown]


def _finding(
    spans: Sequence[Json],
    calendar: Calendar,
    states: Mapping[str, Callable[[Moved], str]],
    why: Callable[[Json, Moved], tuple[str, ...]],
    with_lines: Callable[[Json], bool],
    figures: Sequence[str],
) -> GrowthFinding:
    """One criterion; the sentence is of the instrument played last."""
    line = spans[-1]
    key = line["criterion"]
    name = CRITERIA[key].name if key else ALL_TOGETHER
    moved = _moved(line, calendar)
    sentence = states[line["state"]](moved)
    return GrowthFinding(
        criterion=key,
        name=name,
        sentence=sentence,
        why=why(line, moved),
        picture=_picture(spans, calendar, with_lines, f"{name}. {sentence}"),
        listed=tuple(calendar.played(point) for span in spans for point in span["points"]),
        mark=_mark(line),
        figures=linked(*figures),
    )


def _moved(line: Json, calendar: Calendar) -> Moved:
    """How far the own line moved; nothing where there is none."""
    first, last = line["points"][0]["day"], line["points"][-1]["day"]
    slope = line["unpooled"] or line["pooled"]
    if slope is None:
        return Moved(calendar.day(first), calendar.day(last), 0.0, 0.0, 0.0)
    years = (last - first) / DAYS_A_YEAR
    return Moved(
        calendar.day(first),
        calendar.day(last),
        *(years * slope[name] for name in ("points_a_year", "low", "high")),
    )


def _picture(
    spans: Sequence[Json], calendar: Calendar, with_lines: Callable[[Json], bool], said: str
) -> GrowthPicture | None:
    """The lines of one criterion, an instrument each, as a picture."""
    return growth_picture([_span(line, calendar, with_lines(line)) for line in spans], said)


def _span(line: Json, calendar: Calendar, with_lines: bool) -> PlayedSpan:
    """One line of growth as the picture takes it."""
    points = line["points"]
    return PlayedSpan(
        instrument=line["instrument"],
        given=tuple(
            GivenMark(calendar.day(one["day"]), one["level"], calendar.played(one))
            for one in points
        ),
        own=_ends(line["unpooled"]) if with_lines else None,
        leaning=_ends(line["pooled"]) if with_lines else None,
        middle_slack=middle_slack([(one["high"] - one["low"]) / 2 for one in points]),
    )


def _ends(slope: Json | None) -> LineEnds | None:
    """A slope as the picture takes it."""
    if slope is None:
        return None
    return LineEnds(slope["start_points"], slope["end_points"], slope["low"], slope["high"])


def _director_why(line: Json, moved: Moved) -> tuple[str, ...]:
    """How the director's sentence is known."""
    slopes = (
        ("From their own takes only", line["unpooled"]),
        ("Leaning on the group", line["pooled"]),
    )
    told = (
        f"{words}: {interval_figures(slope['points_a_year'], slope['low'], slope['high'])} a year."
        for words, slope in slopes
        if slope is not None
    )
    change = line["change"]
    last = ()
    if change is not None:
        far = "further" if change["sure"] else "no further"
        last = (f"The last take is {far} from the first than two takes differ by themselves.",)
    reason = DIRECTOR_REASONS[line["because"]]
    return tuple(words for words in chain((reason,), told, last) if words)


def _musician_why(line: Json, moved: Moved) -> tuple[str, ...]:
    """What the musician can use of it."""
    reason = MUSICIAN_REASONS[line["because"]]
    return (reason,) if reason else ()
