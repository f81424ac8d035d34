"""How near given levels come to agreed ones, against closed forms and planted ears."""

import itertools

import numpy as np
import pytest
from hypothesis import given, strategies
from scipy.stats import binomtest

from standlight.ratings.agreement_pairs import cohens_kappa
from standlight.ratings.nearness import LEANS_AT, nearness, sign_chance

LEVEL = strategies.integers(1, 4)
TAKES = strategies.lists(strategies.lists(strategies.tuples(LEVEL, LEVEL), max_size=4), max_size=6)


@pytest.mark.parametrize(("lower", "higher"), [*itertools.product(range(7), repeat=2)][1:])
def test_the_chance_of_a_lean_is_the_two_sided_sign_test(lower, higher):
    known = binomtest(lower, lower + higher).pvalue
    assert sign_chance(lower, higher) == pytest.approx(known, abs=1e-12)


@given(TAKES)
def test_every_level_is_the_same_lower_or_higher_and_order_does_not_matter(takes):
    found = nearness(takes)
    assert found.n_same + found.n_lower + found.n_higher == found.n == sum(map(len, takes))
    assert found.n_same <= found.n_within_one <= found.n
    assert found.takes_lower + found.takes_higher <= found.n_takes
    back = nearness(takes[::-1])
    assert (back.n_same, back.n_lower, back.leans) == (found.n_same, found.n_lower, found.leans)


@given(TAKES)
def test_given_and_agreed_exchanged_turns_the_lean_around(takes):
    turned = nearness([[(agreed, given) for given, agreed in take] for take in takes])
    assert turned.leans == -nearness(takes).leans
    assert turned.n_same == nearness(takes).n_same


def test_no_level_at_all_has_reasons_and_no_figure():
    found = nearness([[], []])
    assert (found.n, found.leans, found.kappa.estimate) == (0, 0, None)
    assert found.kappa.because


def test_the_figures_are_those_of_the_room_of_agreement():
    takes = [[(3, 3), (2, 3)], [(4, 4), (1, 2)], [(2, 2), (3, 2)]]
    grid = [pair for take in takes for pair in take]
    assert nearness(takes).kappa == cohens_kappa(grid, weights="quadratic")


def test_fewer_takes_than_six_can_show_no_lean_and_six_can():
    for n in range(1, 9):
        found = nearness([[(1, 2), (2, 4)]] * n + [[]])
        assert found.can_lean == (n >= 6) == (found.leans == -1)


def heard(random, bias, n_takes=6, n_criteria=3):
    """Levels of an ear with a planted ``bias`` in levels, and a mood a take that all share."""
    agreed = random.integers(1, 5, (n_takes, n_criteria))
    mood = random.normal(0, 0.5, (n_takes, 1))
    given = np.clip(np.rint(agreed + bias + mood + random.normal(0, 0.4, agreed.shape)), 1, 4)
    return [list(zip(one.astype(int), two, strict=True))
            for one, two in zip(given, agreed, strict=True)]  # fmt: skip


def test_an_even_ear_is_seldom_said_to_lean_though_its_criteria_move_together():
    random = np.random.default_rng(20)
    said = np.mean([nearness(heard(random, 0.0)).leans != 0 for _ in range(1500)])
    assert said < LEANS_AT


def test_a_strict_ear_is_found_to_be_strict_and_hardly_ever_mild():
    random = np.random.default_rng(21)
    leans = [nearness(heard(random, -1.2)).leans for _ in range(300)]
    assert leans.count(-1) > 150
    assert leans.count(1) == 0
