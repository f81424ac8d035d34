"""Is this the written music at all? How much of it was found, and how much else sounded.

Against another piece in the same key a quarter to a half of the notes are found by chance, and
a follower that may jump finds more. But then at least as many sounds belong to no note; and
chance seldom finds two neighbours one after the other with nothing between.
"""

from __future__ import annotations

from standlight.sound.values import HeardNote, Performance

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


Found = tuple[int, float]
"""A written note that was found, and how many semitones it sounded off: 0.0 at its pitch."""


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
        return not (in_order or through or belonging_share(performance) >= belonging)
    if not is_in_rhythm(performance):
        return True
    sounded = [note.index for note in performance.notes if note.onset_s is not None]
    span = sounded[-1] - sounded[0] + 1 + len(performance.added)
    return played / span < SPAN_SHARE or performance.explained_share < STROKES_SHARE
