"""Is this the written music at all? How often one heard note follows another as written.

Against another piece in the same key a quarter to a half of the notes are found by chance, and
a follower that may jump finds more. But chance seldom finds two neighbours one after the other,
each at its pitch, with nothing between.
"""

from __future__ import annotations

from standlight.sound.values import Performance

OWN_ORDER_SHARE = 0.50
"""Under this share of steps in the written order it is another piece. On made takes of the
development seed 49 of 56 other pieces have 0 to 0.49, takes of the right one over 0.52 but
where the follower lost the place altogether."""

FOREIGN_KEY_SHARE, FASTEST = 0.80, 1.5
"""What is found only in another key, faster than half again the marked tempo, must be in order
more than this: a follower that may choose key, tempo and place finds something in anything."""

RUN_SHARE = 0.60
"""So much of the part played through in order, at pitch, is this part, whatever else sounds
before or after it: who plays on past the end has played it. Other pieces had 0.53 at most."""

FOUND_SHARE = 0.85
"""So many of the written notes found are this part, however much else sounds between them."""

FEWEST_FOUND_SHARE = 0.15
"""So few of the written notes found, in all, are chance."""

SPAN_SHARE = 0.5
"""For strokes, which have no pitch: share of notes found between the first and the last heard."""


def order_share(performance: Performance) -> float:
    """Share of steps between successive sounds that go from a written note to the next, 0..1.

    Both must be heard at their pitch. Abandoned attempts count as sounds, each restart as one
    step out of order; one step is given for nothing, so that two notes never condemn a take.
    """
    order = _order(performance)
    steps = list(zip(order, order[1:], strict=False))
    right = sum(_is_step(*step) for step in steps)
    return (right + 1) / (len(steps) + 1)


def longest_run(performance: Performance) -> int:
    """Most written notes that were played one after the other with nothing between."""
    order = _order(performance)
    longest = run = 1 if any(index is not None for index in order) else 0
    for step in zip(order, order[1:], strict=False):
        run = run + 1 if _is_step(*step) else 1
        longest = max(longest, run) if longest else 0
    return longest


def _is_step(before: int | None, after: int | None) -> bool:
    """True from a written note to the next one."""
    return before is not None and after is not None and after - before == 1


def _order(performance: Performance) -> list[int | None]:
    """Every sound in time: the index of a note played at its pitch, None for any other."""
    sounds = [
        (note.onset_s, note.index if note.outcome == "played" else None)
        for note in (*performance.notes, *performance.attempts)
        if note.onset_s is not None
    ]
    sounds += [(sound.onset_s, None) for sound in performance.added]
    return [index for _, index in sorted(sounds, key=lambda sound: sound[0])]


def is_other_piece(performance: Performance) -> bool:
    """True when the notes found are too few, or in no order of the written part."""
    played = [note.index for note in performance.notes if note.outcome == "played"]
    if len(played) <= FEWEST_FOUND_SHARE * len(performance.notes):
        return True
    if not performance.struck:
        order, tempo = order_share(performance), performance.tempo_qpm or 0.0
        far_fetched = (
            performance.shift_semitones % 12 != 0
            and tempo > FASTEST * performance.marked_tempo_qpm
        )
        written = len(performance.notes)
        found = len(played) >= FOUND_SHARE * written
        if not far_fetched and (found or longest_run(performance) >= RUN_SHARE * written):
            return False
        return order < (FOREIGN_KEY_SHARE if far_fetched else OWN_ORDER_SHARE)
    sounded = [note.index for note in performance.notes if note.onset_s is not None]
    span = sounded[-1] - sounded[0] + 1 + len(performance.added)
    return len(played) / span < SPAN_SHARE
