"""Minutes go where they are worth most: the greedy rule against every way to share them."""

from itertools import product

import numpy as np
import pytest

from standlight.planning.minutes import (
    LEAST_BLOCK_MINUTES,
    LONGEST_GAP_DAYS,
    Claim,
    fresh_minutes,
    gain,
    gap_days,
    share_in_blocks,
    share_out,
)


def total(claims, given):
    return sum(gain(claim, k) for claim, k in zip(claims, given, strict=True))


def random_claims(random, n, most=9):
    claims = []
    for _ in range(n):
        least = int(random.integers(0, 3))
        claims.append(Claim(float(random.exponential()), float(random.uniform(0, 10)), least,
                            least + int(random.integers(0, most))))  # fmt: skip
    return claims


def every_way(claims, minutes):
    ranges = [range(claim.least, claim.most + 1) for claim in claims]
    return [way for way in product(*ranges) if sum(way) <= minutes]


@pytest.mark.parametrize("seed", range(30))
def test_no_way_to_share_whole_minutes_is_worth_more_than_one_minute_at_a_time(seed):
    random = np.random.default_rng(seed)
    claims = random_claims(random, int(random.integers(1, 5)))
    minutes = sum(claim.least for claim in claims) + int(random.integers(0, 15))
    given = share_out(claims, minutes)
    best = max(total(claims, way) for way in every_way(claims, minutes))
    assert total(claims, given) == pytest.approx(best, abs=1e-12)
    assert sum(given) == min(minutes, sum(claim.most for claim in claims))


def test_each_minute_on_a_spot_is_worth_less_than_the_one_before():
    for claim in (Claim(1.0), Claim(3.0, spent=4.0)):
        steps = [gain(claim, k + 1) - gain(claim, k) for k in range(20)]
        assert all(later < earlier for earlier, later in zip(steps, steps[1:], strict=False))


def test_work_in_two_rehearsals_is_worth_more_than_the_same_minutes_in_one():
    massed = gain(Claim(1.0, most=20), 12)
    gap = gap_days(28)
    spaced = gain(Claim(1.0), 6) + gain(Claim(1.0, spent=fresh_minutes([(6, gap)], 28)), 6)
    assert spaced > massed


def test_earlier_minutes_fade_with_days_and_the_gap_grows_with_the_days_to_the_concert():
    assert fresh_minutes([(10, 1)], 28) > fresh_minutes([(10, 3)], 28) > 0
    gaps = [gap_days(days) for days in range(120)]
    assert gaps == sorted(gaps)
    assert (gaps[0], gaps[-1]) == (1, LONGEST_GAP_DAYS)


def test_blocks_are_never_too_short_nor_too_many_unless_asked():
    random = np.random.default_rng(5)
    for _ in range(40):
        claims = [Claim(float(worth)) for worth in random.exponential(size=8)]
        given = share_in_blocks(claims, int(random.integers(3, 40)), 4)
        used = [k for k in given if k]
        assert all(k >= LEAST_BLOCK_MINUTES for k in used)
        assert 1 <= len(used) <= 4
    asked = share_in_blocks([Claim(5.0), Claim(0.1, least=1, most=1)], 9, 5)
    assert asked[1] == 1


@pytest.mark.parametrize("seed", range(40))
def test_no_choice_of_blocks_is_worth_more_than_the_one_taken(seed):
    random = np.random.default_rng(seed)
    claims = [Claim(float(random.exponential()), float(random.uniform(0, 8)), most=8)
              for _ in range(4)]  # fmt: skip
    if seed % 3 == 0:
        claims[2] = Claim(0.1, least=4, most=4)
    minutes, most = int(random.integers(4, 20)), int(random.integers(1, 5))
    found = share_in_blocks(claims, minutes, most)
    ways = [way for way in every_way(claims, minutes)
            if all(k == 0 or k >= LEAST_BLOCK_MINUTES for k in way)
            and sum(k > 0 for k in way) <= most]  # fmt: skip
    assert found in ways
    assert total(claims, found) == pytest.approx(max(total(claims, way) for way in ways))
