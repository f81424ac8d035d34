"""From the ticks of a MIDI file to written time: a fine grid, measures, voices.

A file saved by a notation program has its notes exactly where they are written, or a rounding
away; a performance that was played in has them nearby. The first is taken as it is, the second
is moved to the nearest sixty-fourth or sixteenth triplet.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from standlight.errors import UnreadableScore
from standlight.score.midi_piece import MidiMeter, MidiNote, MidiPiece

WRITTEN_DENOMINATORS = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 5, 10, 20, 7, 14, 28, 9, 18, 15)
"""Parts of a quarter at which written notes begin, the likeliest first (our choice)."""

PLAYED_DENOMINATORS = (16, 12)
"""Parts of a quarter to which a played performance is moved: 64ths and 16th triplets."""

WRITTEN_SHARE = Fraction(19, 20)
"""A file is a written one when so many of its onsets stand where notes are written (ours)."""

SLACK = Fraction(1, 5)
"""A note that ends so small a part of its length before the next, or after it, meets it (ours)."""

PLAIN_DENOMINATOR = 4
"""A note that ends on a sixteenth or an eighth triplet ends where it is written (our choice)."""

SHORTEST_QUARTERS = Fraction(1, 8)
"""Length given to a note that has none: a thirty-second (our choice)."""

LONGEST_STROKE_QUARTERS = Fraction(1)
"""A stroke is written no longer than a quarter: its length means nothing on channel 10."""

MOST_VOICES = 4
"""Voices written on one staff, as engraving practice has it; more is trimmed."""

MOST_MEASURES = 5_000
"""Five times the longest orchestral movement seen (943 measures)."""

Moment = Callable[[int], Fraction]
"""From a tick to quarters from the start."""


@dataclass(slots=True)
class Sounding:
    """Keys that begin and end together, in quarters from the start."""

    onset: Fraction
    end: Fraction
    keys: list[int]


@dataclass(frozen=True, slots=True)
class Bar:
    """One measure to write; ``new_meter`` when its meter is to be shown."""

    onset: Fraction
    length: Fraction
    meter: MidiMeter
    new_meter: bool


def moment_of(piece: MidiPiece) -> Moment:
    """A function from the file's ticks to written quarters.

    >>> from standlight.score.midi_piece import MidiTrack
    >>> notes = tuple(MidiNote(tick, 160, 60) for tick in (0, 160, 320, 480))
    >>> moment = moment_of(MidiPiece(480, (MidiTrack("Flute", 73, False, notes),)))
    >>> moment(160), moment(479)
    (Fraction(1, 3), Fraction(1, 1))
    """
    unit = piece.ticks_per_quarter
    onsets = {note.onset_ticks for track in piece.tracks for note in track.notes}
    written = {onset: written_moment(onset, unit) for onset in onsets}
    found = sum(moment is not None for moment in written.values())
    if found < WRITTEN_SHARE * len(onsets):
        return lambda tick: played_moment(tick, unit)

    def either(tick: int) -> Fraction:
        moment = written.get(tick, written_moment(tick, unit))
        return played_moment(tick, unit) if moment is None else moment

    return either


def written_moment(tick: int, unit: int) -> Fraction | None:
    """Where a note stands that is written at ``tick`` of ``unit`` a quarter; ``None`` for nowhere.

    A moment that the unit cannot hold may be rounded either way: a quarter of 480 ticks holds
    quintuplets but no septuplets.

    >>> written_moment(137, 480), written_moment(360, 480), written_moment(131, 480)
    (Fraction(2, 7), Fraction(3, 4), None)
    """
    exact = Fraction(tick, unit)
    if exact.denominator in WRITTEN_DENOMINATORS:
        return exact
    for denominator in WRITTEN_DENOMINATORS:
        if unit % denominator:
            near = Fraction(round(exact * denominator), denominator)
            if abs(near - exact) < Fraction(1, unit):
                return near
    return None


def played_moment(tick: int, unit: int) -> Fraction:
    """The nearest sixty-fourth or sixteenth triplet."""
    exact = Fraction(tick, unit)
    near = [Fraction(round(exact * parts), parts) for parts in PLAYED_DENOMINATORS]
    return min(near, key=lambda moment: abs(moment - exact))


def voices_of(
    notes: Iterable[MidiNote], moment: Moment, *, drums: bool
) -> list[list[Sounding]]:
    """The notes as voices without overlaps; what begins and ends together is one chord."""
    chords = _strokes(notes, moment) if drums else _chords(notes, moment)
    voices: list[list[Sounding]] = []
    for chord in chords:
        free = next((voice for voice in voices if voice[-1].end <= chord.onset), None)
        if free is not None:
            free.append(chord)
        elif len(voices) < MOST_VOICES:
            voices.append([chord])
        else:
            _squeeze(voices, chord)
    return voices


def bars_of(piece: MidiPiece, moment: Moment, end: Fraction) -> list[Bar]:
    """Measures by the time signatures, from 0 to the one that holds ``end``; 4/4 without any.

    A time signature inside a measure ends that measure there. Raises `UnreadableScore` for
    more measures than any piece has.
    """
    by_moment = {Fraction(0): MidiMeter(0, 4, 4)}
    for meter in sorted(piece.meters, key=lambda one: one.tick):
        by_moment[moment(meter.tick)] = meter
    starts = [start for start in sorted(by_moment) if start == 0 or start < end]
    bars: list[Bar] = []
    for start, stop in zip(starts, [*starts[1:], None], strict=True):
        meter = by_moment[start]
        length = Fraction(4 * meter.beats, meter.beat_unit)
        count = -(-((end if stop is None else stop) - start) // length)
        if len(bars) + count > MOST_MEASURES:
            raise UnreadableScore(
                f"the MIDI file fills {len(bars) + count:,} measures, more than {MOST_MEASURES:,}",
                slip="a note that never ends?",
            )
        for number in range(max(1, count)):
            onset = start + number * length
            room = length if stop is None else min(length, stop - onset)
            bars.append(Bar(onset, room, meter, number == 0))
    return bars


def begins_with_pickup(bars: Sequence[Bar]) -> bool:
    """True when the first meter lasts one measure and is shorter than the next.

    So notation programs write a pickup (common practice, no source).
    """
    return len(bars) > 1 and bars[1].new_meter and bars[0].length < bars[1].length


def _strokes(notes: Iterable[MidiNote], moment: Moment) -> list[Sounding]:
    """Strokes, those of one moment together, each as long as until the next."""
    keys: dict[Fraction, set[int]] = {}
    for note in notes:
        keys.setdefault(moment(note.onset_ticks), set()).add(note.midi)
    onsets = sorted(keys)
    ends = [*onsets[1:], *(onset + LONGEST_STROKE_QUARTERS for onset in onsets[-1:])]
    return [
        Sounding(onset, min(end, onset + LONGEST_STROKE_QUARTERS), sorted(keys[onset]))
        for onset, end in zip(onsets, ends, strict=True)
    ]


def _chords(notes: Iterable[MidiNote], moment: Moment) -> list[Sounding]:
    """Chords in order of onset, the highest first; small gaps closed, repeated keys trimmed."""
    lasting: dict[tuple[Fraction, int], Fraction] = {}
    for note in notes:
        place = (moment(note.onset_ticks), note.midi)
        end = moment(note.onset_ticks + note.duration_ticks)
        lasting[place] = max(end, lasting.get(place, end))
    onsets = sorted({onset for onset, _ in lasting})
    again: dict[int, list[Fraction]] = {}
    for onset, key in sorted(lasting):
        again.setdefault(key, []).append(onset)
    chords: dict[tuple[Fraction, Fraction], list[int]] = {}
    for (onset, key), end in lasting.items():
        written = _written_end(onset, end, _after(onsets, onset))
        struck = _after(again[key], onset)
        if struck is not None:
            written = min(written, struck)
        chords.setdefault((onset, written), []).append(key)
    found = [Sounding(onset, end, sorted(keys)) for (onset, end), keys in chords.items()]
    return sorted(found, key=lambda chord: (chord.onset, -chord.keys[-1]))


def _written_end(onset: Fraction, end: Fraction, following: Fraction | None) -> Fraction:
    """Where a note's written value ends: at the next note when it nearly does."""
    if end <= onset:
        end = onset + SHORTEST_QUARTERS
        return end if following is None else min(end, following)
    if following is None or end.denominator <= PLAIN_DENOMINATOR:
        return end
    longer = max(end, following) - onset
    return following if abs(end - following) <= SLACK * longer else end


def _after(moments: Sequence[Fraction], moment: Fraction) -> Fraction | None:
    """The first of the sorted ``moments`` after ``moment``."""
    place = bisect_right(moments, moment)
    return moments[place] if place < len(moments) else None


def _squeeze(voices: list[list[Sounding]], chord: Sounding) -> None:
    """Find room for a chord where all voices sound: cut the oldest, or join one begun now."""
    oldest = min(voices, key=lambda voice: voice[-1].onset)
    if oldest[-1].onset < chord.onset:
        oldest[-1].end = chord.onset
        oldest.append(chord)
        return
    keys = oldest[-1].keys
    keys.extend(key for key in chord.keys if key not in keys)
