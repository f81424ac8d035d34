"""One straight line from a take and its passage to readings: pure, no clock, no database.

``listen(ListeningTask) -> ListeningReport``: decode, judge the recording, follow the part,
read each criterion. A bad take never raises: it becomes a report with a verdict and no
readings. There is no way from here to a mark; a reading informs a person.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace

from standlight.criteria import CRITERIA, Criterion, Reading, Spot, spots_of
from standlight.criteria.limits import entry_limit_ms
from standlight.errors import StandlightError
from standlight.music import STANDARD_A4_HZ
from standlight.score import INSTRUMENTS, read_passage
from standlight.score.values import Passage
from standlight.sound import (
    EQUAL_TEMPERAMENT,
    FATAL,
    HeardNote,
    Join,
    LoudnessPoint,
    Performance,
    PitchTarget,
    Recording,
    TempoPoint,
    Verdict,
    first_sound_s,
    held_notes,
    joins_of,
    loudness_line,
    perform,
    perform_together,
    rolls_of,
    tempo_curve,
    verdicts_on_performance,
    verdicts_on_sound,
    with_playing_beyond_told,
    with_repeats_told,
)
from standlight.workshop.decoding import decode

METHOD = "2026-11w"
"""Edition of the method; a better one adds a report and rewrites none."""

ONLY_THE_PULSE = "Several sing or play together: only the common pulse is read."
"""Why a group's take has no other reading: never a guess at whose note was whose."""


@dataclass(frozen=True, slots=True)
class Terms:
    """On what terms a take is heard: what was asked of the musician, and what to read.

    ``tempo_qpm`` is the marked tempo in quarters a minute. ``instrument`` is a name of the
    instruments table (``None``: the passage's own); ``criteria`` are keys of
    ``standlight.criteria.CRITERIA``, none meaning every one that applies. ``octave_free`` lets
    a singer choose the octave; ``target`` is what intonation is measured against (equal
    temperament by default). ``together`` says that a small group records as one: then only
    the common pulse is read.
    """

    tempo_qpm: float
    instrument: str | None = None
    a4_hz: float = STANDARD_A4_HZ
    criteria: tuple[str, ...] = ()
    octave_free: bool = False
    target: PitchTarget = EQUAL_TEMPERAMENT
    together: bool = False


@dataclass(frozen=True, slots=True)
class ListeningTask:
    """All that one hearing needs: the take's bytes, its notation, and on what terms.

    ``notation`` is the passage's own small MusicXML (``None``: paper only, then only
    the quality of the recording is judged).
    """

    take: bytes
    notation: bytes | None
    terms: Terms


@dataclass(frozen=True, slots=True)
class NoteReading:
    """What was heard of written note ``index``; late and sharp are positive.

    ``outcome`` is ``played``, ``other_pitch`` or ``missing``; times in seconds from the
    first decoded sample; absent values are ``None``. ``deviation_cents`` is heard minus
    written at the task's A4, the take's tuning NOT removed, ``None`` unless ``played``;
    a whole take in another octave or key has a verdict, and is read against that.
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
class ListeningReport:
    """Everything one hearing found, under the edition of its method.

    ``attempts`` are earlier, abandoned tries at notes that were played again later;
    ``tempo_curve`` and ``loudness_line`` run over the passage in quarters (reports of the
    first edition have none). Where several play ``together`` there are no notes, no tuning
    and no spots: whose note was whose cannot be told. ``joins`` are only ever questions to a
    director, never words to a musician. ``prolonged`` are the notes that went on beyond their
    written time, held or played twice. ``left_out`` are the notes of a repeat that was not
    played, which count as no slip, and ``seams`` the notes at which the playing went on after a
    repeat that was left out or taken, which is no stop. All three are sorted indexes of written
    notes (reports of earlier editions have none).
    """

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
    attempts: tuple[NoteReading, ...] = ()
    tempo_curve: tuple[TempoPoint, ...] = ()
    loudness_line: tuple[LoudnessPoint, ...] = ()
    together: bool = False
    joins: tuple[Join, ...] = ()
    prolonged: tuple[int, ...] = ()
    left_out: tuple[int, ...] = ()
    seams: tuple[int, ...] = ()


def listen(task: ListeningTask) -> ListeningReport:
    """Everything one hearing finds. Bad audio or notation gives a verdict, never an error.

    Raises KeyError for a criterion that is not in the table.
    """
    passage, problem = None, None
    if task.notation is not None:
        try:
            passage = read_passage(task.notation)
        except StandlightError as unreadable:
            problem = Verdict("unreadable_notation", _as_sentence(unreadable))
    return listen_to(task.take, passage, task.terms, problem=problem)


def listen_to(
    take: bytes, passage: Passage | None, terms: Terms, *, problem: Verdict | None = None
) -> ListeningReport:
    """`listen` for a passage that is already read; ``problem`` says why it could not be."""
    chosen = _asked(terms.criteria, terms.instrument)
    try:
        recording = decode(take)
    except StandlightError as unreadable:
        verdict = Verdict("unreadable", _as_sentence(unreadable))
        readings = _none(chosen, verdict.sentence)
        return ListeningReport(METHOD, 0.0, 0.0, (verdict,), readings=readings)
    if problem is not None:
        return _refused(recording, [*verdicts_on_sound(recording), problem], chosen)
    return hear(recording, passage, terms)


def hear(recording: Recording, passage: Passage | None, terms: Terms) -> ListeningReport:
    """`listen` for a take that is already decoded and a passage that is already read."""
    instrument = terms.instrument or (passage.instrument if passage else "")
    chosen = _asked(terms.criteria, instrument)
    verdicts = list(verdicts_on_sound(recording))
    if passage is None or not passage.notes:
        verdicts.append(
            Verdict(
                "no_notation",
                "There is no notation to compare with, so this take is rated by ear alone.",
            )
        )
        return _refused(recording, verdicts, chosen)
    if _fatal(verdicts):
        return _refused(recording, verdicts, chosen)
    if terms.together:
        return _hear_together(recording, passage, terms, verdicts, chosen)
    if passage.several_at_once:
        verdicts.append(
            Verdict(
                "several_at_once",
                "This passage has several notes at once, so its takes are rated by ear alone.",
            )
        )
        return _refused(recording, verdicts, chosen)
    family = _family(instrument, passage)
    if family != "percussion" and _is_mixed(passage):
        verdicts.append(
            Verdict(
                "mixed_notes",
                "This part has notes with and without a pitch, so its takes are rated by ear "
                "alone.",
            )
        )
        return _refused(recording, verdicts, chosen)
    performance = perform(
        recording,
        passage,
        terms.tempo_qpm,
        a4_hz=terms.a4_hz,
        octave_free=terms.octave_free,
        sung=family == "voice",
        struck=family == "percussion",
        onset_tolerance_ms=entry_limit_ms(family),
    )
    verdicts.extend(
        verdicts_on_performance(
            recording, performance, octave_free=terms.octave_free, a4_hz=terms.a4_hz
        )
    )
    if _fatal(verdicts):
        return _refused(recording, verdicts, chosen)
    for told_apart in (with_playing_beyond_told, with_repeats_told):
        performance, said = told_apart(performance)
        verdicts.extend(said)
    performance = replace(
        performance,
        loudness_trusted=all(verdict.code != "clipped" for verdict in verdicts),
        sung=family == "voice",
        target=terms.target,
        held=held_notes(recording, performance, terms.a4_hz),
        rolls=rolls_of(recording, performance),
    )
    if not terms.criteria:  # the notes may tell the family where the table could not
        chosen = [criterion for criterion in chosen if criterion.applies_to(family)]
    starts = [note.onset_s for note in (*performance.notes, *performance.attempts)]
    return ListeningReport(
        method=METHOD,
        seconds=recording.seconds,
        first_note_s=min((s for s in starts if s is not None), default=0.0),
        verdicts=tuple(verdicts),
        tuning_cents=performance.tuning_cents,
        tempo_qpm=performance.tempo_qpm,
        notes=tuple(_note_reading(note) for note in performance.notes),
        added=tuple(Added(s.onset_s, s.offset_s, s.midi_heard) for s in performance.added),
        restarts=tuple(Restart(r.onset_s, r.to_index) for r in performance.restarts),
        readings=tuple(
            reading for criterion in chosen for reading in _read(criterion, performance, family)
        ),
        spots=spots_of(performance, [c for c in chosen if c.applies_to(family)]),
        attempts=tuple(_note_reading(note) for note in performance.attempts),
        tempo_curve=tempo_curve(performance),
        loudness_line=loudness_line(recording, performance),
        joins=joins_of(recording),
        prolonged=tuple(sorted(performance.prolonged)),
        left_out=tuple(sorted(performance.left_out)),
        seams=tuple(sorted(performance.seams)),
    )


def _hear_together(
    recording: Recording,
    passage: Passage,
    terms: Terms,
    verdicts: Sequence[Verdict],
    chosen: Sequence[Criterion],
) -> ListeningReport:
    """The report on a group's take: the common pulse, its curve, the loudness, nothing else.

    Other sounds are the point of such a take, so no verdict speaks of them.
    """
    performance = perform_together(recording, passage, terms.tempo_qpm, a4_hz=terms.a4_hz)
    trusted = all(verdict.code != "clipped" for verdict in verdicts)
    performance = replace(performance, loudness_trusted=trusted)
    starts = [note.onset_s for note in performance.notes if note.onset_s is not None]
    return ListeningReport(
        method=METHOD,
        seconds=recording.seconds,
        first_note_s=min(starts, default=first_sound_s(recording)),
        verdicts=tuple(verdicts),
        tempo_qpm=performance.tempo_qpm,
        readings=tuple(
            reading for criterion in chosen for reading in _common(criterion, performance)
        ),
        tempo_curve=tempo_curve(performance),
        loudness_line=loudness_line(recording, performance),
        together=True,
        joins=joins_of(recording),
    )


def _common(criterion: Criterion, performance: Performance) -> tuple[Reading, ...]:
    """What a group's take shows of the criterion, or that it shows nothing of it."""
    if criterion.read_together is None:
        return _none([criterion], ONLY_THE_PULSE)
    return criterion.read_together(performance)


def report_as_json(report: ListeningReport) -> dict:
    """The report as plain lists, dicts, numbers and words, ready for a JSON encoder.

    >>> report_as_json(ListeningReport(METHOD, 0.0, 0.0))["notes"]
    []
    """
    return _plain(asdict(report))


def _asked(keys: Sequence[str], instrument: str | None) -> list[Criterion]:
    """The criteria by ``keys``; without any, all that apply to the instrument if it is known."""
    if keys:
        return [CRITERIA[key] for key in keys]
    row = INSTRUMENTS.get(instrument or "")
    return [c for c in CRITERIA.values() if row is None or c.applies_to(row.family)]


def _plain(value: object) -> object:
    """Tuples as lists and numpy numbers as Python's, all the way down."""
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    if isinstance(value, str | bool) or value is None:
        return value
    return int(value) if isinstance(value, int) else float(value)


def _as_sentence(problem: StandlightError) -> str:
    """The problem's own words with a capital and a full stop or question mark."""
    words = str(problem)
    return words[0].upper() + words[1:] + ("" if words[-1] in ".?!" else ".")


def _fatal(verdicts: Sequence[Verdict]) -> bool:
    """True when readings would be guesses."""
    return any(verdict.code in FATAL for verdict in verdicts)


def _refused(
    recording: Recording, verdicts: Sequence[Verdict], criteria: Sequence[Criterion]
) -> ListeningReport:
    """The report on a take that is not read: its verdicts, and why each reading is absent."""
    decisive = [v for v in verdicts if v.code in FATAL] or list(verdicts[-1:])
    return ListeningReport(
        method=METHOD,
        seconds=recording.seconds,
        first_note_s=first_sound_s(recording),
        verdicts=tuple(verdicts),
        readings=_none(criteria, decisive[0].sentence),
        joins=joins_of(recording),
    )


def _none(criteria: Sequence[Criterion], because: str) -> tuple[Reading, ...]:
    """One absent reading a criterion, with the same reason; ear-only ones keep their own."""
    return tuple(
        Reading(c.key, c.name, None, None, None, "", 0, because=c.by_ear or because)
        for c in criteria
    )


def _read(
    criterion: Criterion, performance: Performance, family: str
) -> tuple[Reading, ...]:
    """The criterion's readings, or the reason why it has none here.

    For a criterion of the ear the reason comes first, with what the figures beside it are not.
    """
    if not criterion.applies_to(family):
        return _none([criterion], f"{criterion.name} is not read for {family}.")
    found = criterion.read(performance) if criterion.read else ()
    if not criterion.by_ear:
        return found
    said = f"{criterion.by_ear} {criterion.beside}".strip()
    alone = Reading(criterion.key, criterion.name, None, None, None, "", 0, because=said)
    return (alone, *found)


def _family(instrument: str, passage: Passage) -> str:
    """The instrument's family by the table; by the notes where the table does not know it."""
    if instrument in INSTRUMENTS:
        return INSTRUMENTS[instrument].family
    unpitched = all(note.midi is None for note in passage.notes)
    return "percussion" if unpitched else "other"


def _is_mixed(passage: Passage) -> bool:
    """True when some of the notes have a pitch and some have none."""
    return 0 < sum(note.midi is None for note in passage.notes) < len(passage.notes)


def _note_reading(note: HeardNote) -> NoteReading:
    """The public half of a heard note."""
    return NoteReading(
        index=note.index,
        outcome=note.outcome,
        onset_s=note.onset_s,
        offset_s=note.offset_s,
        midi_heard=note.midi_heard,
        deviation_cents=note.deviation_cents,
        deviation_se_cents=note.deviation_se_cents,
        asynchrony_ms=note.asynchrony_ms,
        probability=note.probability,
    )


__all__ = [
    "METHOD",
    "ONLY_THE_PULSE",
    "Added",
    "ListeningReport",
    "ListeningTask",
    "NoteReading",
    "PitchTarget",
    "Reading",
    "Restart",
    "Spot",
    "Terms",
    "Verdict",
    "hear",
    "listen",
    "listen_to",
    "report_as_json",
]
