"""From a kept report to what the Desk shows: marks for the notation, sentences, figures.

A mark is drawn only where a listener would notice, so that a page of music stays music.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from standlight.criteria import CRITERIA
from standlight.music import Note
from standlight.programme.queries.take_lines import TakeLine, take_lines
from standlight.score import NotationMark, Passage, heard_name

NOTICEABLE_CENTS = 10.0
"""Interval-size just-noticeable difference of amateur musicians, about 10 cents: Hill &
Summers 2007. Notes inside are not marked."""

NOTICEABLE_MS = 50.0
"""Good ensembles play within 30 to 50 ms of each other (Rasch 1979, quoted from memory), and
50 ms is the usual matching window of music information retrieval. Notes inside are not marked."""

INTERVAL_95 = 1.96
"""Standard errors to either side of a 95 percent interval (normal distribution)."""

SURE_PROBABILITY = 0.8
"""A note found with less than this is drawn as unsure. Our choice, no source."""

MOST_SENTENCES = 3
"""More than three places to listen again at once are not heard: common practice, no source."""

SHOWS_PITCH = frozenset({"intonation"})
SHOWS_TIME = frozenset({"rhythm", "pulse", "evenness"})
"""Criteria for which the size of a deviation is drawn; others would only crowd the music."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One reading as a line of text: the criterion's name, words, and the figure or its absence."""

    criterion: str
    name: str
    sentence: str
    figure: str


@dataclass(frozen=True, slots=True)
class HeardSpot:
    """A place worth hearing again, with 0-based measures of the passage."""

    criterion: str
    first_measure: int
    last_measure: int
    sentence: str


@dataclass(frozen=True, slots=True)
class Readings:
    """What one report says, ready to show; ``silent`` says why there are none.

    ``together`` is true for a group's take, of which only the common pulse is read.
    """

    verdicts: tuple[str, ...] = ()
    sentences: tuple[str, ...] = ()
    figures: tuple[Figure, ...] = ()
    spots: tuple[HeardSpot, ...] = ()
    marks: tuple[NotationMark, ...] = ()
    tuning: str = ""
    lines: tuple[TakeLine, ...] = ()
    silent: str = ""
    together: bool = False


def readings_of(
    body: Mapping[str, Any],
    criteria: Sequence[str],
    passage: Passage | None = None,
    marked_qpm: float = 0.0,
) -> Readings:
    """The report ``body`` (``listening.report_as_json``) as the Desk shows it for ``criteria``.

    With ``passage`` another pitch is named as the part writes it, and with ``marked_qpm``
    (quarters a minute, above 0) tempo and loudness are drawn under its measures.
    """
    written = passage.notes if passage is not None else ()
    verdicts = tuple(row["sentence"] for row in body.get("verdicts", ()))
    spots = tuple(
        HeardSpot(row["criterion"], row["first_measure"], row["last_measure"], row["sentence"])
        for row in body.get("spots", ())
        if row["criterion"] in criteria
    )
    rows = [row for row in body.get("readings", ()) if row["criterion"] in criteria]
    together = bool(body.get("together"))
    said = [spot.sentence for spot in spots] + _in_turn(rows)
    return Readings(
        verdicts=verdicts,
        sentences=tuple(dict.fromkeys(said))[:MOST_SENTENCES],
        figures=tuple(_figure(row) for row in rows),
        spots=spots,
        marks=notation_marks(body, criteria, written),
        tuning=_tuning_words(body.get("tuning_cents")) if SHOWS_PITCH & set(criteria) else "",
        lines=take_lines(body, passage, criteria, marked_qpm) if marked_qpm > 0.0 else (),
        silent="" if body.get("notes") or together else "There are no readings for this take.",
        together=together,
    )


def _in_turn(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """The sentences of readings, one of each criterion before a second of any."""
    by_criterion: dict[str, list[str]] = {}
    for row in rows:
        if row.get("sentence"):
            by_criterion.setdefault(row["criterion"], []).append(row["sentence"])
    rounds = zip_longest(*by_criterion.values())
    return [sentence for one in rounds for sentence in one if sentence]


def notation_marks(
    body: Mapping[str, Any], criteria: Sequence[str], written: Sequence[Note] = ()
) -> tuple[NotationMark, ...]:
    """A mark for each note that was other than written, or noticeably off for ``criteria``.

    Cents are counted from the take's own tuning, which is said beside the music.
    """
    tuning = body.get("tuning_cents") or 0.0
    pitch = bool(SHOWS_PITCH & set(criteria))
    time = bool(SHOWS_TIME & set(criteria))
    marks = []
    for note in body.get("notes", ()):
        cents, cents_unsure = _noticeable_cents(note, tuning) if pitch else (None, False)
        ms = note.get("asynchrony_ms") if time else None
        if ms is not None and abs(ms) < NOTICEABLE_MS:
            ms = None
        if cents is None and ms is None and note["outcome"] == "played":
            continue
        probability = note.get("probability")
        unsure = cents_unsure or (probability is not None and probability < SURE_PROBABILITY)
        heard = _heard(note, written)
        marks.append(NotationMark(note["index"], cents, ms, note["outcome"], unsure, heard))
    return tuple(marks)


def _noticeable_cents(note: Mapping[str, Any], tuning: float) -> tuple[float | None, bool]:
    """Deviation from the take's own tuning if noticeable, and whether its interval reaches in."""
    raw = note.get("deviation_cents")
    if raw is None:
        return None, False
    cents = raw - tuning
    if abs(cents) < NOTICEABLE_CENTS:
        return None, False
    error = note.get("deviation_se_cents")
    unsure = error is None or abs(cents) - INTERVAL_95 * error < NOTICEABLE_CENTS
    return cents, unsure


def _heard(note: Mapping[str, Any], written: Sequence[Note]) -> str:
    """The other pitch by name, empty when the note was played or its line is not at hand."""
    if note["outcome"] != "other_pitch" or note.get("midi_heard") is None:
        return ""
    index = note["index"]
    return heard_name(note["midi_heard"], written[index]) if index < len(written) else ""


def _figure(row: Mapping[str, Any]) -> Figure:
    """One reading with its unit and interval, or the reason why it is absent."""
    name = CRITERIA[row["criterion"]].name
    if row.get("value") is None:
        because = row.get("because", "")
        named = because if row["name"] in ("", name) else f"{row['name']}: {because}"
        return Figure(row["criterion"], name, row.get("sentence", ""), named)
    unit = f" {row['unit']}" if row.get("unit") else ""
    interval = ""
    if row.get("low") is not None and row.get("high") is not None:
        low, high = (_number(row[end], row.get("unit", "")) for end in ("low", "high"))
        interval = f", likely {low} to {high}"
    words = row["name"].replace("_", " ")
    value = _number(row["value"], row.get("unit", ""))
    return Figure(
        row["criterion"],
        name,
        row.get("sentence", ""),
        f"{words}: {value}{unit}{interval}; {row['n_notes']} notes",
    )


COUNTED = frozenset({"notes", "sounds", "times", "gaps"})
"""Units of counts, which are whole numbers."""


def _number(value: float, unit: str = "") -> str:
    """A figure with as many places as its size deserves; counts are whole.

    >>> _number(123.4), _number(12.34), _number(0.123), _number(-0.04), _number(2.0, "notes")
    ('123', '12.3', '0.12', '-0.04', '2')
    """
    if unit in COUNTED:
        return f"{value:.0f}"
    places = 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2
    return f"{value:.{places}f}"


def _tuning_words(cents: float | None) -> str:
    """The whole take's offset in words.

    >>> _tuning_words(-12.3)
    'The whole take sits 12 cents low; marks count from there.'
    """
    if cents is None:
        return ""
    if abs(cents) < 1:
        return "The whole take sits at the ensemble's pitch; marks count from there."
    side = "high" if cents > 0 else "low"
    return f"The whole take sits {abs(cents):.0f} cents {side}; marks count from there."
