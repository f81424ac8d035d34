"""Which written pitch a stroke sets ringing: what rises from just before it to just after.

What rang before hardly rises, however loud it is, so the bar that was struck stands out. Only
the first partial is looked at: the others of bars and kettles are not harmonic (Fletcher &
Rossing, The Physics of Musical Instruments, from memory). Where no pitch stands out, as with
kettles, whose semitones lie closer than so short a look can part, nothing is told.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.music import hz_of_midi
from standlight.sound.striking import StrokePath
from standlight.sound.values import Recording
from standlight.sound.written import WrittenLine

LONGEST_S, SHORTEST_S = 0.12, 0.04
"""So much after a stroke, and before it, is compared: up to the next stroke within these."""

LEAD_S, LAG_S = 0.002, 0.004
"""Left out just before and just after the onset, which is read to a few milliseconds."""

REACH = 0.023
"""Each pitch is sought within this share of its frequency (40 cents: instruments differ)."""

BESIDE_SEMITONES = 5
"""So far beyond the written range a wrong bar is looked for (our choice)."""

LOWEST_TOLD_MIDI = 50.0
"""From here on (147 Hz) a semitone is wider than the 8.3 Hz that 0.12 s can part."""

SECOND_SHARE = 0.5
"""A stroke's pitch is clear when no pitch but its neighbours rises by so much of the highest."""

LEAST_RISE = 0.25
"""A pitch that rises by less of what is usual in the take is not clear: who strikes a bar that
rings may even still it, and then something faint rises most. Made bars that ring on under
repeated strokes rose to 0.15 at a wrong pitch, struck ones by 0.28 and more."""

CLEAR_SHARE, FEWEST_CLEAR = 0.6, 8
"""A take's pitch is told when so much of its strokes, and so many, are clear. Of made takes of
the development seed 1500 all 16 of bars have 0.71 and more, all 16 of kettles 0.44 and less."""

OWN_SHARE = 0.5
"""A written pitch that rises so much of the highest agrees with its note."""

AGREED_SHARE, SHIFTED_SHARE = 0.5, 0.7
"""So many notes must agree where written; if fewer do, so many at one other distance: bars of
another octave, or a stroke heard by an upper partial, make no wrong notes."""

FARTHEST_SHIFT = 24

OTHER_SHARE = 0.3
"""A clear stroke is another pitch when the written one rises by less of the highest. Low bars
a semitone beside share 0.45 and more on the development seed."""

PITCH_GAIN = 1.5
"""What a pitch can speak for or against a match, beside ``striking.MATCH_GAIN``: less than a
stroke in time, so that a wrong bar is still the note's stroke (our choice)."""

_FINEST_HZ = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Ringing:
    """How much each pitch rises at each stroke of a take, ``shift`` semitones from the written.

    ``midi`` are whole written semitones, ``(pitches,)``; ``share`` the rise of each over the
    highest one's at the stroke, 0..1, ``(strokes, pitches)``; ``clear`` says of each stroke
    whether one pitch stands out, ``(strokes,)``.
    """

    shift: int
    midi: np.ndarray
    share: np.ndarray
    clear: np.ndarray

    def heard(self, stroke: int) -> float | None:
        """The pitch that ``stroke`` set ringing, as it would be written; None if not clear."""
        return float(self.midi[self.share[stroke].argmax()]) if self.clear[stroke] else None

    def of(self, line: WrittenLine) -> np.ndarray:
        """Share of each written note's pitch at each stroke, ``(strokes, notes)``."""
        return self.share[:, (np.round(line.midi) - self.midi[0]).astype(int)]

    def favour(self, line: WrittenLine) -> np.ndarray:
        """What the pitch says for each stroke being each note, ``(strokes, notes)``."""
        told = self.clear[:, None] & (line.midi >= LOWEST_TOLD_MIDI)[None, :]
        return np.where(told, PITCH_GAIN * (2.0 * self.of(line) - 1.0), 0.0)

    def is_other(self, stroke: int, midi: float) -> bool:
        """True when ``stroke`` clearly set another pitch ringing than ``midi``."""
        own = self.share[stroke, int(round(midi - self.midi[0]))]
        return bool(self.clear[stroke] and midi >= LOWEST_TOLD_MIDI and own < OTHER_SHARE)


def ringing_of(
    recording: Recording, times_s: np.ndarray, line: WrittenLine, path: StrokePath
) -> Ringing | None:
    """`Ringing` of strokes at ``times_s``; None for a take whose pitches do not stand out.

    ``path`` is a first matching by time, by which written and heard pitches are compared.
    """
    pairs = [(stroke, note) for note, stroke, _ in path.matches]
    pairs = [pair for pair in pairs if line.midi[pair[1]] >= LOWEST_TOLD_MIDI]
    if not line.pitched or len(pairs) < FEWEST_CLEAR:
        return None
    low = float(line.midi.min()) - BESIDE_SEMITONES - FARTHEST_SHIFT
    high = float(line.midi.max()) + BESIDE_SEMITONES + FARTHEST_SHIFT
    wide = np.arange(np.floor(low), np.ceil(high) + 1.0)
    rises = _rises(recording, times_s, wide)
    written = _shifted(rises, wide, 0)
    stroke, note = (np.array(one) for one in zip(*pairs, strict=True))
    clear = written.clear[stroke]
    if clear.sum() < FEWEST_CLEAR or clear.mean() < CLEAR_SHARE:
        return None
    if _agreed(written, line, stroke, note) >= AGREED_SHARE:
        return written
    others = [
        _shifted(rises, wide, shift)
        for shift in range(-FARTHEST_SHIFT, FARTHEST_SHIFT + 1)
        if shift
    ]
    best = max(others, key=lambda one: _agreed(one, line, stroke, note))
    return best if _agreed(best, line, stroke, note) >= SHIFTED_SHARE else written


def _agreed(ringing: Ringing, line: WrittenLine, stroke: np.ndarray, note: np.ndarray) -> float:
    """Share of matched strokes at which the written pitch is about the one that rises most."""
    return float((ringing.of(line)[stroke, note] >= OWN_SHARE).mean())


def _shifted(rises: np.ndarray, wide: np.ndarray, shift: int) -> Ringing:
    """The part of the ``wide`` range that lies ``shift`` from the written one."""
    span = slice(FARTHEST_SHIFT + shift, len(wide) - FARTHEST_SHIFT + shift)
    own = rises[:, span]
    highest = own.max(axis=1, keepdims=True)
    share = own / np.maximum(highest, 1e-12)
    top = share.argmax(axis=1)[:, None]
    beside = np.abs(np.arange(share.shape[1])[None, :] - top) <= 1
    second = np.where(beside, 0.0, share).max(axis=1)
    full = highest[:, 0] > LEAST_RISE * float(np.median(highest))
    return Ringing(shift, wide[span] - shift, share, full & (second < SECOND_SHARE))


def _rises(recording: Recording, times_s: np.ndarray, midi: np.ndarray) -> np.ndarray:
    """Rise of magnitude at each pitch over each stroke, 0 where it falls, (strokes, pitches)."""
    size = 1 << int(np.ceil(np.log2(recording.rate_hz / _FINEST_HZ)))
    bins = _bins(midi, recording.rate_hz, size)
    following = np.append(times_s[1:], recording.seconds)
    before, after = np.zeros((2, len(times_s), len(midi)))
    for stroke, (time_s, next_s) in enumerate(zip(times_s, following, strict=True)):
        length_s = float(np.clip(next_s - time_s - LEAD_S - LAG_S, SHORTEST_S, LONGEST_S))
        earlier_s = time_s - LEAD_S - length_s
        after[stroke] = _levels(recording, time_s + LAG_S, length_s, size)[bins].max(axis=1)
        before[stroke] = _levels(recording, earlier_s, length_s, size)[bins].max(axis=1)
    return np.maximum(after - before, 0.0)


def _bins(midi: np.ndarray, rate_hz: int, size: int) -> np.ndarray:
    """Spectrum bins around each pitch, ``(pitches, most)``; narrow ones repeat their last."""
    hz = np.minimum(hz_of_midi(midi), 0.45 * rate_hz)
    low = np.floor(hz * (1.0 - REACH) * size / rate_hz).astype(int)
    high = np.ceil(hz * (1.0 + REACH) * size / rate_hz).astype(int)
    steps = np.arange(int((high - low).max()) + 1)
    return np.minimum(np.minimum(low[:, None] + steps, high[:, None]), size // 2)


def _levels(recording: Recording, start_s: float, length_s: float, size: int) -> np.ndarray:
    """Magnitudes of what sounds for ``length_s`` from ``start_s``, silence beyond the ends."""
    count = int(length_s * recording.rate_hz)
    first = int(start_s * recording.rate_hz)
    piece = recording.samples[max(first, 0) : max(first + count, 0)]
    piece = np.pad(piece, (max(-first, 0), 0))[:count]
    piece = np.pad(piece, (0, count - len(piece)))
    return np.abs(np.fft.rfft(piece * np.hanning(count), size)) / count
