"""The Flesch-Kincaid grade against the trade table's worked value, and the counter's own rules."""

import pytest

from standlight.kinds import ReadingGrade, reading_grade
from standlight.kinds.reading_grade import syllables_in


def test_the_worked_value_of_the_trade_table():
    # check_values.tsv read.fk: 100 words, 8 sentences, 130 syllables: FKGL 4.625 (computed)
    assert ReadingGrade(100, 8, 130).grade == pytest.approx(4.625, abs=5e-4)


@pytest.mark.parametrize(
    ("word", "count"),
    # Syllables as any dictionary of English divides these words.
    [("clarinet", 3), ("measure", 2), ("people", 2), ("changes", 2), ("scale", 1), ("played", 1),
     ("wanted", 2), ("musician", 3), ("quarter", 2), ("passages", 3), ("rhythm", 2), ("idea", 3),
     ("a", 1), ("crescendo", 3), ("pieces", 2), ("called", 1), ("playing", 2), ("it's", 1)],
)  # fmt: skip
def test_syllables(word, count):
    assert syllables_in(word) == count


def test_a_text_by_hand():
    # Two sentences and a line without a full stop; 4 + 4 + 2 words, 4 + 6 + 3 syllables.
    found = reading_grade("Play the first note. Listen to the others!\nYour section")
    assert (found.words, found.sentences, found.syllables) == (10, 3, 13)


def test_longer_words_and_sentences_are_harder_and_nothing_is_easy():
    easy = reading_grade("Play it slow. Then play it fast.")
    hard = reading_grade(
        "Demonstrate an interpretation incorporating appropriate stylistic characteristics."
    )
    assert easy.grade < 3.0 < 12.0 < hard.grade
    assert reading_grade("").grade == 0.0 and reading_grade("12 + 4").words == 0
