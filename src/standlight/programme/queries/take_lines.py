"""From a kept report to its pictures: tempo and loudness under the measures, each with its words.

A report of the first edition holds no lines; then there is no picture, and nothing is said.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.safestring import SafeString, mark_safe

from standlight.score import (
    LinePoint,
    Passage,
    draw_loudness,
    draw_tempo,
    loudness_words,
    tempo_words,
)

TEMPO_CRITERIA = frozenset({"pulse", "rhythm"})
LOUDNESS_CRITERIA = frozenset({"dynamics", "expression", "articulation"})
"""Criteria that a picture belongs to: a check that asks for none of them shows none."""

FEWEST_POINTS = 4
"""Fewer points are no line (our choice)."""


@dataclass(frozen=True, slots=True)
class TakeLine:
    """One picture: its heading, the drawing, and what it shows with figures and in plain words.

    ``key`` says what its strokes mean.
    """

    heading: str
    picture: SafeString
    words: str
    plain: str
    key: str


TEMPO_KEY = "Dashed is the marked tempo. A wide grey band is less sure."
LOUDNESS_KEY = "Dashed is the middle of this take. Compare only inside it."
"""A phone changes loudness by itself: see the manual's page on hearing."""


def take_lines(
    body: Mapping[str, Any], passage: Passage | None, criteria: Sequence[str], marked_qpm: float
) -> tuple[TakeLine, ...]:
    """The pictures of the report ``body`` (``listening.report_as_json``) for ``criteria``.

    ``marked_qpm`` is the tempo of the check in quarters a minute. A passage that was moved
    after the take was read has other notes: nothing of it is drawn. A group's take has lines
    and no notes.
    """
    if passage is None or not (body.get("together") or _same_notes(body, passage)):
        return ()
    found = []
    tempo = _points(body.get("tempo_curve", ()), "tempo_qpm")
    if TEMPO_CRITERIA & set(criteria) and len(tempo) >= FEWEST_POINTS:
        found.append(
            _line(
                "Tempo",
                TEMPO_KEY,
                draw_tempo(tempo, marked_qpm, passage),
                lambda figures: tempo_words(tempo, marked_qpm, passage, figures=figures),
            )
        )
    loudness = _points(body.get("loudness_line", ()), "loudness_lu")
    if LOUDNESS_CRITERIA & set(criteria) and len(loudness) >= FEWEST_POINTS:
        found.append(
            _line(
                "Loudness",
                LOUDNESS_KEY,
                draw_loudness(loudness, passage),
                lambda figures: loudness_words(loudness, passage, figures=figures),
            )
        )
    return tuple(found)


def _same_notes(body: Mapping[str, Any], passage: Passage) -> bool:
    """True when the report is on as many notes as the passage has."""
    return len(body.get("notes", ())) == len(passage.notes)


def _line(
    heading: str, key: str, picture: str, words: Callable[[bool], str]
) -> TakeLine:
    """One picture with both its texts; the drawing's own texts are escaped by its writer."""
    return TakeLine(heading, mark_safe(picture), words(True), words(False), key)


def _points(rows: Sequence[Mapping[str, Any]], value: str) -> list[LinePoint]:
    """The stored points of one line."""
    return [
        LinePoint(row["quarters"], row[value], row.get("se_qpm", 0.0), row.get("stretch", 0))
        for row in rows
    ]
