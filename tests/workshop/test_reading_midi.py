"""MIDI files become scores: the same notes as the score they were made of, or a sentence."""

from __future__ import annotations

from fractions import Fraction

import pytest
from tests.midi_makers import NOTE, TICKS, midi_from_score, midi_of, raw_midi
from tests.scores import SUITE, real, suite

from standlight.errors import StandlightError, UnreadableScore
from standlight.score import Score, read_passage, read_score
from standlight.score.cutting import cut_passage
from standlight.score.lines import on_line
from standlight.score.remembering import has_engraving
from standlight.score.shifting import shift_notation
from standlight.workshop import is_midi, score_of_midi

SULLIVAN = "sullivan_long_day_closes_ttbb.mxl"


def sounding(score: Score) -> list[set[tuple[Fraction, int | None]]]:
    """Onset and pitch by part (a set: a MIDI channel cannot hold one key twice)."""
    return [{(one.onset_quarters, one.midi) for one in part.notes} for part in score.parts]


@pytest.mark.parametrize(
    "start", ["01a", "03aa", "03b", "11a", "21c", "23a", "23d", "42a", "72a", "72c", "41a"]
)
def test_a_suite_file_saved_as_midi_by_music21_sounds_the_same(start):
    (name,) = [name for name in SUITE if name.startswith(start)]
    written = read_score(suite(name))
    heard = read_score(score_of_midi(midi_from_score(suite(name), "." + name.split(".")[-1])))
    assert sounding(heard) == [notes for notes in sounding(written) if notes]


@pytest.fixture(scope="module")
def sullivan() -> bytes:
    """A choral edition saved as MIDI by music21 and made a score again."""
    return score_of_midi(midi_from_score(real(SULLIVAN), ".mxl"))


def test_a_real_choral_edition_saved_as_midi_by_music21_keeps_notes_measures_and_lengths(sullivan):
    written, heard = read_score(real(SULLIVAN)), read_score(sullivan)
    assert [m.onset_quarters for m in heard.measures] == [
        m.onset_quarters for m in written.measures
    ]
    # Four voices and a piano, which MIDI holds as two tracks.
    assert [part.name for part in heard.parts[:5]] == [part.name for part in written.parts]
    for voice, sung in zip(written.parts[:4], heard.parts[:4], strict=True):
        assert voice.instrument == sung.instrument
        assert [(one.onset_quarters, one.duration_quarters, one.midi) for one in sung.notes] == [
            (one.onset_quarters, one.duration_quarters, one.midi) for one in voice.notes
        ]


def test_a_passage_of_a_midi_piece_is_cut_and_read_like_any(sullivan):
    part = read_score(sullivan).parts[0]
    passage = read_passage(cut_passage(sullivan, 0, 4, 7))
    inside = [one.midi for one in part.notes if 4 <= one.measure <= 7]
    assert [one.midi for one in passage.notes] == inside
    assert inside


def test_channel_ten_becomes_strokes_with_the_drums_of_general_midi():
    # General MIDI System Level 1, percussion key map: 36 bass drum 1, 38 acoustic snare,
    # 42 closed hi-hat; 27 is outside the map.
    keys = [36, 42, 38, 42, 27]
    beat = [(at * TICKS // 2, 10, key) for at, key in enumerate(keys)]
    (part,) = read_score(score_of_midi(midi_of(("", 0, True, beat)))).parts
    assert part.unpitched
    assert part.name == "Percussion"
    assert [one.drum for one in part.notes] == [
        "bass drum 1", "closed hi-hat", "acoustic snare", "closed hi-hat", "drum key 27",
    ]  # fmt: skip
    assert [one.onset_quarters for one in part.notes] == [Fraction(at, 2) for at in range(5)]


def test_meters_make_measures_and_a_long_note_is_one_note():
    notes = [(0, 6 * TICKS, 60), (7 * TICKS, TICKS, 62)]
    score = read_score(
        score_of_midi(midi_of(("Flute", 73, False, notes), meters=((0, 3, 4), (3 * TICKS, 6, 8))))
    )
    assert [(m.beats, m.beat_unit) for m in score.measures] == [(3, 4), (6, 8), (6, 8)]
    assert [m.onset_quarters for m in score.measures] == [0, 3, 6]
    (part,) = score.parts
    assert [(one.onset_quarters, one.duration_quarters) for one in part.notes] == [(0, 6), (7, 1)]
    assert not [remark for remark in score.remarks if remark.code in ("tie", "overfull")]


def test_tempos_are_in_force_from_their_measure():
    notes = [(at * TICKS, TICKS, 60 + at) for at in range(12)]
    data = midi_of(
        ("Oboe", 68, False, notes),
        tempos=((0, 96.0), (4 * TICKS, 120.0), (6 * TICKS, 60.0)),
    )
    tempos = [measure.tempo_qpm for measure in read_score(score_of_midi(data)).measures]
    assert tempos == pytest.approx([96, 120, 60], abs=0.01)


def test_a_part_is_written_for_its_instrument_and_sounds_as_the_file_says():
    # General MIDI program 72 (71 from 0) is the clarinet; a B-flat clarinet is written a whole
    # tone higher than it sounds, in F for a piece in E-flat.
    notes = [(at * TICKS, TICKS, key) for at, key in enumerate((58, 60, 63, 66))]
    data = score_of_midi(midi_of(("", 71, False, notes), keys=((0, -3),)))
    (part,) = read_score(data).parts
    assert part.instrument == "Clarinet in Bb"
    assert part.transposition_semitones == -2
    assert [one.midi for one in part.notes] == [58, 60, 63, 66]
    assert [one.written_midi for one in part.notes] == [60, 62, 65, 68]
    assert b"<fifths>-1</fifths>" in data


def test_a_pickup_measure_has_number_zero():
    notes = [(at * TICKS, TICKS, 60) for at in range(9)]
    score = read_score(
        score_of_midi(midi_of(("Flute", 73, False, notes), meters=((0, 1, 4), (TICKS, 4, 4))))
    )
    assert [measure.printed for measure in score.measures] == ["0", "1", "2"]
    assert [measure.length_quarters for measure in score.measures] == [1, 4, 4]


def test_a_played_performance_is_moved_to_the_grid_and_a_legato_overlap_is_trimmed():
    # Three quarters and an eighth pair, each early or late by up to 20 of 480 ticks.
    played = [(13, 500, 60), (491, 470, 62), (949, 505, 64), (1453, 260, 65), (1671, 221, 67)]
    (part,) = read_score(score_of_midi(midi_of(("Flute", 73, False, played)))).parts
    distances = [
        abs(one.onset_quarters - wanted)
        for one, wanted in zip(part.notes, [0, 1, 2, 3, Fraction(7, 2)], strict=True)
    ]
    assert max(distances) <= Fraction(1, 12)
    assert part.voices == ("1",)
    ends = [one.onset_quarters + one.duration_quarters for one in part.notes]
    assert ends[:-1] == [one.onset_quarters for one in part.notes[1:]]


def test_held_notes_under_a_moving_line_keep_their_length_in_a_second_voice():
    line = [(at * TICKS, TICKS, 72 + at) for at in range(4)]
    data = midi_of(("Piano", 0, False, [*line, (0, 4 * TICKS, 48)]))
    (part,) = read_score(score_of_midi(data)).parts
    held = [one for one in part.notes if one.midi == 48]
    assert [(one.onset_quarters, one.duration_quarters) for one in held] == [(0, 4)]
    assert len(part.voices) == 2


HOSTILE = {
    "not MIDI": (b"<score-partwise/>", "not a MIDI file"),
    "a head only": (b"MThd", "damaged"),
    "cut off": (midi_of(("Flute", 73, False, [(0, 480, 60)] * 3))[:-9], "damaged"),
    "film frames": (raw_midi(NOTE, division=b"\xe7\x28"), "film frames"),
    "no unit": (raw_midi(NOTE, division=b"\x00\x00"), "no unit of time"),
    "no note": (raw_midi(), "no note"),
    "no meter": (raw_midi(b"\x00\xff\x58\x04\x00\x02\x18\x08", NOTE), "time signature of 0/"),
    "an endless note": (
        raw_midi(b"\x00\x90\x3c\x40\xff\xff\xff\x7f\x80\x3c\x00"), "measures, more than"
    ),
    "too many changes": (
        raw_midi(b"\x01\xff\x51\x03\x07\xa1\x20" * 20_001, NOTE), "changes tempo"
    ),
    "too many notes": (raw_midi(b"\x00\x90\x3c\x40\x01\x80\x3c\x00" * 150_001), "150,001 notes"),
}  # fmt: skip


@pytest.mark.parametrize("what", HOSTILE)
def test_hostile_bytes_are_refused_with_a_sentence(what):
    data, words = HOSTILE[what]
    with pytest.raises(UnreadableScore, match=words):
        score_of_midi(data)


def test_a_very_large_file_is_refused_before_it_is_parsed():
    with pytest.raises(UnreadableScore, match="bytes, more than"):
        score_of_midi(b"MThd" + bytes(8_000_001), name="big.mid")


def test_every_byte_turned_over_is_read_or_refused_and_never_raises_anything_else():
    whole = midi_of(("Flute", 73, False, [(0, 480, 60), (480, 480, 62)]))
    read = 0
    for place in range(0, len(whole), 5):
        hurt = whole[:place] + bytes([whole[place] ^ 0xFF]) + whole[place + 1 :]
        try:
            read_score(score_of_midi(hurt))
            read += 1
        except StandlightError as refused:
            assert str(refused)
    assert read


def test_a_name_that_is_not_utf_8_or_not_printable_does_no_harm():
    name = b"\x00\xff\x03\x06Fl\xfb\x01\x07t"
    (part,) = read_score(score_of_midi(raw_midi(name, NOTE))).parts
    assert part.name == "Fl t"


def test_a_midi_file_is_told_by_its_first_bytes():
    assert is_midi(midi_of(("Flute", 73, False, [(0, 480, 60)])))
    assert not is_midi(real("hensel_op3_1.mxl"))


def test_a_passage_of_a_midi_piece_remembers_that_it_has_no_engraving(sullivan):
    cut = cut_passage(sullivan, 0, 0, 3)
    assert not has_engraving(sullivan) and not has_engraving(cut)
    assert has_engraving(cut_passage(real(SULLIVAN), 0, 0, 3))
    assert not has_engraving(shift_notation(cut, semitones=2))
    assert not has_engraving(on_line(cut, line="lower"))
