"""The stages of the takes' likelihood: kept or not, the value is the same; moves are exact."""

import numpy as np
import pytest
from scipy import sparse

from standlight.ratings.take_effects import hearings_of, likeliest
from standlight.ratings.take_stages import DAY, OWN, STUDENT, TREND, Stages, summed_moved
from tests.ratings.planted_takes import planted_given


@pytest.fixture(scope="module")
def heard():
    return hearings_of(planted_given(9, n_students=20, n_tasks=5, day=0.6, growth_sd=0.5)[0])


@pytest.mark.parametrize("rater", [None, 1])
def test_what_is_kept_from_the_last_question_changes_no_answer(heard, rater):
    random = np.random.default_rng(1)
    stages, variances = Stages(heard, rater), random.uniform(0.1, 1.0, 5)
    seen = []
    for _ in range(20):
        variances[random.integers(5)] = random.choice([0.0, 0.2, 0.9])
        seen.append(stages.log_likelihood(variances))
        assert seen[-1] == Stages(heard, rater).log_likelihood(variances)
    assert len(set(seen)) > 5


def test_with_one_rater_apart_the_others_alike_it_is_as_with_none_apart(heard):
    variances = np.array([1.0, 0.3, 0.4, 0.5, 0.5])
    apart = Stages(heard, 0).log_likelihood(variances)
    assert apart == pytest.approx(Stages(heard).log_likelihood(variances), abs=1e-9)
    variances[OWN] = 2.0
    assert Stages(heard, 0).log_likelihood(variances) != pytest.approx(apart, abs=1e-3)


def test_the_likeliest_variances_are_likelier_than_any_beside_them(heard):
    found = likeliest(heard, [STUDENT, TREND, DAY])
    stages = Stages(heard)
    assert stages.log_likelihood(found.variances) == pytest.approx(found.log_likelihood)
    for place in (STUDENT, TREND, DAY):
        for factor in (0.6, 1.6):
            beside = found.variances.copy()
            beside[place] = factor * beside[place] + 0.01
            assert stages.log_likelihood(beside) < found.log_likelihood + 1e-3


def test_rows_of_parabolas_are_moved_exactly_and_summed():
    nodes = np.linspace(-3, 3, 31)
    bend, lean = np.array([-1.0, -0.3, -2.0]), np.array([0.2, -1.0, 0.5])
    shift = np.array([0.31, -0.74, 0.0])
    rows = bend[:, None] * nodes**2 + lean[:, None] * nodes
    summing = sparse.csr_matrix(np.array([[1.0, 1.0, 0.0], [0.0, 0.0, 1.0]]))
    found = summed_moved(summing, rows, nodes, shift)
    place = nodes + shift[:, None]
    exact = summing @ (bend[:, None] * place**2 + lean[:, None] * place)
    inner = slice(6, -6)
    assert found[:, inner] == pytest.approx(exact[:, inner], abs=1e-12)
    assert summed_moved(summing, rows, nodes, 0 * shift) == pytest.approx(summing @ rows)
