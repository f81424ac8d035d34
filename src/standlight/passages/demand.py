"""What a passage asks of a player, as one number among all the piece's possible passages.

The demand of a window is the mean, over the features that apply to its part, of the
percentile (0 to 1, equal values share the middle) of its feature among all valid windows
of all pitched parts of the piece; percussion is compared among percussion, harp and
keyboards among themselves. Weights of the features are a table that a director edits; all
1 as shipped, so the mean is plain. A feature that is the same in every window says nothing
and is left out; where all are, every demand is one half. That a printed part
can be rated by weighted features: Holder, Tilevich & Gillick, Onward! 2015.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from standlight.passages.holding import held_of
from standlight.passages.profile import Clock, PartProfile
from standlight.passages.tables import Tables
from standlight.passages.values import Held

LEAST_SHARE = 0.5
"""A passage sounds more than this share of its time (score trials)."""

LEAST_ONSETS_A_MEASURE = 1.0
"""Fewer onsets than one a measure on average give nothing to hear (our choice)."""

FEWEST_ONSETS = 6
"""Fewer onsets in all give nothing to rate (as the readings of rhythm need, our choice)."""


@dataclass(frozen=True, slots=True)
class Feature:
    """One thing that makes a passage harder: its value for windows, the parts it applies to."""

    of: Callable[[Held], np.ndarray]
    applies: Callable[[PartProfile], bool]


def _everyone(profile: PartProfile) -> bool:
    """Applies to every part."""
    return True


def _pitched(profile: PartProfile) -> bool:
    """Applies to parts with pitch."""
    return not profile.unpitched


def _a_second(name: str) -> Callable[[Held], np.ndarray]:
    """A count a second of playing."""
    return lambda held: getattr(held, name) / held.seconds


def _a_note(name: str) -> Callable[[Held], np.ndarray]:
    """A sum a note."""
    return lambda held: getattr(held, name) / np.maximum(held.onsets, 1.0)


def _families(*names: str) -> Callable[[PartProfile], bool]:
    """Applies to some families of the instruments table."""
    return lambda profile: profile.family in names


FEATURES: dict[str, Feature] = {
    "note_rate": Feature(_a_second("onsets"), _everyone),
    "quickest": Feature(lambda held: held.quickest_rate, _everyone),
    "off_beat": Feature(_a_note("off_beat"), _everyone),
    "syncopation": Feature(_a_second("syncopation"), _everyone),
    "rhythm_variety": Feature(lambda held: held.distinct_intervals, _everyone),
    "uneven_values": Feature(_a_note("uneven"), _everyone),
    "leaps": Feature(_a_second("leaps"), _pitched),
    "range_place": Feature(_a_note("range_place"), lambda profile: profile.has_range),
    "accidentals": Feature(_a_note("accidentals"), _pitched),
    "key": Feature(lambda held: held.fifths, _pitched),
    "articulation": Feature(
        lambda held: (
            held.tonguing_changes + held.slurs + held.staccatos + held.accents + held.tenutos
        )
        / held.seconds,
        _everyone,
    ),
    "dynamics": Feature(
        lambda held: (held.dynamic_changes + held.hairpins) / held.seconds, _everyone
    ),
    "breath": Feature(lambda held: held.stretch_s, _families("woodwind", "brass", "voice")),
    "break": Feature(
        _a_second("break_crossings"), lambda profile: "clarinet" in profile.instrument.lower()
    ),
    "position": Feature(_a_note("shifted"), _families("strings")),
    "text": Feature(
        lambda held: (held.syllables + held.melismas) / held.seconds, _families("voice")
    ),
}
"""Every feature of demand by its key in the table of weights."""

RANGE_FEATURES = frozenset({"range_place", "break", "position"})
KEY_FEATURES = frozenset({"accidentals", "key"})
"""What a transposition may change; nothing else."""


def valid_windows(profile: PartProfile, clock: Clock, length: int) -> np.ndarray:
    """First measures (0-based) of the windows of ``length`` measures that can be played alone.

    They lie in one movement and follow one another as played, begin and end with notes,
    not inside a held note, have at most one empty measure, sound more than half of
    the time and have an onset a measure.
    """
    count = len(clock.seconds_a_quarter)
    firsts = np.arange(max(0, count - length + 1))
    if not len(firsts) or not len(profile.phrases_s):
        return firsts[:0]
    return firsts[playable(profile, clock, firsts, firsts + length - 1)]


def playable(
    profile: PartProfile, clock: Clock, firsts: np.ndarray, lasts: np.ndarray
) -> np.ndarray:
    """Whether each window can be played alone by the rule of `valid_windows`; bool, (n,)."""
    struck = np.diff(profile.sums["onsets"]) > 0
    broken = np.concatenate([[0], np.cumsum(~clock.follows)])
    empty = np.concatenate([[0], np.cumsum(profile.empty)])
    sums = profile.sums
    onsets = sums["onsets"][lasts + 1] - sums["onsets"][firsts]
    sounding = sums["sounding_s"][lasts + 1] - sums["sounding_s"][firsts]
    seconds = clock.starts_s[lasts + 1] - clock.starts_s[firsts]
    needed = np.minimum(FEWEST_ONSETS, 2 * (lasts - firsts + 1))
    return (
        (clock.movements[firsts] == clock.movements[lasts])
        & struck[firsts]
        & ~profile.empty[lasts]
        & ~profile.held_into[firsts]
        & (broken[lasts] == broken[firsts])
        & (empty[lasts + 1] - empty[firsts] <= 1)
        & (sounding > LEAST_SHARE * seconds)
        & (onsets >= LEAST_ONSETS_A_MEASURE * (lasts - firsts + 1))
        & (onsets >= needed)
    )


def features_of(profile: PartProfile, held: Held) -> dict[str, np.ndarray]:
    """The features that apply to a part, by key, each of shape (n_windows,)."""
    return {
        key: feature.of(held) for key, feature in FEATURES.items() if feature.applies(profile)
    }


@dataclass(frozen=True, slots=True)
class Scale:
    """The values of each feature over all valid windows of a piece, sorted; constant ones left out.

    ``weights`` are those of the table; ``n_windows`` how many windows there were. Without any
    there is nothing to compare with, and a demand means nothing.
    """

    sorted_values: dict[str, np.ndarray]
    weights: dict[str, float]
    n_windows: int

    def demand(self, features: dict[str, np.ndarray]) -> np.ndarray:
        """The weighted mean percentile, 0 to 1, of shape (n_windows,)."""
        total, weight = 0.0, 0.0
        for key, values in features.items():
            pool = self.sorted_values.get(key)
            if pool is None:
                continue
            below = np.searchsorted(pool, values - _NEARLY)
            up_to = np.searchsorted(pool, values + _NEARLY, side="right")
            total = total + self.weights[key] * (below + up_to) / (2.0 * len(pool))
            weight += self.weights[key]
        count = len(next(iter(features.values())))
        return total / weight if weight else np.full(count, 0.5)


_NEARLY = 1e-9
"""Values closer than this are equal: sums of floats differ in the last digits."""


def scale_of(features: Sequence[dict[str, np.ndarray]], tables: Tables) -> Scale:
    """The scale over the valid windows of several parts."""
    pools: dict[str, np.ndarray] = {}
    for key in FEATURES:
        values = [one[key] for one in features if key in one and len(one[key])]
        pool = np.sort(np.concatenate(values)) if values else np.zeros(0)
        if len(pool) and pool[-1] - pool[0] > _NEARLY and tables.weights.get(key, 0.0) > 0:
            pools[key] = pool
    n_windows = sum(len(next(iter(one.values()), ())) for one in features)
    return Scale(pools, {key: tables.weights[key] for key in pools}, n_windows)


def window_features(
    profile: PartProfile, clock: Clock, length: int
) -> tuple[np.ndarray, Held, dict[str, np.ndarray]]:
    """A part's valid windows of ``length`` measures: firsts, what they hold, their features."""
    firsts = valid_windows(profile, clock, length)
    held = held_of(profile, clock, firsts, firsts + length - 1)
    return firsts, held, features_of(profile, held)
