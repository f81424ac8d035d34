"""Growth in words: every state has its sentence, and a musician can read theirs at grade 6."""

import datetime

import pytest

from standlight.kinds import reading_grade
from standlight.programme.queries.growth_words import (
    DIRECTOR_STATES,
    MUSICIAN_STATES,
    Moved,
    own_view_words,
)

FIRST, LAST = datetime.date(2026, 9, 3), datetime.date(2026, 11, 20)
CLEAR = {
    "rising": Moved(FIRST, LAST, 0.5, 0.2, 0.9),
    "falling": Moved(FIRST, LAST, -0.3, -0.6, -0.05),
    "could_be_chance": Moved(FIRST, LAST, 0.3, -0.2, 0.8),
    "too_few": None,
}


@pytest.mark.parametrize("state", CLEAR)
def test_both_people_get_a_sentence_for_every_state(state):
    for table in (DIRECTOR_STATES, MUSICIAN_STATES):
        said = table[state](CLEAR[state])
        assert said[0].isupper() and said.endswith(".") and "None" not in said


def test_size_direction_days_and_interval_are_told_to_the_director():
    said = DIRECTOR_STATES["falling"](CLEAR["falling"])
    assert "about a third of a level down" in said
    assert "from Sep 3 to Nov 20" in said
    assert "likely between a tenth and two thirds of a level" in said


def test_what_could_be_chance_is_never_called_rising_or_falling():
    for table in (DIRECTOR_STATES, MUSICIAN_STATES):
        said = table["could_be_chance"](CLEAR["could_be_chance"])
        assert "could be chance" in said
        assert not any(word in said.lower() for word in ("rising", "falling", "you are going"))


def test_a_musician_of_twelve_can_read_every_sentence_of_theirs():
    texts = [MUSICIAN_STATES[state](moved) for state, moved in CLEAR.items()]
    texts += [own_view_words(6, kinder, 1, you=True) for kinder in (0, 1, 4)]
    for text in texts:
        assert reading_grade(text).grade <= 6.0, text


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        ((6, 4, 0), "You rated yourself 6 times. You were kinder than your director 4 times."),
        ((1, 0, 1), "You rated yourself once. You were stricter than your director once."),
        ((1, 0, 0), "You rated yourself once. You gave the same as your director."),
        ((0, 0, 0), ""),
    ],
)
def test_the_own_view_is_counted_never_judged(counts, said):
    assert own_view_words(*counts, you=True) == said
