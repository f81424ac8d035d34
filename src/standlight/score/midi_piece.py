"""What a MIDI file holds, as values: tracks of notes, meters, keys and tempos, in ticks."""

from __future__ import annotations

from dataclasses import dataclass

from standlight.errors import UnreadableScore

LARGEST_METER = 64
"""Most beats of a meter, and its shortest beat (a 64th note): beyond any printed meter."""

HIGHEST_KEY = 127
"""MIDI 1.0: a key, a program, a velocity are seven bits."""

MOST_NOTES = 150_000
"""Twice the notes of the largest orchestral movement seen (36 parts x 943 measures: 68,000)."""

MOST_CHANGES = 20_000
"""Tempos, keys and time signatures together; a ritardando in small steps has some hundreds."""


@dataclass(frozen=True, slots=True)
class MidiNote:
    """One note: begin and length in ticks, ``midi`` the key that sounds (0 to 127)."""

    onset_ticks: int
    duration_ticks: int
    midi: int

    def __post_init__(self) -> None:
        """Refuse a note before the beginning, of negative length, or off the keys."""
        if self.onset_ticks < 0 or self.duration_ticks < 0 or not 0 <= self.midi <= HIGHEST_KEY:
            raise UnreadableScore(
                f"a MIDI note of key {self.midi} at tick {self.onset_ticks} is impossible",
                slip="a damaged file?",
            )


@dataclass(frozen=True, slots=True)
class MidiTrack:
    """The notes of one track and channel; ``program`` counts from 0, ``drums`` is channel 10."""

    name: str
    program: int
    drums: bool
    notes: tuple[MidiNote, ...]


@dataclass(frozen=True, slots=True)
class MidiMeter:
    """A time signature from a tick on: ``beats`` over ``beat_unit``."""

    tick: int
    beats: int
    beat_unit: int

    def __post_init__(self) -> None:
        """Refuse what is no meter."""
        known = all(1 <= value <= LARGEST_METER for value in (self.beats, self.beat_unit))
        if not known or self.beat_unit & (self.beat_unit - 1):
            raise UnreadableScore(
                f"a time signature of {self.beats}/{self.beat_unit} is none", slip="a damaged file?"
            )


@dataclass(frozen=True, slots=True)
class MidiPiece:
    """A whole file; ``keys`` are (tick, sharps or minus flats), ``tempos`` (tick, quarters/min)."""

    ticks_per_quarter: int
    tracks: tuple[MidiTrack, ...]
    meters: tuple[MidiMeter, ...] = ()
    keys: tuple[tuple[int, int], ...] = ()
    tempos: tuple[tuple[int, float], ...] = ()

    def __post_init__(self) -> None:
        """Refuse a file without a unit of time or a note, or with more than is read."""
        if self.ticks_per_quarter <= 0:
            raise UnreadableScore("the MIDI file has no unit of time", slip="a damaged file?")
        n_changes = len(self.meters) + len(self.keys) + len(self.tempos)
        if n_changes > MOST_CHANGES:
            raise UnreadableScore(
                f"the MIDI file changes tempo, key or meter {n_changes:,} times",
                slip="a damaged file?",
            )
        n_notes = sum(len(track.notes) for track in self.tracks)
        if n_notes == 0:
            raise UnreadableScore("the MIDI file has no note", slip="exported empty?")
        if n_notes > MOST_NOTES:
            raise UnreadableScore(
                f"the MIDI file has {n_notes:,} notes, more than {MOST_NOTES:,}",
                slip="several pieces in one file?",
            )
