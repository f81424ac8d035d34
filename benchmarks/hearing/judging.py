"""What was told of a take against what is true of it: errors and counts, matched by mir_eval.

Works on anything shaped like a ``ListeningReport`` (``notes``, ``added``, ``restarts``,
``attempts``, ``tuning_cents``, ``verdicts``), so that the baseline is judged by the same rules.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import mir_eval
import numpy as np

from benchmarks.hearing.takes import MadeTake, TrueAdded, TrueNote, Truth

ONSET_WINDOW_S = 0.05
STROKE_WINDOW_S = 0.03
PITCH_WINDOW_CENTS = 50.0
"""mir_eval's usual windows; 30 ms for strokes as the issue asks."""

ADDED_WINDOW_S = 0.15
RESTART_WINDOW_S, RESTART_NOTES = 0.75, 1
"""An added sound or a restart is found when it is told within this time, a restart also
within one note of where the player really went back to (our choice)."""

OCTAVE_REACH = 0.6
"""A told pitch this near to whole octaves off the written one tells an octave slip, semitones."""

LONG_S, SHORT_S = 0.5, 0.15
FIGURES = ("onset_s", "offset_s", "midi_heard", "deviation_cents", "deviation_se_cents")


@dataclass(slots=True)
class Judged:
    """One take judged. ``onset_ms`` told minus true; ``cents``: (error, true seconds, se).

    ``believed``: of each told note what was told, with what probability, and whether it is so.
    """

    name: str
    family: str
    phone: str
    sounding: str
    codes: tuple[str, ...]
    refused: bool
    counts: Counter = field(default_factory=Counter)
    onset_ms: list[float] = field(default_factory=list)
    cents: list[tuple[float, float, float]] = field(default_factory=list)
    believed: list[tuple[str, float, bool]] = field(default_factory=list)
    tuning_cents: float | None = None
    evenness_ms: float | None = None
    attack_ms: float = 0.0


def judge(made: MadeTake, report: Any) -> Judged:
    """Everything the table needs of one take; notes of a refused take count as not found."""
    judged = Judged(
        name=made.name, family=made.line.timbre.family, phone=made.phone, sounding=made.sounding,
        codes=tuple(verdict.code for verdict in report.verdicts), refused=not report.notes,
        attack_ms=1000.0 * made.truth.attack_s,
    )  # fmt: skip
    told = {note.index: note for note in report.notes}
    judged.counts["not_a_number"] += sum(not _sane(note) for note in (
        *report.notes, *report.attempts, *report.added))  # fmt: skip
    for true in made.truth.notes:
        written = made.passage.notes[true.index].midi
        _note(judged, true, told.get(true.index), written)
    _added(judged, made.truth, report)
    _prolonged(judged, made.truth, report, told)
    _first_starts(judged, made.truth, told)
    _restarts(judged, made.truth, report)
    _transcription(judged, made.truth, report)
    if report.tuning_cents is not None:
        judged.tuning_cents = report.tuning_cents - made.truth.tuning_cents
    return judged


def summed(many: Sequence[Judged]) -> Counter:
    """The counts of many takes."""
    return sum((one.counts for one in many), Counter())


def _note(judged: Judged, true: TrueNote, told: Any, written: int | None) -> None:
    """Count one written note."""
    counts = judged.counts
    sounded = true.onset_s is not None
    outcome = told_outcome(told, written)
    if sounded:
        counts["sounded"] += 1
        if told is not None and _number(told.onset_s):
            error_ms = 1000.0 * (told.onset_s - true.onset_s)
            judged.onset_ms.append(error_ms)
            counts["within"] += abs(error_ms) <= 1000.0 * ONSET_WINDOW_S
            counts["within_100"] += abs(error_ms) <= 2000.0 * ONSET_WINDOW_S
    if _number(getattr(told, "probability", None)):
        judged.believed.append((outcome, told.probability, outcome == true.outcome))
    _confuse(counts, "octave", true.outcome == "octave", outcome == "octave")
    if true.outcome != "octave":
        _confuse(counts, "other", true.outcome == "other", outcome == "other")
    _confuse(counts, "missing", true.outcome == "missing", outcome == "missing")
    _confuse(counts, "wrong", true.outcome != "played", outcome not in ("played", "none"))
    deviation = getattr(told, "deviation_cents", None)
    if true.outcome == "played" and _number(deviation) and np.isfinite(true.cents or np.nan):
        spread = told.deviation_se_cents if told.deviation_se_cents is not None else float("nan")
        judged.cents.append((deviation - true.cents, true.offset_s - true.onset_s, spread))


def _sane(note: Any) -> bool:
    """False when a told figure is there and is no number (the contract wants null)."""
    figures = (getattr(note, name, None) for name in FIGURES)
    return all(figure is None or np.isfinite(figure) for figure in figures)


def _number(figure: float | None) -> bool:
    """True for a told figure that is a number."""
    return figure is not None and bool(np.isfinite(figure))


def told_outcome(told: Any, written: int | None) -> str:
    """played, other, octave or missing as told; none for a refused take."""
    if told is None:
        return "none"
    if told.outcome != "other_pitch":
        return told.outcome
    if written is None or not _number(told.midi_heard):
        return "other"
    octaves = (told.midi_heard - written) / 12.0
    near = abs(octaves - round(octaves)) * 12.0 <= OCTAVE_REACH and abs(octaves) > 0.5
    return "octave" if near else "other"


def _confuse(counts: Counter, name: str, true: bool, told: bool) -> None:
    """One event of a kind: true, told, hit."""
    counts[f"{name}_true"] += true
    counts[f"{name}_told"] += told
    counts[f"{name}_hit"] += true and told


def added_pairs(truth: Truth, told: Sequence[Any]) -> tuple[list[tuple[TrueAdded, Any]], list[Any]]:
    """Each true added sound with the one ``told`` of it (None untold), and those told of none.

    Of two equal sounds either may be told.
    """
    pairs, left = [], list(told)
    for true in truth.added:
        at_s = [true.onset_s] + ([] if true.twin_s is None else [true.twin_s])
        near = [
            one for one in left if min(abs(one.onset_s - one_s) for one_s in at_s) <= ADDED_WINDOW_S
        ]
        best = min(near, key=lambda one: abs(one.onset_s - true.onset_s), default=None)
        if best is not None:
            left.remove(best)
        pairs.append((true, best))
    return pairs, left


def restart_pairs(
    truth: Truth, told: Sequence[Any]
) -> tuple[list[tuple[tuple[float, int], Any]], list[Any]]:
    """Each true restart with the one ``told`` of it (None untold), and those told of none."""
    pairs, left = [], list(told)
    for at_s, index in truth.restarts:
        near = [
            one
            for one in left
            if abs(one.onset_s - at_s) <= RESTART_WINDOW_S
            and abs(one.to_index - index) <= RESTART_NOTES
        ]
        if near:
            left.remove(near[0])
        pairs.append(((at_s, index), near[0] if near else None))
    return pairs, left


def _added(judged: Judged, truth: Truth, report: Any) -> None:
    """Added sounds, one told for one true."""
    pairs, _ = added_pairs(truth, report.added)
    for true, told in pairs:
        judged.counts["added_hit"] += told is not None
        judged.counts[f"{true.kind}_true"] += 1
        judged.counts[f"{true.kind}_hit"] += told is not None
    judged.counts["added_true"] += len(truth.added)
    judged.counts["added_told"] += len(report.added)


def _prolonged(judged: Judged, truth: Truth, report: Any, told: dict[int, Any]) -> None:
    """Notes told as going on, and notes played twice that were told so or as an added sound.

    The made player holds no note too long: a note that is told so and was not played twice is none.
    """
    twice = [one for one in truth.added if one.twin_s is not None]
    begun = [told[index].onset_s for index in report.prolonged]
    sounds = [one.onset_s for one in report.added]
    judged.counts["longer_told"] += len(begun)
    judged.counts["longer_hit"] += sum(
        any(abs(one.onset_s - at_s) <= ADDED_WINDOW_S for one in twice) for at_s in begun
    )
    judged.counts["twice_somehow"] += sum(
        any(abs(one.onset_s - at_s) <= ADDED_WINDOW_S for at_s in (*begun, *sounds))
        or any(abs(one.twin_s - at_s) <= ADDED_WINDOW_S for at_s in sounds)
        for one in twice
    )


def _first_starts(judged: Judged, truth: Truth, told: dict[int, Any]) -> None:
    """Notes played twice whose start is told where they were played the first time.

    The truth names the second one the note; in time is often the first.
    """
    for true in truth.notes:
        first = [one.onset_s for one in truth.added if one.twin_s == true.onset_s]
        at_s = told[true.index].onset_s if true.index in told else None
        if true.onset_s is not None and first and _number(at_s):
            at_second = abs(at_s - true.onset_s) <= ONSET_WINDOW_S  # counted as within already
            at_first = abs(at_s - first[0]) <= ONSET_WINDOW_S
            judged.counts["at_first_start"] += at_first and not at_second


def _restarts(judged: Judged, truth: Truth, report: Any) -> None:
    """Restarts told near in time and place."""
    pairs, _ = restart_pairs(truth, report.restarts)
    judged.counts["restart_hit"] += sum(told is not None for _, told in pairs)
    judged.counts["restart_true"] += len(truth.restarts)
    judged.counts["restart_told"] += len(report.restarts)


def _transcription(judged: Judged, truth: Truth, report: Any) -> None:
    """Everything that sounded against everything that was told, by mir_eval's matching."""
    true = [
        (one.onset_s, one.offset_s, one.midi)
        for one in (*truth.notes, *truth.attempts, *truth.added)
        if one.onset_s is not None and one.midi is not None and np.isfinite(one.midi)
    ]
    told = [
        (one.onset_s, max(one.offset_s or 0.0, one.onset_s + 0.02), one.midi_heard)
        for one in (*report.notes, *report.attempts, *report.added)
        if _number(one.onset_s) and _number(one.midi_heard)
    ]
    judged.counts["heard_true"] += len(true)
    judged.counts["heard_told"] += len(told)
    if not true or not told:
        return
    reference, estimate = np.array(sorted(true)), np.array(sorted(told))
    pairs = mir_eval.transcription.match_notes(
        np.maximum(reference[:, :2], 0.0), _hz(reference[:, 2]),
        np.maximum(estimate[:, :2], 0.0), _hz(estimate[:, 2]),
        onset_tolerance=ONSET_WINDOW_S, pitch_tolerance=PITCH_WINDOW_CENTS, offset_ratio=None,
    )  # fmt: skip
    judged.counts["heard_hit"] += len(pairs)


def _hz(midi: np.ndarray) -> np.ndarray:
    """MIDI numbers as Hz."""
    return 440.0 * 2.0 ** ((midi - 69.0) / 12.0)


def judge_strokes(made: MadeTake, report: Any) -> Judged:
    """A percussion take: every stroke told against every true one by mir_eval's matching."""
    judged = judge(made, report)
    true = np.sort([n.onset_s for n in (*made.truth.notes, *made.truth.added)
                    if n.onset_s is not None])  # fmt: skip
    told = np.sort([n.onset_s for n in (*report.notes, *report.added) if n.onset_s is not None])
    judged.counts["strokes_true"] += len(true)
    judged.counts["strokes_told"] += len(told)
    judged.onset_ms = []
    if len(told):
        pairs = mir_eval.util.match_events(true, told, STROKE_WINDOW_S)
        judged.counts["strokes_hit"] += len(pairs)
        judged.onset_ms = [1000.0 * float(told[there] - true[here]) for here, there in pairs]
    for reading in report.readings:
        if reading.name == "evenness in time" and reading.value is not None:
            judged.evenness_ms = reading.value - made.truth.evenness_ms
    return judged
