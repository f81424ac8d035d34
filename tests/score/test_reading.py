"""Reading scores, against what the public MusicXML suite states of its files."""

from fractions import Fraction

import pytest
from tests.score_makers import ATTRIBUTES, note, score_of
from tests.scores import REAL, SUITE, real, suite

from standlight.errors import UnreadableScore
from standlight.score import read_score


def sounding(data: bytes) -> list[tuple[Fraction, int | None]]:
    return [(one.onset_quarters, one.midi) for one in read_score(data).parts[0].notes]


@pytest.mark.parametrize("name", SUITE)
def test_every_file_of_the_suite_is_read(name):
    score = read_score(suite(name), name=name)
    assert score.parts and score.measures
    assert score.play_order and set(score.play_order) <= set(range(len(score.measures)))
    for part in score.parts:
        onsets = [one.onset_quarters for one in part.notes]
        assert onsets == sorted(onsets)


@pytest.mark.parametrize("name", REAL)
def test_real_editions_are_read_without_a_doubt_about_lengths(name):
    score = read_score(real(name), name=name)
    assert not {remark.code for remark in score.remarks} & {"overfull", "part_lengths", "malformed"}
    assert all(part.instrument for part in score.parts)
    end = score.measures[-1].onset_quarters + score.measures[-1].length_quarters
    for part in score.parts:
        assert part.notes
        assert all(one.onset_quarters + one.duration_quarters <= end for one in part.notes)


def test_suite_01a_has_110_notes_and_begins_at_g2():
    # The suite as shipped today; an older edition had 102 (outside figures, SOURCES.md).
    (part,) = read_score(suite("01a")).parts
    assert len(part.notes) == 110
    assert part.notes[0].midi == 43


def test_suite_72a_trumpet_sounds_two_and_horn_nine_semitones_lower():
    trumpet, horn, piano = read_score(suite("72a")).parts
    assert (trumpet.transposition_semitones, horn.transposition_semitones) == (-2, -9)
    # "All of them show the C major scale", says the file.
    scale = [60, 62, 64, 65, 67, 69, 71, 72]
    for part in (trumpet, horn, piano):
        assert [one.midi for one in part.notes] == scale
    assert [one.written_midi for one in trumpet.notes] == [pitch + 2 for pitch in scale]


def test_suite_72c_changes_from_three_up_to_two_down():
    (part,) = read_score(suite("72c")).parts
    assert part.transposition_semitones == 3
    shifts = [one.midi - one.written_midi for one in part.notes]
    assert shifts == [3, -2, -2]


def test_suite_46d_keeps_printed_numbers_and_short_measures():
    score = read_score(suite("46d"))
    assert [measure.printed for measure in score.measures] == ["0", "1", "X1", "2"]
    lengths = [measure.length_quarters for measure in score.measures]
    assert lengths == [Fraction(3, 2), 2, 2, 3]


def test_suite_02c_bundled_rests_of_3_15_and_12_are_measures():
    # Measure 19, a single rest between the bundles, makes 31.
    score = read_score(suite("02c"))
    assert len(score.measures) == 3 + 15 + 1 + 12
    assert not score.parts[0].notes
    assert all(measure.length_quarters == 4 for measure in score.measures)


def test_ties_over_a_barline_make_one_note():
    (part,) = read_score(suite("33b")).parts
    assert [(one.onset_quarters, one.duration_quarters) for one in part.notes] == [(0, 8)]


def test_a_direction_between_chord_notes_does_not_break_the_chord():
    assert {onset for onset, _ in sounding(suite("21f"))} == {0}


def test_the_packed_file_reads_as_its_content_does():
    score = read_score(suite("90a"))
    assert len(score.measures) == 1
    assert [one.midi for one in score.parts[0].notes]


def test_strokes_have_a_drum_and_no_pitch():
    _, cymbals, triangle = read_score(suite("73a")).parts
    assert cymbals.unpitched and triangle.unpitched
    assert all(one.midi is None and one.drum for one in cymbals.notes + triangle.notes)


def test_chord_backup_and_forward_move_the_clock_as_the_standard_says():
    data = score_of(
        ATTRIBUTES
        + note("C", 4, 4)
        + note("E", 4, 4, before="<chord/>")
        + note("D", 4, 4)
        + "<backup><duration>8</duration></backup><forward><duration>2</duration></forward>"
        + note("C", 3, 6, "<voice>2</voice>")
    )
    assert sounding(data) == [(0, 60), (0, 64), (1, 48), (2, 62)]


def test_an_accidental_that_is_printed_but_not_sounded_is_sounded_with_a_remark():
    data = score_of(ATTRIBUTES + note("F", 4, 8, "<accidental>sharp</accidental>"))
    assert sounding(data) == [(0, 66)]
    assert "accidental" in {remark.code for remark in read_score(data).remarks}


def test_grace_and_cue_notes_take_no_place_among_the_notes():
    grace = "<note><grace/><pitch><step>B</step><octave>4</octave></pitch></note>"
    cue = "<note><cue/><pitch><step>A</step><octave>4</octave></pitch><duration>4</duration></note>"
    data = score_of(ATTRIBUTES + grace + note("C", 4, 4) + cue)
    (only,) = read_score(data).parts[0].notes
    assert only.midi == 60
    assert "after_grace" in only.marks
    assert read_score(data).measures[0].length_quarters == 4


def test_an_octave_written_as_minus_14_or_as_minus_2_and_an_octave_is_the_same():
    def transposed(inside: str) -> bytes:
        attributes = ATTRIBUTES.replace(
            "</attributes>", f"<transpose>{inside}</transpose></attributes>"
        )
        return score_of(attributes + note("D", 4, 8))

    both = "<chromatic>-2</chromatic><octave-change>-1</octave-change>"
    assert sounding(transposed(both)) == sounding(transposed("<chromatic>-14</chromatic>"))
    assert sounding(transposed(both)) == [(0, 48)]


def test_a_metronome_counts_its_own_beat_and_a_sound_counts_quarters():
    metronome = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
        "<per-minute>60</per-minute></metronome></direction-type></direction>"
    )
    words = "<direction-type><words>x</words></direction-type>"
    sound = f'<direction>{words}<sound tempo="72"/></direction>'
    score = read_score(
        score_of(ATTRIBUTES + metronome + note("C", 4, 8) + "\n" + sound + note("C", 4, 8))
    )
    assert [measure.tempo_qpm for measure in score.measures] == [90.0, 72.0]


def test_dynamics_are_in_force_until_the_next_and_an_accent_leaves_them():
    def dynamic(word: str) -> str:
        inside = f"<direction-type><dynamics><{word}/></dynamics></direction-type>"
        return f"<direction>{inside}</direction>"

    data = score_of(
        ATTRIBUTES + note("C", 4, 2) + dynamic("p") + note("C", 4, 2) + dynamic("sfz")
        + note("C", 4, 2) + dynamic("f") + note("C", 4, 2)
    )  # fmt: skip
    assert [one.dynamic for one in read_score(data).parts[0].notes] == [None, "p", "p", "f"]


def test_a_slur_marks_its_ends_and_what_is_joined():
    start, stop = ('<notations><slur type="start"/></notations>',
                   '<notations><slur type="stop"/></notations>')  # fmt: skip
    data = score_of(
        ATTRIBUTES + note("C", 4, 2, start) + note("D", 4, 2) + note("E", 4, 2, stop)
        + note("F", 4, 2)
    )  # fmt: skip
    marks = [set(one.marks) for one in read_score(data).parts[0].notes]
    assert marks == [{"slur_start"}, {"slurred"}, {"slurred", "slur_stop"}, set()]


def test_over_and_underfull_measures_become_remarks_with_their_place():
    data = score_of(
        ATTRIBUTES + note("C", 4, 8) + "\n" + note("C", 4, 10) + "\n" + note("C", 4, 2)
        + "\n" + note("C", 4, 8)
    )  # fmt: skip
    codes = {(remark.code, remark.measure) for remark in read_score(data).remarks}
    assert {("overfull", 1), ("underfull", 2)} <= codes


def test_measure_numbers_that_start_again_begin_a_movement():
    score = read_score(real("hensel_quartet_e_flat.mxl"))
    assert len(score.movements) == 4  # printed I. to IV. in the edition
    assert score.movements[0].startswith("I.")
    assert [measure.movement for measure in score.measures] == sorted(
        measure.movement for measure in score.measures
    )


def test_a_part_without_a_note_is_read_and_said():
    score = read_score(score_of(ATTRIBUTES + "<note><rest/><duration>8</duration></note>"))
    assert score.parts[0].notes == ()
    assert [remark.code for remark in score.remarks] == ["empty_part"]


def test_parts_may_lack_ids_and_be_ordered_by_measure():
    assert "part_id" in {remark.code for remark in read_score(suite("41g")).remarks}
    timewise = (
        b'<score-timewise><part-list><score-part id="A"><part-name>Flute</part-name></score-part>'
        b'</part-list><measure number="1"><part id="A"><note><pitch><step>C</step>'
        b"<octave>5</octave></pitch><duration>4</duration></note></part></measure></score-timewise>"
    )
    score = read_score(timewise)
    assert [one.midi for one in score.parts[0].notes] == [72]
    assert "timewise" in {remark.code for remark in score.remarks}


def test_refusals_name_the_file():
    with pytest.raises(UnreadableScore, match=r"march\.pdf"):
        read_score(b"%PDF-1.7 something", name="march.pdf")
