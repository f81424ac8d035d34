"""Intonation: how near each note is to its pitch, apart from the tuning of the whole take."""

from __future__ import annotations

import numpy as np

from standlight.criteria.figures import (
    NORMAL_95,
    line_through,
    median_interval,
    robust_spread,
    spread_interval,
    t_95,
)
from standlight.criteria.limits import NOTE_CENTS, SURE_SE
from standlight.criteria.values import SUSTAINING, Criterion, Reading, Trouble
from standlight.passages import Asks, Held, counted
from standlight.sound.targets import DRONE, EQUAL, JUST
from standlight.sound.values import HeardNote, Performance

KEY = "intonation"

FEWEST_NOTES = 5
"""Fewer notes with a pitch say nothing about a take's intonation (our choice)."""

CLEAR_CENTS = 50.0
"""mir_eval's tolerance for the same note, and half a semitone."""

SPREAD_NAMES = {
    EQUAL: "spread of the notes",
    JUST: "spread against just intervals",
    DRONE: "distance from the drone",
}

FEWEST_FOR_DRIFT = 8
"""Fewer notes show no drift of pitch (our choice)."""

NOTICEABLE_DRIFT_CENTS = 10.0
"""About what amateurs tell apart between two tones (Hill & Summers 2007)."""

SURE_SHARE = 0.5
"""A drift is named when its whole interval keeps beyond this share of what is noticed: notes
that scatter by 10 cents drift by that much by chance in one take of twenty (our choice)."""


def read(performance: Performance) -> tuple[Reading, ...]:
    """The take's own tuning, its drift, and how far its notes spread, all in cents.

    Notes are measured against the performance's target: equal temperament, just intervals
    above a tonic, or a drone that sounds. A singer's notes are measured from their own tonal
    centre, also where it drifts.
    """
    if performance.unpitched:
        return (_absent("tuning of the take", "the part has no pitches", 0),)
    notes = _tuned(performance)
    spread_name = SPREAD_NAMES[performance.target.kind]
    if len(notes) < FEWEST_NOTES or performance.tuning_cents is None:
        because = f"only {len(notes)} notes with a sure pitch; at least {FEWEST_NOTES} are needed"
        return tuple(
            _absent(name, because, len(notes))
            for name in ("tuning of the take", "drift of the pitch", spread_name)
        )
    return (_tuning(performance, notes), _spread(performance, notes), _drift(performance, notes))


def _tuning(performance: Performance, notes: list[HeardNote]) -> Reading:
    """The take's own offset from the ensemble's pitch."""
    tuning = performance.tuning_cents
    reach = NORMAL_95 * (performance.tuning_se_cents or 0.0)
    return Reading(
        KEY, "tuning of the take", tuning, tuning - reach, tuning + reach, "cents",
        len(notes), sentence=_tuning_words(tuning),
    )  # fmt: skip


def _spread(performance: Performance, notes: list[HeardNote]) -> Reading:
    """How far notes lie from their target; from a drone with the take's own offset kept."""
    apart = deviations(performance)
    values = list(apart.values())
    off = len(find(performance))
    if performance.target.keeps_tuning:
        value, low, high = median_interval([abs(one) for one in values])
    else:
        value = robust_spread(values)
        low, high = spread_interval(value, len(values))
    name = SPREAD_NAMES[performance.target.kind]
    words = _spread_words(off, len(notes), _FROM[performance.target.kind])
    return Reading(KEY, name, value, low, high, "cents", len(notes), sentence=words)


def _drift(performance: Performance, notes: list[HeardNote]) -> Reading:
    """How far the pitch moved from the first note to the last; silent where chance is enough."""
    name = "drift of the pitch"
    if len(notes) < FEWEST_FOR_DRIFT:
        because = f"only {len(notes)} notes with a sure pitch; {FEWEST_FOR_DRIFT} show a drift"
        return _absent(name, because, len(notes))
    drift, se, _ = line_through(*_course(performance, notes))
    reach = t_95(len(notes) - 2) * se
    words = "The pitch stays where it began."
    sure = abs(drift) - reach >= SURE_SHARE * NOTICEABLE_DRIFT_CENTS
    if sure and abs(drift) >= NOTICEABLE_DRIFT_CENTS:
        amount = "a little " if abs(drift) < NOTE_CENTS else ""
        words = f"The pitch drifts {amount}{'up' if drift > 0 else 'down'} from start to end."
    return Reading(
        KEY, name, drift, drift - reach, drift + reach, "cents", len(notes), sentence=words
    )


def deviations(performance: Performance) -> dict[int, float]:
    """Cents from the target by note index, the take's own tuning removed.

    For a singer their own moving tonal centre is removed; against a drone nothing is.
    """
    notes = _tuned(performance)
    apart = {note.index: _from_target(performance, note) for note in notes}
    if performance.target.keeps_tuning or not notes:
        return apart
    centre = np.full(len(notes), float(np.median(list(apart.values()))))
    if performance.target.kind == EQUAL and performance.tuning_cents is not None:
        centre[:] = performance.tuning_cents
    moving = moving_centre(performance)
    if moving is not None:
        centre = moving
    return {
        note.index: apart[note.index] - float(middle)
        for note, middle in zip(notes, centre, strict=True)
    }


def moving_centre(performance: Performance) -> np.ndarray | None:
    """A singer's own tonal centre at each note with a pitch, cents, where it drifts beyond chance.

    ``None`` where it stays, and for all who do not sing; against a drone it is never removed.
    """
    notes = _tuned(performance)
    if not performance.sung or performance.target.keeps_tuning or len(notes) < FEWEST_FOR_DRIFT:
        return None
    drift, se, line = line_through(*_course(performance, notes))
    return line if abs(drift) > t_95(len(notes) - 2) * se else None


def _course(
    performance: Performance, notes: list[HeardNote]
) -> tuple[list[float], list[float]]:
    """Places in the music and distances from the target, for a line through them."""
    written = performance.passage.notes
    places = [float(written[note.index].onset_quarters) for note in notes]
    return places, [_from_target(performance, note) for note in notes]


def _from_target(performance: Performance, note: HeardNote) -> float:
    """Heard minus target in cents, the take's tuning not removed."""
    midi = performance.passage.notes[note.index].midi
    return note.deviation_cents - performance.target.offset_cents(midi)


def find(performance: Performance) -> tuple[Trouble, ...]:
    """Notes noticeably away from their target, beyond their own uncertainty."""
    if performance.tuning_cents is None:
        return ()
    apart_by_index = deviations(performance)
    found = []
    for note in _tuned(performance):
        apart = apart_by_index[note.index]
        sure = abs(apart) - SURE_SE * note.deviation_se_cents
        if sure < NOTE_CENTS:
            continue
        amount = "" if abs(apart) >= CLEAR_CENTS else "a little "
        words = f"{amount}{'sharp' if apart > 0 else 'flat'}"
        size = abs(apart) / NOTE_CENTS
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
    amount = "a little " if abs(tuning) < NOTE_CENTS else ""
    return f"The whole take is {amount}{'sharp' if tuning > 0 else 'flat'}."


_FROM = {
    EQUAL: "the take's own tuning",
    JUST: "the just intervals above its tonic",
    DRONE: "the drone",
}


def _spread_words(off: int, count: int, target: str) -> str:
    """How many notes stand out, in words."""
    if not off:
        return f"None of {count} notes stands out from {target}."
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
