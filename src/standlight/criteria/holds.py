"""Readings of held notes that several criteria stand beside: steadiness and vibrato."""

from __future__ import annotations

from collections.abc import Sequence

from standlight.criteria.figures import median_interval
from standlight.criteria.values import Reading
from standlight.sound.values import Performance

FEWEST_HELD = 3
"""Held notes needed for a figure (our choice)."""

STEADY_CENTS, LITTLE_CENTS = 10.0, 25.0
"""Wander under the first is called steady: about what amateurs tell apart (Hill & Summers 2007);
under the second a little: listeners call notes out of tune from there (Larrouy-Maestri 2018)."""

STEADY_LU, LITTLE_LU = 1.0, 3.0
"""Level change that is just heard (textbook, from memory); under the second it is called a
little, as contrast of dynamics is. Good players' held notes spread by 0.3 to 1.5 (measured on
the sustained notes among the tests' recordings)."""

LEAST_VIBRATO_SHARE = 1.0 / 3.0
"""Vibrato is described when so many of the held notes have it (our choice)."""


def steadiness(key: str, performance: Performance) -> tuple[Reading, ...]:
    """How far pitch (cents) and level (LU) wander inside a held note, the middle note's."""
    held = performance.held
    because = _too_few(len(held))
    if because:
        return tuple(
            Reading(key, name, None, None, None, unit, len(held), because=because)
            for name, unit in (("pitch on held notes", "cents"), ("level on held notes", "LU"))
        )
    pitch = _median(
        key, "pitch on held notes", "cents", [note.wander_cents for note in held],
        (STEADY_CENTS, LITTLE_CENTS), "The pitch of held notes",
    )  # fmt: skip
    if not performance.loudness_trusted:
        because = "the recording is overloaded, so its loudness cannot be believed"
        return pitch, Reading(
            key, "level on held notes", None, None, None, "LU", len(held), because=because
        )
    level = _median(
        key, "level on held notes", "LU", [note.level_spread_db for note in held],
        (STEADY_LU, LITTLE_LU), "The loudness of held notes",
    )  # fmt: skip
    return pitch, level


def vibrato(key: str, performance: Performance) -> tuple[Reading, ...]:
    """Rate (Hz) and extent (cents to either side) of vibrato: a description, no judgement."""
    held = performance.held
    waving = [note for note in held if note.vibrato_hz is not None]
    because = _too_few(len(held))
    if not because and (
        len(waving) < FEWEST_HELD or len(waving) < LEAST_VIBRATO_SHARE * len(held)
    ):
        because = f"a regular vibrato is told on {len(waving)} of {len(held)} held notes"
    if because:
        return tuple(
            Reading(key, name, None, None, None, unit, len(waving), because=because)
            for name, unit in (("vibrato rate", "Hz"), ("vibrato extent", "cents"))
        )
    return (
        _described(
            key, "vibrato rate", "Hz", [note.vibrato_hz for note in waving],
            "Vibrato of about {:.1f} waves a second on "
            f"{len(waving)} of {len(held)} held notes.",
        ),
        _described(
            key, "vibrato extent", "cents", [note.vibrato_cents for note in waving],
            "Its pitch goes about {:.0f} cents to either side.",
        ),
    )  # fmt: skip


def _too_few(count: int) -> str:
    """Why there is no figure, empty when there are enough held notes."""
    if count >= FEWEST_HELD:
        return ""
    return f"only {count} notes held for half a second or more; {FEWEST_HELD} are needed"


def _median(
    key: str, name: str, unit: str, values: Sequence[float], limits: tuple[float, float], what: str
) -> Reading:
    """The middle held note's figure, and whether it is called steady."""
    value, low, high = median_interval(values)
    steady, little = limits
    words = "moves" if value >= little else "moves a little"
    if value < steady:
        words = "is steady" if high < steady else "is mostly steady"
    return Reading(
        key, name, value, low, high, unit, len(values), sentence=f"{what} {words}."
    )


def _described(
    key: str, name: str, unit: str, values: Sequence[float], words: str
) -> Reading:
    """The middle of a description, in words that call it neither good nor bad."""
    value, low, high = median_interval(values)
    return Reading(
        key, name, value, low, high, unit, len(values), sentence=words.format(value)
    )
