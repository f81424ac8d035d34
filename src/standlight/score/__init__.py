"""Written music: bytes of a score in, exact values and remarks out; passages cut and drawn.

`read_score` reads a whole piece, `cut_passage` makes a few measures of one part a small
score of their own, `read_passage` says what a musician plays in it, `line_to_musicxml`
turns a typed line into the same form. `INSTRUMENTS` is the table of instruments and
voices. Nothing here opens a file or a socket; drawing SVG is the workshop's.
"""

from standlight.score.asked_tempo import with_tempo
from standlight.score.cutting import cut_passage, cut_passages, read_passage
from standlight.score.drawing import (
    DOUBTED,
    PASSED,
    SAID,
    NotationMark,
    draw_readings,
    heard_name,
)
from standlight.score.instruments import INSTRUMENTS, Instrument, instrument_of
from standlight.score.lines import has_two_staves, is_divided, on_line
from standlight.score.lines_drawing import (
    LinePoint,
    draw_loudness,
    draw_tempo,
    loudness_words,
    tempo_words,
)
from standlight.score.midi_piece import MOST_NOTES, MidiMeter, MidiNote, MidiPiece, MidiTrack
from standlight.score.midi_writing import musicxml_of_midi
from standlight.score.player_line import ALL, LINES, LOWER, UPPER, checked_line, player_line
from standlight.score.reading import read_score
from standlight.score.remembering import has_engraving
from standlight.score.shifting import (
    OCTAVE_SEMITONES,
    fifths_of,
    key_words,
    lowered,
    moved_fifths,
    shift_notation,
    shift_words,
)
from standlight.score.singing_range import (
    fit,
    fit_words,
    in_octave,
    midi_named,
    moved,
    written_octave_too_high,
)
from standlight.score.typed_line import line_to_musicxml
from standlight.score.values import Measure, Part, Passage, Remark, Score, Sign
from standlight.score.warm_up import warm_up_line

__all__ = [
    "ALL",
    "DOUBTED",
    "INSTRUMENTS",
    "LINES",
    "LOWER",
    "MOST_NOTES",
    "OCTAVE_SEMITONES",
    "PASSED",
    "SAID",
    "UPPER",
    "Instrument",
    "LinePoint",
    "Measure",
    "MidiMeter",
    "MidiNote",
    "MidiPiece",
    "MidiTrack",
    "NotationMark",
    "Part",
    "Passage",
    "Remark",
    "Score",
    "Sign",
    "checked_line",
    "cut_passage",
    "cut_passages",
    "draw_loudness",
    "draw_readings",
    "draw_tempo",
    "fifths_of",
    "fit",
    "fit_words",
    "has_engraving",
    "has_two_staves",
    "heard_name",
    "in_octave",
    "instrument_of",
    "is_divided",
    "key_words",
    "line_to_musicxml",
    "loudness_words",
    "lowered",
    "midi_named",
    "moved",
    "moved_fifths",
    "musicxml_of_midi",
    "on_line",
    "player_line",
    "read_passage",
    "read_score",
    "shift_notation",
    "shift_words",
    "tempo_words",
    "warm_up_line",
    "with_tempo",
    "written_octave_too_high",
]
