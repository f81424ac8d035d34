"""What each criterion reads, from performances whose truth is arithmetic."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from standlight.criteria import CRITERIA
from standlight.criteria.figures import line_through, mean_interval, median_difference, t_95
from standlight.criteria.gaps import gaps_of
from standlight.criteria.spots import spots_of
from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound import HeardNote, Performance, PitchTarget
from standlight.sound.values import AddedSound, Resumed

QUARTER_S = 0.6
"""At 100 quarters a minute."""


def play(
    values, *, midi=None, marks=None, dynamics=None, cents=None, late_ms=None, share=0.9,
    loudness=None, drums=False, rests=(), **more,
):  # fmt: skip
    """A performance of ``values`` (quarters) at 100 a minute; per-note lists say what differs.

    After each index in ``rests`` a quarter rest is written and kept.
    """
    count = len(values)
    midi, marks = midi or [60] * count, marks or [()] * count
    dynamics, cents = dynamics or [None] * count, cents or [0.0] * count
    late_ms, loudness = late_ms or [0.0] * count, loudness or [-20.0] * count
    shares = share if isinstance(share, list) else [share] * count
    notes, heard, onset = [], [], Fraction(0)
    for i, value in enumerate(Fraction(v) for v in values):
        notes.append(
            Note(onset, value, None if drums else midi[i], int(onset // 4),
                 drum="snare" if drums else None, marks=frozenset(marks[i]), dynamic=dynamics[i])
        )  # fmt: skip
        start = QUARTER_S * float(onset) + late_ms[i] / 1000.0
        heard.append(
            HeardNote(
                index=i, outcome="played", onset_s=start,
                offset_s=start + shares[i] * QUARTER_S * float(value),
                midi_heard=None if drums else midi[i] + cents[i] / 100.0,
                deviation_cents=None if drums else cents[i],
                deviation_se_cents=None if drums else 1.0,
                asynchrony_ms=late_ms[i], probability=0.95, loudness_lkfs=loudness[i],
                sounding_share=shares[i],
            )  # fmt: skip
        )
        onset += value + (1 if i in rests else 0)
    facts = {
        "passage": Passage("", "", "", (), tuple(notes), onset), "notes": tuple(heard),
        "added": (), "restarts": (), "attempts": (), "shift_semitones": 0,
        "tuning_cents": None if drums else float(np.median(cents)), "tuning_se_cents": 1.0,
        "tempo_qpm": 100.0, "tempo_drift_percent": 0.0, "tempo_drift_se_percent": 1.0,
        "marked_tempo_qpm": 100.0, "fit": 1.0, "explained_share": 1.0, "seconds": 30.0,
        "sounding_share": 1.0, "median_confidence": 0.99,
    }  # fmt: skip
    return Performance(**{**facts, **more})


def named(key, performance):
    """The criterion's readings by name."""
    found = CRITERIA[key].read(performance)
    assert len({reading.name for reading in found}) == len(found)
    for reading in found:
        assert reading.sentence if reading.value is not None else reading.because
        if reading.low is not None:
            assert reading.low <= reading.value <= reading.high
    return {reading.name: reading for reading in found}


SCALE = [60, 62, 64, 65, 67, 69, 71, 72]
# C major in five-limit just intervals minus equal temperament, cents: trade table pitch.ji.* for
# third and fifth; 9:8, 4:3, 5:3 and 15:8 by 1200 log2 of the ratio
JUST_MAJOR = [0.0, 3.910, -13.686, -1.955, 1.955, -15.641, -11.731, 0.0]


def test_a_just_scale_has_no_spread_against_just_intervals_and_one_against_equal():
    just = play([1] * 8, midi=SCALE, cents=JUST_MAJOR)
    equal = named("intonation", just)["spread of the notes"]
    assert equal.value > 4.0
    target = PitchTarget("just", tonic=0)
    against = named("intonation", replace(just, target=target))["spread against just intervals"]
    assert against.value == pytest.approx(0.0, abs=0.002)
    sharp = play([1] * 8, midi=SCALE, cents=[one + 20.0 for one in JUST_MAJOR])
    moved = named("intonation", replace(sharp, target=target))
    assert moved["spread against just intervals"].value == pytest.approx(0.0, abs=0.002)
    assert moved["tuning of the take"].sentence == "The whole take is a little sharp."


def test_against_a_drone_the_takes_own_offset_counts():
    sharp = play([1] * 8, midi=SCALE, cents=[one + 40.0 for one in JUST_MAJOR])
    drone = replace(sharp, target=PitchTarget("drone", tonic=0))
    assert named("intonation", drone)["distance from the drone"].value == pytest.approx(40.0)
    assert len(CRITERIA["intonation"].find(drone)) == 8
    just = replace(sharp, target=PitchTarget("just", tonic=0))
    assert CRITERIA["intonation"].find(just) == ()


def test_the_drift_of_a_voice_is_read_and_its_notes_from_its_own_centre():
    wobble = [3.0, -3.0] * 8
    cents = [-4.0 * i + wobble[i] for i in range(16)]  # 60 cents down from first to last
    drifting = play([1] * 16, cents=cents)
    drift = named("intonation", drifting)["drift of the pitch"]
    assert drift.value == pytest.approx(-60.0, abs=4.0)
    assert drift.high < -50.0
    assert drift.sentence == "The pitch drifts down from start to end."
    played_spread = named("intonation", drifting)["spread of the notes"].value
    sung = replace(drifting, sung=True)
    assert named("intonation", sung)["spread of the notes"].value < 6.0 < played_spread
    assert CRITERIA["intonation"].find(sung) == ()


def test_a_pitch_that_stays_is_not_called_drifting():
    steady = play([1] * 16, cents=[4.0, -4.0] * 8)
    assert named("intonation", steady)["drift of the pitch"].sentence == (
        "The pitch stays where it began."
    )


def test_a_second_eighth_that_comes_early_shows_in_the_entries_and_not_in_the_length():
    # of each pair the first eighth lasts 0.24 s and the second 0.36 s: on average as written
    values = [1, "1/2", "1/2"] * 10
    late = [0.0, 0.0, -60.0] * 10
    rushed = named("rhythm", play(values, late_ms=late))
    eighths = rushed["length of eighth notes"]
    assert eighths.n_notes == 19
    assert eighths.value == pytest.approx(100.0, abs=2.0)
    assert rushed["entries of eighth notes"].value == pytest.approx(-30.0, abs=0.1)
    assert rushed["entries of eighth notes"].sentence == "Eighth notes enter early."
    assert named("rhythm", play(values))["length of eighth notes"].sentence == (
        "Eighth notes last about as long as written."
    )


def test_values_that_are_short_throughout_are_rushed_and_the_others_dragged():
    values = [1, 1, "1/2", "1/2", "1/2", "1/2"] * 6
    # eighths of 0.27 s for 0.30 s, quarters of 0.66 s for 0.60 s: a measure still lasts 2.4 s
    onsets, at = [], 0.0
    for value in values:
        onsets.append(at)
        at += 0.66 if value == 1 else 0.27
    even = np.cumsum([0.0] + [QUARTER_S * float(Fraction(v)) for v in values[:-1]])
    late = [1000.0 * (one - two) for one, two in zip(onsets, even, strict=True)]
    found = named("rhythm", play(values, late_ms=late))
    assert found["length of eighth notes"].value == pytest.approx(90.0, abs=2.5)
    assert found["length of eighth notes"].sentence == "Eighth notes are rushed."
    assert found["length of quarter notes"].value == pytest.approx(110.0, abs=2.5)
    assert found["length of quarter notes"].sentence == "Quarter notes are dragged."


def test_one_value_alone_has_nothing_to_be_compared_with():
    assert list(named("rhythm", play([1] * 12))) == ["scatter of entries"]


def test_the_tempo_is_told_against_the_mark_and_where_it_bends():
    slower = play([1] * 16, marked_tempo_qpm=125.0)
    against = named("pulse", slower)["tempo against the mark"]
    assert against.value == pytest.approx(-20.0)
    assert against.sentence == "The tempo is 20 percent slower than marked."
    assert named("pulse", slower)["bending of the tempo"].value == pytest.approx(0.0, abs=1e-6)
    # the first half at 100, the second at 120: a fifth faster
    late = [0.0] * 12 + [-100.0 * i for i in range(1, 13)]
    bent = named("pulse", play([1] * 24, late_ms=late))["bending of the tempo"]
    assert bent.value == pytest.approx(100.0 * 20.0 / 110.0, abs=2.5)
    assert bent.sentence.startswith("It is fastest in measure")


def test_a_wait_is_a_stop_and_a_fermata_is_none():
    late = [0.0] * 6 + [1200.0] * 6
    waited = named("pulse", play([1] * 12, late_ms=late))["stops"]
    assert (waited.value, waited.sentence) == (
        1.0, "It stopped one time, and went on in measure 2."
    )  # fmt: skip
    held = play([1] * 12, late_ms=late, marks=[()] * 5 + [("fermata",)] + [()] * 6)
    assert named("pulse", held)["stops"].sentence == "It went on without a stop."
    jumped = replace(play([1] * 12), restarts=(Resumed(3.0, 5),))
    assert named("pulse", jumped)["stops"].value == 1.0


def places(key, performance):
    """The note and the size of each trouble that a criterion finds."""
    return [(one.index, one.one, one.size) for one in CRITERIA[key].find(performance)]


STOP = "start after a stop"


def test_a_stop_has_a_place_where_it_went_on_and_a_fermata_has_none():
    late = [0.0] * 6 + [1200.0] * 6
    waited = play([1] * 12, late_ms=late)
    assert places("pulse", waited) == [(6, STOP, 2.0)]
    (spot,) = spots_of(waited, [CRITERIA["pulse"]])
    assert (spot.first_measure, spot.sentence) == (1, "Measure 2: one start after a stop.")
    held = play([1] * 12, late_ms=late, marks=[()] * 5 + [("fermata",)] + [()] * 6)
    assert places("pulse", held) == []
    seam = replace(waited, seams=frozenset({6}))  # a repeat was taken
    assert places("pulse", seam) == []


@pytest.mark.parametrize(
    ("to", "at", "sentence"),
    [
        ((5,), [5], "It stopped one time, and went on in measure 2."),
        ((0,), [0], "It stopped one time, and went on in measure 1."),
        ((5, 5), [5, 5], "It stopped two times, and went on in measure 2."),
        ((9, 0), [0, 9], "It stopped two times, and went on in measures 1 and 3."),
    ],
)
def test_a_start_again_has_a_place_as_often_as_it_is_counted(to, at, sentence):
    jumped = replace(
        play([1] * 12), restarts=tuple(Resumed(3.0 + n, index) for n, index in enumerate(to))
    )
    assert [index for index, _, _ in places("pulse", jumped)] == at
    stops = named("pulse", jumped)["stops"]
    assert (stops.value, stops.sentence) == (float(len(at)), sentence)


def test_a_wait_and_a_start_again_are_two_stops_and_a_long_note_is_named_beside_them():
    late = [0.0] * 6 + [1200.0] * 6
    both = replace(
        play([1] * 12, late_ms=late), restarts=(Resumed(1.0, 0),), prolonged=frozenset({9})
    )
    assert places("pulse", both)[:2] == [(0, STOP, 2.0), (6, STOP, 2.0)]
    assert places("pulse", both)[2][0] == 9
    assert named("pulse", both)["stops"].value == 2.0


def test_after_a_start_again_on_a_note_that_was_not_heard_the_next_heard_note_has_the_place():
    base = play([1] * 12)
    silent = replace(base.notes[5], outcome="missing", onset_s=None, asynchrony_ms=None)
    notes = tuple(silent if one.index == 5 else one for one in base.notes)
    jumped = replace(base, notes=notes, restarts=(Resumed(3.0, 5),))
    assert places("pulse", jumped) == [(6, STOP, 2.0)]


def test_starts_after_a_stop_are_counted_with_what_was_tried_before():
    base = play([1] * 12)
    again = replace(base, restarts=(Resumed(3.0, 4),), attempts=base.notes[2:5])
    reading = named("notes", again)["started again"]
    assert (reading.value, reading.low) == (1.0, None)
    assert reading.sentence == "It started again one time; three notes had been tried before."
    assert "notes of unclear pitch" not in named("notes", base)
    blurred = [replace(n, deviation_cents=None) if n.index in (2, 3) else n for n in base.notes]
    unclear = named("notes", replace(base, notes=tuple(blurred)))["notes of unclear pitch"]
    assert unclear.value == 2.0 and unclear.because
    assert unclear.sentence == "Two quick notes were heard with no pitch that can be read exactly."


def test_dots_and_slurs_are_told_from_plain_notes():
    marks = [("staccato",)] * 6 + [()] * 6 + [("slurred",)] * 6
    shares = [0.45, 0.5, 0.55, 0.5, 0.48, 0.52] + [0.85] * 6 + [1.0] * 6
    found = named("articulation", play([1] * 18, marks=marks, share=shares))
    dots = found["short notes (dots) against plain notes"]
    assert dots.value == pytest.approx(-35.0)
    assert dots.sentence == "Notes with dots are clearly shorter than plain notes."
    slurs = found["joined notes (slurs) against plain notes"]
    assert slurs.value == pytest.approx(15.0)
    same = play([1] * 12, marks=[("staccato",)] * 6 + [()] * 6, share=0.85)
    assert named("articulation", same)["short notes (dots) against plain notes"].sentence == (
        "Notes with dots sound about as long as plain notes."
    )


def test_separation_is_the_silence_before_the_next_plain_note():
    # 15 percent of 600 ms is 90 ms
    found = named("articulation", play([1] * 8, share=0.85))["separation of plain notes"]
    assert found.value == pytest.approx(90.0)
    assert "short silence" in found.sentence


def test_a_breath_in_mid_phrase_is_a_gap_and_one_at_a_rest_is_not():
    shares = [0.95] * 12
    shares[4] = 0.6  # 0.24 s of silence where the music goes on
    marks = [()] * 12
    marks[9] = ("breath_after",)
    shares[9] = 0.6
    whole = play([1] * 12, share=shares, marks=marks, rests=(7,))
    opened = [(gap.index, gap.written) for gap in gaps_of(whole) if gap.open]
    assert opened == [(4, ""), (7, "rest"), (9, "breath mark")]
    found = named("expression", whole)
    assert found["gaps where none is written"].value == 1.0
    assert found["gaps where none is written"].sentence == (
        "One gap where none is written, in measure 2."
    )
    assert found["breath marks with a gap"].sentence == "A gap is heard at 1 of 1 breath marks."


def test_dots_and_starts_after_a_stop_are_no_gaps():
    dotted = play([1] * 12, share=0.4, marks=[("staccato",)] * 12)
    assert gaps_of(dotted) == ()
    stopped = play([1] * 12, share=[0.95] * 5 + [0.2] + [0.95] * 6)
    assert sum(gap.open for gap in gaps_of(stopped)) == 1
    stopped = replace(stopped, restarts=(Resumed(3.6, 6),))
    assert sum(gap.open for gap in gaps_of(stopped)) == 0


def test_three_markings_are_compared_step_by_step():
    dynamics = ["p"] * 5 + ["mf"] * 5 + ["f"] * 5
    wobble = [-0.5, 0.0, 0.5, 0.2, -0.2]
    loudness = [base + one for base in (-30.0, -25.0, -24.0) for one in wobble]
    found = named("dynamics", play([1] * 15, dynamics=dynamics, loudness=loudness))
    assert found["loud minus soft"].value == pytest.approx(6.0)
    assert found["mf minus p"].value == pytest.approx(5.0)
    assert found["f minus mf"].value == pytest.approx(1.0)
    assert found["f minus mf"].sentence == "Little contrast is heard between mf and f."


def test_accents_are_read_against_plain_notes_of_the_same_marking():
    marks = [("accent",) if i % 4 == 0 else () for i in range(16)]
    loudness = [-17.0 if i % 4 == 0 else -20.0 for i in range(16)]
    found = named("dynamics", play([1] * 16, marks=marks, loudness=loudness, dynamics=["f"] * 16))
    assert found["accents over plain notes"].value == pytest.approx(3.0)
    assert found["accents over plain notes"].sentence == "Accents stand out."


def test_every_other_stroke_shows_when_it_is_louder():
    loudness = [-18.0 if i % 2 else -21.0 for i in range(33)]
    jitter = [4.0, -4.0, 1.0] * 11
    drums = play(["1/4"] * 33, drums=True, loudness=loudness, late_ms=jitter)
    assert abs(named("evenness", drums)["every other stroke"].value) == pytest.approx(3.0)
    even = play(["1/4"] * 33, drums=True, late_ms=jitter)
    assert named("evenness", even)["every other stroke"].sentence == (
        "Strokes in a run are alike in loudness."
    )


def test_transposing_part_and_take_together_changes_no_reading():
    midi = [60, 62, 64, 65] * 4
    cents = [3.0, -8.0, 12.0, -2.0] * 4
    low = play([1] * 16, midi=midi, cents=cents)
    high = play([1] * 16, midi=[one + 5 for one in midi], cents=cents)
    for key in ("intonation", "notes", "rhythm", "pulse", "articulation", "dynamics"):
        assert CRITERIA[key].read(low) == CRITERIA[key].read(high)


def test_small_statistics_agree_with_printed_tables():
    # Student's t, two-sided 95 percent (any textbook's table): 1, 2, 4, 10, 30, 120
    table = {1: 12.706, 2: 4.303, 4: 2.776, 10: 2.228, 30: 2.042, 120: 1.980}
    for freedom, value in table.items():
        assert t_95(freedom) == pytest.approx(value, abs=0.003)
    assert mean_interval([1.0, 2.0, 3.0])[0] == 2.0
    assert median_difference([3.0, 3.0], [1.0, 1.0]) == (2.0, 2.0, 2.0)


def test_a_line_is_not_moved_by_one_wild_value():
    places = np.arange(20.0)
    values = 2.0 * places
    values[10] += 300.0
    change, se, line = line_through(places, values)
    assert change == pytest.approx(38.0, abs=0.01)
    assert line[-1] == pytest.approx(38.0, abs=0.01)
    assert se < 0.5


@pytest.mark.parametrize(("count", "wild_share"), [(12, 0.0), (30, 0.0), (30, 0.1)])
def test_the_interval_of_a_line_covers_the_truth(count, wild_share):
    """Lines without slope, normal scatter, some values six times as wild: 95 percent is meant."""
    rng, covered = np.random.default_rng(11), 0
    for _ in range(600):
        places, values = np.sort(rng.uniform(0, 32, count)), rng.normal(0, 10, count)
        values = np.where(rng.random(count) < wild_share, 6.0 * values, values)
        change, se, _ = line_through(places, values)
        covered += abs(change) <= t_95(count - 2) * se
    assert 0.90 < covered / 600 < 0.985


@pytest.mark.parametrize(
    ("indexes", "sentence"),
    [
        ({5}, "One note in measure 2 went on longer than written: held, or played twice."),
        ({1, 5}, "Two notes in measures 1 and 2 went on longer than written: held, or played "
                 "twice."),
        ({1, 5, 9, 13}, "Four notes went on longer than written: held, or played twice."),
    ],
)  # fmt: skip
def test_notes_that_went_on_are_named_with_up_to_three_measures(indexes, sentence):
    performance = play([1] * 16, prolonged=frozenset(indexes))
    for key in ("notes", "pulse"):
        longer = named(key, performance)["held on or played twice"]
        assert (longer.value, longer.sentence) == (float(len(indexes)), sentence)
        assert {one.index for one in CRITERIA[key].find(performance)} == indexes
        assert "held on or played twice" not in named(key, play([1] * 16))


def test_a_note_that_went_on_is_one_place_for_whoever_asks_for_notes_and_pulse():
    performance = play([1] * 16, prolonged=frozenset({5}))
    for keys in (["pulse"], ["notes"], ["notes", "pulse"]):
        (spot,) = spots_of(performance, [CRITERIA[key] for key in keys])
        assert spot.sentence == "Measure 2: one note longer than written, held or played twice."


@pytest.mark.parametrize(
    ("quarters", "sentence"),
    [
        ((), "No sounds added between the notes."),
        ((5.5,), "One sound added between the notes in measure 2."),
        ((-0.5, 8.25, 9.5), "Three sounds added between the notes in measures 1 and 3."),
        ((1.5, 4.5, 8.5, 12.5), "Four sounds added between the notes."),
    ],
)
def test_added_sounds_are_named_with_up_to_three_measures(quarters, sentence):
    added = tuple(AddedSound(QUARTER_S * at, QUARTER_S * at + 0.1, 61.0) for at in quarters)
    assert named("notes", play([1] * 16, added=added))["added sounds"].sentence == sentence
