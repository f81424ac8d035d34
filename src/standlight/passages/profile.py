"""One part in numbers: what each measure holds, so that any window is a difference of sums.

Times are seconds of playing, never quarters: writing the same music in values twice as
long at twice the tempo changes nothing here. Rhythm is measured in beats of the meter,
pitch in sounding semitones (key and accidentals as written in the part).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from standlight.music import LOUDNESS_ORDER, Note
from standlight.passages.rhythm import Figure, Meter, figure_of, meter_of
from standlight.passages.tables import InstrumentRanges, Tables
from standlight.score import INSTRUMENTS, Instrument, Measure, Part, Score, player_line

DEFAULT_BEATS_A_MINUTE = 96.0
"""Where neither the score nor the director gives a tempo: a moderate march (common practice)."""

WIDEST_STEP_SEMITONES = 4
"""Beyond a major third an interval is a leap (common practice, no source)."""

LONG_NOTE_S = 0.5
"""A note this long can be heard for tone and tuning; shorter ones barely (our choice)."""

QUICK_NOTE_S = 0.3
"""Onsets closer than this make a quick run (about eighth notes at 100; our choice)."""

SHORTEST_RUN = 4
"""Equal quick notes in a row that make a run (our choice)."""

BREATH_GAP_S = 0.1
"""A rest at least this long lets a player breathe (our choice)."""

BREAK_WRITTEN_MIDI = 70.5
"""Between written B-flat 4 and B 4 a clarinet changes register (common practice, no source)."""

GROUPS = ("lines", "percussion", "harp and keyboard")
"""Whose demands are compared with each other: one line at a time (winds, strings, voices);
percussion; two hands on two staves, whose chords and spans no single line has (score
trials: percussion and harp drive the gap)."""

_MAJOR_STEPS = np.array([0, 2, 4, 5, 7, 9, 11])
_DYNAMIC_RANK = {level: rank for rank, level in enumerate(LOUDNESS_ORDER)}

_SUMMED = (
    "sounding_s", "onsets", "off_beat", "syncopation", "uneven", "tuplets", "pitched", "leaps",
    "accidentals", "range_place", "above_range", "below_range", "long_notes",
    "long_s", "slurs", "slurred", "staccatos", "accents", "tenutos", "tonguing_changes",
    "dynamic_changes", "hairpins", "break_crossings", "over_break", "shifted", "syllables",
    "melismas", "quick_runs",
)  # fmt: skip
"""Fields of `Held` that are sums over measures (of the notes that begin there)."""


@dataclass(frozen=True, slots=True)
class Clock:
    """The piece's measures in playing time, arrays of shape (n_measures + 1,) and below.

    ``starts_s`` and ``starts_quarters`` end with the end of the piece; ``follows[i]`` says
    that measure i + 1 is ever played right after measure i; shape (n_measures,). ``meters``
    have an entry a measure, ``meter_numbers`` too: equal for equal meters.
    """

    starts_s: np.ndarray
    starts_quarters: np.ndarray
    seconds_a_quarter: np.ndarray
    movements: np.ndarray
    follows: np.ndarray
    meters: tuple[Meter, ...]
    meter_numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class PartProfile:
    """What each measure of one part holds.

    ``group`` is one of `GROUPS`: parts are compared inside their group only. ``sums`` maps
    a summed field to its running sum, shape (n_measures + 1,); the other arrays have a row
    a measure. ``phrases_s`` are the stretches without a rest, shape (n, 2), in seconds
    from the start of the piece. ``written_shift`` is sounding minus
    written in semitones; ``shortest_quarters`` the shortest value, inf in a rest.
    """

    index: int
    name: str
    instrument: str
    family: str
    group: str
    unpitched: bool
    has_range: bool
    has_first_position: bool
    written_shift: int
    sums: dict[str, np.ndarray]
    intervals: np.ndarray
    pitches: np.ndarray
    dynamics: np.ndarray
    highest: np.ndarray
    lowest: np.ndarray
    fifths: np.ndarray
    phrases_s: np.ndarray
    held_into: np.ndarray
    silent_before: np.ndarray
    empty: np.ndarray
    ends_long: np.ndarray
    shortest_quarters: np.ndarray


def clock_of(score: Score, tempo_qpm: float | None = None) -> Clock:
    """The measures in seconds at ``tempo_qpm``, or at the score's own tempos.

    Before its first tempo a score is taken at that; without any at a moderate beat.
    """
    lengths = np.array([float(one.length_quarters) for one in score.measures])
    tempo, tempos = None, []
    for measure in score.measures:
        tempo = measure.tempo_qpm or tempo
        tempos.append(tempo_qpm or tempo)
    meters = tuple(map(meter_of, score.measures, (None, *score.measures)))
    usual = DEFAULT_BEATS_A_MINUTE * float(meters[0].beat_quarters)
    first = next((one for one in tempos if one), usual)
    pace = np.array([60.0 / (one or first) for one in tempos])
    pairs = set(zip(score.play_order, score.play_order[1:], strict=False))
    numbers: dict[Meter, int] = {}
    return Clock(
        starts_s=np.concatenate([[0.0], np.cumsum(lengths * pace)]),
        starts_quarters=np.concatenate([[0.0], np.cumsum(lengths)]),
        seconds_a_quarter=pace,
        movements=np.array([one.movement for one in score.measures]),
        follows=np.array([(at, at + 1) in pairs for at in range(len(score.measures))]),
        meters=meters,
        meter_numbers=tuple(numbers.setdefault(one, len(numbers)) for one in meters),
    )


def profile_of(score: Score, part: Part, clock: Clock, tables: Tables) -> PartProfile:
    """The profile of one part's upper line (as `player_line` takes it)."""
    line = player_line(part.notes)
    known = INSTRUMENTS.get(part.instrument)
    count = len(score.measures)
    counting = _Counting(count, len(line))
    times = _Times(line, clock)
    measures = np.array([note.measure for note in line], dtype=int)
    _count_time(counting, measures, times, clock)
    intervals = _count_rhythm(counting, score.measures, clock, line)
    ranges = tables.ranges.get(part.instrument)
    midi = np.array([np.nan if note.midi is None else note.midi for note in line], dtype=float)
    keys = np.array(part.key_fifths or (0,) * count)
    _count_pitch(counting, part, line, midi, measures, keys, ranges)
    _count_marks(counting, line, measures)
    dynamics = _count_dynamics(counting, part, line, measures)
    highest, lowest = np.full(count, -np.inf), np.full(count, np.inf)
    sounding = ~np.isnan(midi)
    np.maximum.at(highest, measures[sounding], midi[sounding])
    np.minimum.at(lowest, measures[sounding], midi[sounding])
    lowest_pitch = int(np.nanmin(midi)) if sounding.any() else 0
    held_into, silent_before = _edges(times, clock, count)
    shortest = np.full(count, np.inf)
    np.minimum.at(shortest, measures, [float(note.duration_quarters) for note in line])
    struck = np.diff(counting.running()["onsets"])
    return PartProfile(
        index=part.index,
        name=part.name,
        instrument=part.instrument,
        family=known.family if known else "other",
        group=_group_of(part, known),
        unpitched=part.unpitched,
        has_range=ranges is not None and not part.unpitched,
        has_first_position=_first_position(part) is not None,
        written_shift=part.transposition_semitones,
        sums=counting.running(),
        intervals=intervals,
        pitches=_presence(measures[sounding], midi[sounding].astype(int) - lowest_pitch, count),
        dynamics=dynamics,
        highest=highest,
        lowest=lowest,
        fifths=np.abs(keys).astype(float),
        phrases_s=_phrases(line, times),
        held_into=held_into,
        silent_before=silent_before,
        empty=(struck == 0) & ~held_into,
        ends_long=_ends_long(measures, times, count),
        shortest_quarters=shortest,
    )


def _group_of(part: Part, known: Instrument | None) -> str:
    """The group of a part, by its instrument's row; unpitched parts are percussion."""
    if part.unpitched or (known is not None and known.family == "percussion"):
        return "percussion"
    return "harp and keyboard" if known is not None and known.clef == "GF" else "lines"


class _Times:
    """When each note of a line sounds, in seconds; arrays of shape (n_notes,)."""

    def __init__(self, line: Sequence[Note], clock: Clock) -> None:
        onset_quarters = np.array([float(note.onset_quarters) for note in line])
        length_quarters = np.array([float(note.duration_quarters) for note in line])
        self.onset_s = seconds_at(clock, onset_quarters)
        self.end_s = seconds_at(clock, onset_quarters + length_quarters)
        self.to_next_s = np.append(np.diff(self.onset_s), self.end_s[-1:] - self.onset_s[-1:])


def seconds_at(clock: Clock, quarters: np.ndarray) -> np.ndarray:
    """Playing time in seconds of score times in quarters, same shape."""
    last = len(clock.seconds_a_quarter) - 1
    measure = np.clip(
        np.searchsorted(clock.starts_quarters, quarters + 1e-9, side="right") - 1, 0, last
    )
    within = quarters - clock.starts_quarters[measure]
    return clock.starts_s[measure] + within * clock.seconds_a_quarter[measure]


class _Counting:
    """Sums over measures under way."""

    def __init__(self, n_measures: int, n_notes: int) -> None:
        self.n_measures, self.n_notes = n_measures, n_notes
        self.by_measure: dict[str, np.ndarray] = {}

    def add(
        self, name: str, measures: np.ndarray, values: np.ndarray | Sequence[float] | None = None
    ) -> None:
        """Add ``values`` (or one each) to the measures they belong to."""
        weights = None if values is None else np.asarray(values, dtype=float)
        counted = np.bincount(measures, weights, self.n_measures).astype(float)
        self.by_measure[name] = self.by_measure.get(name, 0.0) + counted

    def running(self) -> dict[str, np.ndarray]:
        """Running sums of every summed field, from 0."""
        nothing = np.zeros(self.n_measures)
        return {
            name: np.concatenate([[0.0], np.cumsum(self.by_measure.get(name, nothing))])
            for name in _SUMMED
        }


def _count_time(
    counting: _Counting, measures: np.ndarray, times: _Times, clock: Clock
) -> None:
    """Sounding seconds (in the measures they sound in), onsets, long notes, quick runs."""
    for reach in range(int(_longest_reach(measures, times, clock)) + 1):
        at = measures + reach
        inside = at < counting.n_measures
        at = at[inside]
        start = np.maximum(times.onset_s[inside], clock.starts_s[at])
        end = np.minimum(times.end_s[inside], clock.starts_s[at + 1])
        counting.add("sounding_s", at, np.clip(end - start, 0.0, None))
    counting.add("onsets", measures)
    length = times.end_s - times.onset_s
    counting.add("long_notes", measures, length >= LONG_NOTE_S)
    counting.add("long_s", measures, np.where(length >= LONG_NOTE_S, length, 0.0))
    counting.add("quick_runs", measures, _in_quick_runs(times.to_next_s))


def _longest_reach(measures: np.ndarray, times: _Times, clock: Clock) -> int:
    """Over how many barlines the longest-held note sounds."""
    if not len(measures):
        return 0
    last = np.searchsorted(clock.starts_s, times.end_s - 1e-6, side="right") - 1
    return max(0, int((last - measures).max()))


def _in_quick_runs(to_next_s: np.ndarray) -> np.ndarray:
    """For each note whether it is in a run of at least `SHORTEST_RUN` equal quick ones."""
    quick = to_next_s < QUICK_NOTE_S
    same = np.isclose(to_next_s[1:], to_next_s[:-1], rtol=0.02) & quick[1:] & quick[:-1]
    inside = np.zeros(len(to_next_s), dtype=bool)
    start = 0
    for at in range(1, len(to_next_s) + 1):
        if at == len(to_next_s) or not same[at - 1]:
            if at - start >= SHORTEST_RUN:
                inside[start:at] = True
            start = at
    return inside


def _count_rhythm(
    counting: _Counting, measures: Sequence[Measure], clock: Clock, line: Sequence[Note]
) -> np.ndarray:
    """Syncopation, kinds of values; returns the presence of each time to the next onset.

    Counted in whole ticks, and each figure is worked out once, since a piece says the same
    few of them thousands of times.
    """
    fractions = [note.onset_quarters for note in line] + [note.duration_quarters for note in line]
    starts = [measures[note.measure].onset_quarters for note in line]
    resolution = math.lcm(1, *{one.denominator for one in (*fractions, *starts)})

    def ticks(quarters: Fraction) -> int:
        return quarters.numerator * (resolution // quarters.denominator)

    onsets = [ticks(one) for one in fractions[: len(line)]]
    lengths = [ticks(one) for one in fractions[len(line) :]]
    to_next = [after - before for before, after in zip(onsets, onsets[1:], strict=False)]
    to_next += lengths[-1:]
    known: dict[tuple[int, int, int, int], Figure] = {}
    figures = []
    for place, note in enumerate(line):
        key = (
            onsets[place] - ticks(starts[place]),
            to_next[place],
            lengths[place],
            clock.meter_numbers[note.measure],
        )
        figure = known.get(key)
        if figure is None:
            quarters = (Fraction(one, resolution) for one in key[:3])
            figure = known[key] = figure_of(clock.meters[note.measure], *quarters)
        figures.append(figure)
    where = np.array([note.measure for note in line], dtype=int)
    counting.add("off_beat", where, [one.off_beat for one in figures])
    counting.add("syncopation", where, [one.syncopation for one in figures])
    counting.add("uneven", where, [one.kind != "plain" for one in figures])
    counting.add("tuplets", where, [one.kind == "tuplet" for one in figures])
    numbered: dict[Fraction, int] = {}
    classes = [numbered.setdefault(one.to_next_beats, len(numbered)) for one in figures]
    return _presence(where, np.array(classes, dtype=int), len(measures))


def _count_pitch(
    counting: _Counting,
    part: Part,
    line: Sequence[Note],
    midi: np.ndarray,
    measures: np.ndarray,
    keys: np.ndarray,
    ranges: InstrumentRanges | None,
) -> None:
    """Leaps, accidentals, place in the range, clarinet break, position on a string."""
    sounding = ~np.isnan(midi)
    counting.add("pitched", measures, sounding)
    steps = np.abs(np.diff(midi))
    counting.add("leaps", measures[1:], np.nan_to_num(steps) > WIDEST_STEP_SEMITONES)
    written = np.array([note.written_midi or 0 for note in line], dtype=int)
    outside = ~np.isin((written - 7 * keys[measures]) % 12, _MAJOR_STEPS) & sounding
    counting.add("accidentals", measures, outside)
    if ranges is not None:
        low, high = ranges.school.low_midi, ranges.school.high_midi
        middle, reach = (low + high) / 2, max(1.0, (high - low) / 2)
        counting.add("range_place", measures, np.nan_to_num(np.abs(midi - middle) / reach))
        counting.add("above_range", measures, np.nan_to_num(midi) > high)
        counting.add("below_range", measures, np.where(sounding, midi, high) < low)
    if "clarinet" in part.instrument.lower():
        over = written > BREAK_WRITTEN_MIDI
        counting.add("over_break", measures, over)
        counting.add("break_crossings", measures[1:], over[1:] != over[:-1])
    top = _first_position(part)
    if top is not None:
        counting.add("shifted", measures, np.nan_to_num(midi) > top)


def _first_position(part: Part) -> int | None:
    """The highest sounding note of first position: what a string player's first year reaches."""
    known = INSTRUMENTS.get(part.instrument)
    if known is None or known.family != "strings" or known.grade_ranges_midi[0] is None:
        return None
    return known.grade_ranges_midi[0][1]


def _count_marks(counting: _Counting, line: Sequence[Note], measures: np.ndarray) -> None:
    """Articulation and text."""
    marks = [note.marks for note in line]
    for name, words in (("slurs", ("slur_start",)), ("slurred", ("slurred", "slur_stop")),
                        ("staccatos", ("staccato",)), ("accents", ("accent", "marcato")),
                        ("tenutos", ("tenuto",))):  # fmt: skip
        counting.add(name, measures, [any(word in one for word in words) for one in marks])
    touch = [one & {"slurred", "slur_stop", "staccato", "accent", "marcato", "tenuto"}
             for one in marks]  # fmt: skip
    joined = [("slurred" in one or "slur_stop" in one, one - {"slurred", "slur_stop"})
              for one in touch]  # fmt: skip
    changes = [before != after for before, after in zip(joined, joined[1:], strict=False)]
    counting.add("tonguing_changes", measures[1:], changes)
    sung = np.array([note.lyric is not None for note in line], dtype=bool)
    counting.add("syllables", measures, sung)
    if sung.any():
        held = ~sung
        counting.add("melismas", measures[1:], held[1:] & sung[:-1])


def _count_dynamics(
    counting: _Counting, part: Part, line: Sequence[Note], measures: np.ndarray
) -> np.ndarray:
    """Changes of level and hairpins; returns the presence of each level."""
    ranks = np.array([_DYNAMIC_RANK.get(note.dynamic or "", -1) for note in line], dtype=int)
    changed = (ranks[1:] != ranks[:-1]) & (ranks[1:] >= 0) & (ranks[:-1] >= 0)
    counting.add("dynamic_changes", measures[1:], changed)
    hairpins = [sign.measure for sign in part.signs if sign.kind in ("crescendo", "diminuendo")]
    counting.add("hairpins", np.array(hairpins, dtype=int))
    marked = ranks >= 0
    presence = np.zeros((counting.n_measures, len(LOUDNESS_ORDER)), dtype=bool)
    presence[measures[marked], ranks[marked]] = True
    return presence


def _presence(measures: np.ndarray, classes: np.ndarray, count: int) -> np.ndarray:
    """Which classes (0-based) occur in which measure, bool of shape (count, n_classes)."""
    presence = np.zeros((count, int(classes.max(initial=-1)) + 1), dtype=bool)
    presence[measures, classes] = True
    return presence


def _phrases(line: Sequence[Note], times: _Times) -> np.ndarray:
    """Stretches without a rest or breath mark, shape (n, 2), seconds."""
    if not line:
        return np.zeros((0, 2))
    marked = np.array(["breath_after" in note.marks for note in line[:-1]], dtype=bool)
    cut = (times.onset_s[1:] - times.end_s[:-1] >= BREATH_GAP_S) | marked
    starts = np.concatenate([times.onset_s[:1], times.onset_s[1:][cut]])
    ends = np.concatenate([times.end_s[:-1][cut], times.end_s[-1:]])
    return np.stack([starts, ends], axis=1)


def _edges(times: _Times, clock: Clock, count: int) -> tuple[np.ndarray, np.ndarray]:
    """For each measure: whether a note is held into it, and whether silence comes before it."""
    starts = clock.starts_s[:count]
    at = np.searchsorted(times.onset_s, starts - 1e-6) - 1
    if not len(times.end_s):
        return np.zeros(count, dtype=bool), np.ones(count, dtype=bool)
    until = np.where(at >= 0, times.end_s[np.maximum(at, 0)], -np.inf)
    return until > starts + 1e-6, until < starts - BREATH_GAP_S


def _ends_long(measures: np.ndarray, times: _Times, count: int) -> np.ndarray:
    """For each measure: whether its last note lasts at least twice as long as those before it."""
    long = np.zeros(count, dtype=bool)
    length = times.end_s - times.onset_s
    for place in range(1, len(measures)):
        last_here = place + 1 == len(measures) or measures[place + 1] != measures[place]
        if last_here and length[place] >= 2 * length[place - 1] - 1e-6:
            long[measures[place]] = True
    return long
