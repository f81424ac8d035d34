"""A moved cut: every pitch by the same semitones, spelled as a reference spells it."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from music21 import converter, interval
from music21 import key as reference_key
from tests.scores import real

from standlight.errors import StandlightError
from standlight.score import cut_passage, line_to_musicxml, read_passage
from standlight.score.shifting import (
    fifths_of,
    key_words,
    lowered,
    moved_fifths,
    shift_notation,
    shift_words,
)

VOICES = {
    "hensel_op3_1": (0, 1, 2, 3),
    "stanford_op68_1": (0, 1, 2, 3),
    "schubert_coronach_ssa": (0, 1, 2),
    "sullivan_long_day_closes_ttbb": (0, 1, 2, 3),
    "brahms_op45_1": (12, 13, 14, 15),
}
"""The parts that are sung, by file."""

BAND = "tenth_regiment_hall"
MOVES = st.integers(min_value=-12, max_value=12)


def written(notation):
    """(step, alter, octave) of every pitch, in document order."""
    root = etree.fromstring(notation)
    return [
        (one.findtext("step"), int(one.findtext("alter") or 0), int(one.findtext("octave")))
        for one in root.iter("pitch")
    ]


def keys(notation):
    return [int(one.findtext("fifths")) for one in etree.fromstring(notation).iter("key")]


def printed(notation):
    return [one.text for one in etree.fromstring(notation).iter("accidental")]


def midis(notation):
    return [note.midi for note in read_passage(notation).notes]


def ids(notation):
    return [one.get("id") for one in etree.fromstring(notation).iter("note")]


@pytest.fixture(scope="module")
def cuts():
    """Eight measures of every voice of five choral movements, from two places."""
    found = []
    for name in VOICES:
        data = real(f"{name}.mxl")
        for part in VOICES[name]:
            for first in (3, 9):
                found.append(cut_passage(data, part, first, first + 7))
    # A part that rests there has nothing to move.
    return [cut for cut in found if read_passage(cut).notes]


@settings(max_examples=60)
@given(st.data())
def test_every_note_moves_by_the_same_semitones_and_keeps_its_id_and_time(cuts, data):
    cut, semitones = data.draw(st.sampled_from(cuts)), data.draw(MOVES)
    moved = shift_notation(cut, semitones=semitones)
    assert midis(moved) == [midi + semitones for midi in midis(cut)]
    assert ids(moved) == ids(cut)
    before, after = read_passage(cut).notes, read_passage(moved).notes
    assert [(n.onset_quarters, n.duration_quarters, n.marks) for n in after] == [
        (n.onset_quarters, n.duration_quarters, n.marks) for n in before
    ]


@settings(max_examples=60)
@given(st.data())
def test_there_and_back_is_the_same_spelling_key_and_accidentals(cuts, data):
    cut, semitones = data.draw(st.sampled_from(cuts)), data.draw(MOVES)
    # With six accidentals there are two spellings, and the way back cannot know which it was.
    assert all(abs(fifths) <= 5 for fifths in keys(cut))
    back = shift_notation(shift_notation(cut, semitones=semitones), semitones=-semitones)
    assert written(back) == written(cut)
    assert keys(back) == keys(cut)
    assert printed(back) == printed(cut)


def reference_interval(fifths, semitones):
    """The interval by which music21 moves with the fewest accidentals in the new signature.

    Source: music21 10, ``interval.Interval`` from name, ``key.KeySignature.transpose``.
    """
    names = {1: ("m2", "A1"), 2: ("M2", "d3"), 3: ("m3", "A2"), 4: ("M3", "d4"), 5: ("P4", "A3"),
             6: ("A4", "d5"), 7: ("P5", "d6"), 8: ("m6", "A5"), 9: ("M6", "d7"), 10: ("m7", "A6"),
             11: ("M7", "d8"), 12: ("P8",)}  # fmt: skip
    sign = "-" if semitones < 0 else ""
    options = [interval.Interval(name[0] + sign + name[1:]) for name in names[abs(semitones)]]
    before = reference_key.KeySignature(fifths)
    burdens = [abs(before.transpose(option).sharps) for option in options]
    return None if burdens.count(min(burdens)) > 1 else options[burdens.index(min(burdens))]


@pytest.mark.parametrize("semitones", [s for s in range(-12, 13) if s])
@pytest.mark.parametrize("fifths", range(-6, 7))
def test_the_new_key_has_the_fewest_accidentals_as_the_reference_counts_them(fifths, semitones):
    moved = moved_fifths(fifths, semitones)
    by = reference_interval(fifths, semitones)
    if by is None:
        assert abs(moved) == 6
    else:
        assert moved == reference_key.KeySignature(fifths).transpose(by).sharps


@pytest.mark.parametrize(
    ("name", "part", "first", "semitones"),
    [("hensel_op3_1", 0, 0, -2), ("hensel_op3_1", 3, 8, 1), ("stanford_op68_1", 2, 4, 3),
     ("schubert_coronach_ssa", 1, 0, -4), ("brahms_op45_1", 13, 30, 2), (BAND, 6, 8, -2)],
)  # fmt: skip
def test_pitches_and_keys_are_spelled_as_the_reference_spells_them(name, part, first, semitones):
    cut = cut_passage(real(f"{name}.mxl"), part, first, first + 7)
    assert len(set(keys(cut))) == 1, "one key, so that one interval says it all"
    by = reference_interval(fifths_of(cut), semitones)
    expected = [pitch_of(one, by) for one in parsed(cut)]
    found = [one.nameWithOctave for one in parsed(shift_notation(cut, semitones=semitones))]
    assert found == expected
    signature = reference_key.KeySignature(fifths_of(cut)).transpose(by)
    assert fifths_of(shift_notation(cut, semitones=semitones)) == signature.sharps


def parsed(notation):
    """Every pitch music21 reads in a cut."""
    return converter.parse(notation.decode(), format="musicxml").flatten().pitches


def pitch_of(pitch, by):
    return pitch.transpose(by).nameWithOctave


def test_printed_accidentals_say_the_new_alteration():
    # D major up a half step is E flat: what was raised against the signature still is.
    line = line_to_musicxml("key D F#4 q G#4 F4 C#5 | C5 q Bb4 A4 h", instrument="Soprano")
    moved = shift_notation(line, semitones=1)
    assert keys(moved) == [-3]
    assert written(moved)[:5] == [
        ("G", 0, 4), ("A", 0, 4), ("G", -1, 4), ("D", 0, 5), ("D", -1, 5),
    ]  # fmt: skip
    # G sharp against two sharps was printed; A natural against three flats is.
    assert printed(line) == ["sharp", "natural", "natural", "flat"]
    assert printed(moved) == ["natural", "flat", "flat", "flat"]


def test_an_octave_changes_octaves_alone():
    cut = cut_passage(real("hensel_op3_1.mxl"), 3, 0, 7)
    moved = shift_notation(cut, semitones=12)
    assert [(s, a, o - 1) for s, a, o in written(moved)] == written(cut)
    assert (keys(moved), printed(moved)) == (keys(cut), printed(cut))
    assert [one.text for one in etree.fromstring(moved).iter("text")] == [
        one.text for one in etree.fromstring(cut).iter("text")
    ]


def test_a_singer_s_treble_clef_takes_the_small_eight_and_an_instrument_s_does_not():
    sung = line_to_musicxml("C5 q D5 E5 h", instrument="Soprano")
    played = line_to_musicxml("C5 q D5 E5 h", instrument="Clarinet in Bb")
    low = etree.fromstring(shift_notation(sung, semitones=-12))
    assert low.findtext(".//clef/clef-octave-change") == "-1"
    assert etree.fromstring(shift_notation(played, semitones=-12)).find(
        ".//clef-octave-change"
    ) is None  # fmt: skip
    tenor = line_to_musicxml("C5 q D5 E5 h", instrument="Tenor")
    high = etree.fromstring(shift_notation(tenor, semitones=12))
    assert high.find(".//clef-octave-change") is None


def test_a_transposing_part_keeps_its_transposition():
    cut = cut_passage(real(f"{BAND}.mxl"), 6, 8, 15)
    before, after = (read_passage(one) for one in (cut, shift_notation(cut, semitones=2)))
    assert {n.midi - n.written_midi for n in before.notes} == {
        n.midi - n.written_midi for n in after.notes
    }
    said = [
        [(child.tag, child.text) for child in etree.fromstring(one).find(".//transpose")]
        for one in (cut, shift_notation(cut, semitones=2))
    ]
    assert said[0] == said[1] and said[0]


CHORD = """<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Alto</part-name>
</score-part></part-list><part id="P1"><measure number="1"><attributes><divisions>1</divisions>
{key}<time><beats>4</beats><beat-type>4</beat-type></time></attributes>{harmony}
<note id="n0"><pitch><step>A</step>{alter}<octave>4</octave></pitch><duration>4</duration>
<type>whole</type>{more}</note></measure></part></score-partwise>"""


def chord(key="<key><fifths>-1</fifths></key>", harmony="", alter="", more=""):
    return CHORD.format(key=key, harmony=harmony, alter=alter, more=more).encode()


def test_chord_symbols_move_with_the_notes_and_their_fingering_charts_go():
    harmony = (
        "<harmony><root><root-step>B</root-step><root-alter>-1</root-alter></root>"
        "<kind>major</kind><bass><bass-step>D</bass-step></bass><frame/></harmony>"
    )
    moved = etree.fromstring(shift_notation(chord(harmony=harmony), semitones=2))
    # B flat over D, a whole step up: C over E.
    assert moved.findtext(".//root-step") == "C" and moved.find(".//root-alter") is None
    assert moved.findtext(".//bass-step") == "E" and moved.find(".//frame") is None


def test_a_trill_s_accidental_belongs_to_the_note_above():
    more = (
        "<notations><ornaments><trill-mark/><accidental-mark>natural</accidental-mark>"
        "</ornaments></notations>"
    )
    moved = etree.fromstring(shift_notation(chord(more=more), semitones=-1))
    # A trilled with B natural in F; a half step lower G sharp trills with A sharp in E.
    assert keys(etree.tostring(moved)) == [4]
    assert moved.findtext(".//accidental-mark") == "sharp"


def test_a_cut_without_a_signature_gets_the_one_its_move_needs():
    moved = shift_notation(chord(key=""), semitones=2)
    assert keys(moved) == [2] and written(moved) == [("B", 0, 4)]


def test_past_double_accidentals_a_note_is_spelled_anew_and_says_so():
    # A double flat in F, a tritone up: E flat in B would need three; B natural in disguise.
    moved = shift_notation(chord(alter="<alter>-2</alter>"), semitones=1)
    assert midis(moved) == [68]
    assert all(abs(alter) <= 2 for _, alter, _ in written(moved))


def test_a_key_of_seven_sharps_comes_within_six():
    seven = chord(key="<key><fifths>7</fifths></key>", alter="<alter>1</alter>")
    assert keys(shift_notation(seven, semitones=1)) == [2]
    assert keys(shift_notation(seven, semitones=-12)) == [7]


def test_keys_that_no_one_interval_moves_well_are_moved_one_by_one():
    second = (
        '<note><rest/><duration>4</duration></note></measure><measure number="2"><attributes>'
        "<key><fifths>3</fifths></key></attributes><note><pitch><step>A</step><octave>4</octave>"
        "</pitch><duration>4</duration></note></measure></part></score-partwise>"
    )
    both = chord(key="<key><fifths>-3</fifths></key>").decode()
    both = both.replace("</measure></part></score-partwise>", second).encode()
    moved = shift_notation(both, semitones=6)
    assert keys(moved) == [3, -3]
    assert midis(moved) == [75, 75]


@pytest.mark.parametrize(
    ("notation", "semitones", "says"),
    [
        (line_to_musicxml("x q x x h", instrument="Snare drum"), -12, "no pitches"),
        (line_to_musicxml("C4 w", instrument="Alto"), 13, "an octave at most"),
        (chord(key="<key><key-step>B</key-step><key-alter>-1</key-alter></key>"), 2, "key"),
        (chord(alter="<alter>0.5</alter>"), 2, "quarter-tones"),
        (chord().replace(b"<octave>4<", b"<octave>8<"), 12, "range of MIDI"),
    ],
)
def test_what_cannot_be_moved_is_refused_in_a_sentence(notation, semitones, says):
    with pytest.raises(StandlightError, match=says):
        shift_notation(notation, semitones=semitones)


def test_signatures_of_another_kind_and_quarter_tones_still_go_an_octave():
    strange = chord(
        key="<key><key-step>B</key-step><key-alter>-1</key-alter></key>",
        alter="<alter>0.5</alter>",
    )
    assert written(shift_notation(strange.replace(b"0.5", b"1"), semitones=-12)) == [("A", 1, 3)]


def test_lowered_looks_as_printed_and_sounds_an_octave_lower():
    cut = cut_passage(real("sullivan_long_day_closes_ttbb.mxl"), 0, 0, 7)
    low = lowered(cut, -1)
    assert midis(low) == [midi - 12 for midi in midis(cut)]
    clef = etree.fromstring(low).find(".//clef")
    assert (clef.findtext("sign"), clef.findtext("clef-octave-change")) == ("G", "-1")
    # The staff place of a note is its octave less the clef's: it is where it was.
    assert [(step, octave + 1) for step, _, octave in written(low)] == [
        (step, octave) for step, _, octave in written(cut)
    ]
    assert ids(low) == ids(cut) and lowered(cut, 0) == cut


def test_moves_and_keys_in_words():
    assert shift_words(-2) == "a whole step lower" and shift_words(12) == "an octave higher"
    assert key_words(-1) == "1 flat" and key_words(4) == "4 sharps"


@pytest.mark.parametrize("semitones", [-12, -3, 5, 12])
@pytest.mark.parametrize("pitch", ["<step>a</step>", "<step>A</step><alter>5</alter>"])
def test_a_name_that_is_read_is_moved_however_oddly_it_is_written(pitch, semitones):
    """A small letter and five sharps are no MusicXML, but the reader hears them, and the move."""
    mark = "<accidental-mark>sharp</accidental-mark>"
    ornaments = f"<notations><ornaments><trill-mark/>{mark}</ornaments></notations>"
    line = line_to_musicxml("key F F4 q A4 C5 Bb4", instrument="Soprano").decode()
    odd = line.replace("<step>A</step>", pitch).replace(
        "<type>quarter</type>", f"<type>quarter</type><accidental>sharp</accidental>{ornaments}"
    )
    assert odd != line
    before = [note.midi for note in read_passage(odd.encode()).notes]
    after = read_passage(shift_notation(odd.encode(), semitones=semitones)).notes
    assert [note.midi for note in after] == [midi + semitones for midi in before]
