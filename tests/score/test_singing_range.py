"""What lies outside a voice's range, which move brings it inside, and parts an octave off."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.scores import REAL, real

from standlight.score import INSTRUMENTS, line_to_musicxml, read_passage, read_score
from standlight.score.shifting import shift_notation
from standlight.score.singing_range import (
    FITTING_MOVES,
    fit,
    fit_words,
    in_octave,
    written_octave_too_high,
)

LINE = line_to_musicxml("C4 q E4 G4 A4 | G4 q. F4 e C4 h", instrument="Soprano")


def test_notes_outside_are_counted_with_their_time_at_the_tempo():
    # F4 is MIDI 65: G4 (a quarter and a dotted quarter) and A4 (a quarter) lie above it.
    found = fit(read_passage(LINE).notes, 60, 65, tempo_qpm=120)
    assert (found.n_above, found.n_below) == (3, 0)
    assert found.seconds_outside == pytest.approx((1 + 1 + 1.5) * 0.5)
    assert (found.lowest_midi, found.highest_midi) == (60, 69)
    assert found.fitting_semitones is None, "nine semitones of music in five of range"


@given(
    low=st.integers(min_value=30, max_value=80),
    width=st.integers(min_value=0, max_value=20),
)
def test_the_move_it_names_does_fit_and_no_earlier_one_of_the_table_does(low, width):
    found = fit(read_passage(LINE).notes, low, low + width, tempo_qpm=90)
    moved = {
        semitones: fit(
            read_passage(shift_notation(LINE, semitones=semitones)).notes,
            low, low + width, tempo_qpm=90,
        ).fits
        for semitones in (0, *FITTING_MOVES)
    }  # fmt: skip
    fitting = next((semitones for semitones, fits in moved.items() if fits), None)
    assert found.fitting_semitones == fitting


def test_words_name_the_side_the_edge_and_the_move():
    notes = read_passage(LINE).notes
    assert fit_words(fit(notes, 55, 67, tempo_qpm=60)) == (
        "1 note (1.0 s) above this singer's comfortable range (G4): a whole step lower fits"
    )
    assert fit_words(fit(notes, 48, 57, tempo_qpm=60)).endswith("(A3): an octave lower fits")
    both = fit_words(fit(notes, 62, 67, tempo_qpm=60))
    assert both.startswith("1 note above (over G4) and 2 notes below (under D4) this singer's")
    assert both.endswith("no move by an octave or up to a fourth fits")
    assert fit_words(fit(notes, None, None, tempo_qpm=60)) == ""


def voice_parts():
    """Every voice part of the real scores, by file and name."""
    for name in REAL:
        for part in read_score(real(name)).parts:
            known = INSTRUMENTS.get(part.instrument)
            if known is not None and known.voice:
                yield name, part


def test_only_the_part_that_is_written_an_octave_too_high_is_asked_about():
    # Sullivan's part song is for men's voices (TTBB in its edition's title): its top line
    # goes to B5 as it stands in the file, an octave above a first tenor.
    asked = [(name, part.name) for name, part in voice_parts() if written_octave_too_high(part)]
    assert asked == [("sullivan_long_day_closes_ttbb.mxl", "Alto (or 1st Tenor)")]


def test_men_s_parts_written_an_octave_up_are_asked_about_and_corrected_are_not():
    lines = [
        part
        for _, part in voice_parts()
        if part.instrument in ("Tenor", "Bass") and not written_octave_too_high(part)
    ]
    assert len(lines) >= 8
    missed = [part.name for part in lines if not written_octave_too_high(in_octave(part, 1))]
    assert missed == []
    assert not any(written_octave_too_high(in_octave(in_octave(one, 1), -1)) for one in lines)


def test_an_instrument_is_never_asked_about():
    flute = read_score(line_to_musicxml("C7 w", instrument="Flute")).parts[0]
    assert not written_octave_too_high(flute)
