"""Ranges of trouble: counts against a plain count, and what must hold for any mentions."""

from hypothesis import given
from hypothesis import strategies as st

from standlight.programme.queries.trouble import (
    DIRECTORS,
    LEVELS,
    LONGEST_RANGE,
    MOST_MEASURES,
    MUSICIANS,
    READINGS,
    Mention,
    trouble_ranges,
)

SOURCES = [READINGS, LEVELS, MUSICIANS, DIRECTORS]
mention = st.builds(
    lambda source, who, first, length: Mention(source, who, first, first + length),
    st.sampled_from(SOURCES), st.integers(0, 6), st.integers(0, 20), st.integers(0, 5),
)
mentions = st.lists(mention, max_size=25)


def plain_count(said, source, first, last):
    """The slow plain form: walk every measure, gather every person."""
    return len({
        row.who
        for row in said
        for measure in range(row.first, row.last + 1)
        if row.source == source and first <= measure <= last
    })


@given(mentions)
def test_counts_are_those_of_a_plain_walk_over_the_measures(said):
    for found in trouble_ranges(said):
        for source in SOURCES:
            assert found.counts[source] == plain_count(said, source, found.first, found.last)


@given(mentions, st.randoms())
def test_the_order_in_which_people_spoke_does_not_matter(said, chance):
    shuffled = list(said)
    chance.shuffle(shuffled)
    assert trouble_ranges(said) == trouble_ranges(shuffled)


@given(mentions)
def test_ranges_are_at_most_three_apart_from_each_other_and_never_without_a_reason(said):
    found = sorted(trouble_ranges(said), key=lambda row: row.first)
    assert len(found) <= 3
    assert all(one.last < other.first for one, other in zip(found, found[1:], strict=False))
    for row in found:
        assert sum(row.counts.values()) > 0
        if row.counts[READINGS] + row.counts[MUSICIANS] + row.counts[DIRECTORS]:
            assert row.last - row.first < LONGEST_RANGE


@given(mentions)
def test_the_first_range_holds_the_measure_most_people_point_at(said):
    local = [row for row in said if row.source != LEVELS]
    if not local:
        return
    weight = {
        m: len({(r.source, r.who) for r in local if r.first <= m <= r.last}) for m in range(27)
    }
    first = trouble_ranges(said)[0]
    assert max(weight[m] for m in range(first.first, first.last + 1)) == max(weight.values())


def test_the_same_person_twice_counts_once():
    said = [Mention(READINGS, 1, 4, 4), Mention(READINGS, 1, 4, 5)]
    assert trouble_ranges(said)[0].counts[READINGS] == 1


def test_low_levels_alone_name_their_whole_passage():
    said = [Mention(LEVELS, who, 8, 15) for who in range(3)]
    (only,) = trouble_ranges(said)
    assert (only.first, only.last, only.counts[LEVELS]) == (8, 15, 3)


def test_nothing_said_is_nothing_shown():
    assert trouble_ranges([]) == ()


def test_a_span_with_a_slip_in_its_number_costs_no_more_than_a_long_piece():
    heard = [Mention(READINGS, who, 30, 31) for who in range(3)]
    found = trouble_ranges([*heard, Mention(DIRECTORS, 9, 4, 10**6)])
    assert (found[0].first, found[0].last, found[0].counts[DIRECTORS]) == (30, 31, 1)
    (only,) = trouble_ranges([Mention(LEVELS, 9, 4, 10**6)])
    assert (only.first, only.last) == (4, 4 + MOST_MEASURES - 1)
