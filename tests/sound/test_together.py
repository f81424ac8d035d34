"""A group at once: its common pulse by formula, and nothing told of anybody's notes."""

import numpy as np
import pytest
from tests.sound.groups import CHORDS, onset_s, passage_of, quartet, sung

from standlight.criteria import CRITERIA
from standlight.listening import ONLY_THE_PULSE, Terms, hear, report_as_json
from standlight.sound import Recording, perform_together


def together(recording, passage, **more):
    return hear(recording, passage, Terms(96.0, "Soprano", together=True, **more))


@pytest.mark.parametrize("part", range(4))
def test_every_line_of_a_chord_progression_gives_the_same_pulse_to_a_few_milliseconds(part):
    lines = quartet()
    performance = perform_together(sung(lines, 88.0), lines[part], 96.0)
    heard = np.array([note.onset_s for note in performance.notes])
    late_ms = 1000.0 * (heard - onset_s(np.arange(24), 88.0))
    # Each tone takes 15 ms to rise: all entries are late alike, which no pulse hears.
    assert np.ptp(late_ms) < 4.0
    assert performance.tempo_qpm == pytest.approx(88.0, rel=0.001)
    assert abs(performance.tempo_drift_percent) < 0.2


def test_a_group_that_gains_speed_reads_so_and_its_curve_follows():
    lines = quartet()
    report = together(sung(lines, 96.0, gain_percent=0.4), lines[0], criteria=("pulse",))
    readings = {reading.name: reading for reading in report.readings}
    # The period at beat q is (1 - 0.004 q) of the first: from 0 to 23 it falls by 9.2 percent.
    assert readings["drift"].value == pytest.approx(9.6, abs=0.6)
    assert "faster" in readings["drift"].sentence and "stops" not in readings
    for point in report.tempo_curve[4:-4]:
        assert point.tempo_qpm == pytest.approx(96.0 / (1.0 - 0.004 * point.quarters), rel=0.01)


def test_only_the_pulse_is_read_of_a_group_and_nothing_else_is_told():
    lines = quartet()
    report = together(sung(lines, 96.0, spread_ms=12.0), lines[1])
    assert report.verdicts == () and report.spots == () and report.notes == ()
    assert report.added == () and report.restarts == () and report.tuning_cents is None
    for reading in report.readings:
        if reading.criterion == "pulse":
            assert reading.value is not None
        else:
            by_ear = CRITERIA[reading.criterion].by_ear
            assert reading.value is None and reading.because == (by_ear or ONLY_THE_PULSE)
    assert len(report.loudness_line) > 20
    assert report_as_json(report)["together"] is True


def test_the_same_take_heard_as_one_player_is_not_trusted():
    lines = quartet()
    report = hear(sung(lines, 96.0), lines[0], Terms(96.0, "Soprano"))
    distrust = {"other_sounds", "other_piece", "noisy", "too_noisy"}
    assert {verdict.code for verdict in report.verdicts} & distrust
    assert report.together is False


def test_lines_of_different_rhythm_share_their_beat():
    slow = passage_of([48, 43, 48, 41, 48, 50, 43, 48], [2] * 8)
    quick = passage_of([60, 62, 64, 65] * 4, [1] * 16)
    busy = passage_of([67, 69, 71, 72, 71, 69, 67, 65] * 4, ["1/2"] * 32)
    take = sung([slow, quick, busy], 80.0, spread_ms=10.0)
    for line in (slow, quick, busy):
        assert perform_together(take, line, 96.0).tempo_qpm == pytest.approx(80.0, rel=0.01)


def test_another_piece_or_noise_gives_no_pulse_and_says_why():
    other = passage_of([61, 66, 63, 68, 70, 61, 66, 63] * 2, [1, 1, 2, "1/2", "1/2", 1, 1, 1] * 2)
    take = sung(quartet(), 96.0)
    noise = np.random.default_rng(1000).normal(0, 0.05, 12 * 22_050).astype(np.float32)
    for recording in (take, Recording(noise, 22_050)):
        report = together(recording, other, criteria=("pulse",))
        assert [reading.value for reading in report.readings] == [None]
        assert "could not be picked out" in report.readings[0].because
        assert report.tempo_qpm is None and report.tempo_curve == ()


def test_a_silent_take_of_a_group_is_still_silence():
    hush = np.random.default_rng(1001).normal(0, 1e-5, 6 * 22_050).astype(np.float32)
    report = together(Recording(hush, 22_050), passage_of(CHORDS[0], [1] * 4))
    assert [verdict.code for verdict in report.verdicts] == ["silence"]
    assert all(reading.value is None for reading in report.readings)
