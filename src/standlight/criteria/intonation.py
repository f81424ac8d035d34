"""Intonation: how near each note is to its pitch, apart from the tuning of the whole take."""

from __future__ import annotations

import numpy as np

from standlight.criteria.figures import NORMAL_95, robust_spread, spread_interval
from standlight.criteria.values import SUSTAINING, Criterion, Reading, Trouble
from standlight.passages import Asks, Held, counted
from standlight.sound.values import HeardNote, Performance

KEY = "intonation"

FEWEST_NOTES = 5
"""Fewer notes with a pitch say nothing about a take's intonation (our choice)."""

NOTICEABLE_CENTS = 25.0
"""Listeners call a sung note out of tune from about here (Larrouy-Maestri 2018, abstract)."""

CLEAR_CENTS = 50.0
"""mir_eval's tolerance for the same note, and half a semitone."""

SURE_SE = 2.0
"""A note is called off only when it is off by its threshold beyond so many standard errors."""


def read(performance: Performance) -> tuple[Reading, ...]:
    """The take's own tuning, and how far its notes spread around it, both in cents."""
    notes = _tuned(performance)
    if performance.unpitched:
        return (_absent("tuning of the take", "the part has no pitches", 0),)
    if len(notes) < FEWEST_NOTES or performance.tuning_cents is None:
        because = f"only {len(notes)} notes with a sure pitch; at least {FEWEST_NOTES} are needed"
        return (
            _absent("tuning of the take", because, len(notes)),
            _absent("spread of the notes", because, len(notes)),
        )
    tuning = performance.tuning_cents
    reach = NORMAL_95 * (performance.tuning_se_cents or 0.0)
    spread = robust_spread(note.deviation_cents for note in notes)
    low, high = spread_interval(spread, len(notes))
    off = find(performance)
    return (
        Reading(
            KEY, "tuning of the take", tuning, tuning - reach, tuning + reach, "cents",
            len(notes), sentence=_tuning_words(tuning),
        ),
        Reading(
            KEY, "spread of the notes", spread, low, high, "cents", len(notes),
            sentence=_spread_words(len(off), len(notes)),
        ),
    )  # fmt: skip


def find(performance: Performance) -> tuple[Trouble, ...]:
    """Notes noticeably away from the take's own tuning, beyond their own uncertainty."""
    if performance.tuning_cents is None:
        return ()
    found = []
    for note in _tuned(performance):
        apart = note.deviation_cents - performance.tuning_cents
        sure = abs(apart) - SURE_SE * note.deviation_se_cents
        if sure < NOTICEABLE_CENTS:
            continue
        amount = "" if abs(apart) >= CLEAR_CENTS else "a little "
        words = f"{amount}{'sharp' if apart > 0 else 'flat'}"
        size = abs(apart) / NOTICEABLE_CENTS
        found.append(Trouble(note.index, f"note {words}", f"notes {words}", size))
    return tuple(found)


def _tuned(performance: Performance) -> list[HeardNote]:
    """The notes whose pitch was read."""
    return [note for note in performance.notes if note.deviation_cents is not None]


def _absent(name: str, because: str, count: int) -> Reading:
    """A reading of this criterion that says why there is no figure."""
    return Reading(KEY, name, None, None, None, "cents", count, because=because)


def _tuning_words(tuning: float) -> str:
    """The take's offset in a musician's words."""
    if abs(tuning) < 10.0:  # interval just-noticeable difference of amateurs, Hill & Summers 2007
        return "The instrument or voice as a whole is in tune."
    amount = "a little " if abs(tuning) < NOTICEABLE_CENTS else ""
    return f"The whole take is {amount}{'sharp' if tuning > 0 else 'flat'}."


def _spread_words(off: int, count: int) -> str:
    """How many notes stand out, in words."""
    if not off:
        return f"None of {count} notes stands out from the take's own tuning."
    verb = "stands" if off == 1 else "stand"
    noun = counted(off, "note", "notes")
    return f"{noun[0].upper()}{noun[1:]} of {count} {verb} out as sharp or flat."


ENOUGH_LONG_NOTES = 10.0
"""Held notes that let tuning be told from chance (as many as its reading wants, our choice)."""


def _shows(held: Held) -> np.ndarray:
    """How many held notes of different pitch there are, against enough of them."""
    return np.minimum(held.long_notes / ENOUGH_LONG_NOTES, held.distinct_pitches / 4.0)


def _words(held: Held) -> str:
    """The notes long enough to hear in tune, and their pitches."""
    notes = counted(int(held.long_notes[0]), "note")
    pitches = counted(int(held.distinct_pitches[0]), "pitch", "pitches")
    return f"{notes} long enough to tune, {pitches}"


ASKS = Asks(_shows, _words, needs="held notes of several pitches")
"""Tuning is heard on held notes of more than one or two pitches."""


CRITERION = Criterion(
    key="intonation",
    name="Intonation",
    question="Are the notes in tune, each one and the line as a whole?",
    descriptors={
        1: "Many notes are clearly sharp or flat, and the player does not fix them.",
        2: "Some notes are in tune. Hard notes or leaps drift sharp or flat.",
        3: "Most notes are in tune. The player hears small slips and fixes them.",
        4: "Notes are in tune from start to end, also high, low, loud and soft ones.",
    },
    families=SUSTAINING,
    read=read,
    find=find,
    asks=ASKS,
)
"""Intonation, read by the tool beside the director's ear."""
