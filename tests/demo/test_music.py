"""The demo's own pieces: what the files hold, in range, and in order."""

import runpy
from pathlib import Path

import pytest

from standlight.demo.programme_plan import PIECES
from standlight.music import pitch_name
from standlight.score import cut_passage, read_passage, read_score

DEMO = Path(__file__).resolve().parents[2] / "demo"

GRADE_ONE_WRITTEN = {
    # Written ranges of a first-year band: column grade1_written of the project's outside table
    # instruments.tsv (flags there: T three charts agree, P one printed chart).
    "Flute": ("Eb4", "C6"),
    "Oboe": ("E4", "A5"),
    "Clarinet in Bb": ("E3", "Bb4"),
    "Alto saxophone": ("E4", "A5"),
    "Tenor saxophone": ("E4", "A5"),
    "Baritone saxophone": ("E4", "A5"),
    "Trumpet in Bb": ("Bb3", "D5"),
    "Horn in F": ("A3", "A4"),
    "Trombone": ("Ab2", "C4"),
    "Baritone": ("Bb2", "Bb3"),
    "Tuba": ("Bb1", "C3"),
}

TRANSPOSITIONS = {
    # Sounding minus written semitones: column total_semitones of instruments.tsv.
    "Flute": 0,
    "Oboe": 0,
    "Bassoon": 0,
    "Clarinet in Bb": -2,
    "Bass clarinet": -14,
    "Alto saxophone": -9,
    "Tenor saxophone": -14,
    "Baritone saxophone": -21,
    "Trumpet in Bb": -2,
    "Horn in F": -7,
    "Trombone": 0,
    "Baritone": 0,
    "Tuba": 0,
    "Bells": 24,
}

STRINGS_FIRST_POSITION = {
    # Column grade1_written of instruments.tsv (C: common practice), violins may reach B5.
    "Violin 1": ("G3", "B5"),
    "Violin 2": ("G3", "B5"),
    "Viola": ("C3", "E5"),
    "Cello": ("C2", "D4"),
    "Double bass": ("E2", "B3"),
}

VOICES = {
    # Common school ranges, sounding: voices.tsv (C: common practice).
    "Soprano": (60, 79),
    "Alto": (55, 74),
    "Tenor": (48, 67),
    "Bass": (41, 62),
}


def named(name):
    """MIDI number of a pitch name as charts print it."""
    return next(midi for midi in range(12, 128) if pitch_name(midi) == name)


def score(file):
    return read_score((DEMO / "music" / file).read_bytes(), name=file)


def test_the_files_are_what_the_script_writes_byte_for_byte():
    made = runpy.run_path(str(DEMO / "write_music.py"))
    for file, piece in made["pieces"]().items():
        assert made["write"](piece) == (DEMO / "music" / file).read_bytes(), file


@pytest.mark.parametrize("piece", [p for p in PIECES if p.file], ids=lambda p: p.key)
def test_every_piece_of_the_folder_is_read_without_a_remark_and_has_the_parts_it_casts(piece):
    read = score(piece.file)
    assert read.remarks == ()
    names = {part.name for part in read.parts}
    assert {name for _, parts in piece.casting for name in parts} <= names


def test_lantern_walk_has_sixteen_measures_in_grade_one_ranges_and_right_transpositions():
    read = score("lantern_walk.musicxml")
    assert len(read.measures) == 16
    pitched = {part.name: part for part in read.parts if not part.unpitched}
    assert {n: p.transposition_semitones for n, p in pitched.items()} == TRANSPOSITIONS
    for name, (low, high) in GRADE_ONE_WRITTEN.items():
        written = [note.written_midi for note in pitched[name].notes]
        assert named(low) <= min(written) <= max(written) <= named(high), name


def test_lantern_walk_is_one_tune_in_octaves_but_for_the_horns_a_sixth_below():
    parts = {part.name: part for part in score("lantern_walk.musicxml").parts}
    tune = [(n.onset_quarters, n.midi) for n in parts["Flute"].notes]
    for name, part in parts.items():
        if part.unpitched or name == "Horn in F":
            continue
        steps = {n.midi - midi for n, (_, midi) in zip(part.notes, tune, strict=True)}
        assert len(steps) == 1, name
        assert steps.pop() % 12 == 0, name
    sixths = {(m - n.midi) % 12 for n, (_, m) in zip(parts["Horn in F"].notes, tune, strict=True)}
    assert sixths <= {8, 9}


def test_the_snare_line_has_sixteen_measures_of_strokes_only():
    read = score("paper_parade.musicxml")
    assert len(read.measures) == 16
    assert read.parts[0].unpitched
    assert {note.drum for note in read.parts[0].notes} == {"snare drum"}


def test_the_song_stays_in_school_voice_ranges_and_has_no_parallel_fifths_or_octaves():
    parts = score("river_under_snow.musicxml").parts
    for part in parts:
        low, high = VOICES[part.name]
        assert low <= part.lowest_midi <= part.highest_midi <= high, part.name
    lines = [{n.onset_quarters: n.midi for n in part.notes} for part in parts]
    beats = sorted(set(lines[0]) & set(lines[1]) & set(lines[2]) & set(lines[3]))
    assert len(beats) == 56
    for first, second in zip(beats, beats[1:], strict=False):
        for upper in range(4):
            for lower in range(upper + 1, 4):
                a, b = lines[upper], lines[lower]
                moved = a[second] - a[first], b[second] - b[first]
                before, after = a[first] - b[first], a[second] - b[second]
                assert after >= 0, f"voices {upper} and {lower} cross at {second}"
                parallel = 0 not in moved and before == after and before % 12 in (0, 7)
                assert not parallel, f"voices {upper} and {lower} at {second}"


def test_the_string_piece_lies_in_first_position():
    read = score("ferry_at_dusk.musicxml")
    assert len(read.measures) == 24
    for part in read.parts:
        low, high = STRINGS_FIRST_POSITION[part.name]
        written = [note.written_midi for note in part.notes]
        assert named(low) <= min(written) <= max(written) <= named(high), part.name


@pytest.mark.parametrize("file", ["lantern_walk.musicxml", "ferry_at_dusk.musicxml"])
def test_a_passage_cut_from_a_piece_is_playable(file):
    data = (DEMO / "music" / file).read_bytes()
    for part in read_score(data).parts:
        passage = read_passage(cut_passage(data, part.index, 8, 15))
        assert [n.midi for n in passage.notes] == [
            n.midi for n in part.notes if 8 <= n.measure <= 15
        ]
