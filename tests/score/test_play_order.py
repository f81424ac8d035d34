"""The order of playing, against the suite's repeats and forms everybody knows."""

import pytest
from tests.scores import suite

from standlight.score import read_score
from standlight.score.play_order import play_order
from standlight.score.walked import Signs


def order(*signs: Signs) -> str:
    """Measures as letters, a for the first."""
    return "".join("abcdefghijkl"[index] for index in play_order(signs, [0] * len(signs)))


def test_without_signs_it_is_as_written():
    assert order(Signs(), Signs(), Signs()) == "abc"


def test_a_backward_repeat_goes_to_the_start_or_the_last_forward_one():
    assert order(Signs(), Signs(backward_times=2), Signs()) == "ababc"
    assert order(Signs(), Signs(forward=True), Signs(backward_times=3), Signs()) == "abcbcbcd"


def test_endings_are_played_on_the_passes_they_number():
    first = Signs(ending=(1,), ending_stops=True, backward_times=2)
    second = Signs(ending=(2,), ending_stops=True)
    assert order(Signs(), first, second, Signs()) == "abacd"
    both = Signs(ending=(1, 2), ending_stops=True, backward_times=2)
    third = Signs(ending=(3,), ending_stops=True)
    assert order(Signs(), both, third) == "ababac"


def test_a_minuet_plays_its_repeats_once_after_the_da_capo_and_stops_at_fine():
    # Minuet a b (repeated, fine), trio c d (repeated), da capo: common practice, no source.
    assert (
        order(
            Signs(),
            Signs(backward_times=2, fine=True),
            Signs(forward=True),
            Signs(backward_times=2, da_capo=True),
        )
        == "ababcdcdab"
    )


def test_dal_segno_al_coda_leaps_to_the_coda():
    assert (
        order(
            Signs(),
            Signs(segno=True),
            Signs(to_coda=True),
            Signs(dal_segno=True),
            Signs(coda=True),
            Signs(),
        )
        == "abcdbcef"
    )


def test_after_a_da_capo_the_last_ending_is_taken():
    first = Signs(ending=(1,), ending_stops=True, backward_times=2)
    second = Signs(ending=(2,), ending_stops=True, fine=True)
    assert order(Signs(), first, second, Signs(da_capo=True)) == "abacdac"


def test_a_new_movement_starts_its_repeats_anew():
    signs = [Signs(), Signs(), Signs(backward_times=2)]
    assert play_order(signs, [0, 1, 1]) == (0, 1, 2, 1, 2)


def test_signs_that_go_round_for_ever_end_all_the_same():
    signs = [Signs(forward=True, backward_times=10_000, ending=(1,))] * 3
    assert len(play_order(signs, [0, 0, 0])) < 1_000


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        # Worked out by hand from the barlines of the suite's files (one measure a number).
        ("45a", (0, 0, 0, 0, 0, 1)),
        ("45b", (0, 1, 0, 2, 3)),
        ("45d", (0, 1, 0, 2, 3, 4, 0, 5, 6, 7, 8, 0, 9, 0, 10, 11)),
        ("45e", (0, 1, 0, 2, 3, 4, 4, 5, 6, 5, 7, 8, 7, 8, 9)),
        ("45g", (0, 1)),
    ],
)
def test_the_suite_is_played_as_its_barlines_say(name, expected):
    assert read_score(suite(name)).play_order == expected
