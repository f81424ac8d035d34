"""What a read score is: frozen values, exact times, remarks beside them."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from standlight.music import Note


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing noticed while reading; ``code`` for machines, ``sentence`` for people."""

    code: str
    sentence: str
    part: int | None = None
    measure: int | None = None


@dataclass(frozen=True, slots=True)
class Measure:
    """One written measure, by 0-based ``index``; ``printed`` is the number on paper, may repeat.

    ``tempo_qpm`` is the tempo in force at its start in quarters a minute,
    ``tempo_beat_quarters`` the note value that the print counts it in.
    """

    index: int
    printed: str
    movement: int
    onset_quarters: Fraction
    length_quarters: Fraction
    beats: int
    beat_unit: int
    tempo_qpm: float | None = None
    rehearsal: str | None = None
    tempo_beat_quarters: Fraction | None = None


SIGN_KINDS = frozenset({"crescendo", "diminuendo", "fermata_on_rest", "multi_rest"})
"""What a `Sign` may be: hairpins (or the words for them), a held rest, rests counted together."""


@dataclass(frozen=True, slots=True)
class Sign:
    """Something printed that belongs to no single note, of a kind in `SIGN_KINDS`.

    ``end_quarters`` equals the onset where the print shows no end ("cresc."); ``count``
    is the number of measures of a multi-rest.
    """

    kind: str
    onset_quarters: Fraction
    end_quarters: Fraction
    measure: int
    staff: int = 1
    count: int = 0


@dataclass(frozen=True, slots=True)
class Part:
    """One written line of the score; ``notes`` in time order, chords kept, grace notes left out.

    ``key_fifths`` has one entry a measure: sharps (or minus flats) of the written key
    signature at its start. ``signs`` are in time order.
    """

    index: int
    name: str
    instrument: str
    transposition_semitones: int
    notes: tuple[Note, ...] = field(repr=False)
    staves: int = 1
    voices: tuple[str, ...] = ("1",)
    key_fifths: tuple[int, ...] = field(default=(), repr=False)
    signs: tuple[Sign, ...] = field(default=(), repr=False)

    @property
    def unpitched(self) -> bool:
        """True when every note is a stroke without pitch, and there is one."""
        return bool(self.notes) and all(note.midi is None for note in self.notes)

    @property
    def lowest_midi(self) -> int | None:
        """Lowest sounding pitch, ``None`` when the part has no pitched note."""
        return min((note.midi for note in self.notes if note.midi is not None), default=None)

    @property
    def highest_midi(self) -> int | None:
        """Highest sounding pitch, ``None`` when the part has no pitched note."""
        return max((note.midi for note in self.notes if note.midi is not None), default=None)


@dataclass(frozen=True, slots=True)
class Score:
    """A read piece: written order, play order as measure indexes, and the reader's remarks."""

    title: str
    composer: str
    movements: tuple[str, ...]
    parts: tuple[Part, ...]
    measures: tuple[Measure, ...] = field(repr=False)
    play_order: tuple[int, ...] = field(repr=False)
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class Passage:
    """A few measures of one part, as handed to a musician and to the listening.

    ``notes`` are what one player plays in order: one at a time (of a chord the top note,
    or the bottom one where the player has the lower line), tied notes merged, no grace
    notes; onsets count from the passage's start and ``measure`` from 0 at its first
    measure. ``midi`` is sounding pitch. Note ``i`` carries the id ``n{i}`` in the
    engraved SVG. ``printed`` reads as on paper ("33 to 40"). ``several_at_once`` when the
    player has every note of a divided part, of which ``notes`` are the upper line only.
    """

    part_name: str
    instrument: str
    printed: str
    measures: tuple[Measure, ...]
    notes: tuple[Note, ...]
    length_quarters: Fraction
    tempo_qpm: float | None = None
    several_at_once: bool = False
