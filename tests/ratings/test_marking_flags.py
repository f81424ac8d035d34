"""What is asked before marks are final, and what ordinary scatter does not ask."""

import numpy as np
import pytest
from scipy.stats import norm

from standlight.ratings.marking import mark
from standlight.ratings.marking_distances import Far, chauvenet, far_in
from standlight.ratings.marking_flags import (
    FLAGS,
    NEWER_WAITS,
    NOT_ENOUGH,
    ODD_CHANGE,
    ODD_CHECK,
    ODD_LEVEL,
    flags_of,
)
from standlight.ratings.marking_values import MISSING, RATED, Work


def kinds(works, **more):
    return [flag.kind for flag in flags_of(mark(works), works, **more)]


def checks(*rows):
    return [
        Work(f"Check {n}", RATED, dict(zip("abc", map(str, row), strict=False)), day=n)
        for n, row in enumerate(rows)
    ]


def test_steady_levels_ask_nothing():
    assert kinds(checks((3, 3, 2), (3, 2, 3), (2, 3, 3), (3, 3, 4)), before=2.6) == []


def test_too_few_levels_come_first_and_say_how_many():
    works = [Work("A", MISSING), Work("B", RATED, {"a": "3"}, newer_waits=True)]
    found = flags_of(mark(works), works)
    assert [flag.kind for flag in found] == [NOT_ENOUGH, NEWER_WAITS]
    assert found[0].sentence == "Only 1 level in 1 check: 1 missing."
    assert list(FLAGS)[0] == NOT_ENOUGH


def test_one_level_far_from_ones_own_others_is_asked_about_by_name():
    works = checks((4, 3), (4, 3), (4, 3), (1, 3))
    found = flags_of(mark(works), works, names={"a": "Rhythm"})
    odd = [flag for flag in found if flag.kind == ODD_LEVEL]
    assert [flag.sentence for flag in odd] == [
        "Check 3, Rhythm: Beginning; the other 3 are near 4. Listen again?"
    ]


def test_one_check_far_from_ones_own_others_is_asked_about():
    assert kinds(checks((3, 3, 3), (1, 1, 2), (3, 4, 3))) == [ODD_CHECK]


def test_two_checks_alone_say_nothing_of_each_other():
    assert kinds(checks((4, 4, 4), (1, 1, 1))) == []


def test_a_mark_a_whole_level_from_the_last_is_asked_about_both_ways():
    works = checks((3, 3, 3))
    assert kinds(works, before=2.0) == kinds(works, before=4.0) == [ODD_CHANGE]
    assert kinds(works, before=2.1) == []
    up = flags_of(mark(works), works, before=1.9, before_name="Autumn")[0]
    assert up.sentence == "1.1 levels higher than Autumn (1.90)."


def scattered(chance, n_musicians=150, spread=0.6):
    """Four checks of three criteria each, from abilities and a scatter of ``spread`` levels."""
    return [
        checks(*np.clip(np.rint(chance.normal(able, spread, (4, 3))), 1, 4).astype(int))
        for able in chance.normal(2.8, 0.7, n_musicians)
    ]


def asked(group, far):
    return [number for number, works in enumerate(group)
            if any(flag.kind in (ODD_LEVEL, ODD_CHECK)
                   for flag in flags_of(mark(works), works, far=far))]  # fmt: skip


def test_of_a_scattered_group_a_few_are_asked_about_and_a_planted_slip_is_among_them():
    counts = []
    for seed in range(5):
        group = scattered(np.random.default_rng(seed))
        group[7] = checks((4, 4, 4), (4, 4, 4), (1, 1, 1), (4, 4, 4))
        found = asked(group, far_in(group))
        assert 7 in found
        counts.append(len(found))
        assert len(asked(group, Far())) > 30
    assert max(counts) <= 6


def test_in_a_steady_group_two_steps_are_far():
    group = scattered(np.random.default_rng(3), spread=0.2)
    assert far_in(group) == Far()


def test_chauvenets_distance_is_that_of_the_normal_distribution():
    for n in (20, 50, 100):
        off = [0.7, -0.7] * (n // 2)
        assert chauvenet(off) == pytest.approx(0.7 * norm.isf(1 / (4 * n)))
    assert chauvenet([1.0] * 19) == 0.0


def test_where_all_marks_moved_alike_nobody_alone_is_asked_about():
    group = [checks((3, 3, 3))] * 40
    assert far_in(group, [1.3 + 0.1 * (n % 2) for n in range(40)]).change > 1.4
    assert far_in(group, [1.3] * 5).change == pytest.approx(1.3)
