"""Rhythm: where each note starts against the player's own smooth beat."""

from __future__ import annotations

import numpy as np

from standlight.criteria.figures import robust_spread, spread_interval
from standlight.criteria.values import EVERYONE, Criterion, Reading, Trouble
from standlight.criteria.written_values import by_written_value
from standlight.passages import Asks, Held, counted
from standlight.sound.values import HeardNote, Performance

KEY = "rhythm"

FEWEST_NOTES = 6
"""Fewer entries against one beat say nothing (our choice)."""


def read(performance: Performance) -> tuple[Reading, ...]:
    """How far entries scatter around the player's own smooth beat (ms), and by written value
    how long notes last until the next one (percent) and how early or late they enter (ms).
    """
    heard = [note for note in performance.notes if note.asynchrony_ms is not None]
    if len(heard) < FEWEST_NOTES:
        because = f"only {len(heard)} entries in a row; at least {FEWEST_NOTES} are needed"
        return (
            Reading(KEY, "scatter of entries", None, None, None, "ms", len(heard), because=because),
            *_untimed(performance),
        )
    scatter = robust_spread(note.asynchrony_ms for note in heard)
    low, high = spread_interval(scatter, len(heard))
    off = len(find(performance))
    words = f"All {len(heard)} entries are close to the beat."
    if off:
        noun = counted(off, "entry", "entries")
        verb = "is" if off == 1 else "are"
        words = f"{noun[0].upper()}{noun[1:]} of {len(heard)} {verb} early or late."
    words += _not_timed(performance)
    return (
        Reading(KEY, "scatter of entries", scatter, low, high, "ms", len(heard), sentence=words),
        *by_written_value(KEY, performance),
        *_untimed(performance),
    )


def _without_time(performance: Performance) -> list[HeardNote]:
    """The notes that sounded without an entry to tell: a soft start, a note alone."""
    return [
        note
        for note in performance.notes
        if note.onset_s is not None and note.asynchrony_ms is None
    ]


_UNTIMED = (
    (True, "too few notes in a row to have a beat"),
    (False, "a soft start, or one that is not surely off the beat"),
)
"""Why an entry has no time, by whether the beat around it has none either."""


def _untimed(performance: Performance) -> tuple[Reading, ...]:
    """How many entries have no time, and why; nothing where all have one.

    It is the reason why such a note has no asynchrony. Without a beat around it a note has no
    sounding share either; a stroke never has one, and lacks its time for no other reason.
    """
    untimed = _without_time(performance)
    if not untimed:
        return ()
    alone = [note.sounding_share is None for note in untimed]
    reasons = [(alone.count(one), why) for one, why in _UNTIMED if one in alone]
    because = "; ".join(f"{counted(number, 'with', 'with')} {why}" for number, why in reasons)
    if len(reasons) == 1:
        because = reasons[0][1]
    words = counted(len(untimed), "note")
    return (
        Reading(
            KEY, "entries not timed", float(len(untimed)), None, None, "notes",
            len(performance.notes), because=because,
            sentence=f"{words[0].upper()}{words[1:]} could not be timed: {because}.",
        ),
    )  # fmt: skip


def _not_timed(performance: Performance) -> str:
    """A sentence on notes that sounded without an entry to tell."""
    soft = len(_without_time(performance))
    if not soft:
        return ""
    more = counted(soft, "more", "more")
    return f" {more[0].upper()}{more[1:]} could not be timed."


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


ENOUGH_INTERVALS = 4.0
"""Different times between onsets that make a rhythm worth rating (our choice)."""


def _shows(held: Held) -> np.ndarray:
    """Different values beyond the first, with syncopations, dots and triplets in their favour."""
    variety = (held.distinct_intervals - 1) / (ENOUGH_INTERVALS - 1)
    spice = np.minimum(0.3, 0.05 * (held.syncopation + held.uneven))
    return np.where(held.distinct_intervals > 1, variety + spice, 0.0)


def _words(held: Held) -> str:
    """Values, dots and triplets, syncopation."""
    said = [counted(int(held.distinct_intervals[0]), "rhythm value")]
    dotted = int(held.uneven[0] - held.tuplets[0])
    said += [counted(dotted, "dotted or tied-over value")] if dotted else []
    said += [counted(int(held.tuplets[0]), "triplet note")] if held.tuplets[0] else []
    said += ["syncopated"] if held.syncopation[0] >= 2 else []
    return ", ".join(said)


ASKS = Asks(_shows, _words, needs="at least two different rhythm values")
"""Rhythm is heard where values differ."""


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
    asks=ASKS,
)
"""Rhythm, read by the tool beside the director's ear."""
