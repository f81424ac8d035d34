"""A fair passage for every part: demands nearly equal, every chosen criterion really shown.

One level of demand is sought that the parts can come close to with passages that show all
chosen criteria: the level with the least spread and largest distance (and, of nearly equal
levels, the one whose passages show the criteria most amply and begin best). Each part
then gets, of its windows near that level, the one that serves best. A part that can only
offer much more or much less has none, honestly; its nearest places are offered. Percussion,
and harp and keyboards, are on scales of their own and come to the same level of it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from standlight.passages.demand import window_features
from standlight.passages.profile import GROUPS, PartProfile
from standlight.passages.reasons import counted
from standlight.passages.surveying import (
    SHORTEST_MEASURES,
    Survey,
    Windows,
    covered_by,
    look,
)
from standlight.passages.values import Findings, Look, PartFinding, Shown

NEAR_LEVEL = 0.015
"""Windows this close to the level, or to a part's closest one, count as equal in demand: a
spread of at most 0.015 is under the 0.02 below which a difference is not worth a choice."""

FARTHEST_FROM_LEVEL = 0.15
"""Beyond this a passage is not comparable: about twice the spread over parts of one common
window in the score trials."""

LEVEL_STEP = 0.005
"""Steps in which levels of demand are tried."""

ALTERNATIVE_WITHIN = 0.1
"""Other places offered differ from the level by at most this much more than the proposal."""

MOST_ALTERNATIVES = 3

_START_WORTH = {"letter": 0.3, "beginning": 0.25, "rest": 0.2, "": 0.0}
_END_WORTH = 0.2
"""What a good beginning or end adds to how amply criteria are shown (0 to 1): our choice."""

_RATE_WORTH, _SLOWEST_HZ = 0.5, 0.05
"""What a passage loses for each doubling or halving of the notes a second that are usual at
the level: equal demand should look equal to somebody who only counts notes (our choice)."""

_MELODY_WORTH, _ENOUGH_PITCHES = 0.3, 5.0
"""What a line of several pitches adds: one repeated note shows little of a player (our choice)."""


@dataclass(frozen=True, slots=True)
class _Candidates:
    """A part's windows that show everything; arrays of shape (n,), sorted by demand."""

    firsts: np.ndarray
    demand: np.ndarray
    rate_hz: np.ndarray
    worth: np.ndarray
    length: int

    def gaps(self, levels: np.ndarray) -> np.ndarray:
        """The distance from each level to the closest demand, shape of ``levels``."""
        at = np.searchsorted(self.demand, levels)
        after = self.demand[np.minimum(at, len(self.demand) - 1)]
        before = self.demand[np.maximum(at - 1, 0)]
        return np.minimum(np.abs(after - levels), np.abs(before - levels))

    def near(self, level: float) -> np.ndarray:
        """Places of the windows that count as equal to ``level``, or to the closest one."""
        apart = np.abs(self.demand - level)
        return np.flatnonzero(apart <= max(NEAR_LEVEL, float(apart.min()) + 1e-9))

    def best(self, level: float) -> int:
        """The place of the window that serves best at ``level``."""
        near = self.near(level)
        return int(near[np.lexsort((self.firsts[near], -np.round(self.worth[near], 6)))[0]])

    def at_rate(self, usual_hz: float) -> _Candidates:
        """The same, worth less the farther from the usual notes a second."""
        octaves = np.abs(np.log2(np.maximum(self.rate_hz, _SLOWEST_HZ) / usual_hz))
        return replace(self, worth=self.worth - _RATE_WORTH * octaves)


def find_passages(
    survey: Survey, criteria: Sequence[Shown], *, parts: Collection[int] | None = None
) -> Findings:
    """A passage for every part, or the honest reason why it has none.

    ``criteria`` are the chosen ones; one that does not apply to a part's family is not
    asked of it. ``parts`` are the indexes of those that are looked for, ``None`` for all:
    only they bear on the common level and on the common window.

    >>> from standlight.passages import survey_piece
    >>> from standlight.score import line_to_musicxml, read_score
    >>> line = "C4 q D4 E4 F4 | G4 h E4 | F4 q E4 D4 E4 | C4 w"
    >>> found = find_passages(survey_piece(read_score(line_to_musicxml(line, instrument="Flute"))),
    ...                       [])
    >>> found.parts[0].passage.printed
    '1 to 4'
    """
    profiles = [one for one in survey.profiles if parts is None or one.index in parts]
    candidates = [
        _candidates(survey, profile, survey.windows[profile.index], criteria)
        for profile in profiles
    ]
    levels: dict[str, float | None] = {}
    rates: dict[str, float] = {}
    for group in GROUPS:
        some = [
            one
            for profile, one in zip(profiles, candidates, strict=True)
            if one is not None and profile.group == group
        ]
        levels[group] = _level(some, beside=levels.get("lines"))
        if levels[group] is not None:
            rates[group] = _usual_rate_hz(some, levels[group])
    found = tuple(
        _finding(
            survey,
            profile,
            None if one is None else one.at_rate(rates[profile.group]),
            levels[profile.group],
            criteria,
        )
        for profile, one in zip(profiles, candidates, strict=True)
    )
    pitched = [
        one.passage
        for one, profile in zip(found, profiles, strict=True)
        if one.passage is not None and profile.group == "lines"
    ]
    common_sd, common_first = common_window(survey, parts=parts)
    return Findings(
        parts=found,
        level=levels["lines"],
        demand_sd=_sd([one.demand for one in pitched if one.demand is not None]),
        note_rate_sd=_sd([one.note_rate_hz for one in pitched]),
        common_window_sd=common_sd,
        common_first=common_first,
    )


def common_window(
    survey: Survey, *, parts: Collection[int] | None = None
) -> tuple[float | None, int | None]:
    """Spread of demand over parts (one line each) that all play one window, and where it begins.

    ``parts`` are the indexes of those that count, ``None`` for all. Of the windows that most of
    them can play the one with the least spread: the best that one place for all could do.
    ``None`` when no two parts share one.
    """
    count = len(survey.setting.printed)
    demands = np.full((len(survey.profiles), count), np.nan)
    for profile, windows in zip(survey.profiles, survey.windows, strict=True):
        if profile.group == "lines" and (parts is None or profile.index in parts):
            demands[profile.index, windows.firsts] = windows.demand
    can = (~np.isnan(demands)).sum(axis=0)
    most = int(can.max(initial=0))
    if most < 2:
        return None, None
    places = np.flatnonzero(can == most)
    spreads = np.nanstd(demands[:, places], axis=0)
    return float(spreads.min()), int(places[spreads.argmin()])


def _candidates(
    survey: Survey, profile: PartProfile, windows: Windows, criteria: Sequence[Shown]
) -> _Candidates | None:
    """A part's windows that show everything, of the asked length or the next shorter one."""
    length = survey.length
    while True:
        covered, amply = covered_by(windows.held, profile.family, criteria)
        if covered.any():
            break
        length -= 1
        if length < min(SHORTEST_MEASURES, survey.length) or not len(profile.phrases_s):
            return None
        firsts, held, features = window_features(profile, survey.clock, length)
        demand = survey.scales[profile.group].demand(features)
        windows = Windows(firsts, held, features, demand)
    firsts = windows.firsts[covered]
    demand = windows.demand[covered]
    worth = amply[covered] + _edge_worth(survey, profile, firsts, firsts + length - 1)
    pitches = windows.held.distinct_pitches[covered]
    worth += _MELODY_WORTH * np.minimum(pitches / _ENOUGH_PITCHES, 1.0)
    order = np.argsort(demand, kind="stable")
    rate_hz = (windows.held.onsets / windows.held.seconds)[covered]
    return _Candidates(firsts[order], demand[order], rate_hz[order], worth[order], length)


def _edge_worth(
    survey: Survey, profile: PartProfile, firsts: np.ndarray, lasts: np.ndarray
) -> np.ndarray:
    """What the beginnings and ends of windows add, shape (n,)."""
    setting = survey.setting
    letters = np.array([one is not None for one in setting.letters])
    begins = np.concatenate([[True], survey.clock.movements[1:] != survey.clock.movements[:-1]])
    start = np.where(profile.silent_before, _START_WORTH["rest"], 0.0)
    start = np.where(begins, _START_WORTH["beginning"], start)
    start = np.where(letters, _START_WORTH["letter"], start)
    # A phrase ends where the next measure begins with silence, a letter or another movement.
    after = np.minimum(lasts + 1, len(begins) - 1)
    closes = (lasts + 1 == len(begins)) | letters[after] | begins[after]
    closes |= profile.silent_before[after] | profile.ends_long[lasts]
    closes &= ~np.where(lasts + 1 < len(begins), profile.held_into[after], False)
    return start[firsts] + _END_WORTH * closes


def _level(candidates: Sequence[_Candidates], *, beside: float | None = None) -> float | None:
    """The level of demand that parts can come closest to; ``None`` without parts.

    The spread over parts counts, and half of the largest distance; a part too far off to
    compare costs as much as one just within reach and drags the level no further. Of nearly
    equal levels the one that serves best, or with ``beside`` (the level of another
    group) the one closest to that.
    """
    if not candidates:
        return None
    levels = np.arange(LEVEL_STEP, 1.0, LEVEL_STEP)
    gaps = np.stack([np.maximum(one.gaps(levels) - NEAR_LEVEL, 0.0) for one in candidates])
    near = gaps <= FARTHEST_FROM_LEVEL
    largest = np.where(near, gaps, 0.0).max(axis=0)
    spread = np.sqrt((np.minimum(gaps, FARTHEST_FROM_LEVEL) ** 2).mean(axis=0))
    cost = spread + largest / 2
    good = np.flatnonzero(cost <= cost.min() + LEVEL_STEP)
    if beside is not None:
        return float(levels[good[np.abs(levels[good] - beside).argmin()]])
    served = [
        np.mean([one.worth[one.best(float(levels[at]))] for one in candidates]) for at in good
    ]
    return float(levels[good[int(np.argmax(np.round(served, 6)))]])


def _usual_rate_hz(candidates: Sequence[_Candidates], level: float) -> float:
    """The median over parts of the median notes a second of their windows at ``level``."""
    medians = [float(np.median(one.rate_hz[one.near(level)])) for one in candidates]
    return max(float(np.median(medians)), _SLOWEST_HZ)


def _finding(
    survey: Survey,
    profile: PartProfile,
    candidates: _Candidates | None,
    level: float | None,
    criteria: Sequence[Shown],
) -> PartFinding:
    """The passage of one part and other places, or why there is none and the nearest places."""
    part = profile.index
    if candidates is None or level is None:
        because = _why_none(survey, profile, criteria)
        return PartFinding(part, profile.name, None, because, _nearest(survey, profile, criteria))
    best = candidates.best(level)
    first, last = _span(candidates, best)
    passage = look(survey, part, first, last, criteria)
    gap = abs(float(candidates.demand[best]) - level)
    if gap > FARTHEST_FROM_LEVEL and profile.group == "lines":
        far = "less" if candidates.demand[best] < level else "more"
        because = (
            f"This part has none that compares: its nearest place, {passage.printed}, asks "
            f"{far} than the others' (demand {passage.demand:.2f} beside {level:.2f})."
        )
        near = np.flatnonzero(np.abs(candidates.demand - level) <= gap + ALTERNATIVE_WITHIN)
        spans = _spread_out(candidates, near, level, taken=[])
        return PartFinding(
            part, profile.name, None, because,
            tuple(look(survey, part, *span, criteria) for span in spans),
        )  # fmt: skip
    others = _spread_out(
        candidates,
        np.flatnonzero(np.abs(candidates.demand - level) <= gap + ALTERNATIVE_WITHIN),
        level,
        taken=[(first, last)],
    )
    because = passage.reason
    if candidates.length < survey.length:
        shorter = f"No {survey.length} measures in a row serve; these {candidates.length} do."
        because = f"{shorter} {because}"
    alternatives = tuple(look(survey, part, *span, criteria) for span in others)
    return PartFinding(part, profile.name, passage, because, alternatives)


def _span(candidates: _Candidates, place: int) -> tuple[int, int]:
    """First and last measure of a candidate."""
    first = int(candidates.firsts[place])
    return first, first + candidates.length - 1


def _spread_out(
    candidates: _Candidates,
    places: np.ndarray,
    level: float,
    *,
    taken: list[tuple[int, int]],
) -> list[tuple[int, int]]:
    """Up to `MOST_ALTERNATIVES` candidates, best first, that hardly overlap those ``taken``."""
    score = candidates.worth[places] - np.abs(candidates.demand[places] - level) / NEAR_LEVEL / 10
    found: list[tuple[int, int]] = []
    for place in places[np.argsort(-score, kind="stable")]:
        span = _span(candidates, int(place))
        if all(_overlap(span, other) <= candidates.length // 2 for other in (*taken, *found)):
            found.append(span)
        if len(found) == MOST_ALTERNATIVES:
            break
    return found


def _overlap(one: tuple[int, int], other: tuple[int, int]) -> int:
    """How many measures two spans share."""
    return max(0, min(one[1], other[1]) - max(one[0], other[0]) + 1)


def _nearest(
    survey: Survey, profile: PartProfile, criteria: Sequence[Shown]
) -> tuple[Look, ...]:
    """Playable places that miss the fewest criteria, for a part that no place serves wholly."""
    length, windows = _longest_playable(survey, profile)
    if not len(windows.firsts):
        return ()
    missed = np.zeros(len(windows.firsts))
    _, amply = covered_by(windows.held, profile.family, criteria)
    for one in criteria:
        if one.applies_to(profile.family):
            missed += one.asks.shows(windows.held) < one.asks.least
    lasts = windows.firsts + length - 1
    worth = amply - missed + _edge_worth(survey, profile, windows.firsts, lasts)
    alike = np.zeros(len(worth))
    candidates = _Candidates(windows.firsts, alike, alike, worth, length)
    spans = _spread_out(candidates, np.arange(len(worth)), 0.0, taken=[])
    return tuple(look(survey, profile.index, *span, criteria) for span in spans)


def _longest_playable(survey: Survey, profile: PartProfile) -> tuple[int, Windows]:
    """The asked length, or the next shorter one that the part can play alone, and its windows."""
    for length in range(survey.length, min(SHORTEST_MEASURES, survey.length) - 1, -1):
        windows = survey.windows_of(profile.index, length)
        if len(windows.firsts):
            return length, windows
    return survey.length, survey.windows[profile.index]


def _why_none(survey: Survey, profile: PartProfile, criteria: Sequence[Shown]) -> str:
    """Why no place of a part serves, in one sentence."""
    if not len(profile.phrases_s):
        return "This part rests throughout."
    _, windows = _longest_playable(survey, profile)
    if not len(windows.firsts):
        fewest = counted(min(SHORTEST_MEASURES, survey.length), "measure")
        return f"This part rests so much that it has no {fewest} in a row to be heard alone."
    lacking = [
        one
        for one in criteria
        if one.applies_to(profile.family)
        and not (np.clip(one.asks.shows(windows.held), 0, 1) >= one.asks.least).any()
    ]
    if lacking:
        needs = "; ".join(f"{one.name.lower()} needs {one.asks.needs}" for one in lacking)
        return f"No place in this part shows {_listed([one.name for one in lacking])}: {needs}."
    return "No place in this part shows all the chosen criteria together."


def _listed(names: Sequence[str]) -> str:
    """Names in one phrase, lower case: "rhythm and dynamics"."""
    lower = [name.lower() for name in names]
    return lower[0] if len(lower) == 1 else f"{', '.join(lower[:-1])} and {lower[-1]}"


def _sd(values: Sequence[float]) -> float | None:
    """The standard deviation over parts (all of them: no sample); ``None`` with fewer than two."""
    return float(np.std(values)) if len(values) > 1 else None
