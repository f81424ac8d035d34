"""Notes that sound on beyond their written time: held too long, or played twice.

A player who counts wrong holds a note too long; one who stumbles plays it again. Where the second
start can hardly be seen the two look alike: of notes played twice that the follower missed 14 in
100 seem to begin again at the place that their time foretells, and of held notes 3. Both are
something else than a stop, for the sound goes on, and neither makes the next note late. So a note
that takes longer than the notes around it ask for, and sounds to the end of that time, is told as
what it surely is: it went on.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standlight.sound.following import OTHER, WRITTEN
from standlight.sound.harmonics import within
from standlight.sound.noting import OFFSET_DB, Frames
from standlight.sound.settling import Sounding
from standlight.sound.timing import FEWEST_ALIKE
from standlight.sound.values import HOP_S
from standlight.sound.written import WrittenLine

ODDS = (-0.163, 0.244, 2.8, -0.124, 0.126, 2.79, 1.0)
"""Log odds that it went on: a constant, then for each scatter that it is longer, the logarithm of
the excess (seconds), each decibel by which it falls into that time, each by which that lies above
the take's loud moments, and the shares of that time and of the written one at its pitch. Logistic
regression on five development seeds (720 faulty takes; `benchmarks/prolonged_odds.py`). Of 64
notes played twice that the follower had missed 51 are told, each seed by the others, and three
other places. No made player holds a note too long."""

NOTES_BESIDE, FEWEST_BESIDE = 6, 4
"""The pace is the middle one of so many notes to both sides, of at least so many in all."""

LEAST_EXCESS_S, LEAST_EXCESS_SHARE = 0.12, 0.20
"""Less than this, or than this share of the written time, is a tenuto and not asked about (our
choice)."""

SLOWER_SHARE = 0.10
"""A note must take so much longer than either neighbour's pace asks: else the music slows down.
Where the next one's is not known, as at the end, nobody can say."""

STEADIEST = 0.04
"""Nobody's steps scatter by less than this share, as far as a dozen of them tell."""

MOST_SCATTERS, EXCESS_S, DROP_DB, ABOVE_DB = 12.0, (0.11, 0.5), (-5.0, 20.0), (-25.0, 5.0)
"""Beyond these nothing more is told."""

OWN_PART, LATE_PART = (0.2, 0.7), (0.4, 0.9)
"""The middle of the written time, and of the time after it."""

INSIDE_AFTER_S, INSIDE_BEFORE_S, SMOOTHED_FRAMES = 0.10, 0.08, 3
"""Attacks left out, and smoothed over so many frames, what sinks as far as a note does that has
ended (`noting.OFFSET_DB`) is two tones and no held one. Of the notes that were told so on six
seeds none that was played twice sinks farther than 17.5 dB, and one of the others does; two more
did in the demo, whose player waits before a note beside a wrong one: 27 and 41 dB."""

RHYTHM_SHARE = 0.5
"""Where at least so much of the notes of one written value go on, and as many as show how it is
taken (`timing.FEWEST_ALIKE`), the player reads the value otherwise, as who plays dotted pairs
evenly: a rhythm and no stumble (our choice)."""

RUN_SHARE = 0.3
"""In a run of notes of one pitch one takes longer and the others, put together, are off by no more
than this share of it: else a start is told too late, the music slows down, or the follower is lost
in the run. Of 12 notes so told in 620 takes with known faults six were held, four played once more
than written, and two neither: there a note beside was left out or waited for (our choice)."""

LEAST_OWN_SHARE = 0.5
"""What goes on must have begun: else the player waited, and the start was told too early."""

NEAR_SEMITONES, SURE_WEIGHT = 0.5, 0.2
"""A frame is at the note's pitch within this, where it has one."""


@dataclass(frozen=True, slots=True)
class Prolonged:
    """The sounding at ``place`` took ``excess_s`` longer than the ``expected_s`` around it.

    ``scatters`` is the same in scatters of the player's own steps.
    """

    place: int
    expected_s: float
    excess_s: float
    scatters: float


def prolonged_of(
    soundings: Sequence[Sounding], line: WrittenLine, frames: Frames
) -> frozenset[int]:
    """The written notes, by index, whose last ``soundings`` surely go on beyond their time."""
    last = {one.index: place for place, one in enumerate(soundings) if one.kind == WRITTEN}
    found = frozenset(
        soundings[one.place].index
        for one in (*asked_of(soundings, line), *asked_of_runs(soundings, line))
        if one.place == last[soundings[one.place].index]
        and np.dot(ODDS, signs_of(one, soundings[one.place], frames)) > 0.0
        and _sounds_at_first(one, soundings[one.place], frames)
        and not _is_two(one, soundings[one.place], frames)
    )
    return found - _of_a_rhythm(found, frozenset(last), line)


def _of_a_rhythm(
    found: frozenset[int], sounded: frozenset[int], line: WrittenLine
) -> frozenset[int]:
    """Those ``found`` to go on whose written value mostly does, of the notes that ``sounded``."""
    of_value = Counter(float(line.step_quarters[index]) for index in sounded)
    longer = Counter(float(line.step_quarters[index]) for index in found)
    usual = {
        value
        for value, count in longer.items()
        if count >= max(FEWEST_ALIKE, RHYTHM_SHARE * of_value[value])
    }
    return frozenset(index for index in found if float(line.step_quarters[index]) in usual)


def asked_of(soundings: Sequence[Sounding], line: WrittenLine) -> list[Prolonged]:
    """Every written note that takes longer than those around it ask for.

    One with a neighbour of its own pitch is not asked about: there it may be the other's start
    that was not heard.
    """
    paces = paces_of(soundings, line)
    asked = [
        against_those_beside(place, paces, line.step_quarters[sounding.index])
        for place, sounding in enumerate(soundings[:-1])
        if sounding.kind == WRITTEN and not _has_equal(sounding.index, line)
    ]
    return [one for one in asked if one is not None]


def asked_of_runs(soundings: Sequence[Sounding], line: WrittenLine) -> list[Prolonged]:
    """Every note in a run of one pitch that takes longer, while the others of the run do not.

    Whichever start was not heard, something in the run then went on, and it is told of that note.
    """
    paces, asked = paces_of(soundings, line), []
    for places in _runs(soundings, line):
        quarters = {place: float(line.step_quarters[soundings[place].index]) for place in places}
        found = [against_those_beside(place, paces, quarters[place]) for place in places]
        for one in [one for one in found if one is not None]:
            pace = one.expected_s / quarters[one.place]
            off_s = sum(
                abs(soundings[place].until_s - soundings[place].onset_s - pace * quarters[place])
                for place in places
                if place != one.place
            )
            if off_s <= RUN_SHARE * one.excess_s:
                asked.append(one)
    return asked


def _runs(soundings: Sequence[Sounding], line: WrittenLine) -> list[list[int]]:
    """The places of every run of two or more written notes of one pitch with nothing between them.

    The very last sounding, whose end nothing tells, is in none.
    """
    runs: list[list[int]] = []
    for place, one in enumerate(soundings[:-1]):
        before = soundings[place - 1] if place else None
        follows = before is not None and (before.kind, before.index + 1) == (WRITTEN, one.index)
        if one.kind != WRITTEN:
            continue
        if follows and line.midi[before.index] == line.midi[one.index]:
            runs[-1].append(place)
        else:
            runs.append([place])
    return [run for run in runs if len(run) > 1]


def against_those_beside(place: int, paces: np.ndarray, quarters: float) -> Prolonged | None:
    """The note at ``place``, ``quarters`` long, against the ``paces``; None where it is in time.

    None too where those beside tell no pace, or the music slows down.
    """
    low, high = max(place - NOTES_BESIDE, 0), place + NOTES_BESIDE + 1
    beside = np.concatenate([paces[low:place], paces[place + 1 : high]])
    beside = beside[~np.isnan(beside)]
    if np.isnan(paces[place : place + 2]).any() or len(beside) < FEWEST_BESIDE:
        return None
    pace = float(np.median(beside))
    slowest = np.nanmax([pace, *paces[max(place - 1, 0) : place], paces[place + 1]])
    took_s, expected_s, slow_s = (
        float(np.exp(one) * quarters) for one in (paces[place], pace, slowest)
    )
    excess_s = took_s - expected_s
    in_time = excess_s < max(LEAST_EXCESS_S, LEAST_EXCESS_SHARE * expected_s)
    if in_time or took_s - slow_s < SLOWER_SHARE * expected_s:
        return None
    scatter = 1.4826 * float(np.median(np.abs(beside - pace)))
    return Prolonged(place, expected_s, excess_s, excess_s / (expected_s * max(scatter, STEADIEST)))


def signs_of(one: Prolonged, sounding: Sounding, frames: Frames) -> tuple[float, ...]:
    """What `ODDS` weighs: how much longer, and whether the same note sounds to the end."""
    written_s = sounding.onset_s + one.expected_s
    own = _part(sounding.onset_s, one.expected_s, OWN_PART, frames)
    late = _part(written_s, one.excess_s, LATE_PART, frames)
    own_db, late_db = (float(frames.level_db[part].mean()) for part in (own, late))
    return (
        1.0,
        min(one.scatters, MOST_SCATTERS),
        float(np.log(within(one.excess_s, EXCESS_S))),
        within(own_db - late_db, DROP_DB),
        within(late_db - frames.loud_db, ABOVE_DB),
        *(share_at_pitch(part, sounding.midi, frames) for part in (late, own)),
    )


def _sounds_at_first(one: Prolonged, sounding: Sounding, frames: Frames) -> bool:
    """True when the note sounds at its pitch in its own time, before it goes on."""
    own = _part(sounding.onset_s, one.expected_s, OWN_PART, frames)
    return share_at_pitch(own, sounding.midi, frames) >= LEAST_OWN_SHARE


def _is_two(one: Prolonged, sounding: Sounding, frames: Frames) -> bool:
    """True when the sound falls silent between its start and its end: two tones, whatever tones."""
    inside = frames.span(sounding.onset_s + INSIDE_AFTER_S, sounding.until_s - INSIDE_BEFORE_S)
    if len(inside) < SMOOTHED_FRAMES:
        return False
    own = _part(sounding.onset_s, one.expected_s, OWN_PART, frames)
    smooth = np.convolve(
        frames.level_db[inside], np.full(SMOOTHED_FRAMES, 1.0 / SMOOTHED_FRAMES), "valid"
    )
    return bool(smooth.min() < frames.level_db[own].mean() + OFFSET_DB)


def paces_of(soundings: Sequence[Sounding], line: WrittenLine) -> np.ndarray:
    """Log seconds a quarter from each sounding to the next, nan where it tells no pace."""
    paces = np.full(len(soundings), np.nan)
    for place, (one, after) in enumerate(zip(soundings[:-1], soundings[1:], strict=True)):
        follows = after.index == one.index + 1 and {one.kind, after.kind} <= {WRITTEN, OTHER}
        if follows and not line.free[one.index]:
            seconds = max(after.onset_s - one.onset_s, HOP_S)
            paces[place] = np.log(seconds / line.step_quarters[one.index])
    return paces


def _has_equal(index: int, line: WrittenLine) -> bool:
    """True when a note beside ``index`` has its pitch."""
    beside = line.midi[max(index - 1, 0) : index + 2]
    return int(np.sum(beside == line.midi[index])) > 1


def _part(
    start_s: float, seconds: float, shares: tuple[float, float], frames: Frames
) -> np.ndarray:
    """The frames between two shares of what begins at ``start_s`` and lasts ``seconds``."""
    first, last = (start_s + share * seconds for share in shares)
    return frames.span(first, last)


def share_at_pitch(part: np.ndarray, midi: float, frames: Frames) -> float:
    """Share of the frames that surely have the pitch ``midi``, 0..1."""
    near = np.abs(frames.midi[part] - midi) < NEAR_SEMITONES
    return float(np.mean(near & (frames.weight[part] > SURE_WEIGHT)))
