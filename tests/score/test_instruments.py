"""Printed part names and the instruments they mean."""

import pytest
from lxml import etree
from tests.scores import real

from standlight.score import INSTRUMENTS, instrument_of, read_score

CORNET = "Trumpet / cornet / flugelhorn in Bb"


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Flute 1", "Flute"),
        ("B♭ Clarinet", "Clarinet in Bb"),
        ("Bass Clarinet in Bb", "Bass clarinet in Bb (treble clef)"),
        ("Eb Alto Saxophone 2", "Alto saxophone in Eb"),
        ("Tenor Sax", "Tenor saxophone in Bb"),
        ("Baritone Sax", "Baritone saxophone in Eb"),
        ("Solo Cornet in Bb", CORNET),
        ("Trumpet", CORNET),
        ("F Horn 3", "Horn in F"),
        ("Baritone T.C. in Bb", "Baritone / euphonium (treble clef)"),
        ("Euphonium", "Baritone / euphonium (bass clef)"),
        ("Basses (Tuba)", "Tuba (bass clef, as written)"),
        ("English Horn", "English horn"),
        ("Violin II", "Violin"),
        ("Violoncello", "Cello"),
        ("Viola", "Viola"),
        ("Contrabass", "Double bass"),
        ("Soprano 1", "Soprano"),
        ("2nd Tenor", "Tenor"),
        ("Alto (or 1st Tenor)", "Alto"),
        ("1st Bass", "Bass"),
        ("Treble", "Treble / descant"),
        ("Snare Drum", "Snare drum"),
        ("Percussion 2", "Percussion"),
        ("Bells", "Glockenspiel / bells"),
        ("Timpani", "Timpani (pair 29/26 in)"),
        ("Pianoforte", "Piano"),
        ("MusicXML Part", ""),
    ],
)
def test_a_printed_name_finds_its_row(name, expected):
    assert instrument_of(name) == expected


def test_bass_alone_is_a_voice_or_a_string_bass_by_what_the_file_says():
    def row(program: int) -> etree._Element:
        return etree.fromstring(
            f"<score-part><midi-instrument><midi-program>{program}</midi-program>"
            "</midi-instrument></score-part>"
        )

    # General MIDI: 44 contrabass, 53 voice oohs.
    assert instrument_of("Bass", row(44)) == "Double bass"
    assert instrument_of("Bass", row(53)) == "Bass"
    assert instrument_of("Baritone", row(53)) == "Baritone voice"
    assert instrument_of("Baritone") == "Baritone / euphonium (bass clef)"


def test_every_row_finds_itself_and_its_range_is_in_order():
    for name, row in INSTRUMENTS.items():
        assert instrument_of(name) == name
        assert row.unpitched == (row.sounding_low_midi is None)
        if not row.unpitched:
            assert row.sounding_low_midi < row.sounding_high_midi
            assert row.chromatic + 12 * row.octave_change == row.transposition


def test_the_march_transposes_as_the_table_says():
    # Two independent sources: the edition's own <transpose>, and the table of charts.
    for part in read_score(real("tenth_regiment_hall.mxl")).parts:
        if part.name == "Bells":
            continue  # The edition writes bells at sounding pitch, the charts two octaves lower.
        assert part.transposition_semitones == INSTRUMENTS[part.instrument].transposition
