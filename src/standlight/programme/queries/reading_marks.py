"""From a kept report to what the Desk shows: marks for the notation, sentences, figures.

A mark is drawn only where a listener would notice, so that a page of music stays music, and in
colour only where the words beside it would call the note out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from standlight.criteria import CRITERIA
from standlight.criteria.intonation import moving_centre
from standlight.criteria.kept import HeardOn, KeptReport, kept_report
from standlight.criteria.limits import SURE_PROBABILITY
from standlight.criteria.said import Apart, pitch_apart, time_apart
from standlight.listening import HeardNote
from standlight.programme.pitch_targets import DRONE, JUST
from standlight.programme.queries.take_lines import TakeLine, take_lines
from standlight.score import DOUBTED, PASSED, SAID, NotationMark, Passage, heard_name

NOTICEABLE_CENTS = 10.0
"""Interval-size just-noticeable difference of amateur musicians, about 10 cents: Hill &
Summers 2007. Notes inside are not marked at all."""

NOTICEABLE_MS = 50.0
"""Good ensembles play within 30 to 50 ms of each other (Rasch 1979, quoted from memory), and
50 ms is the usual matching window of music information retrieval. Entries inside are not
marked at all."""

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

    ``together`` is true for a group's take, of which only the common pulse is read; ``moved``
    where the passage has other notes by now than the take was read against: nothing is marked.
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
    moved: bool = False

    @property
    def longer(self) -> bool:
        """True when a mark says that a note went on beyond its written time."""
        return any(mark.longer for mark in self.marks)

    @property
    def otherwise(self) -> bool:
        """True when a mark says that a note was not heard, was another one or went on."""
        return self.longer or any(mark.outcome != "played" for mark in self.marks)


def readings_of(
    body: Mapping[str, Any],
    criteria: Sequence[str],
    passage: Passage | None = None,
    terms: HeardOn | None = None,
) -> Readings:
    """The report ``body`` (``listening.report_as_json``) as the Desk shows it for ``criteria``.

    With ``passage`` and the ``terms`` it was heard on its notes are marked, and tempo and
    loudness are drawn under its measures.
    """
    kept = None
    if passage is not None and terms is not None:
        kept = kept_report(body, passage, terms)
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
        marks=notation_marks(kept, criteria) if kept is not None else (),
        tuning=_tuning(kept) if kept is not None and SHOWS_PITCH & set(criteria) else "",
        lines=take_lines(body, passage, criteria, terms.marked_tempo_qpm) if terms else (),
        silent="" if body.get("notes") or together else "There are no readings for this take.",
        together=together,
        moved=kept is None and bool(body.get("notes")) and None not in (passage, terms),
    )


def _in_turn(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """The sentences of readings, one of each criterion before a second of any."""
    by_criterion: dict[str, list[str]] = {}
    for row in rows:
        if row.get("sentence"):
            by_criterion.setdefault(row["criterion"], []).append(row["sentence"])
    rounds = zip_longest(*by_criterion.values())
    return [sentence for one in rounds for sentence in one if sentence]


def notation_marks(kept: KeptReport, criteria: Sequence[str]) -> tuple[NotationMark, ...]:
    """A mark for each note that was other or longer than written, or off for ``criteria``.

    The notes of a repeat that was left out have none: the verdict says that they do not count.
    Deviations and what is called out are those of the criteria's own words: cents are counted
    from the take's own tuning, a singer's from their moving centre.
    """
    performance = kept.performance
    pitch = pitch_apart(performance) if SHOWS_PITCH & set(criteria) else {}
    time = time_apart(performance) if SHOWS_TIME & set(criteria) else {}
    marks = []
    for note in performance.notes:
        if note.index in performance.left_out:
            continue
        cents = _noticeable(pitch.get(note.index), NOTICEABLE_CENTS)
        ms = _noticeable(time.get(note.index), NOTICEABLE_MS)
        longer = note.index in performance.prolonged
        if cents is None and ms is None and note.outcome == "played" and not longer:
            continue
        marks.append(
            NotationMark(
                note.index,
                cents.value if cents else None,
                ms.value if ms else None,
                note.outcome,
                note.probability < SURE_PROBABILITY,
                _heard(note, performance.passage),
                _manner(cents),
                _manner(ms),
                longer,
            )
        )
    return tuple(marks)


def _noticeable(apart: Apart | None, least: float) -> Apart | None:
    """A deviation that a listener notices, ``None`` where there is none."""
    return apart if apart is not None and abs(apart.value) >= least else None


def _manner(apart: Apart | None) -> str:
    """How a deviation is drawn: as loudly as the words speak of it."""
    if apart is None or not (apart.said or apart.unsure):
        return PASSED
    return SAID if apart.said else DOUBTED


def _heard(note: HeardNote, passage: Passage) -> str:
    """The other pitch by name, empty when the note was played or nobody knows which it was."""
    if note.outcome != "other_pitch" or note.midi_heard is None:
        return ""
    return heard_name(note.midi_heard, passage.notes[note.index])


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


COUNTED_FROM = {
    JUST: "marks count from the just intervals, at the take's own height",
    DRONE: "marks count from the drone",
}
"""What cents on the music are counted from, where it is not the take's own tuning."""


def _tuning(kept: KeptReport) -> str:
    """The whole take's offset, and what the marks count from."""
    from_where = COUNTED_FROM.get(kept.performance.target.kind, "marks count from there")
    if moving_centre(kept.performance) is not None:
        from_where = "it drifts, and marks follow the voice"
    return _tuning_words(kept.performance.tuning_cents, from_where)


def _tuning_words(cents: float | None, from_where: str) -> str:
    """The whole take's offset in words.

    >>> _tuning_words(-12.3, "marks count from there")
    'The whole take sits 12 cents low; marks count from there.'
    """
    if cents is None:
        return ""
    if abs(cents) < 1:
        return f"The whole take sits at the ensemble's pitch; {from_where}."
    side = "high" if cents > 0 else "low"
    return f"The whole take sits {abs(cents):.0f} cents {side}; {from_where}."
