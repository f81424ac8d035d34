"""A seeded player: what sounds when, how high and how long, and which faults were made.

Nothing sounds yet. The clock of a take is in seconds from the start of the recording.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchmarks.hearing.lines import Line
from standlight.music import Note

TEMPO_FACTORS = (0.6, 1.4)
BEGINNER_FACTORS = (0.35, 0.5)
"""Shares of the marked tempo, as the issue names them."""

ATTEMPT_PAUSE_S = (0.3, 2.0)
HESITATION_S = (0.4, 1.5)
TIMING_SPREADS_S = (0.008, 0.015, 0.025, 0.035)
PITCH_SPREADS_CENTS = (4.0, 8.0, 14.0, 20.0)
TUNING_SPREAD_CENTS = 14.0
VELOCITIES = {"ppp": 38, "pp": 46, "p": 58, "mp": 70, "mf": 80, "f": 94, "ff": 108, "fff": 116}
"""How hard a marked dynamic is played, General MIDI velocity (common practice, no source)."""

NOTES_A_FAULT = 14
"""One fault of a kind in so many notes at most, so that short passages are not torn up."""

WANDER_HZ, WANDER_CENTS = 1.1, 1.2
"""A held pitch wanders slowly by a few cents (our choice)."""

SLIDE_S = 0.05
"""A singer slides into a joined note for about so long (our choice)."""

LEAST_APART = 2
"""Planted faults have at least so many right notes between them: each has one explanation."""

OTHER_STEPS, OTHER_SHARES = (-4, -3, -2, -1, 1, 2, 3, 4), (0.05, 0.05, 0.14, 0.26, 0.26, 0.14,
                                                           0.05, 0.05)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Plan:
    """How many faults of each kind a take shall have (fewer where the passage is short)."""

    other: int = 0
    missing: int = 0
    added: int = 0
    octave: int = 0
    restarts: int = 0
    hesitations: float = 0.0
    beginners: float = 0.0


@dataclass(frozen=True, slots=True)
class Sound:
    """One sounding note: ``index`` of its written note (None when added).

    ``midi`` is its nominal pitch with detuning, fractional. ``joined`` starts without an
    attack out of the note before. ``kept`` is False for abandoned attempts. The pitch
    begins ``scoop_cents`` off and is there after about ``scoop_s``, and wanders slowly.
    """

    index: int | None
    kind: str
    onset_s: float
    seconds: float
    midi: float
    velocity: int
    joined: bool = False
    kept: bool = True
    vibrato_cents: float = 0.0
    vibrato_hz: float = 0.0
    scoop_cents: float = 0.0
    scoop_s: float = 0.0
    wander_cents: float = 0.0
    wander_phase: float = 0.0


@dataclass(frozen=True, slots=True)
class Playing:
    """Everything that sounds in a take, in order, and where the player went back to."""

    sounds: tuple[Sound, ...]
    missing: frozenset[int]
    restarts: tuple[tuple[float, int], ...]
    beginner: bool


@dataclass(frozen=True, slots=True)
class _Manner:
    """One player's habits in one take."""

    tempo_qpm: float
    timing_s: float
    pitch_cents: float
    tuning_cents: float
    share: float
    rubato: tuple[float, float, float]
    vibrato_cents: float
    vibrato_hz: float


def draw_tempo(rng: np.random.Generator, plan: Plan) -> tuple[float, bool]:
    """Share of the marked tempo, and whether this is a beginner."""
    beginner = bool(rng.random() < plan.beginners)
    return float(rng.uniform(*(BEGINNER_FACTORS if beginner else TEMPO_FACTORS))), beginner


def play(
    rng: np.random.Generator, line: Line, plan: Plan, tempo_factor: float, beginner: bool = False
) -> Playing:
    """What one player makes of ``line`` under ``plan``."""
    notes = line.passage.notes
    manner = _manner(rng, line, tempo_factor)
    faults = _faults(rng, notes, plan)
    order, back = _order(rng, notes, plan.restarts)
    pauses = _pauses(rng, len(order), 1.0 / 8.0 if beginner else 0.0, plan.hesitations)
    clock, sounds, missing, restarts = float(rng.uniform(0.3, 1.3)), [], set(), []
    for place, (index, kept) in enumerate(order):
        note, fault = notes[index], faults.get(index) if kept else None
        if place in back:
            clock += rng.uniform(*ATTEMPT_PAUSE_S)
            restarts.append((len(sounds), index))
        clock += pauses.get(place, 0.0)
        step_s = _step_s(notes, index, manner)
        if fault == "missing":
            missing.add(index)
            clock += step_s * (rng.random() < 0.5)
            continue
        if fault == "added":
            extra, clock = _extra(rng, notes, index, clock, step_s)
            sounds.append(extra)
        midi = note.midi
        if fault in ("other", "octave"):
            midi = _instead(rng, notes, index, fault)
        sounds.append(_sound(rng, line, index, manner, clock, step_s, midi, fault, kept))
        clock += step_s
    timed = _timed(rng, sounds, manner, {place for place, _ in restarts})
    back_at = tuple((timed[place].onset_s, index) for place, index in restarts)
    return Playing(timed, frozenset(missing), back_at, beginner)


def _manner(rng: np.random.Generator, line: Line, tempo_factor: float) -> _Manner:
    """One player's habits."""
    return _Manner(
        tempo_qpm=line.tempo_qpm * tempo_factor,
        timing_s=float(rng.choice(TIMING_SPREADS_S)),
        pitch_cents=float(rng.choice(PITCH_SPREADS_CENTS)),
        tuning_cents=float(rng.normal(0.0, TUNING_SPREAD_CENTS)),
        share=float(rng.uniform(0.82, 0.97)),
        rubato=(float(rng.uniform(0.0, 0.08)), float(rng.uniform(0.02, 0.06)), rng.uniform(0, 6.3)),
        vibrato_cents=line.timbre.vibrato_cents * float(rng.uniform(0.0, 1.5)),
        vibrato_hz=float(rng.uniform(4.5, 6.5)),
    )


def _step_s(notes: Sequence[Note], index: int, manner: _Manner) -> float:
    """Seconds from written note ``index`` to the next under the player's smooth rubato."""
    note = notes[index]
    end = notes[index + 1].onset_quarters if index + 1 < len(notes) else (
        note.onset_quarters + note.duration_quarters
    )  # fmt: skip
    depth, rate, phase = manner.rubato
    bend = depth * np.sin(2 * np.pi * rate * float(note.onset_quarters) + phase)
    held = 1.6 if "fermata" in note.marks else 1.0
    return float(end - note.onset_quarters) * 60.0 / manner.tempo_qpm * float(np.exp(bend)) * held


def _faults(rng: np.random.Generator, notes: Sequence[Note], plan: Plan) -> dict[int, str]:
    """Written index to fault; none at the ends, none beside another, none without a sure truth."""
    most = max(1, len(notes) // NOTES_A_FAULT)
    wanted = [
        kind
        for kind in ("missing", "added", "octave", "other")
        for _ in range(min(getattr(plan, kind), most))
    ]
    free, found = [int(i) for i in rng.permutation(np.arange(2, len(notes) - 2))], {}
    for kind in wanted:
        for index in free:
            if any(abs(index - other) <= LEAST_APART for other in found):
                continue
            around = {notes[index - 1].midi, notes[index + 1].midi}
            if kind == "missing" and notes[index].midi in around:
                continue  # which of two equal notes is missing, nobody can tell
            found[index] = kind
            break
    return found


def _order(
    rng: np.random.Generator, notes: Sequence[Note], restarts: int
) -> tuple[list[tuple[int, bool]], set[int]]:
    """Written indexes in playing order, each with whether it is kept; and where a restart is."""
    count, segments, begin = len(notes), [], 0
    stops = np.linspace(0, count, restarts + 2)[1:-1]
    for stop in stops:
        stop = int(np.clip(stop + rng.integers(-2, 3), begin + 4, count - 3))
        starts = [i for i in range(1, stop - 1) if notes[i].measure != notes[i - 1].measure]
        near = stop - int(rng.integers(2, 5))
        target = int(starts[-1]) if starts and rng.random() < 0.6 else near
        target = 0 if rng.random() < 0.15 else max(target, stop - 14, 0)
        segments.append((begin, stop))
        begin = target
    segments.append((begin, count))
    indexes = [index for first, end in segments for index in range(first, end)]
    last = {index: place for place, index in enumerate(indexes)}
    order = [(index, last[index] == place) for place, index in enumerate(indexes)]
    lengths = np.cumsum([end - first for first, end in segments])
    return order, {int(length) for length in lengths[:-1]}


def _pauses(
    rng: np.random.Generator, count: int, rate: float, share: float
) -> dict[int, float]:
    """Place to a stop before it, seconds: at ``rate``, or two in a ``share`` of the takes."""
    wanted = int(round(rate * count)) or 2 * int(rng.random() < share)
    places = rng.permutation(np.arange(2, max(3, count - 1)))[:wanted]
    return {int(place): float(rng.uniform(*HESITATION_S)) for place in places}


def _instead(rng: np.random.Generator, notes: Sequence[Note], index: int, fault: str) -> int:
    """The pitch sounded instead: an octave off, or another one that its neighbours do not have."""
    written = notes[index].midi
    if fault == "octave":
        return written + (12 if written < 60 else -12 if written > 76 else
                          int(rng.choice((-12, 12))))  # fmt: skip
    around = {notes[index - 1].midi, notes[index + 1].midi}
    while True:
        other = written + int(rng.choice(OTHER_STEPS, p=OTHER_SHARES))
        if other not in around:
            return other


def _extra(
    rng: np.random.Generator, notes: Sequence[Note], index: int, clock: float, step_s: float
) -> tuple[Sound, float]:
    """A sound that is not written before note ``index``, and the clock after it.

    Half take time of their own, a quarter are a quick slip, a quarter the note itself
    played twice (then either of the two may be called the added one; never beside an equal
    note, where nobody could tell which was added).
    """
    around = {notes[index - 1].midi, notes[index].midi}
    alone = notes[index].midi not in (notes[index - 1].midi, notes[index + 1].midi)
    kind = ("time", "time", "slip", "twice" if alone else "time")[int(rng.integers(4))]
    pitches = [notes[index].midi + step for step in OTHER_STEPS]
    pitches = [midi for midi in pitches if midi not in around]
    midi = notes[index].midi if kind == "twice" else pitches[int(rng.integers(len(pitches)))]
    seconds = {"time": rng.uniform(0.22, 0.5), "slip": rng.uniform(0.11, 0.18),
               "twice": float(np.clip(step_s, 0.2, 0.45))}[kind]  # fmt: skip
    return Sound(None, f"added_{kind}", clock, 0.92 * seconds, float(midi), 78), clock + seconds


def _sound(
    rng: np.random.Generator, line: Line, index: int, manner: _Manner, clock: float, step_s: float,
    midi: int, fault: str | None, kept: bool,
) -> Sound:  # fmt: skip
    """The sounding of one written note, its place not yet uneven."""
    note = line.passage.notes[index]
    written = float(note.duration_quarters) * 60.0 / manner.tempo_qpm
    share = 0.5 if "staccato" in note.marks else 0.98 if "tenuto" in note.marks else manner.share
    voice = line.timbre.family == "voice"
    joined = "slurred" in note.marks or (voice and rng.random() < 0.3)
    scoop = (not joined) and rng.random() < line.timbre.scoops
    return Sound(
        index=index,
        kind={"other": "other", "octave": "octave"}.get(fault or "", "played"),
        onset_s=clock,
        seconds=max(share * min(written * 1.6, step_s), 0.05),
        midi=midi + (manner.tuning_cents + float(rng.normal(0.0, manner.pitch_cents))) / 100.0,
        velocity=int(np.clip(VELOCITIES.get(note.dynamic or "mf", 80) + rng.normal(0, 5), 30, 122)),
        joined=joined,
        kept=kept,
        vibrato_cents=manner.vibrato_cents if step_s > 0.3 else 0.0,
        vibrato_hz=manner.vibrato_hz,
        scoop_cents=-float(rng.uniform(40, 120)) if scoop else 0.0,
        scoop_s=float(rng.uniform(0.05, 0.14)) if scoop else SLIDE_S * (joined and voice),
        wander_cents=float(rng.gamma(2.0, WANDER_CENTS)),
        wander_phase=float(rng.uniform(0.0, 6.28)),
    )


def _timed(
    rng: np.random.Generator, sounds: Sequence[Sound], manner: _Manner, back: set[int]
) -> tuple[Sound, ...]:
    """The sounds with uneven onsets, ended before the next begins, joined where they touch.

    No sound is joined to one whose place in ``sounds`` is in ``back``: the player began again.
    """
    made: list[Sound] = []
    for place, sound in enumerate(sounds):
        before = sound.onset_s - sounds[place - 1].onset_s if place else 1.0
        after = sounds[place + 1].onset_s - sound.onset_s if place + 1 < len(sounds) else 1.0
        reach = 0.3 * min(before, after)
        off = float(np.clip(rng.normal(0.0, manner.timing_s), -reach, reach))
        made.append(replace(sound, onset_s=sound.onset_s + off))
    for place, sound in enumerate(made[:-1]):
        after = made[place + 1]
        gap = after.onset_s - sound.onset_s
        seconds = min(sound.seconds, gap - 0.004)
        joined = after.joined and round(after.midi) != round(sound.midi) and (
            place + 1 not in back
        )  # fmt: skip
        if joined and gap - sound.seconds < 0.25 * gap + 0.05:
            seconds = gap
        made[place] = replace(sound, seconds=max(seconds, 0.03))
        joined = joined and seconds == gap
        scoop = after.scoop_cents
        if joined and after.scoop_s:
            scoop = float(np.clip(100.0 * (sound.midi - after.midi), -100.0, 100.0))
        made[place + 1] = replace(after, joined=joined, scoop_cents=scoop)
    if made:
        made[0] = replace(made[0], joined=False)
    return tuple(made)
