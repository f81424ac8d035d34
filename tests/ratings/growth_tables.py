"""Planted school years for the tests of growth: the benchmark's own, and what reads them."""

import dataclasses
from functools import cache

from benchmarks.growth_recovery import ANCHORS, planted

from standlight.ratings.growth import measure_growth
from standlight.ratings.growth_gather import gather_given
from standlight.ratings.growth_lines import lines_of

NO_ANCHORS, FIRST_AND_LAST, THREE_TIMES = ANCHORS.values()


@cache
def small_year():
    """One ensemble of 26 whose first passage is asked again at the end."""
    return tuple(planted(3, FIRST_AND_LAST, sizes=(6, 8, 12), n_ensembles=1)[0])


@cache
def small_growth():
    return measure_growth(small_year())


def together(given):
    """The table, and the lines of all criteria together."""
    table, _ = gather_given(given)
    return table, lines_of(table, "")


def changed(given, **how):
    """The same levels with some fields made anew from the row."""
    return [
        dataclasses.replace(row, **{name: make(row) for name, make in how.items()})
        for row in given
    ]


def numbers_in(value):
    if isinstance(value, float):
        yield value
    elif isinstance(value, dict):
        yield from numbers_in(list(value.values()))
    elif isinstance(value, list | tuple):
        for each in value:
            yield from numbers_in(each)


def numbers(value):
    return list(numbers_in(dataclasses.asdict(value)))
