"""The small picture of growth: marks where the levels are, lines that never cross a change."""

import datetime
import math

import pytest

from standlight.programme.queries.growth_picture import (
    BOTTOM,
    LEFT,
    RIGHT,
    TOP,
    GivenMark,
    LineEnds,
    PlayedSpan,
    growth_picture,
    height_of,
    middle_slack,
    slope_mark,
)

FIRST = datetime.date(2026, 9, 1)


def given(*levels, start=0, apart=30):
    days = [FIRST + datetime.timedelta(start + apart * number) for number in range(len(levels))]
    return tuple(GivenMark(day, level) for day, level in zip(days, levels, strict=True))


def corners(band):
    return [tuple(map(float, corner.split(","))) for corner in band.split()]


def test_the_four_levels_stand_at_equal_steps_from_the_foot_up():
    heights = [height_of(level) for level in (1, 2, 3, 4)]
    assert heights == sorted(heights, reverse=True)
    steps = [low - high for low, high in zip(heights, heights[1:], strict=False)]
    assert max(steps) - min(steps) < 0.11  # rounded to a tenth
    assert (heights[0], heights[-1]) == (BOTTOM, TOP)
    picture = growth_picture([PlayedSpan("Flute", given(1, 2))], "said")
    assert [(step.word, step.y) for step in picture.axis] == list(
        zip(("Beginning", "Developing", "Secure", "Extending"), heights, strict=True)
    )


def test_every_mark_is_in_the_picture_and_in_the_order_of_days():
    picture = growth_picture([PlayedSpan("Flute", given(1, 3, 2, 4))], "said")
    dots = picture.spans[0].dots
    assert [dot.x for dot in dots] == sorted(dot.x for dot in dots)
    assert all(LEFT < dot.x < RIGHT and TOP <= dot.y <= BOTTOM for dot in dots)
    assert [dot.y for dot in dots] == [height_of(level) for level in (1, 3, 2, 4)]
    assert (picture.first_day, picture.last_day) == ("Sep 1", "Nov 30")


def test_lines_run_from_the_first_to_the_last_day_of_their_own_instrument_only():
    ends = LineEnds(2.0, 3.0, 0.2, 1.4)
    picture = growth_picture(
        [
            PlayedSpan("Clarinet", given(2, 2, 3), own=ends, leaning=ends),
            PlayedSpan("Oboe", given(1, 2, start=120), own=ends, leaning=ends),
        ],
        "said",
    )
    clarinet, oboe = picture.spans
    (change,) = picture.breaks
    for line in (clarinet.own, clarinet.leaning):
        assert (line.x1, line.x2) == (clarinet.dots[0].x, clarinet.dots[-1].x)
        assert line.x2 < change
    assert oboe.own.x1 == oboe.dots[0].x > change
    assert max(x for x, _ in corners(clarinet.band)) < change
    assert picture.names_shown


def test_the_band_is_that_of_a_regression_line_whose_mean_and_slope_err_independently():
    low, high, middle = -0.4, 1.2, 0.2
    span = PlayedSpan(
        "Flute", given(2, 2, 3), leaning=LineEnds(2.2, 2.6, low, high), middle_slack=middle
    )
    band = corners(growth_picture([span], "said").spans[0].band)
    half = len(band) // 2
    a_level = height_of(1) - height_of(2)
    years = 60 / 365.25
    pairs = zip(band[:half], band[: half - 1 : -1], strict=True)
    tall = [below[1] - above[1] for above, below in pairs]
    at_the_end = 2 * math.hypot(middle, (high - low) / 2 * years / 2) * a_level
    assert tall[0] == pytest.approx(at_the_end, abs=0.2)
    assert tall[half // 2] == pytest.approx(2 * middle * a_level, abs=0.2)
    assert tall[0] == pytest.approx(tall[-1], abs=0.2)


def test_a_late_instruments_name_ends_at_the_edge_and_an_early_ones_begins_at_its_marks():
    spans = [PlayedSpan("Flute", given(2, 2, 3)), PlayedSpan("Tuba", given(1, 2, start=300))]
    flute, tuba = growth_picture(spans, "said").spans
    assert (flute.name_ends, flute.x) == (False, flute.dots[0].x)
    assert (tuba.name_ends, tuba.x) == (True, RIGHT)


def test_nothing_is_drawn_from_one_day_or_of_nothing():
    ends = LineEnds(2.0, 3.0, 0.2, 1.4)
    alone = growth_picture([PlayedSpan("Flute", given(3), own=ends, leaning=ends)], "said")
    assert not alone.has_lines and not alone.spans[0].band and alone.last_day == ""
    assert growth_picture([PlayedSpan("Flute", ())], "said") is None
    assert growth_picture([], "said") is None


def test_a_mean_of_more_points_is_surer():
    assert middle_slack([0.6] * 9) == pytest.approx(0.2)
    assert middle_slack([0.6] * 9) < middle_slack([0.6] * 4)


def test_the_small_mark_rises_with_growth_and_thickens_with_knowledge():
    up, more = (slope_mark(growth, -1, 1, "").line for growth in (0.3, 0.9))
    down = slope_mark(-0.3, -1, 1, "").line
    assert more.y2 < up.y2 < up.y1 < more.y1 and down.y2 > down.y1
    assert (down.y1, down.y2) == (up.y2, up.y1)
    assert slope_mark(9, 8, 10, "").line == slope_mark(2, 1, 3, "").line
    sure = {(0.2, 1.9): 3, (-1.9, -0.2): 3, (-0.2, 0.2): 3, (-0.2, 0.7): 2, (-0.3, 1.7): 2}
    for (low, high), thickness in {**sure, (-0.9, 1.3): 1, (-1.4, 0.8): 1}.items():
        assert slope_mark((low + high) / 2, low, high, "").thickness == thickness
