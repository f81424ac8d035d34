"""What a pitch is measured against: equal temperament, just intervals, or a sounding drone.

Equal temperament is the default. Just intervals are counted up from a tonic, and the take's
own tuning is removed as in equal temperament; against a drone the same intervals are counted,
but nothing is removed: the drone sounds, so its pitch is the one to meet.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

EQUAL, JUST, DRONE = "equal", "just", "drone"
KINDS = (EQUAL, JUST, DRONE)

JUST_RATIOS = (
    (1, 1), (16, 15), (9, 8), (6, 5), (5, 4), (4, 3),
    (45, 32), (3, 2), (8, 5), (5, 3), (9, 5), (15, 8),
)  # fmt: skip
"""Five-limit ratios above the tonic, one a semitone. Third, fifth and minor third are those of
the trade table (5:4, 3:2, 6:5); the others are the usual textbook set, from memory."""

JUST_CENTS = tuple(
    float(1200.0 * np.log2(high / low) - 100.0 * step)
    for step, (high, low) in enumerate(JUST_RATIOS)
)
"""Just interval minus equal-tempered interval in cents, by semitones above the tonic."""


@dataclass(frozen=True, slots=True)
class PitchTarget:
    """What notes are measured against: a kind of ``KINDS``, and a sounding tonic 0 (C) to 11.

    >>> round(PitchTarget(JUST, tonic=0).offset_cents(64), 3)
    -13.686
    """

    kind: str = EQUAL
    tonic: int | None = None

    def __post_init__(self) -> None:
        """Refuse an unknown kind, and just intervals above no tonic."""
        if self.kind not in KINDS:
            raise ValueError(f"pitch target {self.kind!r} is none of {', '.join(KINDS)}")
        if self.kind != EQUAL and self.tonic not in range(12):
            raise ValueError(
                f"{self.kind} intervals need a sounding tonic 0 (C) to 11 (B), "
                f"not {self.tonic} (a MIDI number? a written pitch?)"
            )

    @property
    def keeps_tuning(self) -> bool:
        """True when the take's own offset counts as a deviation: a drone is there to be met."""
        return self.kind == DRONE

    def offset_cents(self, midi: int) -> float:
        """The target minus the equal-tempered pitch of sounding note ``midi``, in cents."""
        if self.tonic is None or self.kind == EQUAL:
            return 0.0
        return JUST_CENTS[(midi - self.tonic) % 12]


EQUAL_TEMPERAMENT = PitchTarget()
"""The default target: no offset anywhere, the take's own tuning removed."""
