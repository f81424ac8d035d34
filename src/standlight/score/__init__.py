"""Written music: bytes of a score in, exact values and remarks out; passages cut and drawn.

`read_score` reads a whole piece, `cut_passage` makes a few measures of one part a small
score of their own, `read_passage` says what a musician plays in it, `line_to_musicxml`
turns a typed line into the same form. `INSTRUMENTS` is the table of instruments and
voices. Nothing here opens a file or a socket; drawing SVG is the workshop's.
"""

from standlight.score.cutting import cut_passage, cut_passages, read_passage
from standlight.score.drawing import NotationMark, draw_readings, heard_name
from standlight.score.instruments import INSTRUMENTS, Instrument, instrument_of
from standlight.score.player_line import player_line
from standlight.score.reading import read_score
from standlight.score.typed_line import line_to_musicxml
from standlight.score.values import Measure, Part, Passage, Remark, Score, Sign

__all__ = [
    "INSTRUMENTS",
    "Instrument",
    "Measure",
    "NotationMark",
    "Part",
    "Passage",
    "Remark",
    "Score",
    "Sign",
    "cut_passage",
    "cut_passages",
    "draw_readings",
    "heard_name",
    "instrument_of",
    "line_to_musicxml",
    "player_line",
    "read_passage",
    "read_score",
]
