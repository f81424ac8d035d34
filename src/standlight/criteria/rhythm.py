"""Rhythm: where each note starts against the player's own smooth beat."""

from __future__ import annotations

from standlight.criteria.figures import counted, robust_spread, spread_interval
from standlight.criteria.values import EVERYONE, Criterion, Reading, Trouble
from standlight.sound.values import Performance

KEY = "rhythm"

FEWEST_NOTES = 6
"""Fewer entries against one beat say nothing (our choice)."""


def read(performance: Performance) -> tuple[Reading, ...]:
    """How far entries scatter around the player's own smooth beat, in milliseconds."""
    heard = [note for note in performance.notes if note.asynchrony_ms is not None]
    if len(heard) < FEWEST_NOTES:
        because = f"only {len(heard)} entries in a row; at least {FEWEST_NOTES} are needed"
        return (
            Reading(KEY, "scatter of entries", None, None, None, "ms", len(heard), because=because),
        )
    scatter = robust_spread(note.asynchrony_ms for note in heard)
    low, high = spread_interval(scatter, len(heard))
    off = len(find(performance))
    words = f"All {len(heard)} entries are close to the beat."
    if off:
        noun = counted(off, "entry", "entries")
        verb = "is" if off == 1 else "are"
        words = f"{noun[0].upper()}{noun[1:]} of {len(heard)} {verb} early or late."
    return (
        Reading(KEY, "scatter of entries", scatter, low, high, "ms", len(heard), sentence=words),
    )


def find(performance: Performance) -> tuple[Trouble, ...]:
    """Entries farther from the smooth beat than the tolerance of this kind of sound."""
    limit = performance.onset_tolerance_ms
    found = []
    for note in performance.notes:
        apart = note.asynchrony_ms
        if apart is None or abs(apart) < limit:
            continue
        amount = "" if abs(apart) >= 2.0 * limit else "a little "
        words = f"{amount}{'late' if apart > 0 else 'early'}"
        found.append(
            Trouble(note.index, f"entry {words}", f"entries {words}", abs(apart) / limit)
        )
    return tuple(found)


CRITERION = Criterion(
    key="rhythm",
    name="Rhythm",
    question="Are the notes and rests the right length, in the right place?",
    descriptors={
        1: "Many rhythms are not the written ones yet, or they are guessed.",
        2: "Easy rhythms are right. Harder ones, ties or rests are uneven or rushed.",
        3: "Nearly all rhythms and rests are right, with a small slip or two.",
        4: "All rhythms and rests are exact and feel easy, also in the hard spots.",
    },
    families=EVERYONE,
    read=read,
    find=find,
)
"""Rhythm, read by the tool beside the director's ear."""
