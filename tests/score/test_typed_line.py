"""The plain form: what the page for people shows works, and slips are named."""

import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from standlight.errors import UnreadableLine
from standlight.score import INSTRUMENTS, line_to_musicxml, read_passage, read_score

PAGE = (Path(__file__).parents[2] / "docs" / "typed-line.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"```line ([^\n]+)\n(.*?)```", PAGE, re.DOTALL)


def notes(text: str, instrument: str = "Flute"):
    return read_passage(line_to_musicxml(text, instrument=instrument)).notes


def test_the_page_has_examples():
    assert len(EXAMPLES) >= 6


@pytest.mark.parametrize(("instrument", "text"), EXAMPLES)
def test_every_example_of_the_page_is_read_without_a_remark(instrument, text):
    score = read_score(line_to_musicxml(text, instrument=instrument))
    assert score.parts[0].notes
    assert score.remarks == ()


def test_the_first_example_sounds_as_written_for_a_flute():
    instrument, text = EXAMPLES[0]
    passage = read_passage(line_to_musicxml(text, instrument=instrument))
    assert [one.midi for one in passage.notes] == [65, 67, 69, 70, 72, 69]
    assert passage.tempo_qpm == 96


@pytest.mark.parametrize("name", [row.name for row in INSTRUMENTS.values() if not row.unpitched])
def test_a_typed_pitch_sounds_as_far_off_as_the_instrument_transposes(name):
    # The transpositions are the table's, which is copied from published charts.
    (only,) = notes("C5 w", name)
    assert only.midi == 72 + INSTRUMENTS[name].transposition


def test_a_line_names_its_instrument_so_that_the_listening_knows_it():
    for row in INSTRUMENTS.values():
        text = "x w" if row.unpitched else "C5 w"
        assert read_passage(line_to_musicxml(text, instrument=row.name)).instrument == row.name


def test_values_dots_triplets_and_ties_have_their_lengths():
    lengths = [one.duration_quarters for one in notes("C4 e. D4 s E4 e3 F4 G4 A4 h~ | A4 w")]
    third = Fraction(1, 3)
    assert lengths == [Fraction(3, 4), Fraction(1, 4), third, third, third, 6]


def test_marks_slurs_and_dynamics_arrive():
    one, two, three, four = notes("mf ( C4 q D4 ) f E4 q> F4 q'")
    assert [note.dynamic for note in (one, two, three, four)] == ["mf", "mf", "f", "f"]
    assert one.marks == {"slur_start"}
    assert two.marks == {"slur_stop", "slurred"}
    assert (three.marks, four.marks) == ({"accent"}, {"staccato"})


def test_accidentals_are_printed_when_key_or_measure_do_not_say_them():
    root = etree.fromstring(
        line_to_musicxml("key F  Bb4 q B4 q B4 q Bb4 q | B4 q F#4 h F4 q", instrument="Flute")
    )
    printed = [note.findtext("accidental") for note in root.iter("note")]
    assert printed == [None, "natural", None, "flat", "natural", "sharp", "natural"]


def test_short_notes_are_beamed_by_the_beat():
    root = etree.fromstring(line_to_musicxml("C4 e D4 E4 s F4 G4 e r h", instrument="Flute"))
    beams = [[beam.text for beam in note.iter("beam")] for note in root.iter("note")]
    assert beams == [["begin"], ["end"], ["begin", "begin"], ["continue", "end"], ["end"], []]
    root = etree.fromstring(
        line_to_musicxml("time 6/8 C4 e D4 E4 F4 E4 D4", instrument="Flute")
    )
    assert [note.findtext("beam") for note in root.iter("note")] == [
        "begin", "continue", "end", "begin", "continue", "end",
    ]  # fmt: skip


def test_a_pickup_is_measure_0_and_the_last_measure_completes_it():
    passage = read_passage(line_to_musicxml("pickup G4 q | C5 w | C5 h.", instrument="Flute"))
    assert passage.printed == "0 to 2"
    assert [one.length_quarters for one in passage.measures] == [1, 4, 3]


def test_strokes_are_drums_without_pitch():
    strokes = notes("snare q rim q bass q x q", "Snare drum")
    assert [one.drum for one in strokes] == ["snare", "rim", "bass", "snare drum"]
    assert all(one.midi is None for one in strokes)


@pytest.mark.parametrize(
    ("text", "instrument", "says"),
    [
        ("C4 w | H4 w", "Flute", "measure 2, “H4”"),
        ("C4", "Flute", "no value.*measure 1"),
        ("C4q", "Flute", "space is missing"),
        ("C q", "Flute", "needs its octave"),
        ("time 3/4 C4 w", "Flute", "do not fit in 3/4, at measure 1"),
        ("C4 w | C4 h", "Flute", "do not fill 4/4, at measure 2"),
        ("C4 q q", "Flute", "value follows no note"),
        ("C4 e3 D4 e3 E4 h", "Flute", "triplet"),
        ("snare w", "Flute", "plays pitches"),
        ("C4 w", "Snare drum", "has no pitches"),
        ("time 4/5 C4 w", "Flute", "meter is written"),
        ("key H C4 w", "Flute", "no signature"),
        ("tempo fast C4 w", "Flute", "number of quarters"),
        ("C4 w | |", "Flute", "follows no note"),
        ("( C4 w", "Flute", "not closed"),
        ("C4 h~ D4 h", "Flute", "same pitch"),
        ("C4 q time 3/4", "Flute", "start of a measure"),
        ("", "Flute", "no note"),
        ("r w", "Flute", "no note"),
        ("key", "Flute", "followed by nothing"),
        ("C4 w", "Kazoo of doom", "no instrument"),
        ("C4 w | " * 5_000, "Flute", "characters"),
    ],
)
def test_a_slip_is_named_with_its_place(text, instrument, says):
    with pytest.raises(UnreadableLine, match=says):
        line_to_musicxml(text, instrument=instrument)


@given(st.text(alphabet="ABCDEFGr#bn12345|whqest.()~3> pfm", max_size=60))
def test_whatever_is_typed_is_read_or_refused_and_never_crashes(text):
    try:
        data = line_to_musicxml(text, instrument="Flute")
    except UnreadableLine:
        return
    assert read_passage(data).notes
