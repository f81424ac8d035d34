"""Do strokes fit the written rhythm better than chance? Against its values in another order.

A matcher that may choose tempo and place, leave out and add, finds something of any rhythm in
any strokes. How much is not known beforehand, so it is measured on the take itself: the same
written values, shuffled, are matched to the same strokes. An uneven player still plays the
written order; another piece fits it no better than the shuffled ones.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np

from standlight.sound.striking import StrokePath, match_strokes
from standlight.sound.written import WrittenLine

SHUFFLES, SEED = 3, 20
"""So many orders, always the same ones, so that a take is heard the same way again."""

LEAST_STRENGTH = 0.08
"""Weaker strokes, most of them false, let any rhythm fit and are left out."""

FEWEST_NOTES = 8
"""Fewer matched notes are no rhythm to tell from chance."""

LEAST_CHANGED = 0.3
"""A rhythm of which a shuffle changes fewer steps is too even to be told from chance."""


def gain_over_chance(
    times_s: np.ndarray, strengths: np.ndarray, line: WrittenLine, qpm: float, path: StrokePath
) -> float | None:
    """How much better the strokes fit the written order than others, in match gains a note.

    Of the written notes between the first and the last matched by ``path``, and by the share
    of steps that a shuffle changes. Strokes inside rolled notes, which would fit any rhythm, are
    left out. None where the rhythm is too even to tell, or too few match.
    """
    sure = (strengths >= LEAST_STRENGTH) & ~path.rolled(line, len(times_s))
    times_s, strengths = times_s[sure], strengths[sure]
    matched = [note for note, _, _ in path.matches]
    if len(matched) < FEWEST_NOTES:
        return None
    heard = _part(line, min(matched), max(matched) + 1)
    generator = np.random.default_rng(SEED)
    others = [_shuffled(heard, generator) for _ in range(SHUFFLES)]
    changed = float(np.mean([_changed(heard, other) for other in others]))
    if changed < LEAST_CHANGED:
        return None
    own, *chance = (
        match_strokes(times_s, strengths, one, qpm).score for one in (heard, *others)
    )
    return (own - float(np.mean(chance))) / (len(heard) * changed)


def _part(line: WrittenLine, first: int, last: int) -> WrittenLine:
    """Notes ``first`` up to ``last`` of ``line``, each one stroke (the rolls are taken out)."""
    cut = {
        name.name: getattr(line, name.name)[first:last]
        for name in fields(line)
        if isinstance(getattr(line, name.name), np.ndarray)
    }
    return replace(line, **cut | {"tremolo": np.zeros(last - first, dtype=bool)})


def _shuffled(line: WrittenLine, generator: np.random.Generator) -> WrittenLine:
    """``line`` with the steps from note to note in another order."""
    steps = line.step_quarters.copy()
    steps[:-1] = generator.permutation(steps[:-1])
    onsets = line.onset_quarters[0] + np.append(0.0, np.cumsum(steps[:-1]))
    return replace(line, step_quarters=steps, onset_quarters=onsets)


def _changed(line: WrittenLine, other: WrittenLine) -> float:
    """Share of steps that are not what they were."""
    return float((np.abs(line.step_quarters - other.step_quarters) > 1e-6).mean())
