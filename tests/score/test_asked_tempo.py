"""The tempo over the music is the one a check asks for, in the beat that the score counts."""

import pytest
from lxml import etree
from tests.score.test_cutting import meter, metronomes
from tests.score_makers import ATTRIBUTES, note, score_of

from standlight.score import cut_passage, line_to_musicxml, read_passage, with_tempo


def mark(unit, number, dots=0, words=""):
    dotted = "<beat-unit-dot/>" * dots
    return (
        f"<direction>{words}<direction-type><metronome><beat-unit>{unit}</beat-unit>{dotted}"
        f"<per-minute>{number}</per-minute></metronome></direction-type></direction>"
    )


def cut_of(inside, last=0):
    return cut_passage(score_of(inside), 0, 0, last)


@pytest.mark.parametrize(
    ("beats", "unit", "quarters", "printed", "asked_qpm", "expected"),
    [
        (4, 4, 8, mark("quarter", 108), 96, ("quarter", "96", 0)),
        (6, 8, 6, mark("quarter", 72, 1), 90, ("quarter", "60", 1)),
        (2, 2, 8, mark("half", 60), 100, ("half", "50", 0)),
        (4, 4, 8, mark("half", 60), 100, ("half", "50", 0)),
        (6, 8, 6, mark("eighth", 144), 60, ("eighth", "120", 0)),
        (6, 8, 6, "", 90, ("quarter", "60", 1)),
        (4, 4, 8, '<sound tempo="108"/>', 96, ("quarter", "96", 0)),
    ],
)
def test_the_asked_tempo_is_printed_once_in_the_scores_own_beat(
    beats, unit, quarters, printed, asked_qpm, expected
):
    cut = cut_of(meter(beats, unit) + printed + note("C", 4, quarters))
    asked = with_tempo(cut, asked_qpm)
    name, number, dots = expected
    assert metronomes(asked) == [(0, name, number, dots, "0")]
    assert read_passage(asked).tempo_qpm == pytest.approx(asked_qpm)


def test_a_second_time_changes_nothing_and_another_tempo_replaces_the_first():
    cut = cut_of(ATTRIBUTES + mark("quarter", 108) + note("C", 4, 8))
    once = with_tempo(cut, 84.0)
    assert with_tempo(once, 84.0) == once
    assert metronomes(with_tempo(once, 66.0)) == [(0, "quarter", "66", 0, "0")]


def test_words_stay_and_later_tempos_keep_their_relation():
    allegro = "<direction-type><words>Allegro</words></direction-type>"
    cut = cut_of(
        ATTRIBUTES + mark("quarter", 120, words=allegro) + note("C", 4, 8) + "\n"
        + mark("quarter", 60) + note("D", 4, 8),
        last=1,
    )  # fmt: skip
    asked = with_tempo(cut, 90.0)
    assert metronomes(asked) == [(0, "quarter", "90", 0, "0"), (1, "quarter", "45", 0, "0")]
    assert [one.tempo_qpm for one in read_passage(asked).measures] == [90, 45]
    assert etree.fromstring(asked).findtext(".//words") == "Allegro"


def test_notes_and_their_ids_are_untouched():
    cut = cut_of(ATTRIBUTES + mark("quarter", 120) + note("C", 4, 4) + note("E", 4, 4))
    asked = with_tempo(cut, 90.0)
    before, after = (etree.fromstring(one).findall(".//note") for one in (cut, asked))
    assert [one.get("id") for one in after] == [one.get("id") for one in before] == ["n0", "n1"]
    assert read_passage(asked).notes == read_passage(cut).notes


def test_a_typed_line_gets_the_tempo_too():
    line = line_to_musicxml("tempo 120 time 6/8 Bb4 q. C5 q.", instrument="Flute")
    assert metronomes(with_tempo(line, 75.0)) == [(0, "quarter", "50", 1, "0")]
