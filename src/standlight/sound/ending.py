"""Where a take ends: how far the part was played, and whether the sound still went on.

The last note that a follower matched says little: it may jump to the end, or give one held
sound to several written notes. So the notes are weighed from the end backwards, and how a
recording ends is told by how long ago it was last loud.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standlight.sound.spectrum import power_by_frame
from standlight.sound.values import HOP_S, HeardNote, Performance, Recording

NOT_HEARD, HEARD = 1.0, -3.0
"""Weight of a written note that did not sound, and of one at its pitch, from the end back: one
note in three matched by chance behind a stop does not undo it (our choice). Another pitch
weighs nothing: somebody played there."""

SAME_SOUND_SEMITONES, SAME_SOUND_S = 0.7, 0.05
"""A note told at the pitch of the one before and right behind it, though another pitch is
written, is the same sound once more and no note that was reached."""

STOPPED_NOTES, STOPPED_FEWEST, STOPPED_SHARE = 3.0, 2.0, 0.25
"""So many notes missing at the end are told as an early end, and so are two if they are a quarter
of a short passage, or if the recording goes on in silence for as long as they need: one more of 200
made takes that stopped early (seed 3901) ends so, and none of 576 others."""

LOUD_DB, SOFT_DB = -8.0, -15.0
"""Below the loud moments (90th percentile): what is loud, and what may still be a soft tone."""

JUST_NOW_S = 0.10
"""Loud so shortly before the end is cut off, whether notes are missing or not. On made takes of
three development seeds cut ones were loud 0 to 0.41 s before the end, clean ones 0.42 s and more
but for one with a raised background."""

SHORTLY_S = 0.40
"""Where notes are missing a soft tone may be the last: so long since it sounded, and either since
the last note ended (cut ones up to 0.42 s; 0.39 s and more where the player stopped) or high above
the floor, so that it is no background raised by a gain control."""

RIGHT_AWAY_DB, START_DB = -9.0, -13.0
"""A recording that ends (starts) so near its loud moments does so in full sound."""

ABOVE_FLOOR_DB = 10.0
"""And it stands so far above the quietest moments: steady noise does not end in music."""

UNHEARD_DB, TIME_SHARE = -26.0, 0.9
"""What is left of a recording, long enough for so much of what the missing notes need, is silent
where its loud quarter is no nearer to the loud moments than this. Where its quiet quarter is
nearer, it may hold them: played too softly for its noise. Made takes that stopped have -30 and
lower."""

_END, _START = slice(-4, -1), slice(1, 4)


@dataclass(frozen=True, slots=True)
class Ending:
    """How far a take came: the first written note behind its end, and how surely.

    ``weight`` counts the notes behind it that did not sound, less those that did.
    """

    first_missing: int
    weight: float
    written: int

    @property
    def missing(self) -> int:
        """Written notes behind the end."""
        return self.written - self.first_missing

    @property
    def is_early(self) -> bool:
        """True when enough is missing to say so."""
        least = max(STOPPED_FEWEST, STOPPED_SHARE * self.written)
        return self.weight >= min(STOPPED_NOTES, least)


def ending_of(performance: Performance) -> Ending:
    """Where the playing ends, by the heaviest run of notes at the end that were not reached."""
    notes = performance.notes
    first, best, weight = len(notes), 0.0, 0.0
    for place in range(len(notes) - 1, -1, -1):
        weight += _weight(performance, notes, place)
        if weight > best:
            first, best = place, weight
    return Ending(first, best, len(notes))


def is_stopped_early(level_db: np.ndarray, performance: Performance, ending: Ending) -> bool:
    """True when the player stopped before the end, and nothing may be there too softly to hear."""
    rest_db = _rest_long_enough(level_db, performance, ending)
    if not ending.is_early:
        is_silent = len(rest_db) and np.percentile(rest_db, 75) <= UNHEARD_DB
        return bool(ending.weight >= STOPPED_FEWEST and is_silent)
    return not (len(rest_db) and np.percentile(rest_db, 25) > UNHEARD_DB)


def _rest_long_enough(
    level_db: np.ndarray, performance: Performance, ending: Ending
) -> np.ndarray:
    """Levels after the last note reached, ``(frames,)``; none where what is missing has no room."""
    reached = performance.notes[: ending.first_missing]
    ended_s = max((note.offset_s for note in reached if note.offset_s is not None), default=0.0)
    missing = performance.passage.notes[ending.first_missing :]
    if not missing or performance.tempo_qpm is None:
        return level_db[:0]
    end = missing[-1].onset_quarters + missing[-1].duration_quarters
    needed_s = float(end - missing[0].onset_quarters) * 60.0 / performance.tempo_qpm
    if performance.seconds - ended_s <= TIME_SHARE * needed_s:
        return level_db[:0]
    return level_db[int(ended_s / HOP_S) :]


def _weight(performance: Performance, notes: Sequence[HeardNote], place: int) -> float:
    """How much the note at ``place`` speaks for an end before it."""
    note = notes[place]
    if note.outcome == "missing":
        return NOT_HEARD
    if note.outcome == "played":
        return HEARD
    before = notes[place - 1] if place else None
    written = performance.passage.notes
    if before is None or written[place].midi == written[place - 1].midi:
        return 0.0
    return NOT_HEARD if _is_one_sound(before, note) else 0.0


def _is_one_sound(before: HeardNote, note: HeardNote) -> bool:
    """True when ``note`` follows ``before`` at once and at its pitch."""
    if None in (before.midi_heard, note.midi_heard, before.offset_s, note.onset_s):
        return False
    return (
        abs(note.midi_heard - before.midi_heard) < SAME_SOUND_SEMITONES
        and note.onset_s - before.offset_s < SAME_SOUND_S
    )


def level_under_loud_db(recording: Recording) -> np.ndarray:
    """Level by frame in decibel against the loud moments (90th percentile), ``(frames,)``."""
    power = power_by_frame(recording.samples, recording.rate_hz, HOP_S)
    level = 10.0 * np.log10(np.maximum(power, 1e-12))
    return level - float(np.percentile(level, 90))


def seconds_since(level_db: np.ndarray, limit_db: float) -> float:
    """Time from the last frame above ``limit_db`` to the end; the whole length if none is.

    >>> round(seconds_since(np.array([-30.0, -2.0, -30.0, -30.0]), -8.0), 3)
    0.02
    """
    above = np.flatnonzero(level_db > limit_db)
    return HOP_S * float(len(level_db) - 1 - above[-1] if len(above) else len(level_db))


def is_cut_off(level_db: np.ndarray, performance: Performance, missing: int) -> bool:
    """True when the recording ends in the middle of a sound; ``missing`` notes are behind it."""
    end_db = float(level_db[_END].mean())
    above_floor = end_db > float(np.percentile(level_db, 5)) + ABOVE_FLOOR_DB
    ended_s = max((n.offset_s for n in performance.notes if n.offset_s is not None), default=0.0)
    over = HOP_S * len(level_db) - ended_s >= SHORTLY_S
    if above_floor and end_db > RIGHT_AWAY_DB and (
        seconds_since(level_db, LOUD_DB) < JUST_NOW_S
    ):
        return bool(missing) or not over  # after the last note a gain control raises the room
    if not missing or seconds_since(level_db, SOFT_DB) >= SHORTLY_S:
        return False
    return performance.seconds - ended_s < SHORTLY_S or (above_floor and end_db > SOFT_DB)


def starts_in_sound(level_db: np.ndarray) -> bool:
    """True when the recording begins in the middle of a sound."""
    floor_db = float(np.percentile(level_db, 5))
    return bool(level_db[_START].mean() > max(START_DB, floor_db + ABOVE_FLOOR_DB))
