"""Demand: percentiles against a general library, sums against plain counting, properties."""

import math
from dataclasses import fields

import numpy as np
import pytest
from scipy import stats
from tests.passages.rewriting import in_another_key, in_longer_values, plain, with_part_twice
from tests.scores import real
from tests.several_parts import FLUTE, REST, SNARE, several_parts

from standlight.criteria import CRITERIA
from standlight.passages import (
    FEATURES,
    KEY_FEATURES,
    RANGE_FEATURES,
    SHIPPED_TABLES,
    find_passages,
    look,
    skyline,
    survey_piece,
)
from standlight.passages.demand import features_of, valid_windows
from standlight.passages.holding import held_of
from standlight.passages.profile import clock_of
from standlight.score import line_to_musicxml, player_line, read_score

MARCH, SYMPHONY = "tenth_regiment_hall.mxl", "beethoven_op21_1.mxl"


@pytest.fixture(scope="module")
def symphony():
    return read_score(real(SYMPHONY))


@pytest.fixture(scope="module")
def survey(symphony):
    return survey_piece(symphony)


def all_features(survey):
    return [features_of(p, w.held) for p, w in zip(survey.profiles, survey.windows, strict=True)]


def test_demand_is_the_mean_percentile_as_scipy_counts_it(survey):
    lines = [p.index for p in survey.profiles if p.group == "lines"]
    pools = {
        key: np.concatenate([survey.windows[at].features[key] for at in lines
                             if key in survey.windows[at].features]).round(6)
        for key in FEATURES
        if key != "text"  # nobody sings here
    }  # fmt: skip
    for part, place in ((0, 5), (6, 40), (13, 100), (17, 3)):
        features = survey.windows[part].features
        percentiles = [
            stats.percentileofscore(pools[key], round(features[key][place], 6), kind="mean") / 100
            for key in features
            if np.ptp(pools[key]) > 0
        ]
        assert survey.windows[part].demand[place] == pytest.approx(np.mean(percentiles), abs=1e-6)


def test_windows_hold_what_plain_counting_finds(symphony, survey):
    seconds_a_quarter = 60 / symphony.measures[0].tempo_qpm
    for part in (0, 4, 13):
        line = player_line(symphony.parts[part].notes)
        profile = survey.profiles[part]
        for first in (2, 5):
            last = first + 4  # the slow introduction keeps one tempo
            inside = [note for note in line if first <= note.measure <= last]
            held = held_of(profile, survey.clock, np.array([first]), np.array([last]))
            lengths = [float(n.duration_quarters) * seconds_a_quarter for n in inside]
            steps = [abs(b.midi - a.midi) for a, b in zip(line, line[1:], strict=False)
                     if first <= b.measure <= last]  # fmt: skip
            assert held.onsets[0] == len(inside)
            assert held.long_notes[0] == sum(length >= 0.5 for length in lengths)
            assert held.distinct_pitches[0] == len({note.midi for note in inside})
            assert held.leaps[0] == sum(step > 4 for step in steps)
            assert held.staccatos[0] == sum("staccato" in note.marks for note in inside)
            assert held.slurs[0] == sum("slur_start" in note.marks for note in inside)
            if inside:
                assert held.highest[0] == max(note.midi for note in inside)
                assert held.lowest[0] == min(note.midi for note in inside)
            assert held.seconds[0] == pytest.approx(
                seconds_a_quarter * float(sum(symphony.measures[at].length_quarters
                                              for at in range(first, last + 1)))
            )  # fmt: skip


@pytest.mark.parametrize("name", [MARCH, SYMPHONY, "stanford_op68_1.mxl"])
def test_values_twice_as_long_at_twice_the_tempo_change_no_feature(name):
    before = survey_piece(read_score(plain(real(name))))
    after = survey_piece(read_score(in_longer_values(real(name))))
    for part, (one, other) in enumerate(
        zip(all_features(before), all_features(after), strict=True)
    ):
        assert np.array_equal(before.windows[part].firsts, after.windows[part].firsts)
        for key in one:
            assert other[key] == pytest.approx(one[key], abs=1e-6), (part, key)
        assert after.windows[part].demand == pytest.approx(before.windows[part].demand, abs=1e-6)


def test_transposing_a_part_changes_range_and_key_features_only(symphony, survey):
    moved = survey_piece(in_another_key(symphony, 13, semitones=2, fifths=2))
    before, after = survey.windows[13].features, moved.windows[13].features
    changed = {key for key in before if not np.allclose(before[key], after[key])}
    assert changed and changed <= RANGE_FEATURES | KEY_FEATURES
    for part in (0, 14):
        for key, values in survey.windows[part].features.items():
            assert np.array_equal(values, moved.windows[part].features[key])


def test_a_doubled_part_gets_the_same_demand_and_the_same_passage(symphony):
    found = find_passages(
        survey_piece(with_part_twice(symphony, 6)), [CRITERIA["rhythm"], CRITERIA["dynamics"]]
    )
    one, copy = found.parts[6].passage, found.parts[-1].passage
    assert one is not None and (one.first, one.last) == (copy.first, copy.last)
    assert one.demand == copy.demand


def test_demand_tells_a_hard_part_from_an_easy_one_and_a_busy_place_from_a_calm_one():
    runs = " | ".join(["C5 s E5 G5 C#5 F5 A5 D5 Bb5 C5 F#5 A5 E5 G5 C6 D5 Ab5"] * 4)
    calm = " | ".join(["C5 h D5 h"] * 4)
    survey = survey_piece(
        read_score(line_to_musicxml(f"{calm} | {runs}", instrument="Flute")), length_measures=4
    )
    heights = skyline(survey, 0, 4)
    assert heights[4] > heights[0] + 0.3
    calm_place, between, busy = (look(survey, 0, first, first + 3).demand for first in (0, 2, 4))
    assert busy > between > calm_place


def test_demand_is_neither_constant_nor_blind_to_parts(survey):
    means = [float(w.demand.mean()) for w, p in zip(survey.windows, survey.profiles, strict=True)
             if p.group == "lines"]  # fmt: skip
    spreads = [float(w.demand.std()) for w in survey.windows if len(w.firsts) > 20]
    assert np.ptp(means) > 0.2 and min(spreads) > 0.02
    every = np.concatenate([w.demand for w in survey.windows])
    assert 0 <= every.min() < 0.3 and 0.7 < every.max() <= 1


def test_a_weight_of_nothing_takes_a_feature_out(symphony, survey):
    from dataclasses import replace

    quiet = replace(SHIPPED_TABLES, weights={**SHIPPED_TABLES.weights, "note_rate": 0.0})
    without = survey_piece(symphony, tables=quiet)
    assert "note_rate" not in without.scales["lines"].sorted_values
    assert not np.allclose(without.windows[13].demand, survey.windows[13].demand)


def test_percussion_is_compared_among_percussion(symphony, survey):
    (timpani,) = [p for p in survey.profiles if p.name == "Timpani"]
    assert timpani.group == "percussion"
    pool = survey.scales["percussion"].sorted_values["note_rate"]
    assert len(pool) == len(survey.windows[timpani.index].firsts)


def test_every_weight_has_its_feature_and_its_words():
    assert set(SHIPPED_TABLES.weights) == set(FEATURES) == set(SHIPPED_TABLES.weight_words)


def test_windows_are_playable_alone(symphony, survey):
    for profile in survey.profiles:
        line = player_line(symphony.parts[profile.index].notes)
        starts = {note.measure for note in line}
        for first in valid_windows(profile, survey.clock, 8)[::7].tolist():
            assert first in starts
            start = symphony.measures[first].onset_quarters
            assert not any(
                n.onset_quarters < start < n.onset_quarters + n.duration_quarters for n in line
            )
            end = symphony.measures[first + 7].onset_quarters
            end += symphony.measures[first + 7].length_quarters
            inside = [n for n in line if first <= n.measure < first + 8]
            assert len(inside) >= 8
            sounding = sum(min(n.onset_quarters + n.duration_quarters, end) - n.onset_quarters
                           for n in inside)  # fmt: skip
            assert sounding >= (end - start) / 2  # in seconds more, where the tempo changes


def test_a_tempo_from_outside_rules_over_the_score_s_own(symphony):
    slow, fast = (survey_piece(symphony, tempo_qpm=tempo) for tempo in (60.0, 120.0))
    assert look(fast, 13, 20, 27).note_rate_hz == pytest.approx(
        2 * look(slow, 13, 20, 27).note_rate_hz
    )
    clock = clock_of(symphony, 60.0)
    assert clock.starts_s == pytest.approx(clock.starts_quarters)


def test_everything_a_window_holds_is_finite_or_honestly_absent(survey):
    for windows in survey.windows:
        for one in fields(windows.held):
            values = getattr(windows.held, one.name)
            assert values.shape == windows.firsts.shape, one.name
            if one.name not in ("lowest", "highest"):
                assert all(math.isfinite(value) for value in values), one.name


def in_score(*parts):
    """Typed lines (instrument, text) as one surveyed score."""
    return survey_piece(read_score(several_parts(parts, letters=())))


def test_without_anything_to_compare_with_there_is_no_demand():
    """A drum that never plays long enough to be heard alone has no scale; half would be a guess."""
    drum = " | ".join([REST] * 14 + ["x h x q x", "x w"])
    survey = in_score(("Flute", FLUTE), ("Snare drum", drum))
    seen = look(survey, 1, 12, 15, [CRITERIA["rhythm"]])
    assert seen.demand is None and seen.note_rate_hz > 0 and "rhythm values" in seen.reason
    assert look(survey, 0, 0, 7).demand is not None


def test_parts_with_short_entries_only_are_compared_by_those():
    """The drum plays on, the winds four or five measures at a time: no two eights to compare."""
    busy = ["C5 e D5 E5 F5 G5 F5 E5 D5"] * 4
    calm = ["C5 h D5", "E5 q F5 h.", "E5 h D5", "C5 w"]
    quick = " | ".join([*busy, *[REST] * 12])
    slow = " | ".join([*[REST] * 6, *calm, *[REST] * 6])
    survey = in_score(("Flute", quick), ("Oboe", slow), ("Snare drum", SNARE))
    assert survey.length == 8 and not len(survey.windows[0].firsts)
    flute, oboe = (look(survey, part, first, first + 3) for part, first in ((0, 0), (1, 6)))
    assert flute.demand > 0.5 > oboe.demand
    # Were every demand one half, the spread would be nothing and look perfectly fair.
    assert find_passages(survey, []).demand_sd > 0.01
