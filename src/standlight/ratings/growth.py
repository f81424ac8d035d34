"""Growth of musicians, groups and sections, from the levels their directors gave. Pure.

``measure_growth`` puts the takes on one scale, draws every musician's line with and without the
others' help, and says of the group what passages asked again allow, and of sections what the
rest of the ensemble allows. What it cannot know: whether a director's own standard moved over
the year. A musician beside the group, and a section, are free of that; a group's growth is not.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from standlight.ratings.given import GivenRating
from standlight.ratings.growth_anchors import GroupLine, group_lines
from standlight.ratings.growth_fit import pooled_slopes, slope_variance
from standlight.ratings.growth_gather import Gathered, gather_given
from standlight.ratings.growth_late import late_slope
from standlight.ratings.growth_lines import CriterionLines, lines_of
from standlight.ratings.growth_places import Scale
from standlight.ratings.growth_sections import (
    Difference,
    section_differences,
    sure_by_holm,
)
from standlight.ratings.growth_values import (
    AHEAD,
    ALL_HIGHEST,
    ALL_LOWEST,
    ALONE,
    BEHIND,
    COULD_BE_CHANCE,
    DAYS_A_YEAR,
    FALLING,
    FEW_OCCASIONS,
    LEAST_OCCASIONS,
    NO_ANCHOR,
    POOLED_ONLY,
    RISING,
    TOO_FEW,
    GroupGrowth,
    Growth,
    GrowthLine,
    GrowthPoint,
    LateGrowth,
    ReliableChange,
    SectionGrowth,
    Slope,
)

SURE = 1.96
"""Standard errors to each side of a 95 percent interval."""

LITTLE_POINTS = 0.1
"""Rating points a year that are next to nothing: our choice, a fortieth of what a level is in
four years' time."""

MUCH_LESS = 1 / 3
"""Share of the rest's growth that is much less: our choice. A section that grows evenly at half
the rest's pace is to be said to grow less, not to have stopped."""

LEAST_TOGETHER = 3
"""Musicians below which there is no group to be beside: our choice."""


@dataclass(frozen=True, slots=True, eq=False)
class _Drawn:
    """All of one criterion: the lines, the groups, and what each line is told by, by line."""

    table: Gathered
    lines: CriterionLines
    groups: dict[str, GroupLine]
    of_line: tuple[GroupLine | None, ...]
    occasions: np.ndarray
    pooled: np.ndarray
    pooled_variance: np.ndarray
    own: np.ndarray
    own_variance: np.ndarray


def measure_growth(given: Sequence[GivenRating]) -> Growth:
    """All that ``given`` says of growth; self and peer levels are left aside.

    Lines come for every musician, instrument and ensemble, for all criteria together and then
    for each; odd tables bring codes, never an error.
    """
    table, remarks = gather_given(given)
    if table is None:
        return Growth((), (), (), remarks)
    together = lines_of(table, "")
    drawn = [_drawn(table, together)]
    if len(table.criteria) > 1:
        drawn += [_drawn(table, lines_of(table, each, together.fit.spread))
                  for each in table.criteria]  # fmt: skip
    sections: list[SectionGrowth] = []
    for each in drawn:
        sections += _sections(each, sections)
    return Growth(
        lines=tuple(line for each in drawn for line in _lines(each)),
        groups=tuple(group for each in drawn for group in _groups(each)),
        sections=tuple(sections),
        remarks=remarks,
    )


def growth_together(given: Sequence[GivenRating]) -> Growth:
    """Groups and sections of ``given`` over all criteria together, as ``measure_growth`` has them.

    Without lines and without each criterion alone: all that one school year is asked.
    """
    table, remarks = gather_given(given)
    if table is None:
        return Growth((), (), (), remarks)
    drawn = _drawn(table, lines_of(table, ""))
    return Growth((), tuple(_groups(drawn)), tuple(_sections(drawn, ())), remarks)


def points_a_year(
    scale: Scale, criterion: str, middle: np.ndarray, half: np.ndarray, slope: np.ndarray
) -> np.ndarray:
    """Mean slope in rating points a year of a line through ``middle`` (logits) that reaches
    ``half`` (years) to both sides; nothing stays nothing, and steeper stays steeper.
    """
    half = np.maximum(half, 1e-3)
    rise = scale.points(middle + slope * half, criterion) - scale.points(
        middle - slope * half, criterion
    )
    return rise / (2 * half)


def _drawn(table: Gathered, lines: CriterionLines) -> _Drawn:
    """The groups' lines, and every musician's slope by itself or beside the group."""
    groups = group_lines(table, lines)
    of_line = tuple(groups.get(key.ensemble) for key in table.keys)
    n_sittings = lines.points.n_sittings
    combination = np.array([
        np.zeros(n_sittings) if group is None else group.combination for group in of_line
    ])
    pairs = np.unique(np.column_stack([lines.points.line, lines.points.sitting]), axis=0)
    fit = lines.fit
    pooled, pooled_variance = pooled_slopes(lines.points, fit, combination, lines.around)
    with np.errstate(invalid="ignore"):
        own_variance = slope_variance(
            fit.own_variance, fit.own_cross, fit.covariance, combination
        )
    # The anchors' sittings may disagree more than their errors say; each line carries that too.
    extra = np.array([
        0.0
        if group is None or not group.anchored
        else group.variance - float(group.combination @ fit.covariance @ group.combination)
        for group in of_line
    ])
    return _Drawn(
        table=table,
        lines=lines,
        groups=groups,
        of_line=of_line,
        occasions=np.bincount(pairs[:, 0], minlength=len(table.keys)),
        pooled=pooled,
        pooled_variance=pooled_variance + np.maximum(extra, 0.0),
        own=fit.own[:, 1] + combination @ fit.sittings,
        own_variance=own_variance + np.maximum(extra, 0.0),
    )


def _lines(drawn: _Drawn) -> list[GrowthLine]:
    """Every line that has a level of the criterion."""
    points, fair = _points(drawn)
    slopes = _slopes(drawn)
    found = []
    for number, key in enumerate(drawn.table.keys):
        group = drawn.of_line[number]
        if group is None or not points[number]:
            continue
        few = (
            drawn.occasions[number] < LEAST_OCCASIONS
            or not np.isfinite(drawn.own_variance[number])
        )
        alone = group.n_students < LEAST_TOGETHER and not group.anchored
        state, because = _state(drawn, number, few=few, alone=alone)
        told = state != TOO_FEW
        found.append(
            GrowthLine(
                student=key.student,
                ensemble=key.ensemble,
                criterion=drawn.lines.criterion,
                instrument=key.instrument,
                points=tuple(points[number]),
                pooled=slopes["pooled"][number] if told else None,
                unpooled=slopes["own"][number] if told else None,
                change=_change(drawn, group, fair[number]) if told else None,
                state=state,
                because=because,
                anchored=group.anchored,
            )
        )
    return found


def _state(drawn: _Drawn, number: int, *, few: bool, alone: bool) -> tuple[str, str]:
    """The state of a line, and what must be said with it."""
    if few or alone:
        return TOO_FEW, FEW_OCCASIONS if few else ALONE
    group = drawn.of_line[number]
    anchored = group is not None and group.anchored
    up, down = (RISING, FALLING) if anchored else (AHEAD, BEHIND)
    own = _side(drawn.own[number], drawn.own_variance[number])
    if own:
        return (up if own > 0 else down), "" if anchored else NO_ANCHOR
    rows = drawn.table.line[drawn.lines.rows] == number
    given = drawn.table.level[drawn.lines.rows][rows]
    scale = drawn.table.scale.levels
    for level, because in ((scale[-1], ALL_HIGHEST), (scale[0], ALL_LOWEST)):
        if (given == level).all():
            return COULD_BE_CHANCE, because
    if not anchored:
        return COULD_BE_CHANCE, NO_ANCHOR
    pooled = _side(drawn.pooled[number], drawn.pooled_variance[number])
    return COULD_BE_CHANCE, POOLED_ONLY if pooled else ""


def _side(value: float, variance: float) -> int:
    """1 or -1 where the 95 percent interval lies above or below nothing, else 0."""
    return int(abs(value) > SURE * variance**0.5) * int(np.sign(value))


def _points(
    drawn: _Drawn,
) -> tuple[list[list[GrowthPoint]], list[list[tuple[float, float, float]]]]:
    """Each line's points in order of time; and (years, place, variance) of each."""
    lines, table = drawn.lines, drawn.table
    n_units = len(lines.line)
    number = lines.points.sitting
    groups = [drawn.of_line[each] for each in lines.line.tolist()]
    base = np.array([group.middle + group.slope * -group.time for group in groups])
    slope = np.array([group.slope for group in groups])
    place = lines.warm - lines.fit.sittings[number] + base + slope * lines.points.time
    reach = SURE * np.sqrt(lines.warm_error)
    fair, low, high = (
        table.scale.points(each, lines.criterion)
        for each in (place, place - reach, place + reach)
    )
    n_ratings = np.bincount(lines.unit, minlength=n_units)
    level = np.bincount(lines.unit, weights=table.level[lines.rows], minlength=n_units)
    points: list[list[GrowthPoint]] = [[] for _ in table.keys]
    places: list[list[tuple[float, float, float]]] = [[] for _ in table.keys]
    for unit in np.lexsort((lines.take, lines.day)).tolist():
        points[lines.line[unit]].append(
            GrowthPoint(
                day=float(lines.day[unit]),
                task=table.sittings[lines.sitting[unit]].task,
                take=table.takes[lines.take[unit]],
                level=float(level[unit] / n_ratings[unit]),
                fair=float(fair[unit]),
                low=float(low[unit]),
                high=float(high[unit]),
                n_ratings=int(n_ratings[unit]),
            )
        )
        places[lines.line[unit]].append(
            (float(lines.points.time[unit]), float(place[unit]), float(lines.warm_error[unit]))
        )
    return points, places


def _slopes(drawn: _Drawn) -> dict[str, list[Slope | None]]:
    """Pooled and own slopes of every line, in rating points."""
    lines, keys = drawn.lines, drawn.table.keys
    first, last = np.full(len(keys), np.inf), np.full(len(keys), -np.inf)
    np.minimum.at(first, lines.points.line, lines.points.time)
    np.maximum.at(last, lines.points.line, lines.points.time)
    here = np.isfinite(first) & np.isfinite(drawn.own_variance)
    first[~here] = last[~here] = 0.0
    middle_time, half = (first + last) / 2, (last - first) / 2
    base = np.array([
        0.0 if group is None else group.middle + group.slope * (time - group.time)
        for group, time in zip(drawn.of_line, middle_time.tolist(), strict=True)
    ])
    found = {}
    for name, line, slope, variance in (
        ("pooled", lines.fit.pooled, drawn.pooled, drawn.pooled_variance),
        ("own", lines.fit.own, drawn.own, drawn.own_variance),
    ):
        middle = np.clip(base + line[:, 0] + line[:, 1] * middle_time, -_FAR, _FAR)
        reach = SURE * np.sqrt(np.where(here, variance, 0.0))
        ends = [drawn.table.scale.points(middle + side * slope * half, lines.criterion)
                for side in (-1, 1)]  # fmt: skip
        year = [points_a_year(drawn.table.scale, lines.criterion, middle, half, slope + side)
                for side in (0.0, -reach, reach)]  # fmt: skip
        found[name] = [
            Slope(*(float(each[number]) for each in (*ends, *year))) if here[number] else None
            for number in range(len(keys))
        ]
    return found


_FAR = 30.0


def _change(
    drawn: _Drawn, group: GroupLine, places: Sequence[tuple[float, float, float]]
) -> ReliableChange:
    """Last occasion minus first, each from its own take alone."""
    (start, first, first_error), (end, last, last_error) = places[0], places[-1]
    occasion = drawn.lines.fit.spread.occasion
    variance = first_error + last_error + 2 * occasion**2 + group.variance * (end - start) ** 2
    change, error = last - first, variance**0.5
    scale, criterion = drawn.table.scale, drawn.lines.criterion
    middle = np.array([(first + last) / 2])

    def in_points(value: float) -> float:
        return float(points_a_year(scale, criterion, middle, np.array([0.5]), value)[0])

    return ReliableChange(
        first_points=float(scale.points(np.array([first]), criterion)[0]),
        last_points=float(scale.points(np.array([last]), criterion)[0]),
        change_points=in_points(change),
        low=in_points(change - SURE * error),
        high=in_points(change + SURE * error),
        index=change / error,
        sure=abs(change) > SURE * error,
    )


def _groups(drawn: _Drawn) -> list[GroupGrowth]:
    """Every ensemble: its growth, or that no passage was asked again."""
    found = []
    for ensemble, group in drawn.groups.items():
        told: list[float | None] = [None, None, None]
        if group.anchored:
            reach = SURE * group.variance**0.5
            times = drawn.lines.points.time[group.own[drawn.lines.points.sitting]]
            half = np.array([(times.max() - times.min()) / 2])
            told = [
                float(points_a_year(drawn.table.scale, drawn.lines.criterion,
                                    np.array([group.middle]), half, slope)[0])
                for slope in (group.slope, group.slope - reach, group.slope + reach)
            ]  # fmt: skip
        found.append(
            GroupGrowth(
                key=ensemble,
                criterion=drawn.lines.criterion,
                points_a_year=told[0],
                low=told[1],
                high=told[2],
                because="" if group.anchored else NO_ANCHOR,
                n_students=group.n_students,
                anchors=group.anchors,
                n_sittings=group.n_sittings,
            )
        )
    return found


def _sections(drawn: _Drawn, before: Sequence[SectionGrowth]) -> list[SectionGrowth]:
    """Every section large enough; of one criterion, sure only where ``before`` (all) is."""
    fit, keys = drawn.lines.fit, drawn.table.keys
    told = (drawn.occasions >= LEAST_OCCASIONS) & np.isfinite(fit.alone_variance[:, 1, 1])
    rows = np.flatnonzero(told)
    differences = section_differences(
        np.array([keys[row].ensemble for row in rows]),
        np.array([keys[row].section for row in rows]),
        fit.own[rows, 1],
        fit.alone_variance[rows, 1, 1] + fit.spread.slope**2,
    )
    sure = sure_by_holm([each.chance for each in differences])
    if drawn.lines.criterion:
        open_ = {(each.ensemble, each.section) for each in before
                 if each.sure and not each.criterion}  # fmt: skip
        sure = [
            one and (each.ensemble, each.section) in open_
            for one, each in zip(sure, differences, strict=True)
        ]
    return [
        _section(drawn, difference, rows, one)
        for difference, one in zip(differences, sure, strict=True)
    ]


def _section(
    drawn: _Drawn, difference: Difference, rows: np.ndarray, sure: bool
) -> SectionGrowth:
    """One section in rating points, at the place of its ensemble; ``rows`` are lines told."""
    group = drawn.groups[difference.ensemble]
    scale, criterion = drawn.table.scale, drawn.lines.criterion
    middle = np.array([group.middle])

    def in_points(slope: float) -> float:
        return float(points_a_year(scale, criterion, middle, np.array([0.5]), slope)[0])

    own = _own(drawn, difference, group, in_points) if group.anchored else None
    late = _late(drawn, difference, rows, in_points) if group.anchored else None
    return SectionGrowth(
        section=difference.section,
        ensemble=difference.ensemble,
        criterion=criterion,
        points_a_year=in_points(difference.value),
        low=in_points(difference.low),
        high=in_points(difference.high),
        own=own,
        late=late,
        stopped=sure and (own is None or own.low <= LITTLE_POINTS or late is not None),
        sure=sure,
        n_students=difference.n,
        n_rest=difference.n_rest,
    )


def _own(
    drawn: _Drawn, difference: Difference, group: GroupLine, in_points: Callable[[float], float]
) -> Slope:
    """What a section came by itself in the whole year."""
    slope = group.slope + difference.mean
    reach = SURE * (difference.mean_variance + group.variance) ** 0.5
    ends = (np.array([group.middle + side * slope / 2]) for side in (-1, 1))
    return Slope(
        *(float(drawn.table.scale.points(end, drawn.lines.criterion)[0]) for end in ends),
        points_a_year=in_points(slope),
        low=in_points(slope - reach),
        high=in_points(slope + reach),
    )


def _late(
    drawn: _Drawn, difference: Difference, rows: np.ndarray, in_points: Callable[[float], float]
) -> LateGrowth | None:
    """What a section came by itself in the later half of its group's takes, where that may be
    nothing: half the rest's growth, with a wide interval, is no sign of having stopped.
    """
    keys, place = drawn.table.keys, (difference.ensemble, difference.section)
    lines = [row for row in rows.tolist() if (keys[row].ensemble, keys[row].section) == place]
    group = drawn.groups[difference.ensemble]
    found = late_slope(drawn.lines.points, drawn.lines.fit, group, np.array(lines))
    if found is None:
        return None
    late = LateGrowth(
        since_day=drawn.table.centre_day + found.since * DAYS_A_YEAR,
        points_a_year=in_points(found.slope),
        low=in_points(found.slope - found.reach),
        high=in_points(found.slope + found.reach),
    )
    rest = in_points(group.slope + difference.mean - difference.value)
    still = late.low <= LITTLE_POINTS and late.points_a_year <= MUCH_LESS * rest
    return late if still else None
