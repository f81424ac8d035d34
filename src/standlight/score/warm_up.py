"""A simple warm-up line in a key, typed in the plain form, for an instrument's middle range."""

from __future__ import annotations

from collections.abc import Sequence

from standlight.score.instruments import Instrument

MOST_FIFTHS = 7
"""Seven sharps or flats: the widest key signature."""

_LINE_OF_FIFTHS = "FCGDAEB"
_STEPS = "CDEFGAB"
_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}

_MELODY = (
    "p ( {1} q {2} {3} ) {2} q' | {1} e {2} {3} {4} {5} h | "
    "mf {5} q. {4} e ( {3} q {2} ) | {3} q> {1} q> {1} h | "
    "f {5} q {3} {5} q' {3} q' | ( {4} e {3} {2} {4} ) {3} h | "
    "mp {1} q. {2} e ( {3} q {2} ) | p {1} w"
)
"""Eight measures on five notes of a major scale: slow and quick values, slurs, dots and
accents, soft and loud (ours)."""

_STROKES = (
    "p x q e e q q | x e e e e h | mf x q. e q q | x q> q> h | "
    "f x q q e e q | x s s s s e e h | mp x q. e q q | p x w"
)
"""The same for a drum."""


_TWO_DRUMS = "Timpani"
"""Two drums play only the first note and the fifth."""


def warm_up_line(instrument: Instrument, fifths: int, tempo_qpm: float) -> str:
    """Eight measures for ``instrument`` whose written key has ``fifths`` sharps (or minus flats).

    The five notes lie in the middle of the school range; a drum gets strokes. Raises
    ``ValueError`` for a key that is none. The line is in the form of docs/typed-line.md.

    >>> from standlight.score import INSTRUMENTS, line_to_musicxml, read_passage
    >>> line = warm_up_line(INSTRUMENTS["Horn in F"], -1, 96)
    >>> line[:40]
    'time 4/4 key F tempo 96 p ( F4 q G4 A4 )'
    >>> len(read_passage(line_to_musicxml(line, instrument="Horn in F")).measures)
    8
    """
    if not -MOST_FIFTHS <= fifths <= MOST_FIFTHS:
        raise ValueError(f"a key of {fifths} sharps is none: -7 to 7")
    head = f"time 4/4 tempo {tempo_qpm:.0f}"
    if instrument.unpitched:
        return f"{head} {_STROKES}"
    names = _scale(fifths)
    octave = _octave(instrument, names)
    notes = []
    for place, name in enumerate(names):
        wrapped = place and _STEPS.index(name[0]) < _STEPS.index(names[0][0])
        notes.append(f"{name}{octave + bool(wrapped)}")
    if instrument.name.startswith(_TWO_DRUMS):
        low, high = (f"{name}{_lowest_octave(instrument, name)}" for name in (names[0], names[4]))
        notes = [low, low, low, high, high]
    words = _MELODY.format("", *notes)
    return f"time 4/4 key {names[0]} tempo {tempo_qpm:.0f} {words}"


def _scale(fifths: int) -> list[str]:
    """The first five names of the major scale with this signature."""
    sharps = _LINE_OF_FIFTHS[:fifths] if fifths > 0 else ""
    flats = _LINE_OF_FIFTHS[fifths:] if fifths < 0 else ""
    named = {step: step + ("#" if step in sharps else "b" if step in flats else "")
             for step in _STEPS}  # fmt: skip
    tonic = _LINE_OF_FIFTHS[(fifths + 1) % len(_LINE_OF_FIFTHS)]
    start = _STEPS.index(tonic)
    return [named[_STEPS[(start + place) % len(_STEPS)]] for place in range(5)]


def _octave(instrument: Instrument, names: Sequence[str]) -> int:
    """The octave of the first note: as little outside the school range, as central as can be."""
    low, high = instrument.sounding_low_midi, instrument.sounding_high_midi
    if low is None or high is None:
        return 4

    def apart(octave: int) -> tuple[int, float]:
        lowest = 12 * (octave + 1) + _semitones(names[0]) + instrument.transposition
        highest = lowest + (_semitones(names[4]) - _semitones(names[0])) % 12
        outside = max(0, low - lowest) + max(0, highest - high)
        return outside, abs((lowest + highest) / 2 - (low + high) / 2)

    return min(range(9), key=apart)


def _lowest_octave(instrument: Instrument, name: str) -> int:
    """The lowest octave of a written name inside the school range."""
    low = (instrument.sounding_low_midi or 0) - instrument.transposition
    return next(octave for octave in range(9) if 12 * (octave + 1) + _semitones(name) >= low)


def _semitones(name: str) -> int:
    """Semitones of a name above the C below it."""
    return _SEMITONES[name[0]] + {"#": 1, "b": -1}.get(name[1:], 0)
