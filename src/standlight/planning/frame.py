"""What stands around the work: warm-up, contrast, run, the closing question; who waits. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from standlight.planning.candidates import Candidate
from standlight.planning.laying import window_sums
from standlight.planning.plan_values import (
    CONTRAST,
    QUESTION,
    RUN,
    WARM_UP,
    Idle,
    PieceEvidence,
    Why,
)
from standlight.planning.strategies import LISTEN, STUDY
from standlight.planning.strip import SPOT_MEASURES

CONCERT_NEAR_DAYS = 7
RUN_SHARES = ((2, 0.5), (CONCERT_NEAR_DAYS, 0.35), (21, 0.2), (None, 0.15))
"""Share of the period for the run, by the days to the concert at most (common practice, no
source): the nearer, the more is played through."""

PLAYS_SHARE = 0.25
"""Who sounds in less than this share of a block's measures waits in it (our choice)."""

RUN_SOUNDING = 0.8
"""Part of a run's minutes that is music: the rest is finding the place and one word after it."""


@dataclass(frozen=True, slots=True)
class FrameRow:
    """Share of the period, fewest and most minutes, and the period from which it stands at all."""

    share: float
    least: int
    most: int
    from_period: int


FRAME = {
    WARM_UP: FrameRow(0.12, 3, 8, 12),
    CONTRAST: FrameRow(0.10, 3, 6, 25),
    RUN: FrameRow(0.0, 3, 30, 18),
    QUESTION: FrameRow(0.04, 1, 2, 6),
}
"""The frame of a rehearsal, in minutes (common practice, no source); the run goes by days."""


def frame_minutes(minutes: int, days_to_concert: int) -> dict[str, int]:
    """Minutes of each part of the frame in a period; a short period has fewer of them.

    >>> frame_minutes(45, 30)
    {'warm_up': 5, 'contrast': 4, 'run': 7, 'question': 2}
    >>> frame_minutes(45, 2)["run"], frame_minutes(10, 30)
    (22, {'question': 1})
    """
    run_share = next(share for days, share in RUN_SHARES if days is None or days_to_concert <= days)
    shares = {kind: run_share if kind == RUN else row.share for kind, row in FRAME.items()}
    return {
        kind: min(max(row.least, round(shares[kind] * minutes)), row.most)
        for kind, row in FRAME.items()
        if minutes >= row.from_period
    }


def waiting(piece: PieceEvidence, first: int, last: int) -> tuple[str, ...]:
    """Parts that sound in less than a quarter of some measures."""
    measures = range(first, last + 1)
    return tuple(
        part.key
        for part in piece.strip.outline.parts
        if sum(m in part.plays for m in measures) < PLAYS_SHARE * len(measures)
    )


def idle_in(
    piece: PieceEvidence, first: int, last: int, work: Sequence[Candidate]
) -> tuple[Idle, ...]:
    """Who waits in a block and what they do: study an own spot of today's work, else listen."""
    outline = piece.strip.outline
    tasks: dict[tuple[str, int, int], list[str]] = {}
    for key in waiting(piece, first, last):
        part = next(one for one in outline.parts if one.key == key)
        own = next(
            ((one.first, one.last) for one in work
             if one.piece == piece.key and (one.first, one.last) != (first, last)
             and not one.first <= last <= one.last
             and sum(m in part.plays for m in range(one.first, one.last + 1)) * 2
             >= one.last - one.first + 1),
            None,
        )  # fmt: skip
        task = (STUDY, *own) if own else (LISTEN, first, last)
        tasks.setdefault(task, []).append(key)
    return tuple(Idle(tuple(parts), task, piece.key, a, b) for (task, a, b), parts in tasks.items())


def contrast_place(
    pieces: Sequence[PieceEvidence], work: Sequence[Candidate]
) -> tuple[PieceEvidence, int, int, Why] | None:
    """Where to play something else: a false worry, else calm measures for those who waited."""
    for piece in pieces:
        for one in piece.strip.false_worries:
            if not _worked(work, piece.key, one.first, one.last):
                return piece, one.first, one.last, Why("false_worry")
    waited = {
        (piece.key, part)
        for piece in pieces
        for one in work
        if one.piece == piece.key
        for part in waiting(piece, one.first, one.last)
    }
    places = [place for piece in pieces for place in _calm_places(piece, work, waited)]
    if not places:
        return None
    plays, _, piece, first, last = max(places, key=lambda place: place[:2])
    return piece, first, last, Why("idle_play", plays)


def _calm_places(
    piece: PieceEvidence, work: Sequence[Candidate], waited: set[tuple[str, str]]
) -> Iterator[tuple[int, float, PieceEvidence, int, int]]:
    """Windows in the calmer half of a piece: parts that waited and play here, and less need."""
    outline = piece.strip.outline
    width = min(SPOT_MEASURES, outline.n_measures)
    needs = window_sums(1000 * np.array([piece.strip.needs]), width)[0]
    plays = np.zeros(len(needs), dtype=np.int64)
    for part in outline.parts:
        if (piece.key, part.key) in waited:
            own = np.zeros((1, outline.n_measures), dtype=np.int64)
            own[0, list(part.plays)] = 1
            plays += 2 * window_sums(own, width)[0] >= width
    for first in np.flatnonzero(needs <= np.median(needs)).tolist():
        if not _worked(work, piece.key, first, first + width - 1):
            yield int(plays[first]), -float(needs[first]), piece, first, first + width - 1


def run_place(
    pieces: Sequence[PieceEvidence], work: Sequence[tuple[Candidate, int]], minutes: int
) -> tuple[PieceEvidence, int, int, int]:
    """The stretch of music that holds most worked measures and fits the run; how many it holds.

    It lies in the piece that was worked on longest.
    """
    spent = {piece.key: 0 for piece in pieces}
    for one, given in work:
        spent[one.piece] += given
    piece = max(pieces, key=lambda one: spent[one.key])
    outline = piece.strip.outline
    worked = {m for one, _ in work if one.piece == piece.key
              for m in range(one.first, one.last + 1)}  # fmt: skip
    seconds = [outline.seconds_of(m, m) for m in range(outline.n_measures)]
    budget, last, length = 60.0 * RUN_SOUNDING * minutes, -1, 0.0
    best = (-1, 0, 0)
    for first in range(outline.n_measures):
        while last + 1 < outline.n_measures and (
            last < first or length + seconds[last + 1] <= budget
        ):
            last += 1
            length += seconds[last]
        held = len(worked.intersection(range(first, last + 1)))
        best = max(best, (held, -first, last))
        length -= seconds[first]
    return piece, -best[1], best[2], best[0]


def _worked(work: Sequence[Candidate], piece: str, first: int, last: int) -> bool:
    """Whether a block of work lies on some of the measures."""
    return any(one.piece == piece and one.first <= last and one.last >= first for one in work)
