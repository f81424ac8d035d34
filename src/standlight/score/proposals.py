"""A first passage for every part: the stretch with the most playing, and why, in words.

A plain rule, ours: a window plays more than half of the time, begins and ends with notes,
does not begin inside a held note, and follows itself in the order played (so it crosses no
first ending). Of those the one with the most playing is proposed, a little in favour of
beginnings that a musician would choose: a rehearsal mark, the start, after a rest.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate

from standlight.music import Note
from standlight.score.player_line import player_line
from standlight.score.values import Part, Score

SHORTEST_MEASURES = 2
"""A passage shorter than this shows nothing of phrase or pulse: our choice."""

LEAST_SHARE = 0.5
"""A passage must sound more than this share of its time."""

_START_BONUS = {"letter": 0.3, "beginning": 0.25, "after a rest": 0.2, "": 0.0}
"""How much a good beginning weighs beside the share of sounding time (0 to 1): our choice."""

_NOTES_WEIGHT = 0.5
"""How much many notes weigh beside the share of sounding time: our choice."""

_LOUDNESS = ("pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff")
_SHARES = (
    (0.9, "plays nearly throughout"),
    (0.7, "plays most of the time"),
    (0.5, "plays more than half of the time"),
    (0.0, "rests more than it plays"),
)
_COUNTED = (("slur_start", "slur"), ("staccato", "staccato note"), ("accent", "accent"),
            ("marcato", "strong accent"), ("tenuto", "tenuto note"))  # fmt: skip


@dataclass(frozen=True, slots=True)
class Proposal:
    """A passage for one part: measures ``first`` to ``last`` (0-based, inclusive) and why."""

    first: int
    last: int
    printed: str
    reason: str


def propose_passages(
    score: Score, *, length_measures: int = 8
) -> tuple[Proposal | None, ...]:
    """One proposal a part, in part order; ``None`` where `why_no_passage` says why.

    A part that has no stretch of ``length_measures`` gets the longest shorter one.

    >>> from standlight.score import line_to_musicxml, read_score
    >>> line = "r w | C4 q D4 E4 F4 | G4 h E4 | C4 w"
    >>> propose_passages(read_score(line_to_musicxml(line, instrument="Flute")))[0].printed
    '2 to 4'
    """
    if length_measures < 1:
        raise ValueError(f"a passage of {length_measures} measures is none")
    follows = _follows_in_play(score)
    return tuple(_propose(score, part, length_measures, follows) for part in score.parts)


def passage_reason(score: Score, part_index: int, first: int, last: int) -> str:
    """What measures ``first`` to ``last`` of a part offer, in one line of plain words."""
    part = score.parts[part_index]
    line = [note for note in player_line(part.notes) if first <= note.measure <= last]
    if not line:
        return "rests throughout"
    playing = _Playing(score, part)
    share = playing.share(first, last)
    said = [f"{_count(len(line), 'note')}, {next(word for low, word in _SHARES if share >= low)}"]
    start = _start_of(score, first, playing)
    said += [f"begins at {score.measures[first].rehearsal}"] if start == "letter" else []
    said += [f"begins {start}"] if start == "after a rest" else []
    levels = sorted({note.dynamic for note in line if note.dynamic in _LOUDNESS},
                    key=_LOUDNESS.index)  # fmt: skip
    if levels:
        said.append(levels[0] if len(levels) == 1 else f"{levels[0]} to {levels[-1]}")
    marks = Counter(mark for note in line for mark in note.marks)
    said += [_count(marks[mark], word) for mark, word in _COUNTED if marks[mark]]
    return "; ".join(said)


def why_no_passage(score: Score, part_index: int) -> str:
    """Why a part has no proposal."""
    if not score.parts[part_index].notes:
        return "rests throughout"
    return "rests more than it plays wherever it comes in"


def _propose(score: Score, part: Part, length: int, follows: Sequence[bool]) -> Proposal | None:
    """The best window of the asked length, else of the next shorter one that has any."""
    playing = _Playing(score, part)
    if not playing.line:
        return None
    for measures in range(min(length, len(score.measures)), 0, -1):
        if measures < min(SHORTEST_MEASURES, length):
            break
        windows = [
            (first, first + measures - 1)
            for first in range(len(score.measures) - measures + 1)
            if playing.allows(first, first + measures - 1, follows)
        ]
        if windows:
            first, last = _best(score, playing, windows)
            names = [score.measures[index].printed for index in (first, last)]
            printed = names[0] if first == last else f"{names[0]} to {names[1]}"
            return Proposal(first, last, printed, passage_reason(score, part.index, first, last))
    return None


def _best(
    score: Score, playing: _Playing, windows: Sequence[tuple[int, int]]
) -> tuple[int, int]:
    """The window with the most playing and the best beginning; of equals the first."""
    most = max(playing.onsets(first, last) for first, last in windows)

    def worth(window: tuple[int, int]) -> float:
        first, last = window
        notes = playing.onsets(first, last) / most
        start = _START_BONUS[_start_of(score, first, playing)]
        return playing.share(first, last) + _NOTES_WEIGHT * notes + start

    return max(windows, key=lambda window: (round(worth(window), 6), -window[0]))


class _Playing:
    """How much one part plays in each measure, as running sums."""

    def __init__(self, score: Score, part: Part) -> None:
        self.line = player_line(part.notes)
        ends = [measure.onset_quarters + measure.length_quarters for measure in score.measures]
        sounding = [Fraction(0)] * len(ends)
        struck = [0] * len(ends)
        self.held_into = [False] * len(ends)
        self.sounds_until: list[Fraction | None] = [None] * len(ends)
        for note in self.line:
            struck[note.measure] += 1
            self._spread(note, sounding, ends)
        self.struck = struck
        self.sounding = [0.0, *accumulate(float(quarters) for quarters in sounding)]
        self.notes = [0, *accumulate(struck)]
        self.quarters = [0.0, *accumulate(float(one.length_quarters) for one in score.measures)]
        self.movements = [measure.movement for measure in score.measures]

    def _spread(self, note: Note, sounding: list[Fraction], ends: Sequence[Fraction]) -> None:
        """Share a note's length among the measures it sounds in."""
        start, end = note.onset_quarters, note.onset_quarters + note.duration_quarters
        measure = note.measure
        while measure < len(ends) and start < end:
            here = min(end, ends[measure]) - start
            sounding[measure] += max(here, Fraction(0))
            self.sounds_until[measure] = min(end, ends[measure])
            start, measure = ends[measure], measure + 1
            if start < end and measure < len(ends):
                self.held_into[measure] = True

    def share(self, first: int, last: int) -> float:
        """Share of the time from ``first`` to ``last`` that sounds, 0 to 1."""
        length = self.quarters[last + 1] - self.quarters[first]
        return (self.sounding[last + 1] - self.sounding[first]) / length if length else 0.0

    def onsets(self, first: int, last: int) -> int:
        """Notes that begin from ``first`` to ``last``."""
        return self.notes[last + 1] - self.notes[first]

    def allows(self, first: int, last: int, follows: Sequence[bool]) -> bool:
        """Whether the window can be played alone by the rule of this module."""
        return (
            self.movements[first] == self.movements[last]
            and self.struck[first] > 0
            and (self.struck[last] > 0 or self.held_into[last])
            and not self.held_into[first]
            and all(follows[first:last])
            and self.share(first, last) > LEAST_SHARE
        )


def _follows_in_play(score: Score) -> list[bool]:
    """For each measure whether the next written one ever follows it in the order played."""
    pairs = set(zip(score.play_order, score.play_order[1:], strict=False))
    return [(index, index + 1) in pairs for index in range(len(score.measures))]


def _start_of(score: Score, first: int, playing: _Playing) -> str:
    """What makes ``first`` a good place to begin: "letter", "beginning", "after a rest" or ""."""
    measures = score.measures
    if measures[first].rehearsal:
        return "letter"
    if first == 0 or measures[first - 1].movement != measures[first].movement:
        return "beginning"
    until = playing.sounds_until[first - 1]
    silent = until is None or until < measures[first].onset_quarters
    return "after a rest" if silent else ""


def _count(number: int, word: str) -> str:
    """A number and its word: "1 slur", "4 accents"."""
    return f"{number} {word}" + ("" if number == 1 else "s")
