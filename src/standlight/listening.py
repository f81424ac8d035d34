"""One straight line from a take and its passage to readings: pure, no clock, no database.

``listen(ListeningTask) -> ListeningReport``. Written by the listening room's owner; the
values here are the contract the shell stores and the Desk shows.
"""

from __future__ import annotations

from dataclasses import dataclass

METHOD = "2026-11"
"""Edition of the method; a better one adds a report and rewrites none."""


@dataclass(frozen=True, slots=True)
class ListeningTask:
    """All that one hearing needs.

    ``notation`` is the passage's own small MusicXML (``None``: paper only, then only
    the quality of the recording is judged). ``instrument`` is a name of the
    instruments table; ``criteria`` are keys of ``standlight.criteria.CRITERIA``.
    """

    take: bytes
    notation: bytes | None
    tempo_qpm: float
    instrument: str | None = None
    a4_hz: float = 440.0
    criteria: tuple[str, ...] = ()
    octave_free: bool = False


@dataclass(frozen=True, slots=True)
class Verdict:
    """One judgement on the recording itself: machine ``code`` and a plain sentence."""

    code: str
    sentence: str


@dataclass(frozen=True, slots=True)
class NoteReading:
    """What was heard of written note ``index``; late and sharp are positive.

    ``outcome`` is ``played``, ``other_pitch`` or ``missing``; times in seconds from the
    first decoded sample; absent values are ``None``. ``deviation_cents`` is heard minus
    written at the task's A4, the take's tuning NOT removed, ``None`` unless ``played``.
    """

    index: int
    outcome: str
    onset_s: float | None
    offset_s: float | None
    midi_heard: float | None
    deviation_cents: float | None
    deviation_se_cents: float | None
    asynchrony_ms: float | None
    probability: float


@dataclass(frozen=True, slots=True)
class Added:
    """A sound between the written notes that was played and is not written."""

    onset_s: float
    offset_s: float
    midi_heard: float | None


@dataclass(frozen=True, slots=True)
class Restart:
    """The player stopped and went on from written note ``to_index``."""

    onset_s: float
    to_index: int


@dataclass(frozen=True, slots=True)
class Reading:
    """One figure of one criterion with its interval, or ``None`` and ``because``.

    ``sentence`` says it in words first ("measures 12 to 13: four entries a little early").
    """

    criterion: str
    name: str
    value: float | None
    low: float | None
    high: float | None
    unit: str
    n_notes: int
    because: str = ""
    sentence: str = ""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place worth listening to again: a criterion, 0-based measures of the passage, words."""

    criterion: str
    first_measure: int
    last_measure: int
    sentence: str


@dataclass(frozen=True, slots=True)
class ListeningReport:
    """Everything one hearing found, under the edition of its method."""

    method: str
    seconds: float
    first_note_s: float
    verdicts: tuple[Verdict, ...] = ()
    tuning_cents: float | None = None
    tempo_qpm: float | None = None
    notes: tuple[NoteReading, ...] = ()
    added: tuple[Added, ...] = ()
    restarts: tuple[Restart, ...] = ()
    readings: tuple[Reading, ...] = ()
    spots: tuple[Spot, ...] = ()
