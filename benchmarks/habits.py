"""What musicians in schools do and the usual takes never hold, one habit a take: how is it told?

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/habits.py --seed 4501 [--takes 24]
[--only twelfth,more] [--list]``.
The generator of `benchmarks/listening.py` plans faults one by one. Here a take has none but one
habit: notes overblown to the twelfth, a repeated note played once too often, a hard place at half
speed, every second or third note wrong, a note with the pitch of the one before it or after it,
notes slid up to, a metronome beside it, playing on past the end of the passage, or beginning before
it. Prints how often each is told for what it is. A seed that it is run on is seen.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np

from benchmarks.hearing import lines, playing, takes, tones
from benchmarks.hearing.accuracy import on_both_cores, told_of
from benchmarks.hearing.intervals import proportion
from benchmarks.hearing.judging import ADDED_WINDOW_S, told_outcome
from standlight.listening import METHOD
from standlight.score.values import Passage
from standlight.sound import Recording

TWELFTH_SEMITONES, TWELFTHS = 19.02, 3
SLOWER, SLOW_NOTES = 2.0, (4, 10)
"""How much slower a hard place is played, and how many notes it has (our choice)."""

WRONG_SHARE = (0.35, 0.5)
"""Share of the notes that a weak reader plays wrong (our choice)."""

BESIDE_SEMITONES, BESIDE = 5, 3
CLICK_S, CLICK_DIES_S, CLICK_HZ, CLICK_DB = 0.1, 0.012, (900.0, 2_400.0), (-12.0, 0.0)
"""A click's length, the time in which it dies to a third, its pitch, and how loud it is against the
loud moments of the take (our choice)."""

SCOOPS, SCOOP_CENTS, SCOOP_S = 5, (150.0, 190.0), (0.1, 0.25)
"""How many notes are slid up to, from how far below and for about how long (our choice)."""

KEPT_SHARE = 0.6
"""So much of the line is the passage where the player goes on, or begins before it."""

NEAR_ENOUGH = 0.5
"""A told pitch is right within this, semitones."""

SAME_RUN_S = 6.0
"""Notes of its pitch that begin so near to an added one may be of its run."""

Sounds = tuple[playing.Sound, ...]


def twelfths(rng: np.random.Generator, line: lines.Line, sounds: Sounds) -> Sounds | None:
    """Notes overblown to the twelfth, as a clarinet does."""
    return _wrong(sounds, _apart(rng, len(sounds), TWELFTHS), lambda _: TWELFTH_SEMITONES)


def more(rng: np.random.Generator, line: lines.Line, sounds: Sounds) -> Sounds | None:
    """A note that is written twice or oftener, played once more in its own time; None without."""
    midi = [note.midi for note in line.passage.notes]
    runs = [at for at in range(2, len(midi) - 1) if midi[at] == midi[at - 1]]
    if not runs:
        return None
    at = int(rng.choice(runs))
    step_s = sounds[at].onset_s - sounds[at - 1].onset_s
    extra = replace(sounds[at], index=None, kind="added_more", joined=False)
    later = tuple(replace(one, onset_s=one.onset_s + step_s) for one in sounds[at:])
    return (*sounds[:at], extra, *later)


def half_speed(rng: np.random.Generator, line: lines.Line, sounds: Sounds) -> Sounds | None:
    """A stretch of notes at half speed, everything else in time."""
    count = int(rng.integers(*SLOW_NOTES))
    first = int(rng.integers(2, max(3, len(sounds) - count - 2)))
    start_s = sounds[first].onset_s
    end_s = sounds[min(first + count, len(sounds) - 1)].onset_s

    def warped(at_s: float) -> float:
        inside_s = min(max(at_s - start_s, 0.0), end_s - start_s)
        return at_s + (SLOWER - 1.0) * inside_s

    return tuple(
        replace(one, onset_s=warped(one.onset_s),
                seconds=warped(one.onset_s + one.seconds) - warped(one.onset_s))
        for one in sounds
    )  # fmt: skip


def weak(rng: np.random.Generator, line: lines.Line, sounds: Sounds) -> Sounds | None:
    """Many wrong notes, each up to a third off, in the right rhythm."""
    count = round(float(rng.uniform(*WRONG_SHARE)) * len(sounds))
    places = rng.permutation(len(sounds))[:count]
    return _wrong(sounds, places, lambda _: int(rng.choice(playing.OTHER_STEPS)))


def beside(rng: np.random.Generator, line: lines.Line, sounds: Sounds) -> Sounds | None:
    """Wrong notes with the pitch of the note before or after; None where none is near."""
    midi = [note.midi for note in line.passage.notes]

    def off(at: int) -> int:
        near = [midi[at + step] - midi[at] for step in (-1, 1)]
        near = [one for one in near if 0 < abs(one) <= BESIDE_SEMITONES]
        return int(rng.choice(near)) if near else 0

    places = [at for at in _apart(rng, len(sounds), BESIDE) if off(at)]
    return _wrong(sounds, places, off) if places else None


def scooped(rng: np.random.Generator, line: lines.Line, sounds: Sounds) -> Sounds | None:
    """Notes that begin nearly a whole tone too low and slide up."""
    made = list(sounds)
    for at in _apart(rng, len(sounds), SCOOPS):
        cents = -float(rng.uniform(*SCOOP_CENTS))
        made[at] = replace(made[at], scoop_cents=cents, scoop_s=float(rng.uniform(*SCOOP_S)),
                           joined=False)  # fmt: skip
    return tuple(made)


def _apart(rng: np.random.Generator, count: int, wanted: int) -> list[int]:
    """Up to ``wanted`` places of ``count``, apart from each other and from both ends."""
    found: list[int] = []
    for at in map(int, rng.permutation(np.arange(2, count - 2))):
        if len(found) < wanted and all(abs(at - one) > playing.LEAST_APART for one in found):
            found.append(at)
    return found


def _wrong(sounds: Sounds, places: Any, off: Callable[[int], float]) -> Sounds:
    """``sounds`` with wrong notes at ``places``, each ``off`` by so many semitones."""
    made = list(sounds)
    for at in map(int, places):
        made[at] = replace(made[at], kind="other", midi=made[at].midi + off(at), joined=False)
    return tuple(made)


def up_to(passage: Passage) -> Passage:
    """The first part of a passage: who plays the whole of it plays on past the end."""
    return _cut(passage, 0, round(KEPT_SHARE * len(passage.notes)))


def from_within(passage: Passage) -> Passage:
    """The last part of a passage: who plays the whole of it begins before it."""
    return _cut(passage, round((1.0 - KEPT_SHARE) * len(passage.notes)), len(passage.notes))


def _cut(passage: Passage, first: int, last: int) -> Passage:
    """The notes ``first`` up to ``last`` as a passage of their own, which begins with the first."""
    notes = passage.notes[first:last]
    start = notes[0].onset_quarters
    moved = tuple(replace(one, onset_quarters=one.onset_quarters - start) for one in notes)
    end: Fraction = moved[-1].onset_quarters + moved[-1].duration_quarters
    return replace(passage, notes=moved, length_quarters=end)


def with_metronome(made: takes.MadeTake) -> Recording:
    """The take with a metronome beside it: a wooden click a quarter, in the player's own tempo."""
    recording, notes = made.recording(), made.passage.notes
    rng = np.random.default_rng(len(notes))
    sounded = [note for note in made.truth.notes if note.onset_s is not None]
    written = [float(notes[note.index].onset_quarters) for note in sounded]
    pace_s = float(np.median(np.diff([note.onset_s for note in sounded]) / np.diff(written)))
    time_s = np.arange(int(CLICK_S * recording.rate_hz)) / recording.rate_hz
    click = np.exp(-time_s / CLICK_DIES_S) * np.sin(2 * np.pi * rng.uniform(*CLICK_HZ) * time_s)
    samples = recording.samples.astype(float)
    level = np.percentile(np.abs(samples), 99.5) * 10 ** (float(rng.uniform(*CLICK_DB)) / 20.0)
    for at_s in np.arange(sounded[0].onset_s % pace_s, len(samples) / recording.rate_hz, pace_s):
        first = int(at_s * recording.rate_hz)
        piece = samples[first : first + len(click)]
        piece += level * click[: len(piece)]
    return replace(recording, samples=np.clip(samples, -1.0, 1.0).astype(np.float32))


def pitches_told(made: takes.MadeTake, passage: Passage, report: Any) -> list[bool]:
    """Of each wrong note whether it is told as another pitch, the right one."""
    told = {note.index: note for note in report.notes}
    return [
        _told_pitch(told.get(true.index), made.passage.notes[true.index].midi + true.cents / 100.0)
        for true in made.truth.notes
        if true.outcome == "other"
    ]


def _told_pitch(told: Any, midi: float) -> bool:
    if told is None or told.outcome != "other_pitch":
        return False
    return abs(told.midi_heard - midi) <= NEAR_ENOUGH


def others_told(made: takes.MadeTake, passage: Passage, report: Any) -> list[bool]:
    """Of each wrong note whether it is told as one, at whatever pitch."""
    told = {note.index: note for note in report.notes}
    return [
        told_outcome(told.get(true.index), made.passage.notes[true.index].midi) == "other"
        for true in made.truth.notes
        if true.outcome == "other"
    ]


def extra_told(made: takes.MadeTake, passage: Passage, report: Any) -> list[bool]:
    """Whether one of the equal notes is told as added: any of them may be."""
    true = made.truth.added[0]
    written = passage.notes
    at_s = [true.onset_s] + [
        note.onset_s for note in made.truth.notes
        if note.onset_s is not None and abs(note.onset_s - true.onset_s) < SAME_RUN_S
        and written[note.index].midi == round(true.midi)
    ]  # fmt: skip
    near = (abs(one.onset_s - one_s) for one in report.added for one_s in at_s)
    return [min(near, default=np.inf) <= ADDED_WINDOW_S]


def read_at_all(made: takes.MadeTake, passage: Passage, report: Any) -> list[bool]:
    """Whether the take was read, not refused."""
    return [bool(report.notes)]


def no_stop(made: takes.MadeTake, passage: Passage, report: Any) -> list[bool]:
    """Whether no stop is told."""
    return [all(one.value == 0 for one in report.readings if one.name == "stops")]


def nothing_wrong(made: takes.MadeTake, passage: Passage, report: Any) -> list[bool]:
    """Whether it was read and every note is told as played, with none added."""
    played_all = all(note.outcome == "played" for note in report.notes)
    return [bool(report.notes) and played_all and not report.added]


def nothing_foreign(made: takes.MadeTake, passage: Passage, report: Any) -> list[bool]:
    """Whether it was read and nothing foreign is told, neither in words nor as added notes."""
    codes = {verdict.code for verdict in report.verdicts}
    added = [one.value for one in report.readings if one.name == "added sounds"]
    return [bool(report.notes) and "other_sounds" not in codes and not any(added)]


@dataclass(frozen=True, slots=True)
class Habit:
    """In words; what becomes of a playing, or of the passage; and what is counted of a report."""

    words: str
    counted: Callable[[takes.MadeTake, Passage, Any], list[bool]]
    change: Callable[[np.random.Generator, lines.Line, Sounds], Sounds | None] | None = None
    passage: Callable[[Passage], Passage] | None = None
    recording: Callable[[takes.MadeTake], Recording] = takes.MadeTake.recording


HABITS = {
    "twelfth": Habit("overblown to the twelfth, told at that pitch", pitches_told, twelfths),
    "more": Habit("a repeated note once too often, told as added", extra_told, more),
    "half": Habit("a place at half speed: no stop is told", no_stop, half_speed),
    "weak": Habit("a third to a half of the notes wrong: read", read_at_all, weak),
    "beside": Habit("wrong notes at a neighbour's pitch, told", others_told, beside),
    "scooped": Habit("notes begun a whole tone low: nothing told as wrong", nothing_wrong, scooped),
    "metronome": Habit("a metronome beside it: nothing told as wrong", nothing_wrong,
                       recording=with_metronome),
    "alone": Habit("the same takes without it: nothing told as wrong", nothing_wrong),
    "past": Habit("playing on past the end: nothing foreign told", nothing_foreign,
                  passage=up_to),
    "before": Habit("beginning before it: nothing foreign told", nothing_foreign,
                    passage=from_within),
}  # fmt: skip
PLAIN = "plain"
"""Takes without any planned fault; those of a habit are kept under its key."""


def make(key: str, seed: int, kind: str, number: int) -> takes.MadeTake:
    """A take with one habit, none where the line does not have what it takes."""
    change = HABITS[key].change
    played = takes.play

    def play(rng, line, plan, tempo_factor, beginner=False) -> playing.Playing:
        usual = played(rng, line, plan, tempo_factor, beginner)
        changed = change(rng, line, usual.sounds) if change else None
        return usual if changed is None else replace(usual, sounds=changed)

    with patch.object(takes, "play", play):
        return takes.make(seed, kind, number)


def told(seed: int, job: tuple[str, int]) -> tuple[str, str, list[bool]]:
    """Habit, the take's name, and whether each of its events is told as it was."""
    key, number = job
    habit = HABITS[key]
    kind = f"{key}, habit" if habit.change else PLAIN
    takes.KINDS[kind] = playing.Plan()
    made = takes.take(seed, kind, number, partial(make, key))
    passage = habit.passage(made.passage) if habit.passage else made.passage
    if key == "more" and not made.truth.added:
        return key, made.name, []
    report = told_of(habit.recording(made), passage, made.line.tempo_qpm)
    return key, made.name, habit.counted(made, passage, report)


def main() -> None:
    """Make, hear, print."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seed", type=int, required=True)
    words.add_argument("--takes", type=int, default=24, help="of each habit")
    words.add_argument("--only", default=",".join(HABITS), help="with commas between them")
    words.add_argument("--list", action="store_true", help="print every take not told so")
    asked = words.parse_args()
    tones.fonts()
    lines.scores()
    jobs = [(key, number) for key in asked.only.split(",") for number in range(asked.takes)]
    found = on_both_cores(partial(told, asked.seed), jobs)
    print(f"Method {METHOD}, seed {asked.seed}, {asked.takes} takes of each habit.")
    for key in asked.only.split(","):
        events = [one for habit, _, said in found if habit == key for one in said]
        print(f"{key}: {HABITS[key].words}: {proportion(sum(events), len(events))}")
        if asked.list:
            wrong = [name for habit, name, said in found if habit == key and not all(said)]
            print("  ", " ".join(wrong))


if __name__ == "__main__":
    main()
