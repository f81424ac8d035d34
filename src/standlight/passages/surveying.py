"""A survey: everything about a piece that looking at any of its passages needs, found once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standlight.passages.demand import (
    Scale,
    features_of,
    scale_of,
    window_features,
)
from standlight.passages.holding import held_of
from standlight.passages.profile import (
    GROUPS,
    Clock,
    PartProfile,
    clock_of,
    profile_of,
)
from standlight.passages.reasons import Setting, flags_of, reason_of
from standlight.passages.tables import SHIPPED_TABLES, Tables
from standlight.passages.values import Held, Look, Shown
from standlight.score import Score

SHORTEST_MEASURES, LONGEST_MEASURES = 4, 16
"""A passage of fewer measures shows no phrase, one of more takes too long to rate (the issue's
budget of 15 to 60 seconds a check: common practice)."""


@dataclass(frozen=True, slots=True)
class Windows:
    """A part's valid windows: first measures, what they hold, features, demand; n of each."""

    firsts: np.ndarray
    held: Held
    features: dict[str, np.ndarray]
    demand: np.ndarray


@dataclass(frozen=True, slots=True)
class Survey:
    """A piece surveyed for passages of ``length`` measures.

    ``profiles`` and ``windows`` have an entry a part, in part order. ``scales`` holds the
    scale of each group of parts.
    """

    clock: Clock
    profiles: tuple[PartProfile, ...]
    windows: tuple[Windows, ...]
    scales: dict[str, Scale]
    length: int
    setting: Setting

    def windows_of(self, part: int, length: int) -> Windows:
        """The valid windows of ``length`` measures of a part, on the survey's scale."""
        if length == self.length:
            return self.windows[part]
        profile = self.profiles[part]
        firsts, held, features = window_features(profile, self.clock, length)
        return Windows(firsts, held, features, self.scales[profile.group].demand(features))


def survey_piece(
    score: Score,
    *,
    length_measures: int = 8,
    tempo_qpm: float | None = None,
    tables: Tables = SHIPPED_TABLES,
    grade: int | None = None,
) -> Survey:
    """Survey a piece at ``tempo_qpm`` (``None``: the score's own tempos).

    A piece with no playable window of that length is surveyed for the longest shorter one
    that it has. Raises ``ValueError`` for a length below 1 or an unknown grade.
    """
    if length_measures < 1:
        raise ValueError(f"a passage of {length_measures} measures is none")
    if grade is not None and grade not in tables.grades:
        raise ValueError(f"grade {grade} is not one of {sorted(tables.grades)}")
    clock = clock_of(score, tempo_qpm)
    profiles = tuple(profile_of(score, part, clock, tables) for part in score.parts)
    length = min(length_measures, max(1, len(score.measures)))
    found = [window_features(profile, clock, length) for profile in profiles]
    while length > 1 and not any(len(firsts) for firsts, _, _ in found):
        length -= 1
        found = [window_features(profile, clock, length) for profile in profiles]
    scales = {
        group: _scale_of_group(
            [
                (profile, features)
                for profile, (_, _, features) in zip(profiles, found, strict=True)
                if profile.group == group
            ],
            clock,
            length,
            tables,
        )
        for group in GROUPS
    }
    return Survey(
        clock=clock,
        profiles=profiles,
        windows=tuple(
            Windows(firsts, held, features, scales[profile.group].demand(features))
            for profile, (firsts, held, features) in zip(profiles, found, strict=True)
        ),
        scales=scales,
        length=length,
        setting=Setting(
            printed=tuple(measure.printed for measure in score.measures),
            letters=tuple(measure.rehearsal for measure in score.measures),
            movements=tuple(measure.movement for measure in score.measures),
            tables=tables,
            grade=grade,
        ),
    )


def _scale_of_group(
    members: Sequence[tuple[PartProfile, dict[str, np.ndarray]]],
    clock: Clock,
    length: int,
    tables: Tables,
) -> Scale:
    """The scale of parts with their features at ``length``; at the next shorter one without any."""
    scale = scale_of([features for _, features in members], tables)
    for shorter in range(length - 1, SHORTEST_MEASURES - 1, -1):
        if scale.n_windows:
            break
        windows = [window_features(profile, clock, shorter) for profile, _ in members]
        scale = scale_of([features for _, _, features in windows], tables)
    return scale


def look(
    survey: Survey, part: int, first: int, last: int, criteria: Sequence[Shown] = ()
) -> Look:
    """Look at measures ``first`` to ``last`` (0-based, inclusive) of a part.

    Any measures may be looked at, also ones that the finder would not propose. Raises
    ``ValueError`` for measures or a part that the piece does not have.
    """
    if not 0 <= part < len(survey.profiles):
        raise ValueError(f"the piece has parts 0 to {len(survey.profiles) - 1}, not {part}")
    if not 0 <= first <= last < len(survey.setting.printed):
        raise ValueError(
            f"measures {first} to {last} are not in 0 to {len(survey.setting.printed) - 1} "
            "(first and last swapped?)"
        )
    profile = survey.profiles[part]
    held = held_of(profile, survey.clock, np.array([first]), np.array([last]))
    onsets = float(held.onsets[0])
    scale = survey.scales[profile.group]
    demand = scale.demand(features_of(profile, held))
    asked = [one for one in criteria if one.applies_to(profile.family)]
    shows = {one.key: float(np.clip(one.asks.shows(held)[0], 0.0, 1.0)) for one in asked}
    return Look(
        part=part,
        first=first,
        last=last,
        printed=survey.setting.printed_range(first, last),
        demand=float(demand[0]) if onsets and scale.n_windows else None,
        note_rate_hz=onsets / float(held.seconds[0]),
        seconds=float(held.seconds[0]),
        shows=shows,
        missing=tuple(one.key for one in asked if shows[one.key] < one.asks.least),
        reason=reason_of(survey.setting, profile, held, first, criteria),
        flags=flags_of(survey.setting, profile, held, first, last),
    )


def skyline(survey: Survey, part: int, length: int) -> tuple[float | None, ...]:
    """For each measure the demand of the window of ``length`` measures that begins there.

    ``None`` where that window cannot be played alone. One entry a measure of the piece.
    """
    windows = survey.windows_of(part, length)
    heights: list[float | None] = [None] * len(survey.setting.printed)
    for first, demand in zip(windows.firsts.tolist(), windows.demand.tolist(), strict=True):
        heights[first] = demand
    return tuple(heights)


def covered_by(
    held: Held, family: str, criteria: Sequence[Shown]
) -> tuple[np.ndarray, np.ndarray]:
    """Whether windows really show every criterion that applies, and how amply (mean, 0 to 1)."""
    covered = np.ones(len(held), dtype=bool)
    amply, count = np.zeros(len(held)), 0
    for one in criteria:
        if not one.applies_to(family):
            continue
        shows = np.clip(one.asks.shows(held), 0.0, 1.0)
        covered &= shows >= one.asks.least
        amply += shows
        count += 1
    return covered, amply / max(count, 1)
