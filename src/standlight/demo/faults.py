"""What a machine-played take does wrong, as data, and the timeline it makes.

A ``Faults`` value says how a musician of the demo plays; ``timeline`` turns the
written notes and those faults into what sounds when. The timeline is the exact
truth of the take: the player renders it and changes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log1p

import numpy as np

from standlight.music import Note

DYNAMIC_DB = {"ppp": -22, "pp": -18, "p": -13, "mp": -9, "mf": -6, "f": -2, "ff": 0, "fff": 0}
"""Level of a printed dynamic below the loudest, dB: common practice, no source."""

UNMARKED_DYNAMIC = "mf"
"""A part without a dynamic is played at mf: common practice, no source."""

ACCENT_DB = {"accent": 3.0, "marcato": 4.0}
"""Extra level of an accented note, dB; common practice, no source."""

SOUNDING_SHARE = {"staccato": 0.5, "tenuto": 0.98, "slurred": 1.0, "slur_start": 1.0}
"""Share of the written length that sounds, by mark; common practice, no source."""

PLAIN_SOUNDING_SHARE = 0.9
"""Sounding share of a note without a mark; common practice, no source."""

SHORTEST_GAP_S = 0.04
"""Timing spread never brings two onsets nearer than this, so order is kept."""

LEAST_SPREAD = 0.35
"""Share of a take's own spread that stays even where it was practiced: people are no machines."""

SHORTEST_SOUND_S = 0.05
"""No note is shorter than this."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """Measures (0-based in the passage, inclusive) that go worse than the rest, or better.

    ``off_cents`` and ``late_ms`` are added to every note there; the spreads are
    standard deviations on top of the take's own. A negative spread takes from it, down
    to ``LEAST_SPREAD`` of it: measures that were practiced.
    """

    first_measure: int
    last_measure: int
    off_cents: float = 0.0
    spread_cents: float = 0.0
    late_ms: float = 0.0
    spread_ms: float = 0.0


@dataclass(frozen=True, slots=True)
class Restart:
    """The player breaks off after note ``stop_after``, waits, and goes on from ``back_to``."""

    stop_after: int
    back_to: int
    pause_s: float = 1.2


@dataclass(frozen=True, slots=True)
class Faults:
    """How one take departs from the page; the default is a machine-exact performance.

    ``tuning_cents`` moves the whole take; ``spread_cents`` and ``timing_ms`` are
    standard deviations over notes. ``tempo_ratio`` multiplies the asked tempo;
    ``rush_percent`` is how much faster the end is than the start. ``wrong`` pairs
    a note index with semitones off, ``added`` a note index with the semitones of
    an extra note after it, ``hesitations`` a note index with seconds waited
    before it, ``held`` one with seconds that it goes on beyond its time. ``noise_dbfs``
    is the room's noise; ``gain_db`` the phone's distance; ``phone_gain`` automatic gain
    that rides the level.
    """

    tuning_cents: float = 0.0
    spread_cents: float = 0.0
    timing_ms: float = 0.0
    tempo_ratio: float = 1.0
    rush_percent: float = 0.0
    wrong: tuple[tuple[int, int], ...] = ()
    skipped: tuple[int, ...] = ()
    added: tuple[tuple[int, int], ...] = ()
    hesitations: tuple[tuple[int, float], ...] = ()
    held: tuple[tuple[int, float], ...] = ()
    restarts: tuple[Restart, ...] = ()
    troubles: tuple[Trouble, ...] = ()
    octave: int = 0
    vibrato_cents: float = 0.0
    flat_dynamics: bool = False
    silent: bool = False
    clipped: bool = False
    phone_gain: bool = False
    noise_dbfs: float = -66.0
    gain_db: float = 0.0


@dataclass(frozen=True, slots=True)
class Sounding:
    """One sound of a take: written note ``index`` (``None``: added), seconds, fractional MIDI.

    ``midi`` is ``None`` for a drum stroke, which then has its ``drum`` name.
    """

    index: int | None
    onset_s: float
    offset_s: float
    midi: float | None
    drum: str | None
    gain_db: float


def seconds_at(quarters: float, *, total_quarters: float, tempo_qpm: float, rush: float) -> float:
    """Clock time of a place in the music when the tempo grows evenly by ``rush`` (0.1: 10 percent).

    >>> seconds_at(8, total_quarters=8, tempo_qpm=60, rush=0.0)
    8.0
    >>> seconds_at(8, total_quarters=8, tempo_qpm=60, rush=0.1) < 8.0
    True
    """
    per_quarter = 60.0 / tempo_qpm
    if not rush:
        return per_quarter * quarters
    return per_quarter * total_quarters / rush * log1p(rush * quarters / total_quarters)


def played_order(count: int, restarts: Sequence[Restart]) -> tuple[tuple[int, float], ...]:
    """Indexes of the written notes as played, each with the pause in seconds before it.

    >>> played_order(4, (Restart(stop_after=2, back_to=1, pause_s=1.0),))
    ((0, 0.0), (1, 0.0), (2, 0.0), (1, 1.0), (2, 0.0), (3, 0.0))
    """
    order: list[tuple[int, float]] = []
    start, pause = 0, 0.0
    for restart in sorted(restarts, key=lambda r: r.stop_after):
        if (
            not start <= restart.stop_after < count
            or not 0 <= restart.back_to <= restart.stop_after
        ):
            raise ValueError(f"{restart} does not fit {count} notes (after a restart past it?)")
        order += _stretch(start, restart.stop_after + 1, pause)
        start, pause = restart.back_to, restart.pause_s
    return tuple(order + _stretch(start, count, pause))


def _stretch(first: int, end: int, pause_s: float) -> list[tuple[int, float]]:
    return [(index, pause_s if index == first else 0.0) for index in range(first, end)]


def timeline(
    notes: Sequence[Note],
    *,
    tempo_qpm: float,
    faults: Faults,
    lead_s: float,
    rng: np.random.Generator,
) -> tuple[Sounding, ...]:
    """What sounds when: every sound of the take in time order, exact to the float.

    ``notes`` are a passage's notes in order; ``tempo_qpm`` quarters a minute as
    asked; ``lead_s`` seconds before the passage begins. A silent take has no sound.
    """
    if faults.silent or not notes:
        return ()
    total = float(notes[-1].onset_quarters + notes[-1].duration_quarters)
    tempo = tempo_qpm * faults.tempo_ratio
    rush = faults.rush_percent / 100.0
    nominal = [
        seconds_at(float(q), total_quarters=total, tempo_qpm=tempo, rush=rush)
        for note in notes
        for q in (note.onset_quarters, note.onset_quarters + note.duration_quarters)
    ]
    waits, held = dict(faults.hesitations), dict(faults.held)
    wrong, added, skipped = dict(faults.wrong), dict(faults.added), frozenset(faults.skipped)
    sounds: list[Sounding] = []
    shift, previous = lead_s, None
    for index, pause_s in played_order(len(notes), faults.restarts):
        start_s, end_s = nominal[2 * index], nominal[2 * index + 1]
        if pause_s and previous is not None:
            shift = previous + pause_s - start_s
        shift += waits.get(index, 0.0)
        late_s, off_cents = _departures(notes[index], faults, rng)
        onset = start_s + shift + late_s
        if sounds:
            onset = max(onset, sounds[-1].onset_s + SHORTEST_GAP_S)
        shift += held.get(index, 0.0)
        previous = end_s + shift
        if index in skipped:
            continue
        length = max(SHORTEST_SOUND_S, (end_s - start_s) * _sounding_share(notes[index]))
        if index in held:
            length = end_s - start_s + held[index]
        middle = onset + length / 2
        offset = middle - SHORTEST_GAP_S / 2 if index in added else onset + length
        midi = _midi(notes[index], faults, wrong.get(index, 0), off_cents)
        gain = _gain_db(notes[index], faults)
        sounds.append(Sounding(index, onset, offset, midi, notes[index].drum, gain))
        if index in added:
            extra = None if midi is None else midi + added[index]
            sounds.append(
                Sounding(None, middle, onset + length, extra, notes[index].drum, gain - 2.0)
            )
    return _without_overlap(sounds)


def _departures(note: Note, faults: Faults, rng: np.random.Generator) -> tuple[float, float]:
    """Seconds late and cents off of one note, the take's own spread and its troubles together."""
    spread_ms, spread_cents, late_ms, off_cents = faults.timing_ms, faults.spread_cents, 0.0, 0.0
    for trouble in faults.troubles:
        if trouble.first_measure <= note.measure <= trouble.last_measure:
            spread_ms += trouble.spread_ms
            spread_cents += trouble.spread_cents
            late_ms += trouble.late_ms
            off_cents += trouble.off_cents
    own = np.array((faults.timing_ms, faults.spread_cents))
    spreads = np.maximum(LEAST_SPREAD * own, (spread_ms, spread_cents))
    z_time, z_pitch = rng.standard_normal(2) * spreads
    return (late_ms + z_time) / 1000.0, off_cents + z_pitch


def _sounding_share(note: Note) -> float:
    return next(
        (share for mark, share in SOUNDING_SHARE.items() if mark in note.marks),
        PLAIN_SOUNDING_SHARE,
    )


def _midi(note: Note, faults: Faults, semitones: int, off_cents: float) -> float | None:
    if note.midi is None:
        return None
    return note.midi + 12 * faults.octave + semitones + (faults.tuning_cents + off_cents) / 100.0


def _gain_db(note: Note, faults: Faults) -> float:
    dynamic = UNMARKED_DYNAMIC if faults.flat_dynamics else (note.dynamic or UNMARKED_DYNAMIC)
    accent = max((db for mark, db in ACCENT_DB.items() if mark in note.marks), default=0.0)
    return DYNAMIC_DB.get(dynamic, DYNAMIC_DB[UNMARKED_DYNAMIC]) + accent


def _without_overlap(sounds: Sequence[Sounding]) -> tuple[Sounding, ...]:
    """The same sounds, each ending at the latest where the next begins (one player, one line)."""
    ends = [following.onset_s for following in sounds[1:]] + [float("inf")]
    return tuple(
        Sounding(s.index, s.onset_s, min(s.offset_s, end), s.midi, s.drum, s.gain_db)
        for s, end in zip(sounds, ends, strict=True)
    )
