"""Which take is heard next: never one's own, all about equally often, the own part first."""

import random
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standlight.programme.queries.peers_spread import Offered, next_take


def offered(parts):
    """One take for each number in ``parts``: the passage it plays."""
    return [Offered(n, 100 + n, part) for n, part in enumerate(parts, start=1)]


def gone_round(takes, each, seed, *, apart=()):
    """Listener and take of every hearing, when all come once in an order by chance."""
    found = []
    for me in random.Random(seed).sample(takes, len(takes)):
        for _ in range(each):
            handed = [(one.turn, listener.musician) for listener, one in found]
            one = next_take(me, takes, handed, apart, seed)
            if one is not None:
                found.append((me, one))
    return found


PARTS = st.lists(st.integers(1, 5), min_size=3, max_size=40)


@settings(max_examples=60)
@given(PARTS, st.integers(1, 4), st.integers(0, 99))
def test_nobody_hears_their_own_take_or_one_twice_and_all_are_heard_about_equally_often(
    parts, each, seed
):
    takes = offered(parts)
    found = gone_round(takes, each, seed)
    assert all(me.turn != one.turn for me, one in found)
    assert len(set(found)) == len(found)
    # Everybody has as many as asked for, or all but their own.
    assert set(Counter(me.turn for me, _ in found).values()) == {min(each, len(takes) - 1)}
    times = [Counter(one.turn for _, one in found)[take.turn] for take in takes]
    assert max(times) - min(times) <= 2


@pytest.mark.parametrize("each", [1, 2, 3])
@pytest.mark.parametrize("parts", [[1] * 25, [1, 2, 3, 4, 5, 6, 7, 8]], ids=["one", "alone"])
def test_where_all_play_one_part_or_each_their_own_every_take_is_heard_as_often(parts, each):
    takes = offered(parts)
    for seed in range(10):
        times = Counter(one.turn for _, one in gone_round(takes, each, seed))
        assert set(times.values()) == {each}
        assert len(times) == len(takes)


@pytest.mark.parametrize("seed", range(5))
def test_the_own_part_comes_first_and_a_parts_only_player_is_heard_all_the_same(seed):
    takes = offered([1] * 10 + [2] * 8 + [3])
    found = gone_round(takes, 2, seed)
    own = sum(me.passage == one.passage for me, one in found)
    # By chance alone it would be (10 * 9 + 8 * 7) / (19 * 18) = 0.43 of them.
    assert own / len(found) > 0.7
    assert Counter(one.turn for _, one in found)[19] >= 1


@settings(max_examples=30)
@given(PARTS, st.integers(0, 99), st.data())
def test_who_is_to_be_kept_apart_hears_neither_the_other(parts, seed, data):
    takes = offered(parts)
    people = st.sampled_from([take.musician for take in takes])
    pairs = data.draw(st.lists(st.tuples(people, people), max_size=4))
    apart = {frozenset(pair) for pair in pairs if len(set(pair)) == 2}
    for me, one in gone_round(takes, 3, seed, apart=apart):
        assert frozenset({me.musician, one.musician}) not in apart


def test_the_same_seed_draws_the_same_and_another_seed_another():
    takes = offered([1] * 12)
    assert gone_round(takes, 2, 4) == gone_round(takes, 2, 4)
    drawn = {next_take(takes[0], takes, seed=seed).turn for seed in range(40)}
    assert len(drawn) > 5


def test_there_is_no_take_for_who_is_alone_or_has_had_all():
    takes = offered([1, 1])
    assert next_take(takes[0], takes[:1]) is None
    assert next_take(takes[0], takes, [(2, takes[0].musician)]) is None
