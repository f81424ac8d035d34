"""One long recording of several musicians in a row: where one ends and the next begins.

`envelope_db` makes a loudness envelope out of samples, `spans_between_silences` finds the spans
between the silences in it. What is sound and what is silence is told against the recording's own
floor, never against a fixed loudness: a class device far from a soft player and one close to a
loud player are cut alike. Somebody says a few words between two takes: such short spans stand
apart and are marked, and never glue two takes together. Where a musician stops and begins again
there may be a boundary too many; a person joins and splits on the screen.

Measured by ``benchmarks/silences.py`` on sequences put together with known boundaries.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

HOP_S = 0.02
"""Distance of the envelope's values; boundaries are wanted to a tenth of a second."""

SMOOTHED_HOPS = 5
"""The envelope is a mean over a tenth of a second: knocks and gaps in a tone do not count."""

QUIET_SHARE = 0.05
"""The quietest twentieth of the values is the floor: in a row of takes more is silence."""

OVER_FLOOR_DB, UNDER_LOUD_DB = 8.0, 55.0
"""Sound is this far over the floor, and no further than that under the loudest. Room noise over a
tenth of a second stays within 3 dB of its mean; soft and loud playing are 30 to 40 dB apart
before one phone (from memory, no source). The second limit stands where a device writes nothing
at all in silence, and everything would be over the floor."""

HOLD_DB = 3.0
"""A span lasts until the envelope is this much under where it would begin (hysteresis)."""

LOUD_SHARE = 0.95

LEAST_RANGE_DB = 12.0
"""With less between floor and loud there is hardly a silence: its quietest moment is the floor."""

KNIT_S = 0.6
"""Nearer pieces are one: detached notes and strokes (our choice)."""

SHORTEST_S = 0.4
"""What is alone and shorter is a knock, a page, a chair."""

USUAL_S = tuple(float(round(8.0 * 1.15**step, 1)) for step in range(21))
"""How long one take may usually be where nobody says: 8 s to two minutes, each a seventh longer."""

EXPECTED_SPREAD = 0.6
"""How far the usual take may be from the written length, as a share: beginners play at half the
tempo and begin again, or only a part is asked for. A tendency, no limit (our choice)."""

SPREAD = 0.3
"""Takes of one passage differ by about this share: tempo, restarts, ends left out (our choice)."""

REST_SCALE_S, BETWEEN_SCALE_S = 0.8, 3.0
"""Silences inside a take and between two of them are about so long: a rest of a measure, the way
to the stand. With the three costs chosen on rows 100 to 111 of the benchmark, read on others."""

WORDS_SCALE_S, LONGEST_WORDS_S = 2.0, 8.0
"""Words between two takes are about, and at most, so long."""

TAKE_COST, WORDS_COST, BETWEEN_COST = 2.0, 1.0, 0.5
"""What each take, each stretch of words and each boundary weighs, against one standard deviation
of length (a half)."""

SHORT_SHARE = 0.4
"""Shorter than this share of the usual take: words between takes, or a false start."""

_SILENT_POWER = 1e-12


@dataclass(frozen=True, slots=True)
class Span:
    """Sound between two silences, in seconds from the beginning of the recording.

    ``short`` is True for what is far shorter than the other spans: words, a false start.
    """

    start_s: float
    end_s: float
    short: bool = False

    def __post_init__(self) -> None:
        """Refuse a span that does not go forward."""
        if not 0.0 <= self.start_s < self.end_s:
            raise ValueError(f"a span from {self.start_s} to {self.end_s} s (swapped?)")

    @property
    def seconds(self) -> float:
        """How long it is."""
        return self.end_s - self.start_s


def envelope_db(samples: np.ndarray, rate_hz: int) -> np.ndarray:
    """Loudness of every ``HOP_S``, in dB under full scale, shape ``(hops,)``; a rest is left out.

    >>> envelope_db(np.full(1000, 0.1, dtype=np.float32), 25_000)
    array([-20., -20.])
    """
    hop = round(HOP_S * rate_hz)
    pieces = samples[: len(samples) // hop * hop].reshape(-1, hop)
    power = np.einsum("ij,ij->i", pieces, pieces, dtype=np.float64) / hop
    return np.round(10.0 * np.log10(power + _SILENT_POWER), 4)


def spans_between_silences(
    envelope: np.ndarray, *, expected_s: float | None = None
) -> tuple[Span, ...]:
    """The spans of sound of an `envelope_db`, in order; empty where all is silence.

    ``expected_s`` is how long one take should be, where it is known from the written music: it
    tips the scale, and forces nothing.
    Raises ``ValueError`` for a length that is none.

    >>> quiet, loud = np.full(250, -70.0), np.full(1000, -20.0)
    >>> [(span.start_s, span.end_s) for span in spans_between_silences(
    ...     np.concatenate([quiet, loud, quiet, loud, quiet]))]
    [(5.0, 25.0), (30.0, 50.0)]
    """
    if expected_s is not None and expected_s <= 0:
        raise ValueError(f"a take of {expected_s} s (minutes given for seconds?)")
    if len(envelope) < SMOOTHED_HOPS:
        return ()
    pieces = [piece for piece in _knit(_sounding(envelope), KNIT_S) if _length(piece) >= SHORTEST_S]
    readings = [(*_likeliest(pieces, usual_s), usual_s) for usual_s in USUAL_S]
    _, spans, usual_s = min(
        readings, key=lambda reading: reading[0] + _unexpected(reading[2], expected_s)
    )
    return tuple(
        Span(pieces[first][0], pieces[last][1], words or _is_short(pieces, first, last, usual_s))
        for first, last, words in spans
    )


def _unexpected(usual_s: float, expected_s: float | None) -> float:
    """What it costs that takes are usually so long, where another length is written.

    >>> _unexpected(20.0, None), _unexpected(20.0, 20.0), round(_unexpected(40.0, 20.0), 2)
    (0.0, 0.0, 0.67)
    """
    if expected_s is None:
        return 0.0
    return (math.log(usual_s / expected_s) / EXPECTED_SPREAD) ** 2 / 2


def _sounding(envelope: np.ndarray) -> list[tuple[float, float]]:
    """Stretches over the recording's own floor, in seconds, however short."""
    power = 10.0 ** (envelope / 10.0)
    mean = np.convolve(power, np.full(SMOOTHED_HOPS, 1.0 / SMOOTHED_HOPS), mode="same")
    smooth = 10.0 * np.log10(mean + _SILENT_POWER)
    floor, loud = np.quantile(smooth, (QUIET_SHARE, LOUD_SHARE))
    if loud - floor < LEAST_RANGE_DB:
        floor = smooth.min()
    begins_at = max(floor + OVER_FLOOR_DB, loud - UNDER_LOUD_DB)
    over, held = smooth >= begins_at, smooth >= begins_at - HOLD_DB
    edges = np.flatnonzero(np.diff(np.concatenate([[0], held.astype(np.int8), [0]])))
    # What is heard counts where the sound itself is, not where its smoothed shape begins.
    here = envelope >= begins_at - HOLD_DB
    stretches = []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        inside = first + np.flatnonzero(here[first:last])
        if over[first:last].any() and len(inside):
            stretches.append((_seconds(inside[0]), _seconds(inside[-1] + 1)))
    return stretches


def _seconds(hop: int) -> float:
    return round(float(hop) * HOP_S, 3)


def _length(piece: tuple[float, float]) -> float:
    return piece[1] - piece[0]


def _knit(pieces: Iterable[tuple[float, float]], gap_s: float) -> list[tuple[float, float]]:
    """Pieces with every gap under ``gap_s`` closed."""
    knit: list[tuple[float, float]] = []
    for start, end in pieces:
        if knit and start - knit[-1][1] < gap_s:
            knit[-1] = (knit[-1][0], end)
        else:
            knit.append((start, end))
    return knit


def _is_short(pieces: list[tuple[float, float]], first: int, last: int, usual_s: float) -> bool:
    return pieces[last][1] - pieces[first][0] < SHORT_SHARE * usual_s


def _likeliest(
    pieces: list[tuple[float, float]], usual_s: float
) -> tuple[float, list[tuple[int, int, bool]]]:
    """The cheapest way to read the pieces as takes of about ``usual_s`` and words; what it costs.

    Each reading is (first piece, last piece, whether it is words). A take costs more the further
    its length is from the usual, a rest in it the longer it is, a silence between takes less.
    """
    costs, came_from = [0.0], [(0, False)]
    for last in range(len(pieces)):
        boundary = 0.0
        if last + 1 < len(pieces):
            boundary = BETWEEN_COST - (pieces[last + 1][0] - pieces[last][1]) / BETWEEN_SCALE_S
        best = (costs[last] + _words_cost(_length(pieces[last])), last, True)
        rests = 0.0
        for first in range(last, -1, -1):
            if first < last:
                rests += (pieces[first + 1][0] - pieces[first][1]) / REST_SCALE_S
            length = pieces[last][1] - pieces[first][0]
            away = math.log(length / usual_s) / SPREAD
            cost = costs[first] + rests + TAKE_COST + away**2 / 2
            best = min(best, (cost, first, False))
            if length > 2.0 * usual_s and first < last:
                break
        costs.append(best[0] + boundary)
        came_from.append(best[1:])
    spans, place = [], len(pieces)
    while place:
        first, words = came_from[place]
        spans.append((first, place - 1, words))
        place = first
    return costs[-1], spans[::-1]


def _words_cost(length_s: float) -> float:
    """What it costs to read one piece as words between takes; endless when it is too long."""
    return WORDS_COST + length_s / WORDS_SCALE_S if length_s <= LONGEST_WORDS_S else float("inf")
