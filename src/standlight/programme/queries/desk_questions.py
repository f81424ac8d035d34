"""The panel beside the music, after the levels: questions, and places to hear again by one key.

What was read stands in `reading_marks`; here its places become jumps into the take, and where
a level and what was read point different ways a question is asked. Nothing here changes a level.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from standlight.criteria.kept import HeardOn, kept_report
from standlight.criteria.questions import questions
from standlight.programme.models import CheckPassage, OwnVersion, PlayingCheck, Report, Seat, Take
from standlight.programme.queries.hearing import terms_heard_on
from standlight.programme.queries.joins_told import join_questions
from standlight.programme.queries.measure_times import measure_times, written_times
from standlight.programme.queries.reading_marks import Readings
from standlight.score import Passage

JUMP_KEYS = ("u", "i", "o", "p", "y")
"""One key a jump, side by side under the right hand; no other key of the Desk is among them."""

LEAD_IN_S = 0.4
"""Sound before the place that is jumped to, so that its first note is not cut (our choice)."""


@dataclass(frozen=True, slots=True)
class Jump:
    """A place to hear again: what is said of it, its key, where it sounds, which notes it holds.

    ``from_s`` is in seconds of the take, ``None`` where nobody knows; ``asks`` is true for a
    question to the rater. ``notes`` are 0-based indexes in the passage, as words for the page.
    """

    words: str
    key: str
    from_s: float | None
    notes: str = ""
    asks: bool = False


@dataclass(frozen=True, slots=True)
class DeskPanel:
    """The readings' sentences that name no place of their own, and the jumps, questions first."""

    jumps: tuple[Jump, ...] = ()
    sentences: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class OfTake:
    """What a take was played from: its check, seat, passage, and the musician's own version."""

    check: PlayingCheck
    seat: Seat | None
    passage: CheckPassage | None
    own: OwnVersion | None


def desk_panel(
    readings: Readings,
    take: Take | None,
    written: Passage | None,
    of: OfTake,
    levels: Mapping[str, str],
) -> DeskPanel:
    """The panel for ``take``; without ``levels`` (not whole yet) nothing is asked. One query."""
    body = report_body(take)
    if body is None:
        return DeskPanel(sentences=readings.sentences)
    asked = [*_doubts(body, written, of, levels)] if levels else []
    asked += [_plain(one.words, one.at_s) for one in join_questions(body)] if levels else []
    places = [] if readings.silent else _places(body, written, readings)
    jumps = [*asked, *places][: len(JUMP_KEYS)]
    said = {spot.sentence for spot in readings.spots}
    return DeskPanel(
        tuple(
            Jump(jump.words, key if jump.from_s is not None else "", jump.from_s, jump.notes,
                 jump.asks)
            for jump, key in zip_longest(jumps, JUMP_KEYS[: len(jumps)])
        ),
        tuple(
            one for one in readings.sentences
            if one not in said and not any(one.rstrip(".") in jump.words for jump in asked)
        ),
    )  # fmt: skip


def report_body(take: Take | None) -> Mapping[str, Any] | None:
    """The latest report on a take, ``None`` before there is one. One query."""
    if take is None:
        return None
    rows = Report.objects.filter(take=take).order_by("-made_at", "-pk")
    return rows.values_list("body", flat=True).first()


def heard_on(of: OfTake) -> HeardOn:
    """On what terms the take was heard, as far as the words of its readings depend on it."""
    seated = of.seat.section.instrument if of.seat is not None else ""
    return terms_heard_on(of.check, of.passage, of.own, seated)


def _doubts(
    body: Mapping[str, Any], written: Passage | None, of: OfTake, levels: Mapping[str, str]
) -> list[Jump]:
    """Where a level and what was read point different ways."""
    kept = kept_report(body, written, heard_on(of)) if written is not None else None
    if kept is None:
        return []
    return [
        _jump(body, written, one.sentence, one.first_measure, one.last_measure, asks=True)
        for one in questions(levels, kept)
    ]


def _places(
    body: Mapping[str, Any], written: Passage | None, readings: Readings
) -> Sequence[Jump]:
    """The places worth another listen."""
    return [
        _jump(body, written, spot.sentence, spot.first_measure, spot.last_measure)
        for spot in readings.spots
    ]


def _jump(
    body: Mapping[str, Any],
    written: Passage | None,
    words: str,
    first: int,
    last: int,
    *,
    asks: bool = False,
) -> Jump:
    """A jump to measures ``first`` to ``last`` of the passage."""
    if written is None:
        return Jump(words, "", None, asks=asks)
    inside = [i for i, note in enumerate(written.notes) if first <= note.measure <= last]
    times = measure_times(body, written_times(written))
    from_s = max(times[first].from_s - LEAD_IN_S, 0.0) if first < len(times) else None
    return Jump(words, "", from_s, " ".join(map(str, inside)), asks)


def _plain(words: str, at_s: float) -> Jump:
    """A question on the sound itself, at a second of the take."""
    return Jump(words, "", max(at_s - 1.0, 0.0), asks=True)
