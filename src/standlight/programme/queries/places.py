"""Places of a piece across its parts: who shows what there, who rests, whose line is exposed.

Pure: a survey goes in, values come out; nothing is read or kept.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from standlight.criteria import Criterion
from standlight.passages import (
    FEWEST_ONSETS,
    LEAST_SHARE,
    SHORTEST_MEASURES,
    Look,
    Survey,
    common_window,
    look,
)

EXPOSED_AT_MOST = 0.5
"""A line is exposed where the others sound half of the time or less on average (ours)."""

MOST_EXPOSED = 6
"""Exposed lines offered; a longer list is no help in choosing (our choice)."""


@dataclass(frozen=True, slots=True)
class Place:
    """Measures ``first`` to ``last`` (0-based, inclusive) and what is there, in words."""

    first: int
    last: int
    printed: str
    words: str


@dataclass(frozen=True, slots=True)
class Exposed:
    """Measures where ``parts`` sound while the others sound ``others_share`` (0..1) on average."""

    first: int
    last: int
    printed: str
    parts: tuple[int, ...]
    others_share: float


def n_notes(seen: Look) -> int:
    """How many notes begin in the measures looked at."""
    return round(seen.note_rate_hz * seen.seconds)


def plays_enough(seen: Look) -> bool:
    """Whether a part has enough notes there to be rated, as the finder counts."""
    return n_notes(seen) >= min(FEWEST_ONSETS, 2 * (seen.last - seen.first + 1))


def seen_there(
    survey: Survey, first: int, last: int, criteria: Sequence[Criterion], parts: Collection[int]
) -> tuple[Look, ...]:
    """The same measures looked at in each of ``parts``, in part order.

    Raises ``ValueError`` for measures the piece does not have.
    """
    return tuple(look(survey, part, first, last, criteria) for part in sorted(parts))


def letters(survey: Survey, length: int) -> tuple[Place, ...]:
    """A place at each rehearsal letter: up to ``length`` measures, ending before the next letter.

    A letter followed by another after fewer than four measures runs on into it.
    """
    setting = survey.setting
    count = len(setting.letters)
    begins = [at for at in range(count) if setting.letters[at]]
    found = []
    for at, after in zip(begins, [*begins[1:], count], strict=False):
        ends = min(at + length, count)
        if after - at >= SHORTEST_MEASURES:
            ends = min(ends, after)
        same = [one for one in range(at, ends) if setting.movements[one] == setting.movements[at]]
        found.append(_place(survey, at, same[-1], f"letter {setting.letters[at]}"))
    return tuple(found)


def best_common(survey: Survey, parts: Collection[int]) -> Place | None:
    """The place that most of ``parts`` can play, at demands as close as one place allows."""
    _, first = common_window(survey, parts=parts)
    if first is None:
        return None
    return _place(survey, first, first + survey.length - 1, "where most can play")


def exposed_lines(survey: Survey, length: int, parts: Collection[int]) -> tuple[Exposed, ...]:
    """Where one of ``parts`` sounds while the others are most silent, the most exposed first.

    For each part its most exposed window of ``length`` measures that can be played alone;
    parts that are exposed together (a duet) are named together.
    """
    sums = np.stack([one.sums["sounding_s"] for one in survey.profiles])
    others = max(1, len(sums) - 1)
    found: dict[tuple[int, int], list[tuple[int, float]]] = {}
    for part in sorted(parts):
        firsts = survey.windows_of(part, length).firsts
        if not len(firsts):
            continue
        ends = firsts + length
        seconds = survey.clock.starts_s[ends] - survey.clock.starts_s[firsts]
        sounding = (sums[:, ends] - sums[:, firsts]) / seconds
        share = (sounding.sum(axis=0) - sounding[part]) / others
        at = int(share.argmin())
        if share[at] <= EXPOSED_AT_MOST:
            span = (int(firsts[at]), int(ends[at]) - 1)
            found.setdefault(span, []).append((part, float(share[at])))
    lines = [
        Exposed(
            *span,
            survey.setting.printed_range(*span),
            tuple(part for part, _ in members),
            max(share for _, share in members),
        )
        for span, members in found.items()
    ]
    return tuple(sorted(lines, key=lambda one: (one.others_share, one.first))[:MOST_EXPOSED])


def nearest_by_movement(
    survey: Survey, part: int, criteria: Sequence[Criterion], level: float | None
) -> tuple[tuple[int, Look], ...]:
    """For each movement (0-based) the part's best place: fewest criteria missed, then demand.

    ``level`` is the demand of the others (0 to 1); a movement where the part has nothing to
    play alone is left out. Shorter places (down to four measures) where there is no long one.
    """
    profile = survey.profiles[part]
    length = survey.length
    windows = survey.windows[part]
    while not len(windows.firsts) and length > SHORTEST_MEASURES:
        length -= 1
        windows = survey.windows_of(part, length)
    asked = [one for one in criteria if one.applies_to(profile.family)]
    missed = np.zeros(len(windows.firsts))
    for one in asked:
        missed += one.asks.shows(windows.held) < one.asks.least
    apart = np.abs(windows.demand - level) if level is not None else np.zeros(len(missed))
    order = np.lexsort((windows.firsts, apart, missed))
    best: dict[int, int] = {}
    for at in order.tolist():
        best.setdefault(survey.setting.movements[int(windows.firsts[at])], at)
    return tuple(
        (movement, look(survey, part, int(windows.firsts[at]),
                        int(windows.firsts[at]) + length - 1, criteria))
        for movement, at in sorted(best.items())
    )  # fmt: skip


def why_not_alone(survey: Survey, part: int, first: int, last: int) -> tuple[str, ...]:
    """What speaks against playing these measures alone, as sentences; none when nothing does."""
    profile, clock = survey.profiles[part], survey.clock
    struck = np.diff(profile.sums["onsets"])
    notes = int(round(profile.sums["onsets"][last + 1] - profile.sums["onsets"][first]))
    if not notes:
        return ()
    sounding = profile.sums["sounding_s"][last + 1] - profile.sums["sounding_s"][first]
    seconds = clock.starts_s[last + 1] - clock.starts_s[first]
    checks = (
        (clock.movements[first] != clock.movements[last], "Runs across two movements."),
        (profile.held_into[first], "Begins inside a held note."),
        (not struck[first] and not profile.held_into[first], "The first measure is empty."),
        (profile.empty[last], "The last measure is empty."),
        (notes < min(FEWEST_ONSETS, 2 * (last - first + 1)), "Few notes to rate."),
        (sounding <= LEAST_SHARE * seconds, "Rests for half of it or more."),
        (not clock.follows[first:last].all(), "A repeat or a jump lies inside."),
    )
    return tuple(words for fits, words in checks if fits)


def _place(survey: Survey, first: int, last: int, words: str) -> Place:
    """A place with its printed numbers."""
    return Place(first, last, survey.setting.printed_range(first, last), words)
