"""How one musician of the demo plays one take, before the notes are known.

The scenario draws a ``Manner``; when the passage's notes are at hand, ``faults_for``
turns it into exact ``Faults``. A manner travels as JSON on the take's row, so that a
worker can play it at any later time and give the same samples.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass

import numpy as np

from standlight.demo.faults import Faults, Restart, Trouble
from standlight.music import Note

WRONG_STEPS = (-2, -1, 1, 2)
"""Semitones a wrong note is off: a neighbour of the written one."""


@dataclass(frozen=True, slots=True)
class Manner:
    """Sizes and counts of one musician's slips; ``troubles`` count measures of the piece from 0."""

    seed: int
    tuning_cents: float = 0.0
    spread_cents: float = 0.0
    timing_ms: float = 0.0
    tempo_ratio: float = 1.0
    rush_percent: float = 0.0
    wrong: int = 0
    skipped: int = 0
    added: int = 0
    hesitations: int = 0
    held: int = 0
    restarts: int = 0
    octave: int = 0
    vibrato_cents: float = 0.0
    flat_dynamics: bool = False
    silent: bool = False
    clipped: bool = False
    phone_gain: bool = False
    noise_dbfs: float = -66.0
    gain_db: float = 0.0
    troubles: tuple[Trouble, ...] = ()


COPIED = (
    *("tuning_cents", "spread_cents", "timing_ms", "tempo_ratio", "rush_percent", "octave"),
    *("vibrato_cents", "flat_dynamics", "silent", "clipped", "phone_gain", "noise_dbfs", "gain_db"),
)
"""Fields that ``Faults`` has under the same name."""


def as_json(manner: Manner) -> dict:
    """The manner as plain data; ``from_json`` gives it back.

    >>> from_json(as_json(Manner(seed=3, wrong=1, troubles=(Trouble(1, 2),)))).troubles
    (Trouble(first_measure=1, last_measure=2, ...
    """
    return asdict(manner)


def from_json(data: dict) -> Manner:
    """A manner kept by ``as_json``."""
    troubles = tuple(Trouble(**trouble) for trouble in data["troubles"])
    return Manner(**{**data, "troubles": troubles})


def faults_for(manner: Manner, notes: Sequence[Note], first_measure: int) -> Faults:
    """Exact faults on ``notes`` of a passage that begins at 0-based ``first_measure`` of its piece.

    The same manner and notes give the same faults. Slips fall on different notes, never
    on the first and never in practiced measures, and a restart breaks off in the middle
    and goes back a few notes.
    """
    rng = np.random.default_rng([manner.seed, 1])
    troubles = _in_passage(manner.troubles, first_measure)
    practiced = {
        measure
        for trouble in troubles
        if trouble.spread_ms < 0
        for measure in range(trouble.first_measure, trouble.last_measure + 1)
    }
    open_notes = [i for i in range(1, len(notes)) if notes[i].measure not in practiced]
    spots = [int(i) for i in rng.permutation(open_notes)]
    wrong = [spots.pop() for _ in range(min(manner.wrong, len(spots)))]
    skipped = [spots.pop() for _ in range(min(manner.skipped, len(spots)))]
    added = [spots.pop() for _ in range(min(manner.added, len(spots)))]
    waits = [spots.pop() for _ in range(min(manner.hesitations, len(spots)))]
    held = [spots.pop() for _ in range(min(manner.held, len(spots)))]
    return Faults(
        **{name: getattr(manner, name) for name in COPIED},
        wrong=tuple((i, int(rng.choice(WRONG_STEPS))) for i in sorted(wrong)),
        skipped=tuple(sorted(skipped)),
        added=tuple((i, int(rng.choice(WRONG_STEPS))) for i in sorted(added)),
        hesitations=tuple((i, float(rng.uniform(0.4, 1.1))) for i in sorted(waits)),
        restarts=_restarts(manner.restarts, len(notes), rng),
        held=tuple((i, float(rng.uniform(0.5, 0.9))) for i in sorted(held)),
        troubles=troubles,
    )


def _restarts(count: int, n_notes: int, rng: np.random.Generator) -> tuple[Restart, ...]:
    """Restarts spread over the passage, each going back two to five notes."""
    if n_notes < 8:
        return ()
    made = []
    for k in range(count):
        stop = int(n_notes * (k + 1) / (count + 1)) + int(rng.integers(-1, 2))
        back = max(0, stop - int(rng.integers(2, 6)))
        made.append(Restart(stop, back, float(rng.uniform(0.9, 1.8))))
    return tuple(made)


def _in_passage(troubles: Sequence[Trouble], first_measure: int) -> tuple[Trouble, ...]:
    """The same troubles, counted from the passage's first measure; those before it are dropped."""
    return tuple(
        Trouble(
            max(0, t.first_measure - first_measure),
            t.last_measure - first_measure,
            t.off_cents,
            t.spread_cents,
            t.late_ms,
            t.spread_ms,
        )
        for t in troubles
        if t.last_measure >= first_measure
    )


def draw_manner(ability: float, seed: int, *, vibrato: bool = False) -> Manner:
    """A plausible manner for a musician of ``ability`` (0: the group's middle, 1: one SD up).

    Sizes are invented so that a beginner's take sounds like one: at ability 0 notes
    spread by about 13 cents and 28 ms, at -1.5 by 22 cents and 47 ms.
    """
    rng = np.random.default_rng([seed, 0])
    ease = float(np.exp(-0.35 * ability))
    return Manner(
        seed=seed,
        tuning_cents=float(rng.normal(0, 9)),
        spread_cents=13.0 * ease,
        timing_ms=28.0 * ease,
        tempo_ratio=float(np.clip(rng.normal(0.97 + 0.02 * ability, 0.04), 0.8, 1.12)),
        rush_percent=float(rng.normal(3.0 * ease, 3.0)),
        wrong=int(rng.poisson(0.7 * ease**2)),
        skipped=int(rng.poisson(0.2 * ease**2)),
        added=int(rng.poisson(0.15 * ease**2)),
        hesitations=int(rng.poisson(0.35 * ease**2)),
        vibrato_cents=float(max(0.0, rng.normal(8 + 5 * ability, 3))) if vibrato else 0.0,
        flat_dynamics=bool(rng.random() < 0.4 * ease),
        phone_gain=bool(rng.random() < 0.2),
        noise_dbfs=float(rng.uniform(-72, -54)),
        gain_db=float(rng.uniform(-8, 3)),
    )
