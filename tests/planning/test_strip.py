"""Three voices on the score: what each says stays apart, and what follows is what was planted."""

import math

import numpy as np
import pytest
from benchmarks import rehearsal_strip
from scipy.stats import binomtest

from standlight.errors import StandlightError
from standlight.planning import (
    MISPLACED,
    DirectorRemark,
    HeardTake,
    MusicianRemark,
    Outline,
    OutlinePart,
    RatedTake,
    Share,
    draw_strip,
    wilson,
)
from standlight.planning.laying import lay, window_sums
from standlight.planning.strip import DIRECTOR, HEARD, LEVELS, SAID

N = 40
WHOLE = frozenset(range(N))
PIECE = Outline(
    tuple(str(n + 1) for n in range(N)),
    (
        OutlinePart("fl1", "Flute", WHOLE),
        OutlinePart("fl2", "Flute", WHOLE),
        OutlinePart("hn1", "Horn", WHOLE),
    ),
)


def takes_of(part, troubled, n=6, heard=WHOLE, aim="rhythm"):
    return [
        HeardTake(f"{part}{k}", part, heard, tuple((aim, m) for m in troubled)) for k in range(n)
    ]


def worried(part, first, last, n, start=0):
    return [MusicianRemark(f"{part}{k}", part, first, last) for k in range(start, start + n)]


def speaking(part, n=6):
    """Musicians who said something elsewhere, so that their silence here says something."""
    return worried(part, N - 1, N - 1, n)


def test_wilson_is_the_interval_of_a_reference_library():
    for hits, count in ((0, 4), (3, 8), (8, 8), (40, 160)):
        low, high = binomtest(hits, count).proportion_ci(method="wilson")
        mine = Share(hits, count)
        assert math.isclose(mine.low, low, abs_tol=1e-6)
        assert math.isclose(mine.high, high, abs_tol=1e-6)
    assert Share(0, 0).share is None
    assert [float(edge) for edge in wilson(0, 0)] == [0.0, 1.0]
    with pytest.raises(ValueError, match="no share"):
        Share(3, 2)


def test_each_voice_has_its_own_lane_and_counts_witnesses_once():
    strip = draw_strip(
        PIECE,
        takes_of("fl1", [4, 5], n=2) + takes_of("fl2", [5], n=3, heard=frozenset({5, 6})),
        [RatedTake("fl10", "fl1", 0, 7, low=True), RatedTake("fl11", "fl1", 0, 7, low=False)],
        [DirectorRemark(5, 6, ("Flute",)), DirectorRemark(5, 5)],
        [MusicianRemark("a", "fl1", 5, 6), MusicianRemark("a", "fl1", 5, 5),
         MusicianRemark("b", "fl2", 9, 9), MusicianRemark("c", "fl2", 5, 5, worry=False)],
    )  # fmt: skip
    heard = strip.lane(HEARD, "Flute")
    assert (heard.hits[4], heard.counts[4]) == (2, 2)
    assert (heard.hits[5], heard.counts[5]) == (5, 5)
    assert (heard.hits[6], heard.counts[6]) == (0, 5)
    low, high = wilson(0, 5)
    assert (heard.low[6], heard.high[6]) == (float(low), float(high))
    levels = strip.lane(LEVELS, "Flute")
    assert (levels.hits[7], levels.counts[7], levels.counts[8]) == (1, 2, 0)
    assert strip.lane(DIRECTOR, "Flute").hits[5:8] == (2, 1, 0)
    assert strip.lane(DIRECTOR, "Horn").hits[5:8] == (1, 0, 0)
    assert strip.lane(DIRECTOR, "Horn").counts == ()
    said = strip.lane(SAID, "Flute")
    assert (said.hits[5], said.hits[6], said.counts[5]) == (1, 1, 3)


def test_lanes_are_what_plain_counting_over_the_rows_gives():
    random = np.random.default_rng(4)
    takes = []
    for number in range(60):
        part = str(random.choice(["fl1", "fl2", "hn1"]))
        heard = frozenset(int(m) for m in random.choice(N, 12, replace=False))
        bad = [m for m in heard if random.random() < 0.3]
        takes.append(HeardTake(str(number), part, heard, tuple(("notes", m) for m in bad)))
    strip = draw_strip(PIECE, takes)
    section = {part.key: part.section for part in PIECE.parts}
    for name in PIECE.sections:
        own = [take for take in takes if section[take.part] == name]
        lane = strip.lane(HEARD, name)
        for m in range(N):
            assert lane.counts[m] == sum(m in take.heard for take in own)
            assert lane.hits[m] == sum(("notes", m) in take.troubles for take in own)


def test_windows_are_what_adding_up_gives_and_no_window_is_missed():
    grid = np.random.default_rng(1).integers(0, 5, (3, N))
    sums = window_sums(grid, 7)
    assert sums.shape == (3, N - 6)
    assert all(sums[r, w] == grid[r, w : w + 7].sum() for r in range(3) for w in range(N - 6))


def test_a_spot_is_where_the_trouble_was_planted_without_its_calm_edges():
    strip = draw_strip(PIECE, takes_of("fl1", range(10, 14)) + takes_of("hn1", [], n=6))
    assert [(spot.first, spot.last) for spot in strip.spots] == [(10, 13)]
    spot = strip.spots[0]
    assert spot.aim == "rhythm"
    assert [one.section for one in spot.sections] == ["Flute"]
    assert spot.sections[0].heard == Share(6, 6)
    assert strip.needs[11] > strip.needs[20]


def test_spots_stand_in_the_order_of_need_do_not_overlap_and_are_eight_measures_at_most():
    random = np.random.default_rng(7)
    takes = [
        HeardTake(str(n), str(random.choice(["fl1", "hn1"])), WHOLE,
                  tuple(("notes", int(m)) for m in np.flatnonzero(random.random(N) < 0.3)))
        for n in range(30)
    ]  # fmt: skip
    spots = draw_strip(PIECE, takes).spots
    assert len(spots) > 2
    assert all(spot.last - spot.first < 8 for spot in spots)
    assert [spot.need for spot in spots] == sorted((spot.need for spot in spots), reverse=True)
    ordered = sorted((spot.first, spot.last) for spot in spots)
    assert all(before[1] < after[0] for before, after in zip(ordered, ordered[1:], strict=False))


def test_trouble_of_more_sections_is_the_greater_need():
    takes = takes_of("fl1", range(4, 8)) + takes_of("hn1", range(4, 8))
    both_then_one = draw_strip(PIECE, takes + takes_of("fl2", range(30, 34)))
    assert both_then_one.spots[0].first == 4


def test_no_spot_crosses_into_a_later_movement():
    movements = Outline(PIECE.printed, PIECE.parts, movement_starts=(12,))
    spots = draw_strip(movements, takes_of("fl1", range(9, 16))).spots
    assert spots
    assert all(spot.last < 12 or spot.first >= 12 for spot in spots)
    assert any(spot.first < 12 <= spot.last
               for spot in draw_strip(PIECE, takes_of("fl1", range(9, 16))).spots)  # fmt: skip


def test_trouble_that_is_heard_and_that_nobody_says_is_a_blind_spot():
    strip = draw_strip(PIECE, takes_of("fl1", range(10, 14)), musicians=speaking("fl1"))
    assert [(one.first, one.last) for one in strip.blind_spots] == [(10, 13)]
    assert strip.blind_spots[0].voices.heard == Share(6, 6)
    assert strip.blind_spots[0].voices.said == Share(0, 6)
    assert strip.silent_sections == ("Horn",)


@pytest.mark.parametrize(
    "case",
    [
        {"musicians": [*speaking("fl1"), MusicianRemark("x", "fl1", 12, 12)]},
        {"musicians": speaking("fl1"), "director": [DirectorRemark(12, 12)]},
        {"musicians": speaking("fl1", 2)},
        {"musicians": speaking("fl1"), "n": 2},
    ],
    ids=["somebody says it", "the director says it", "hardly anybody spoke at all", "two takes"],
)
def test_no_blind_spot_is_told_when(case):
    takes = takes_of("fl1", range(10, 14), n=case.pop("n", 6))
    found = draw_strip(PIECE, takes, **case).blind_spots
    assert not [one for one in found if one.first <= 13 and one.last >= 10]


def test_worry_about_measures_that_are_in_fact_fine_is_a_false_worry():
    strip = draw_strip(PIECE, takes_of("fl1", [30, 31]), musicians=worried("fl1", 10, 12, 4))
    found = strip.false_worries[0]
    assert found.first <= 10
    assert found.last >= 12
    assert found.voices.said == Share(4, 4)
    assert found.voices.heard == Share(0, 6)


@pytest.mark.parametrize(
    "case",
    [
        {"musicians": worried("fl1", 10, 12, 1)},
        {"musicians": worried("fl1", 10, 12, 4), "director": [DirectorRemark(8, 14)]},
        {"musicians": worried("fl1", 10, 12, 4), "rated": [RatedTake("r", "fl1", 6, 16, True)]},
        {"musicians": worried("fl1", 10, 12, 4), "n": 2},
        {"musicians": worried("fl1", 10, 12, 4), "bad": range(9, 14)},
        {"musicians": worried("fl1", 10, 11, 4), "bad": range(12, 16)},
    ],
    ids=["one worries", "the director hears it", "a level is low", "two takes", "it is heard",
         "it is heard in the next measure"],
)  # fmt: skip
def test_no_false_worry_is_told_when(case):
    takes = takes_of("fl1", case.pop("bad", []), n=case.pop("n", 6))
    assert draw_strip(PIECE, takes, **case).false_worries == ()


def test_remarks_on_measures_that_do_not_exist_are_told_with_the_nearest_and_count_nowhere():
    rows = [MusicianRemark("a", "fl1", 38, 60), MusicianRemark("a", "fl1", 9, 7),
            MusicianRemark("a", "tuba", 1, 1), MusicianRemark("b", "fl1", -3, 2)]  # fmt: skip
    strip = draw_strip(PIECE, musicians=rows, director=[DirectorRemark(0, 3, ("Kazoo",)),
                                                        DirectorRemark(90, 95)])  # fmt: skip
    told = {(one.code, one.first, one.last) for one in strip.left_out}
    assert told == {("no_measure", 38, 39), ("turned", 7, 9), ("no_part", None, None),
                    ("no_measure", 0, 2), ("no_section", None, None),
                    ("no_measure", 39, 39)}  # fmt: skip
    assert {one.code for one in strip.left_out} <= set(MISPLACED)
    assert sum(sum(lane.hits) for lane in strip.lanes) == 0
    assert strip.spots == ()


def test_the_order_of_rows_and_the_names_of_witnesses_change_nothing():
    random = np.random.default_rng(3)
    takes = takes_of("fl1", [3, 4, 20]) + takes_of("hn1", [20, 21])
    remarks = worried("fl1", 20, 23, 4) + worried("hn1", 2, 5, 3)
    there = draw_strip(PIECE, takes, musicians=remarks)
    renamed = [MusicianRemark(f"z{row.who}", row.part, row.first, row.last) for row in remarks]
    again = draw_strip(
        PIECE,
        [takes[n] for n in random.permutation(len(takes))],
        musicians=[renamed[n] for n in random.permutation(len(remarks))],
    )
    assert there == again


def test_an_empty_piece_has_a_strip_without_spots():
    strip = draw_strip(PIECE)
    assert (strip.spots, strip.blind_spots, strip.false_worries) == ((), (), ())
    assert set(strip.silent_sections) == {"Flute", "Horn"}


def test_a_piece_shorter_than_a_spot_is_still_drawn():
    short = Outline(("1", "2"), (OutlinePart("fl1", "Flute", frozenset({0, 1})),))
    strip = draw_strip(short, takes_of("fl1", [1], heard=frozenset({0, 1})))
    assert [(spot.first, spot.last) for spot in strip.spots] == [(1, 1)]


def test_what_cannot_be_is_refused_with_the_likely_slip():
    with pytest.raises(StandlightError, match="did not hear"):
        HeardTake("t", "fl1", frozenset({1}), (("notes", 2),))
    with pytest.raises(StandlightError, match="counted from 1"):
        Outline(("1", "2"), (OutlinePart("fl", "Flute", frozenset({2})),))
    with pytest.raises(StandlightError, match="without measures"):
        Outline((), PIECE.parts)


def test_a_musician_who_plays_two_parts_of_a_section_is_one_speaker():
    rows = [MusicianRemark("a", "fl1", 1, 1), MusicianRemark("a", "fl2", 1, 2)]
    laid = lay(PIECE, [], [], [], rows)
    assert laid.speakers.tolist() == [1, 0]


def test_planted_trouble_is_found_more_often_than_by_counting_remarks():
    found = []
    for seed in range(8):
        piece = rehearsal_strip.plant(seed, 400)
        truth = rehearsal_strip.worst(piece.severity.sum(axis=0))
        strip = draw_strip(piece.outline, piece.takes, piece.rated, piece.director,
                           piece.musicians)  # fmt: skip
        both = (rehearsal_strip.of_spots(strip), rehearsal_strip.counted(piece))
        found.append([rehearsal_strip.share_found(truth, listed) for listed in both])
    ours, peer = np.mean(found, axis=0)
    assert ours > peer + 0.1
    assert ours > 0.6


def test_an_answer_that_names_measures_says_where_in_the_passage_the_low_level_is():
    rated = [RatedTake(str(k), "fl1", 8, 15, low=True, low_at=(10, 11)) for k in range(5)]
    strip = draw_strip(PIECE, rated=rated)
    lane = strip.lane("levels", "Flute")
    assert [m for m, hits in enumerate(lane.hits) if hits] == [10, 11]
    assert {lane.counts[m] for m in range(8, 16)} == {5}
    assert (strip.spots[0].first, strip.spots[0].last) == (10, 11)
    assert strip.spots[0].sections[0].levels == Share(5, 5)
    whole = [RatedTake(str(k), "fl1", 8, 15, low=True) for k in range(5)]
    assert draw_strip(PIECE, rated=whole).lane("levels", "Flute").hits[8:16] == (5,) * 8
    with pytest.raises(StandlightError, match="outside its passage"):
        RatedTake("t", "fl1", 8, 15, low=True, low_at=(14, 16))
