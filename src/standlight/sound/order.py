"""Is this the written music at all? How much of it was found, and how much else sounded.

Against another piece in the same key a quarter to a half of the notes are found by chance, and
a follower that may jump finds more. But then at least as many sounds belong to no note; and
chance seldom finds two neighbours one after the other with nothing between. Who reads half the
pitches wrong is known by the rhythm: the notes come in order and in time, each about where written.
"""

from __future__ import annotations

import numpy as np

from standlight.sound.pacing import own_pace
from standlight.sound.values import HOP_S, HeardNote, Performance
from standlight.sound.written import written_line

BELONGING_SHARE = 0.42
"""Share of the part that was found times share of the sounds that belong to it: from here on it
is this part. On 96 faulty takes of two development seeds the right part has 0.50 and more (one
note in three wrong, a beginner with stops), on 96 of another piece the most is 0.33."""

ORDER_SHARE = 0.65
"""What is under that is still this part if so many steps go in the written order: a take that
stopped early or was cut off leaves most of the part out, but what it has is in order."""

RUN_SHARE = 0.60
"""So much of the part played through in order, at pitch, is this part, whatever else sounds
before or after it: who plays on past the end has played it. Other pieces had 0.53 at most."""

SHIFTED_SHARE, SHIFTED_RUN_SHARE = 0.65, 0.45
"""In another key so much must belong to the part, or so much follow in order without a break: of
twenty-eight keys one or another fits any music a little. On made takes of development seeds other
pieces have 0.58 at most there, the right part in another key 0.71 and more (359 of 360 faulty,
restarted and clean takes), and what is in order by chance is a third of the part."""

SURE = 0.8
"""A note was found when it was played with so much probability. Of 400 takes of another piece
(seeds 3601, 3701) 388 are told so then, 382 if every played note counts, and none of 765 right
ones, cut off, stopped early or full of faults."""

SAME_NAME_SEMITONES = 0.7
"""A sound has a note's name within this of it or its octaves: an octave slip is no other piece."""

FEWEST_FOUND_SHARE = 0.15
"""So few of the written notes found, in all, are chance."""

SPAN_SHARE = 0.5
"""For strokes: share of notes found between the first and the last heard."""

LEAST_RHYTHM_GAIN = 0.75
"""Strokes that fit the written order of values by so little more than a shuffled one are of
another rhythm. Of 48 made takes of the development seed 1500 the right ones have 1.3 and more,
with 40 ms of unevenness on top of their own all but one 0.9 and more; of other pieces two in
three have less."""

STROKES_SHARE = 0.6
"""So few of the clear strokes belong to the part: it was found in a corner of something else."""

NEAR_SEMITONES = 4.5
"""A wrong note within a third of the written one is a reading of it: a sharp or flat forgotten, a
neighbouring line or space."""

IN_TIME_LOG = 0.3
"""A step is in time when it lasts as long as written but for so much (log; our choice, with 0.2 a
tenth fewer weak readers are known), at the take's own course of tempo."""

IN_TIME_SHARE, READ_FOUND_SHARE = 0.7, 0.4
"""A part of which so many steps go on in time, and so many notes are at their pitch, was read, if
badly. Of 65 clean takes of a development seed that were refused against their part with two to
three notes in five changed, 54 are read so. Of 53 takes of other music, in its key, the most in
time is 0.30 (in another key 0.60, and there it does not count), of 51 against the part with its
pitches shuffled 0.55, and of 96 five-note tunes against one another, mostly quarters, 0.64."""


Found = tuple[int, float]
"""A written note that was found, and how many semitones it sounded off: 0.0 at its pitch."""

Start = tuple[float, int | None]
"""When a sound began, and the written note that it is near; None for no note."""


def order_share(performance: Performance) -> float:
    """Share of steps between successive sounds that go from a written note to the next, 0..1.

    Both must be heard at their pitch, or as far off: who misses a key plays the part. Abandoned
    attempts count as sounds, each restart as one step out of order; one step is given for nothing,
    so that two notes never condemn a take.
    """
    order = _order(performance)
    steps = list(zip(order, order[1:], strict=False))
    right = sum(_is_step(*step) for step in steps)
    return (right + 1) / (len(steps) + 1)


def longest_run(performance: Performance) -> int:
    """Most written notes that were played one after the other with nothing between."""
    order = _order(performance)
    longest = run = 1 if any(found is not None for found in order) else 0
    for step in zip(order, order[1:], strict=False):
        run = run + 1 if _is_step(*step) else 1
        longest = max(longest, run) if longest else 0
    return longest


def _is_step(before: Found | None, after: Found | None) -> bool:
    """True from a written note to the next one, by the written interval."""
    if before is None or after is None or after[0] - before[0] != 1:
        return False
    return abs(after[1] - before[1]) <= SAME_NAME_SEMITONES


def _order(performance: Performance) -> list[Found | None]:
    """Every sound in time: the note that was surely found there, None for any other."""
    sounds = [
        (note.onset_s, _found(note, performance))
        for note in (*performance.notes, *performance.attempts)
        if note.onset_s is not None
    ]
    sounds += [(sound.onset_s, None) for sound in performance.added]
    return [found for _, found in sorted(sounds, key=lambda sound: sound[0])]


def _found(note: HeardNote, performance: Performance) -> Found | None:
    """A ``note`` that surely sounded, at its pitch or at another one; None for any other."""
    if _is_found(note):
        return note.index, 0.0
    if note.probability < SURE or note.midi_heard is None or performance.unpitched:
        return None
    written = performance.passage.notes[note.index].midi
    return note.index, note.midi_heard - written - performance.shift_semitones


def belonging_share(performance: Performance) -> float:
    """Share of written notes found by name, times share of all sounds that are such notes, 0..1.

    A name is a pitch in any octave. Abandoned attempts count among the sounds.
    """
    found = sum(_named(note, performance) for note in performance.notes)
    again = sum(_named(note, performance) for note in performance.attempts)
    sounds = sum(note.onset_s is not None for note in performance.notes)
    sounds += len(performance.attempts) + len(performance.added)
    return found / max(len(performance.notes), 1) * (found + again) / max(sounds, 1)


def in_time_share(performance: Performance) -> float:
    """Share of steps between sounds that go to the next written note, in time, 0..1.

    Both within a third of their written pitch. A step over a note left out is lost, and so are
    those that an added sound breaks.
    """
    starts = _starts(performance)
    steps = [step for step in zip(starts, starts[1:], strict=False) if _goes_on(*step)]
    line = written_line(performance.passage)
    index = np.array([before[1] for before, _ in steps], dtype=int)
    frames = np.array([after[0] - before[0] for before, after in steps]) / HOP_S
    pace = own_pace(line, index, frames)
    if pace is None:
        return 0.0
    off = np.log(np.maximum(frames, 1.0) / line.step_quarters[index]) - pace.course[index]
    most = max(len(starts), len(line)) - 1
    return float(np.sum(np.abs(off) <= IN_TIME_LOG)) / most


def _starts(performance: Performance) -> list[Start]:
    """Every sound in time, with the written note that it is near."""
    starts: list[Start] = [
        (note.onset_s, note.index if _is_near(note, performance) else None)
        for note in performance.notes
        if note.onset_s is not None
    ]
    beside = (*performance.attempts, *performance.added)
    starts += [(sound.onset_s, None) for sound in beside if sound.onset_s is not None]
    return sorted(starts, key=lambda start: start[0])


def _is_near(note: HeardNote, performance: Performance) -> bool:
    """True when the heard note is within a third of the written one."""
    if note.outcome == "played" or note.midi_heard is None:
        return note.outcome == "played"
    written = performance.passage.notes[note.index].midi + performance.shift_semitones
    return abs(note.midi_heard - written) <= NEAR_SEMITONES


def _goes_on(before: Start, after: Start) -> bool:
    """True from a written note to the next one."""
    return before[1] is not None and after[1] == before[1] + 1


def is_badly_read(performance: Performance) -> bool:
    """True for a take of the part, in its key, with about half the pitches wrong but in time."""
    found_share = found_count(performance) / len(performance.notes)
    return (
        performance.shift_semitones % 12 == 0
        and found_share >= READ_FOUND_SHARE
        and in_time_share(performance) >= IN_TIME_SHARE
    )


def found_count(performance: Performance) -> int:
    """Written notes that were found: surely at their pitch, strokes as they were told."""
    if performance.struck:
        return sum(note.outcome == "played" for note in performance.notes)
    return sum(map(_is_found, performance.notes))


def _is_found(note: HeardNote) -> bool:
    """True for a note that surely sounded at its pitch."""
    return note.outcome == "played" and note.probability >= SURE


def _named(note: HeardNote, performance: Performance) -> bool:
    """True when the heard note has the name of the written one, in any octave."""
    if note.outcome == "played" or note.midi_heard is None:
        return _is_found(note)
    written = performance.passage.notes[note.index].midi
    apart = note.midi_heard - written - performance.shift_semitones
    return abs(apart - 12.0 * round(apart / 12.0)) <= SAME_NAME_SEMITONES


def is_in_rhythm(performance: Performance) -> bool:
    """False when strokes fit the written rhythm no better than its values in another order."""
    gain = performance.rhythm_gain
    return gain is None or gain >= LEAST_RHYTHM_GAIN


def is_other_piece(performance: Performance) -> bool:
    """True when the notes found are too few among what sounded, and in no order of the part."""
    played = sum(note.outcome == "played" for note in performance.notes)
    if played <= FEWEST_FOUND_SHARE * len(performance.notes):
        return True
    if not performance.struck:
        run_share = longest_run(performance) / len(performance.notes)
        in_order, belonging = order_share(performance) >= ORDER_SHARE, BELONGING_SHARE
        if performance.shift_semitones % 12:
            in_order, belonging = in_order and run_share >= SHIFTED_RUN_SHARE, SHIFTED_SHARE
        through = run_share >= RUN_SHARE
        belongs = belonging_share(performance) >= belonging
        return not (in_order or through or belongs or is_badly_read(performance))
    if not is_in_rhythm(performance):
        return True
    sounded = [note.index for note in performance.notes if note.onset_s is not None]
    span = sounded[-1] - sounded[0] + 1 + len(performance.added)
    return played / span < SPAN_SHARE or performance.explained_share < STROKES_SHARE
