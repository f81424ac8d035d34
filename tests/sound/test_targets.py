"""Just intervals against the figures of the trade table (check_values.tsv, pitch.ji.*)."""

import pytest

from standlight.sound import PitchTarget
from standlight.sound.targets import JUST_CENTS


@pytest.mark.parametrize(
    ("semitones", "cents"),
    [
        (4, -13.686),  # 5:4, pitch.ji.M3
        (3, 15.641),  # 6:5, pitch.ji.m3
        (7, 1.955),  # 3:2, pitch.ji.P5
        (0, 0.0),
        (5, -1.955),  # 4:3, the fifth's inversion
        (9, -15.641),  # 5:3, the minor third's inversion
        (8, 13.686),  # 8:5, the major third's inversion
    ],
)
def test_just_intervals_lie_where_the_table_says(semitones, cents):
    for tonic in (0, 5, 10):
        target = PitchTarget("just", tonic)
        assert target.offset_cents(60 + tonic + semitones) == pytest.approx(cents, abs=0.001)


def test_inversions_add_to_an_octave():
    # the three whose inversion is another choice of the textbook set are left out: tritone,
    # minor seventh (9:5) and major second (9:8) differ by a comma, 21.506 cents (pitch.comma)
    for step in (1, 3, 4, 5, 7, 8, 9, 11):
        assert JUST_CENTS[step] + JUST_CENTS[12 - step] == pytest.approx(0.0, abs=1e-9)
    assert JUST_CENTS[2] + JUST_CENTS[10] == pytest.approx(21.506, abs=0.001)


def test_equal_temperament_moves_nothing_and_a_tonic_is_asked_for():
    assert PitchTarget().offset_cents(64) == 0.0
    with pytest.raises(ValueError, match="sounding tonic"):
        PitchTarget("just")
    with pytest.raises(ValueError, match="MIDI number"):
        PitchTarget("drone", 60)
    with pytest.raises(ValueError, match="none of"):
        PitchTarget("mean")
