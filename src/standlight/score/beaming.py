"""Join short notes by beams, beat by beat, as printed music usually does.

Common practice, no source: beams do not cross a beat; in meters of eighths counted in
threes (6/8, 9/8, 12/8) the beat is a dotted quarter.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction


def beams(
    notes: Sequence[tuple[Fraction, int]], meter: tuple[int, int]
) -> list[tuple[str, ...]]:
    """For each note the MusicXML beam words, level 1 first; empty for a note without beam.

    ``notes`` are (length in quarters, flags); a rest or long note has no flags.

    >>> beams([(Fraction(1, 2), 1), (Fraction(1, 2), 1), (Fraction(1), 0)], (2, 4))
    [('begin',), ('end',), ()]
    """
    beat = Fraction(3, 2) if meter[1] == 8 and meter[0] % 3 == 0 else Fraction(4, meter[1])
    beat = max(beat, Fraction(1))
    words: list[tuple[str, ...]] = [()] * len(notes)
    for group in _groups(notes, beat):
        flags = [notes[place][1] for place in group]
        for at, place in enumerate(group):
            words[place] = tuple(
                _word(flags, at, level) for level in range(1, flags[at] + 1)
            )
    return words


def _groups(notes: Sequence[tuple[Fraction, int]], beat: Fraction) -> list[list[int]]:
    """Runs of two or more flagged notes inside one beat, as places in ``notes``."""
    groups: list[list[int]] = []
    run: list[int] = []
    onset, run_beat = Fraction(0), -1
    for place, (length, flags) in enumerate(notes):
        here = onset // beat
        if not flags or here != run_beat:
            groups.append(run)
            run = []
        if flags:
            run.append(place)
        run_beat = here
        onset += length
    groups.append(run)
    return [group for group in groups if len(group) > 1]


def _word(flags: Sequence[int], at: int, level: int) -> str:
    """The beam word of the note ``at`` in its group for one level."""
    before = at > 0 and flags[at - 1] >= level
    after = at + 1 < len(flags) and flags[at + 1] >= level
    table = {
        (False, True): "begin",
        (True, True): "continue",
        (True, False): "end",
    }
    return table.get((before, after), "backward hook" if at else "forward hook")
