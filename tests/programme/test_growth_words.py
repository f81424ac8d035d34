"""Growth in words: every code has its sentence, and a musician can read theirs at grade 6."""

import datetime

import pytest

from standlight.kinds import reading_grade
from standlight.programme.queries.growth_lines import MARK_WORDS
from standlight.programme.queries.growth_words import (
    DIRECTOR_REASONS,
    DIRECTOR_STATES,
    MUSICIAN_REASONS,
    MUSICIAN_STATES,
    OWN_VIEW_TRENDS,
    OWN_VIEWS,
    Moved,
    own_view_words,
)
from standlight.programme.queries.studies import NOT_SHOWN
from standlight.ratings.growth_values import (
    AHEAD,
    BEHIND,
    COULD_BE_CHANCE,
    FALLING,
    GROWTH_REASONS,
    GROWTH_STATES,
    RISING,
)
from standlight.ratings.self_view import SELF_STATES, TREND_STATES

FIRST, LAST = datetime.date(2026, 9, 3), datetime.date(2026, 11, 20)
UP = Moved(FIRST, LAST, 0.5, 0.2, 0.9)
DOWN = Moved(FIRST, LAST, -0.3, -0.6, -0.05)
UNSURE = Moved(FIRST, LAST, 0.3, -0.2, 0.8)
CLEAR = {RISING: UP, AHEAD: UP, FALLING: DOWN, BEHIND: DOWN}
JARGON = ("logit", "slope", "theta", "p-value", "significan", "standard error", "model", "facet")


def said_of(table, state):
    return table[state](CLEAR.get(state, UNSURE))


@pytest.mark.parametrize("state", GROWTH_STATES)
def test_both_people_get_a_sentence_for_every_state_that_the_study_knows(state):
    assert set(DIRECTOR_STATES) == set(GROWTH_STATES)
    assert set(MUSICIAN_STATES) == {*GROWTH_STATES, NOT_SHOWN}
    for table in (DIRECTOR_STATES, MUSICIAN_STATES):
        said = said_of(table, state)
        assert said[0].isupper() and said.endswith(".")
        assert not any(word in said.lower() for word in JARGON)


def test_every_reason_that_the_study_knows_has_words_or_is_known_to_need_none():
    assert set(DIRECTOR_REASONS) == set(MUSICIAN_REASONS) == set(GROWTH_REASONS)
    assert set(MARK_WORDS) == set(GROWTH_STATES)
    assert all(words for code, words in DIRECTOR_REASONS.items() if code)
    for words in (*DIRECTOR_REASONS.values(), *MUSICIAN_REASONS.values()):
        assert not any(word in words.lower() for word in JARGON)


def test_every_state_of_an_own_view_has_words_for_both():
    assert set(OWN_VIEWS) == set(SELF_STATES)
    assert set(OWN_VIEW_TRENDS) == set(TREND_STATES)
    assert all(words[0] for words in OWN_VIEWS.values())


def test_size_direction_days_and_interval_are_told_to_the_director():
    said = DIRECTOR_STATES[FALLING](DOWN)
    assert "about a third of a level down" in said
    assert "from Sep 3 to Nov 20" in said
    assert "likely between a tenth and two thirds of a level" in said


def test_the_musician_is_told_the_least_that_a_sure_change_may_be():
    assert "up about half a level, at least a fifth of a level" in MUSICIAN_STATES[RISING](UP)
    barely = Moved(FIRST, LAST, -0.3, -0.6, -0.01)
    assert "at least a little" in MUSICIAN_STATES[FALLING](barely)


def test_what_could_be_chance_is_never_called_rising_or_falling():
    for table in (DIRECTOR_STATES, MUSICIAN_STATES):
        said = table[COULD_BE_CHANCE](UNSURE)
        assert "could be chance" in said
        assert not any(word in said.lower() for word in ("rising", "falling", "you are going"))


def test_a_musician_is_never_set_beside_the_group():
    told = [said_of(MUSICIAN_STATES, state) for state in MUSICIAN_STATES]
    for said in (*told, *MUSICIAN_REASONS.values()):
        assert not any(word in said.lower() for word in ("group", "others", "than the", "section"))


def test_a_musician_of_twelve_can_read_every_sentence_of_theirs():
    texts = [said_of(MUSICIAN_STATES, state) for state in MUSICIAN_STATES]
    texts += [words for words in MUSICIAN_REASONS.values() if words]
    texts += [words[0] for words in (*OWN_VIEWS.values(), *OWN_VIEW_TRENDS.values()) if words[0]]
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
