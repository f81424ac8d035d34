"""Cuts on the upper line, the lower or all: ids, drawings and readings follow the choice."""

import re
from fractions import Fraction
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from music21 import converter
from tests.divisi_makers import two_voices
from tests.score_makers import ATTRIBUTES, note, score_of
from tests.scores import SUITE, real, suite

from standlight.errors import StandlightError
from standlight.score import (
    cut_passage,
    cut_passages,
    line_to_musicxml,
    read_passage,
    read_score,
)
from standlight.score.lines import is_divided, line_of, on_line
from standlight.score.player_line import LINES, divided
from standlight.score.shifting import lowered, shift_notation
from standlight.workshop import engrave

DIVISI = [
    ("beach_op32_2", 16, 168), ("beach_op32_2", 17, 168), ("beach_op32_2", 18, 168),
    ("beach_op32_2", 16, 149), ("beach_op32_2", 3, 160), ("beethoven_op21_1", 14, 0),
    ("brahms_op45_1", 12, 28), ("brahms_op45_1", 21, 97), ("haydn_104_1", 14, 287),
    ("hensel_op3_1", 3, 9), ("hensel_quartet_e_flat", 3, 558), ("schubert_coronach_ssa", 0, 2),
    ("schubert_coronach_ssa", 3, 4), ("stanford_op68_1", 4, 8),
]  # fmt: skip
"""(file, part, first measure): strings, winds and voices that divide, and pianos on two staves."""


@cache
def cuts(name, part, firsts):
    """Eight measures of a part from each of ``firsts``."""
    return cut_passages(real(f"{name}.mxl"), [(part, first, first + 7) for first in firsts])


def cut(name, part, first, line="upper"):
    return on_line(cuts(name, part, (first,))[0], line=line)


def midis(notation):
    return [one.midi for one in read_passage(notation).notes]


def written_by_id(notation):
    """(step, octave) by note id."""
    return {
        one.get("id"): (one.findtext("pitch/step"), one.findtext("pitch/octave"))
        for one in etree.fromstring(notation).iter("note")
        if one.get("id")
    }


@pytest.mark.parametrize("place", DIVISI)
def test_the_choice_is_remembered_and_nothing_printed_changes(place):
    plain = cut(*place)
    assert is_divided(plain) and line_of(plain) == "upper"
    assert b"identification" not in plain
    for line in LINES:
        chosen = cut(*place, line)
        assert line_of(chosen) == line
        assert on_line(chosen, line="upper") == plain
        printed = [re.sub(rb' id="n\d+"', b"", one) for one in (plain, chosen)]
        head, tail = printed[1].split(b"<part-list>")
        assert printed[0].endswith(b"<part-list>" + tail)
        assert head.count(b"<miscellaneous-field") == (line != "upper")


@pytest.mark.parametrize("place", DIVISI)
def test_the_ids_of_the_cut_and_of_the_drawing_are_the_line_s(place):
    for line in ("upper", "lower"):
        chosen = cut(*place, line)
        notes, ids = read_passage(chosen).notes, written_by_id(chosen)
        assert list(ids) and set(ids) == {f"n{number}" for number in range(len(notes))}
        for number, one in enumerate(notes):
            # MusicXML's octave 4 begins at middle C, MIDI 60 (MusicXML 4.0, type octave).
            step, octave = ids[f"n{number}"]
            natural = 12 * (int(octave) + 1) + "C D EF G A B".index(step)
            assert abs(one.written_midi - natural) <= 2
        assert set(re.findall(r'id="(n\d+)"', engrave(chosen))) == set(ids)


@pytest.mark.parametrize("place", DIVISI)
def test_where_all_is_played_the_upper_line_is_numbered_and_it_is_said(place):
    everything = read_passage(cut(*place, "all"))
    plain = read_passage(cut(*place))
    assert everything.several_at_once and not plain.several_at_once
    assert everything.notes == plain.notes
    assert not read_passage(cut(*place, "lower")).several_at_once


@pytest.mark.parametrize("line", LINES)
def test_a_line_is_chosen_when_the_measures_are_cut_or_afterwards(line):
    for name, part, first in (DIVISI[10], DIVISI[11], DIVISI[13]):
        asked = cut_passage(real(f"{name}.mxl"), part, first, first + 7, line=line)
        assert asked == cut(name, part, first, line)


CHORDS = [
    ("beethoven_op21_1", 13), ("beethoven_op21_1", 14), ("beethoven_op21_1", 15),
    ("beach_op32_2", 18), ("haydn_104_1", 15), ("hensel_quartet_e_flat", 2),
]  # fmt: skip
"""String parts with chords and no second voice."""


@cache
def plain_chords():
    """Their cuts without ties and grace notes, which are counted by other rules there."""
    found = [
        one for name, part in CHORDS for one in cuts(name, part, tuple(range(0, 120, 8)))
    ]
    return [one for one in found if not (b"<tie " in one or b"<grace" in one) and is_divided(one)]


@settings(max_examples=25, derandomize=True)
@given(data=st.data())
def test_of_chords_the_reference_finds_the_same_outer_notes(data):
    """music21 10, ``chord.Chord.pitches``: the highest and the lowest of each."""
    notation = data.draw(st.sampled_from(plain_chords()))
    struck = [
        [pitch.midi for pitch in one.pitches]
        for one in converter.parseData(notation, format="musicxml").recurse().notes
    ]
    assert midis(notation) == [max(pitches) for pitches in struck]
    assert midis(on_line(notation, line="lower")) == [min(pitches) for pitches in struck]


@pytest.mark.parametrize("place", [(16, 149), (3, 160)])
def test_of_two_voices_the_reference_s_second_voice_is_the_lower_line(place):
    """music21 10, ``stream.Voice``: in measures with two, both players have their own."""
    whole = converter.parseData(cut("beach_op32_2", *place), format="musicxml")
    lower = read_passage(cut("beach_op32_2", *place, "lower")).notes
    compared = 0
    for index, measure in enumerate(whole.parts[0].getElementsByClass("Measure")):
        if len(measure.voices) < 2:
            continue
        second = [one.pitch.midi for one in measure.voices[-1].notes]
        assert [one.midi for one in lower if one.measure == index] == second
        compared += len(second)
    assert compared >= 4


def test_a_hidden_rest_shares_and_a_printed_rest_is_silent():
    """Schubert's Coronach, first soprano, measures 5 to 8: read off the file's two voices."""
    upper, lower = (
        {(one.onset_quarters, one.midi) for one in read_passage(
            cut_passage(real("schubert_coronach_ssa.mxl"), 0, 4, 7, line=line)).notes}
        for line in ("upper", "lower")
    )  # fmt: skip
    # Where voice 2's rests are hidden both have the one stem. At the end of measure 6 its rest
    # is printed under the first voice's B flat; in 7 it holds a dotted quarter while the first
    # voice strikes D flat twice more.
    assert lower < upper
    assert upper - lower == {(Fraction(23, 2), 70), (Fraction(13), 73), (Fraction(27, 2), 73)}


@pytest.mark.parametrize(
    ("name", "upper", "lower"),
    [
        # Read off the files by hand; what each is for stands in its own description.
        ("43a", [65], [47]),  # "a simple piano staff": F4 over B2
        ("03b", [60, 60], [60, 57, 57]),  # voice 2 has nothing for the first beat: it is shared
        ("46e", [72, 72, 69, 65, 72], [72, 72, 60, 65, 72]),  # voice 2 at the second beat only
    ],
)
def test_lines_of_the_suite(name, upper, lower):
    data = suite(name)
    last = len(etree.fromstring(data).findall("part/measure")) - 1
    assert midis(cut_passage(data, 0, 0, last)) == upper
    assert midis(cut_passage(data, 0, 0, last, line="lower")) == lower


@settings(max_examples=30, derandomize=True)
@given(st.sampled_from(DIVISI), st.sampled_from(LINES), st.integers(-12, 12))
def test_a_line_moves_as_a_whole_and_stays_the_same_line(place, line, semitones):
    chosen = cut(*place, line)
    moved = shift_notation(chosen, semitones=semitones)
    assert line_of(moved) == line
    assert midis(moved) == [midi + semitones for midi in midis(chosen)]
    assert [one.get("id") for one in etree.fromstring(moved).iter("note")] == [
        one.get("id") for one in etree.fromstring(chosen).iter("note")
    ]
    other_way = on_line(shift_notation(cut(*place), semitones=semitones), line=line)
    assert midis(other_way) == midis(moved)
    assert line_of(lowered(chosen, -1)) == line


def test_what_a_file_says_of_itself_stays_beside_the_line():
    head = (
        "<identification><creator>X</creator><miscellaneous>"
        '<miscellaneous-field name="description">two</miscellaneous-field>'
        "</miscellaneous></identification>"
    )
    chord = note("E", 5, 8) + note("C", 5, 8, before="<chord/>")
    data = score_of(ATTRIBUTES + chord, head=head)
    lower = on_line(data, line="lower")
    assert midis(lower) == [72] and line_of(lower) == "lower"
    fields = [one.text for one in etree.fromstring(lower).iter("miscellaneous-field")]
    assert fields == ["two", "lower"]
    back = etree.fromstring(on_line(lower, line="upper"))
    assert [one.text for one in back.iter("miscellaneous-field")] == ["two"]


def test_a_cut_of_a_chosen_cut_begins_on_the_upper_line_again():
    chosen = cut(*DIVISI[0], "lower")
    assert midis(cut_passage(chosen, 0, 0, 7)) == midis(cut(*DIVISI[0]))


def test_a_typed_line_never_divides_and_another_line_is_refused():
    plain = line_to_musicxml("F4 q G4 A4 h", instrument="Flute")
    assert not is_divided(plain)
    assert not read_passage(on_line(plain, line="all")).several_at_once
    for ask in (lambda: on_line(plain, line="second"),
                lambda: cut_passage(plain, 0, 0, 0, line="second")):  # fmt: skip
        with pytest.raises(StandlightError, match="no line of a part"):
            ask()


def test_two_typed_voices_are_two_lines():
    both = two_voices("C5 h D5 h | E5 w", "A4 w | r h B4 h", instrument="Violin")
    assert midis(both) == [72, 74, 76]
    assert midis(on_line(both, line="lower")) == [69, 71]


@pytest.mark.parametrize("name", SUITE)
def test_every_part_of_the_suite_has_three_lines_with_their_ids(name):
    data = suite(name)
    score = read_score(data)
    last = len(score.measures) - 1
    places = [(part.index, 0, last) for part in score.parts[:3]]
    for (index, _, _), plain in zip(places, cut_passages(data, places), strict=True):
        apart = is_divided(plain)
        for line in LINES:
            chosen = on_line(plain, line=line)
            passage = read_passage(chosen)
            ids = re.findall(rb'<note[^>]* id="n(\d+)"', chosen)
            assert sorted(map(int, ids)) == list(range(len(passage.notes)))
            assert passage.several_at_once == (apart and line == "all")
            assert apart or passage.notes == read_passage(plain).notes
        if divided(score.parts[index], 0, last):
            assert apart
