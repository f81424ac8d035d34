"""Cuts say the same as the score they were taken from: a property over real editions."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from tests.score_makers import ATTRIBUTES, note, score_of
from tests.scores import REAL, SUITE, real, suite

from standlight.errors import StandlightError
from standlight.score import cut_passage, cut_passages, player_line, read_passage, read_score
from standlight.score.player_line import player_line_places

SCORES = {name: real(name) for name in REAL}


def heard(notes, start=0, end=None):
    """(onset, pitch or drum, length) of notes, counted from ``start`` and cut off at ``end``."""
    return [
        (
            one.onset_quarters - start,
            one.midi if one.midi is not None else one.drum,
            one.duration_quarters
            if end is None
            else min(one.duration_quarters, end - one.onset_quarters),
        )
        for one in notes
    ]


def assert_same(data: bytes, score, part: int, first: int, last: int, cut: bytes):
    passage = read_passage(cut)
    start = score.measures[first].onset_quarters
    end = score.measures[last].onset_quarters + score.measures[last].length_quarters
    inside = [one for one in score.parts[part].notes if start <= one.onset_quarters < end]
    expected = heard(player_line(inside), start, end)
    found = heard(passage.notes)
    # What is held into the passage is played at its start; nothing else may differ.
    extra = [one for one in found if one not in expected]
    assert all(onset == 0 for onset, _, _ in extra) and len(extra) <= 1
    assert [one for one in found if one not in extra] == expected
    assert [one.length_quarters for one in passage.measures] == [
        one.length_quarters for one in score.measures[first : last + 1]
    ]
    assert [one.tempo_qpm for one in passage.measures] == [
        one.tempo_qpm for one in score.measures[first : last + 1]
    ]
    assert [one.printed for one in passage.measures] == [
        one.printed for one in score.measures[first : last + 1]
    ]
    assert passage.instrument == score.parts[part].instrument
    ids = re.findall(rb'<note[^>]* id="(n\d+)"', cut)
    assert sorted(ids) == sorted(b"n%d" % number for number in range(len(passage.notes)))


@pytest.fixture(scope="module")
def scores():
    return {name: read_score(data) for name, data in SCORES.items()}


@settings(max_examples=12, derandomize=True)
@given(data=st.data())
def test_random_cuts_of_real_editions_play_what_the_part_plays(scores, data):
    name = data.draw(st.sampled_from(REAL))
    score = scores[name]
    places = []
    for _ in range(8):
        part = data.draw(st.integers(0, len(score.parts) - 1))
        first = data.draw(st.integers(0, len(score.measures) - 1))
        last = data.draw(st.integers(first, min(len(score.measures) - 1, first + 15)))
        places.append((part, first, last))
    for place, cut in zip(places, cut_passages(SCORES[name], places), strict=True):
        assert_same(SCORES[name], score, *place, cut)


@pytest.mark.parametrize("name", SUITE)
def test_the_whole_and_the_end_of_every_suite_file_can_be_cut(name):
    data = suite(name)
    score = read_score(data)
    last = len(score.measures) - 1
    places = [(0, 0, last), (len(score.parts) - 1, last // 2, last)]
    for place, cut in zip(places, cut_passages(data, places), strict=True):
        assert_same(data, score, *place, cut)


def test_a_cut_of_a_cut_is_the_same_music():
    cut = cut_passage(real("tenth_regiment_hall.mxl"), 4, 8, 15)
    again = cut_passage(cut, 0, 0, 7)
    assert read_passage(again) == read_passage(cut)


def test_a_cut_carries_key_meter_clef_transposition_tempo_and_dynamic():
    data = score_of(
        ATTRIBUTES.replace(
            "</divisions>",
            "</divisions><key><fifths>-2</fifths></key>",
        ).replace(
            "</attributes>",
            "<clef><sign>F</sign><line>4</line></clef>"
            "<transpose><chromatic>-2</chromatic></transpose></attributes>",
        )
        + '<direction><direction-type><dynamics><p/></dynamics></direction-type><sound tempo="66"/>'
        + "</direction>" + note("C", 3, 8) + "\n" + note("D", 3, 8) + "\n" + note("E", 3, 8)
    )  # fmt: skip
    root = etree.fromstring(cut_passage(data, 0, 1, 2))
    attributes = root.find("part/measure/attributes")
    assert attributes.findtext("key/fifths") == "-2"
    assert attributes.findtext("time/beats") == "4"
    assert attributes.findtext("clef/sign") == "F"
    assert attributes.findtext("transpose/chromatic") == "-2"
    passage = read_passage(cut_passage(data, 0, 1, 2))
    assert passage.printed == "2 to 3"
    assert passage.tempo_qpm == 66
    assert [(one.midi, one.dynamic) for one in passage.notes] == [(48, "p"), (50, "p")]


def metronomes(cut: bytes) -> list[tuple[int, str, str, int, str]]:
    """(measure, beat unit, per minute, dots, offset) of each printed tempo."""
    found = []
    for index, measure in enumerate(etree.fromstring(cut).iterfind("part/measure")):
        for direction in measure.iterfind("direction"):
            mark = direction.find("direction-type/metronome")
            if mark is not None:
                found.append((
                    index, mark.findtext("beat-unit"), mark.findtext("per-minute"),
                    len(mark.findall("beat-unit-dot")), direction.findtext("offset", "0"),
                ))  # fmt: skip
    return found


def meter(beats: int, unit: int) -> str:
    return ATTRIBUTES.replace("<beats>4<", f"<beats>{beats}<").replace(
        "<beat-type>4<", f"<beat-type>{unit}<"
    )


@pytest.mark.parametrize(
    ("beats", "unit", "quarters", "printed"),
    [
        (4, 4, 8, ("quarter", "96", 0)),
        (6, 8, 6, ("quarter", "64", 1)),
        (2, 2, 8, ("half", "48", 0)),
        (3, 8, 3, ("eighth", "192", 0)),
    ],
)
def test_a_tempo_for_players_only_is_printed_in_the_beat_of_the_meter(
    beats, unit, quarters, printed
):
    whole = '<sound tempo="96"/>' + note("C", 4, quarters)
    data = score_of(meter(beats, unit) + whole + "\n" + note("D", 4, quarters))
    cut = cut_passage(data, 0, 1, 1)
    name, number, dots = printed
    assert metronomes(cut) == [(0, name, number, dots, "0")]
    assert read_passage(cut).tempo_qpm == 96


def test_the_printed_beat_is_kept_and_every_part_gets_it_whoever_prints_it():
    mark = (
        '<direction><direction-type><metronome><beat-unit>half</beat-unit>'
        "<per-minute>60</per-minute></metronome></direction-type></direction>"
    )
    top = ATTRIBUTES + mark + note("C", 5, 8) + "\n" + note("C", 5, 8) + "\n" + note("C", 5, 8)
    low = ATTRIBUTES + note("C", 3, 8) + "\n" + note("C", 3, 8) + "\n" + note("C", 3, 8)
    rows = '<score-part id="P1"/><score-part id="P2"/>'
    (inside,) = re.findall(b'<part id="P1">.*</part>', score_of(low))
    data = score_of(top, part_list=rows).replace(
        b"</score-partwise>", inside.replace(b"P1", b"P2") + b"</score-partwise>"
    )
    for part in (0, 1):
        for first in (0, 1):
            cut = cut_passage(data, part, first, 2)
            assert metronomes(cut) == [(0, "half", "60", 0, "0")]
            assert read_passage(cut).tempo_qpm == 120


def test_a_tempo_printed_inside_stands_at_its_place_and_a_silent_one_stays_silent():
    mark = (
        '<direction><direction-type><metronome><beat-unit>quarter</beat-unit>'
        "<per-minute>80</per-minute></metronome></direction-type></direction>"
    )
    data = score_of(
        ATTRIBUTES + '<sound tempo="120"/>' + note("C", 4, 8) + "\n"
        + note("D", 4, 4) + mark + note("E", 4, 4) + "\n"
        + '<sound tempo="77.5"/>' + note("F", 4, 8)
    )  # fmt: skip
    cut = cut_passage(data, 0, 0, 2)
    assert metronomes(cut) == [(0, "quarter", "120", 0, "0"), (1, "quarter", "80", 0, "4")]
    assert [one.tempo_qpm for one in read_passage(cut).measures] == [120, 120, 77.5]


def test_no_tempo_is_printed_that_the_movement_does_not_give():
    """The second movement of the quartet, in 6/8, gives 116 quarters: 77 dotted ones."""
    data = real("hensel_quartet_e_flat.mxl")
    assert metronomes(cut_passage(data, 1, 100, 103)) == [(0, "quarter", "77", 1, "0")]
    mark = '<sound tempo="120"/>'
    data = score_of(
        ATTRIBUTES + mark + note("C", 4, 8) + "\n" + note("D", 4, 8) + "\n" + note("E", 4, 8)
    ).replace(b'number="3"', b'number="1"')
    assert metronomes(cut_passage(data, 0, 1, 1)) != []
    assert metronomes(cut_passage(data, 0, 2, 2)) == []
    assert read_passage(cut_passage(data, 0, 2, 2)).tempo_qpm == 120


def test_a_tempo_that_nobody_can_count_is_not_printed():
    data = score_of(ATTRIBUTES + '<sound tempo="1000"/>' + note("C", 4, 8))
    cut = cut_passage(data, 0, 0, 0)
    assert metronomes(cut) == [] and read_passage(cut).tempo_qpm == 1000


def test_hairpins_that_hang_over_an_edge_are_dropped_and_those_inside_stay():
    wedge = '<direction><direction-type><wedge type="{}"/></direction-type></direction>'
    data = score_of(
        ATTRIBUTES + wedge.format("crescendo") + note("C", 4, 8) + "\n"
        + note("D", 4, 8) + wedge.format("stop") + "\n"
        + wedge.format("diminuendo") + note("E", 4, 4) + note("F", 4, 4) + wedge.format("stop")
        + "\n" + note("G", 4, 8)
    )  # fmt: skip
    for place, kinds in {
        (0, 1): ["crescendo", "stop"], (0, 0): [], (1, 1): [], (1, 2): ["diminuendo", "stop"],
        (2, 3): ["diminuendo", "stop"], (3, 3): [],
    }.items():  # fmt: skip
        root = etree.fromstring(cut_passage(data, 0, *place))
        assert [one.get("type") for one in root.iter("wedge")] == kinds, place


def test_ties_and_slurs_that_cross_the_edge_are_dropped():
    tie = '<tie type="{0}"/>'
    slur = '<notations><tied type="{0}"/><slur type="{0}"/></notations>'
    start, stop = (tie + slur).format("start"), (tie + slur).format("stop")
    data = score_of(
        ATTRIBUTES + note("C", 4, 8, start) + "\n" + note("C", 4, 8, stop) + "\n" + note("D", 4, 8)
    )
    for first, last in ((0, 0), (1, 2)):
        cut = cut_passage(data, 0, first, last)
        assert b"<tie" not in cut and b"<slur" not in cut
    whole = cut_passage(data, 0, 0, 1)
    assert whole.count(b"<slur") == 2
    assert len(read_passage(whole).notes) == 1


def test_repeats_endings_jumps_and_bundled_rests_stay_behind():
    cut = cut_passage(suite("45d"), 0, 0, 9)
    assert b"<repeat" not in cut and b"<ending" not in cut
    assert b"multiple-rest" not in cut_passage(suite("02c"), 0, 0, 9)


def test_a_part_without_a_clef_gets_that_of_its_instrument():
    cut = cut_passage(real("tenth_regiment_hall.mxl"), 21, 8, 9)  # a trombone
    root = etree.fromstring(cut)
    assert root.findtext("part/measure/attributes/clef/sign") == "F"


@pytest.mark.parametrize("place", [(28, 0, 1), (-1, 0, 1), (0, 5, 4), (0, 0, 104), (0, -1, 3)])
def test_a_place_that_is_not_there_is_refused(place):
    with pytest.raises(StandlightError, match="no part with index|are not in a part"):
        cut_passage(real("tenth_regiment_hall.mxl"), *place)


def test_of_two_voices_the_upper_is_played_unless_another_is_named():
    two = (
        note("E", 5, 4, "<voice>1</voice>") + note("F", 5, 4, "<voice>1</voice>")
        + "<backup><duration>8</duration></backup>" + note("C", 4, 8, "<voice>2</voice>")
    )  # fmt: skip
    cut = cut_passage(score_of(ATTRIBUTES + two), 0, 0, 0)
    assert [one.midi for one in read_passage(cut).notes] == [76, 77]
    assert [one.midi for one in read_passage(cut, voice="2").notes] == [60]


def test_the_players_line_is_one_note_at_a_time(scores):
    for score in scores.values():
        for part in score.parts:
            line = player_line(part.notes)
            for one, following in zip(line, line[1:], strict=False):
                assert one.onset_quarters + one.duration_quarters <= following.onset_quarters
            assert [part.notes[place] for place in player_line_places(part.notes)] == list(line)
