"""Which notes are one player's, on notes alone: chords, two voices, two staves, printed rests."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.scores import REAL, real, suite

from standlight.errors import StandlightError
from standlight.music import Note
from standlight.score import player_line, read_score
from standlight.score.player_line import LINES, PrintedRest, divided, divides


def note(onset, midi, quarters=1, *, voice="1", staff=1, measure=0):
    return Note(
        Fraction(onset), Fraction(quarters), midi, measure, midi, voice=voice, staff=staff
    )


def in_time(notes):
    return sorted(notes, key=lambda n: (n.onset_quarters, n.staff, n.voice, n.midi))


def midis(notes, line, **more):
    return [one.midi for one in player_line(in_time(notes), line=line, **more)]


LINE = st.lists(
    st.tuples(st.integers(40, 90), st.sampled_from([Fraction(1, 2), Fraction(1), Fraction(3, 2)])),
    min_size=1, max_size=12,
)  # fmt: skip


def placed(pairs, *, voice="1"):
    """Notes one after another in measures of four quarters, each in the measure it begins in."""
    notes, onset = [], Fraction(0)
    for midi, quarters in pairs:
        notes.append(note(onset, midi, quarters, voice=voice, measure=int(onset // 4)))
        onset += quarters
    return notes


@given(LINE)
def test_where_nothing_divides_every_line_is_the_same(pairs):
    notes = placed(pairs)
    assert all(player_line(notes, line=line) == tuple(notes) for line in LINES)
    assert not divides(notes)


@given(LINE, LINE)
def test_of_two_voices_each_player_has_one_and_all_is_both(first, second):
    # Cut to the measures that both fill, so that neither voice is silent anywhere.
    voices = [placed(first), placed(second, voice="2")]
    whole = min(max(n.measure for n in notes) for notes in voices)
    upper, lower = ([n for n in notes if n.measure <= whole] for notes in voices)
    both = in_time([*upper, *lower])
    assert set(player_line(both, line="all")) == {*upper, *lower}
    assert list(player_line(both, line="upper")) == upper
    assert [n for n in player_line(both, line="lower") if n.voice == "2"] == lower
    assert list(player_line(both, voice="2")) == lower


@given(LINE, LINE, st.integers(-12, 12))
def test_every_line_moves_with_the_part(first, second, semitones):
    notes = in_time([*placed(first), *placed(second, voice="2")])
    moved = [note(n.onset_quarters, n.midi + semitones, n.duration_quarters, voice=n.voice,
                  measure=n.measure) for n in notes]  # fmt: skip
    for line in LINES:
        assert midis(moved, line) == [midi + semitones for midi in midis(notes, line)]


@given(st.lists(st.sets(st.integers(40, 90), min_size=1, max_size=4), min_size=1, max_size=8))
def test_of_chords_the_outer_notes(chords):
    notes = [note(at, midi) for at, chord in enumerate(chords) for midi in chord]
    assert midis(notes, "upper") == [max(chord) for chord in chords]
    assert midis(notes, "lower") == [min(chord) for chord in chords]
    assert len(midis(notes, "all")) == sum(len(chord) for chord in chords)
    assert divides(in_time(notes)) == any(len(chord) > 1 for chord in chords)


UPPER = [note(0, 72), note(1, 74), note(2, 76), note(3, 77)]


def test_where_the_lower_voice_is_silent_without_a_rest_both_play_the_same():
    assert midis([*UPPER, note(1, 60, voice="2")], "lower") == [72, 60, 76, 77]


def test_a_printed_rest_of_the_lower_voice_is_a_rest_for_its_player():
    rest = PrintedRest(Fraction(2), Fraction(4), 0, 1, "2")
    notes = [*UPPER, note(1, 60, voice="2")]
    assert midis(notes, "lower", rests=[rest]) == [72, 60]
    assert midis(notes, "upper", rests=[rest]) == [72, 74, 76, 77]
    whole = PrintedRest(Fraction(0), Fraction(4), 0, 1, "2")
    assert midis(UPPER, "lower", rests=[whole]) == []
    assert divides(UPPER, rests=[whole]) and not divides(UPPER)


def test_a_long_note_that_runs_into_the_lower_voice_is_not_shared():
    notes = [note(0, 72, 2), note(2, 76, 2), note(1, 60, 2, voice="2")]
    assert midis(notes, "lower") == [60]


def test_two_voices_in_unison_do_not_divide():
    assert not divides(in_time([*UPPER, *(note(n, m, voice="2") for n, m in
                                          enumerate((72, 74, 76, 77)))]))  # fmt: skip


def test_of_two_staves_the_lower_is_played_alone_and_rests_where_it_rests():
    right = [note(0, 72, staff=1), note(4, 74, staff=1, measure=1)]
    left = [note(0, 48, voice="5", staff=2), note(0, 43, voice="6", staff=2)]
    assert midis([*right, *left], "upper") == [72, 74]
    assert midis([*right, *left], "lower") == [43]


def test_strokes_have_no_height_but_two_voices_are_still_two():
    def stroke(onset, drum, voice):
        return Note(Fraction(onset), Fraction(1), None, 0, drum=drum, voice=voice)

    notes = [stroke(0, "cymbal", "1"), stroke(0, "bass drum", "2"), stroke(1, "cymbal", "1")]
    lines = {line: [one.drum for one in player_line(notes, line=line)] for line in LINES}
    assert lines == {
        "upper": ["cymbal", "cymbal"],
        "lower": ["bass drum", "cymbal"],
        "all": ["cymbal", "bass drum", "cymbal"],
    }


@pytest.mark.parametrize("line", ["", "2", "middle"])
def test_another_line_is_refused_in_a_sentence(line):
    with pytest.raises(StandlightError, match="is no line of a part: it is upper, lower or all"):
        player_line(UPPER, line=line)


@pytest.mark.parametrize("name", REAL)
def test_upper_and_lower_line_of_real_parts_are_one_note_at_a_time(name):
    for part in read_score(real(name)).parts:
        for line in ("upper", "lower"):
            found = player_line(part.notes, line=line)
            for one, following in zip(found, found[1:], strict=False):
                assert one.onset_quarters + one.duration_quarters <= following.onset_quarters


def test_a_printed_edition_divides_where_it_says_so():
    """Beach, op. 32, second movement: "divisi" at 169 and "unis." at 177 in the violins."""
    score = read_score(real("beach_op32_2.mxl"))
    violin_2 = next(part for part in score.parts if part.name == "Violin 2")
    assert [row.printed for row in score.measures[168:177:8]] == ["169", "177"]
    assert divided(violin_2, 168, 175) and not divided(violin_2, 176, 183)


@pytest.mark.parametrize(
    ("name", "is_divided"),
    # As the files describe themselves: two-note chords, two voices, a piano; one line of pitches.
    [("21b", True), ("42a", True), ("43a", True), ("01a", False), ("23a", False)],
)
def test_the_suite_s_files_divide_as_they_describe_themselves(name, is_divided):
    score = read_score(suite(name))
    assert divided(score.parts[0], 0, len(score.measures) - 1) is is_divided
