"""How long a usual passage is, and that a survey is made once."""

import pytest

from standlight.programme.models import Piece
from standlight.programme.surveys import usual_measures


@pytest.mark.parametrize(
    ("beats", "unit", "tempo_qpm", "measures"),
    [
        (4, 4, 96.0, 8),  # 20 s: the common 20 to 30 s of a check
        (6, 8, 120.0, 12),  # a quick march in two: eight measures last 12 s
        (2, 4, 160.0, 16),
        (2, 4, 300.0, 16),  # not even sixteen are enough; no passage is longer
        (4, 4, 30.0, 6),  # a slow movement: eight measures last 64 s
        (4, 4, 20.0, 4),
        (12, 8, 20.0, 4),
    ],
)
def test_a_usual_passage_lasts_a_quarter_of_a_minute_or_more_but_no_minute(
    beats, unit, tempo_qpm, measures
):
    piece = Piece(measures=[{"beats": beats, "beat_unit": unit}] * 20)
    assert usual_measures(piece, tempo_qpm) == measures


def test_a_piece_without_measures_gets_the_first_length():
    assert usual_measures(Piece(measures=[]), 90.0) == 8
