"""Playing before a passage begins or after it ends: told in one sentence, and not as added notes.

A passage is cut out of a part. Who begins at the start of the line, or plays on past the last
note, has added nothing to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from standlight.sound.quality import Verdict
from standlight.sound.values import AddedSound, Performance

FEWEST_SOUNDS = 2
"""One sound before the first note or after the last may be a slip and stays an added one (our
choice: what goes on has a second)."""

_WORDS = {
    (True, False): "Something is played before the first note of this passage",
    (False, True): "Something is played after the last note of this passage",
    (True, True): "Something is played before the first note of this passage and after the last",
}
"""What is said of sounds (before, after) the passage."""


def with_playing_beyond_told(performance: Performance) -> tuple[Performance, tuple[Verdict, ...]]:
    """The performance without what was played beyond the passage, and a sentence on it.

    Only where the passage's own first (last) note was heard: otherwise the player may be lost.
    Strokes are left as they are, for what a stick hits after the last note is seldom music.
    """
    heard = [n for n in (*performance.notes, *performance.attempts) if n.onset_s is not None]
    if performance.struck or not heard:
        return performance, ()
    first_s, last_s = min(n.onset_s for n in heard), max(n.onset_s for n in heard)
    indexes = {note.index for note in heard}
    before = _enough([one for one in performance.added if one.onset_s < first_s], 0 in indexes)
    after = _enough(
        [one for one in performance.added if one.onset_s > last_s],
        len(performance.notes) - 1 in indexes,
    )
    if not before and not after:
        return performance, ()
    beyond = {*before, *after}
    added = tuple(one for one in performance.added if one not in beyond)
    said = f"{_WORDS[bool(before), bool(after)]}: that is not read."
    return replace(performance, added=added), (Verdict("beyond_passage", said),)


def _enough(sounds: Sequence[AddedSound], reached: bool) -> Sequence[AddedSound]:
    """``sounds`` beyond an edge that was ``reached``; none where they are too few to be more."""
    return sounds if reached and len(sounds) >= FEWEST_SOUNDS else ()
