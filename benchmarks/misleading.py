"""Takes in which something told would mislead whoever hears them beside the reading.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/misleading.py --seed 4801 [--takes 144]
[--kind main] [--list]``. Somebody who looks at ten takes judges places, not notes: a claim that
is not so, and what happened and is not told. This counts the same by the truth, on as many takes
as are asked for. What is told as not sure, and what lies within half a second of a place that was
counted, is no place of its own. ``--list`` prints every place. A seed that it is run on is seen.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.call_outs import HALF, planned_ms
from benchmarks.hearing import lines, tones
from benchmarks.hearing.accuracy import ABOUT_PHONES, on_both_cores, told_of
from benchmarks.hearing.intervals import proportion
from benchmarks.hearing.judging import (
    ADDED_WINDOW_S,
    OCTAVE_REACH,
    added_pairs,
    restart_pairs,
    told_outcome,
)
from benchmarks.hearing.takes import KINDS, MadeTake, take
from benchmarks.machine import machine
from standlight.criteria.limits import SURE_PROBABILITY, entry_limit_ms
from standlight.listening import METHOD

START_S = 0.15
"""A start told so far from the true one is seen to be wrong (the lookers called those of 0.14 to
1.0 s misleading, and let most of 0.1 s pass)."""

ONE_PLACE_S = 0.5
"""What lies nearer to the last thing of a place belongs to it."""


@dataclass(frozen=True, slots=True)
class Slip:
    """One thing that misleads: when (seconds), of what kind, what, and whether told as sure."""

    at_s: float
    kind: str
    what: str
    sure: bool = True


def slips_of(made: MadeTake, report: Any, off_ms: dict[int, float]) -> list[Slip]:
    """All of a take in time. ``off_ms`` is how far each note was planned off the beat.

    Of a take of which no note is told only the verdict can mislead.
    """
    family = made.line.timbre.family
    verdicts = [
        Slip(0.0, "verdict", verdict.code)
        for verdict in report.verdicts
        if verdict.code not in ABOUT_PHONES
    ]
    if not report.notes:
        return verdicts
    every = [
        *_notes(made, report),
        *_starts(made, report),
        *_added(made, report),
        *_restarts(made, report),
        *_called(report, off_ms, entry_limit_ms(family)),
        *verdicts,
    ]
    return sorted(every, key=lambda slip: slip.at_s)


def places_of(slips: list[Slip]) -> list[list[Slip]]:
    """``slips`` (in time) by places."""
    places: list[list[Slip]] = []
    for slip in slips:
        if places and slip.at_s - places[-1][-1].at_s < ONE_PLACE_S:
            places[-1].append(slip)
        else:
            places.append([slip])
    return places


def _notes(made: MadeTake, report: Any) -> Iterator[Slip]:
    """Written notes told as what they were not, or at another pitch.

    Half a semitone off may be called the note or another one: its distance is told in both cases.
    """
    told, at_s = {note.index: note for note in report.notes}, 0.0
    for true in made.truth.notes:
        at_s = at_s if true.onset_s is None else true.onset_s
        note, written = told.get(true.index), made.passage.notes[true.index].midi
        outcome = told_outcome(note, written)
        if _near(true.midi, written) and outcome == "played":
            continue
        if outcome != true.outcome:
            sure = note is None or note.probability >= SURE_PROBABILITY
            kind = "right note" if true.outcome == "played" else "fault"
            yield Slip(at_s, kind, f"{true.index} {true.outcome} told {outcome}", sure)
        elif outcome == "other" and not _near(note.midi_heard, true.midi):
            yield Slip(at_s, "pitch", f"{true.index} other told at {note.midi_heard:.1f}")


def _near(one_midi: float | None, other_midi: float | None) -> bool:
    """True of two pitches within `OCTAVE_REACH`."""
    known = one_midi is not None and other_midi is not None
    return known and abs(one_midi - other_midi) <= OCTAVE_REACH


def _starts(made: MadeTake, report: Any) -> Iterator[Slip]:
    """Notes that sounded, told to begin elsewhere; of a note played twice either start will do."""
    told = {note.index: note for note in report.notes}
    twins = {one.twin_s: one.onset_s for one in made.truth.added if one.twin_s is not None}
    for true in made.truth.notes:
        note = told.get(true.index)
        if note is None or None in (note.onset_s, note.asynchrony_ms, true.onset_s):
            continue
        also_s = twins.get(true.onset_s, true.onset_s)
        if min(abs(note.onset_s - at_s) for at_s in (true.onset_s, also_s)) > START_S:
            late_s = note.onset_s - true.onset_s
            yield Slip(true.onset_s, "start", f"{true.index} begins {late_s:+.2f} s")


def _added(made: MadeTake, report: Any) -> Iterator[Slip]:
    """Sounds told that were none, and those that were and are not told, as added or going on."""
    begun = [note.onset_s for note in report.notes if note.index in report.prolonged]
    pairs, left = added_pairs(made.truth, report.added)
    for true, told in pairs:
        goes_on = any(abs(true.onset_s - at_s) <= ADDED_WINDOW_S for at_s in begun)
        if told is None and not goes_on:
            yield Slip(true.onset_s, "added untold", true.kind)
        elif told is not None and not _near(told.midi_heard, true.midi):
            yield Slip(true.onset_s, "pitch", f"{true.kind} told at {told.midi_heard:.1f}")
    for one in left:
        yield Slip(one.onset_s, "added told", f"{one.midi_heard:.1f}")


def _restarts(made: MadeTake, report: Any) -> Iterator[Slip]:
    """Restarts that are not told, or told of another time or note."""
    pairs, left = restart_pairs(made.truth, report.restarts)
    for (at_s, index), told in pairs:
        if told is None:
            yield Slip(at_s, "restart", f"from {index} untold")
    for one in left:
        yield Slip(one.onset_s, "restart", f"from {one.to_index} told")


def _called(report: Any, off_ms: dict[int, float], limit_ms: float) -> Iterator[Slip]:
    """Entries called early or late that were not."""
    for note in report.notes:
        told, true = note.asynchrony_ms, off_ms.get(note.index)
        if None in (note.onset_s, told, true) or abs(told) < limit_ms:
            continue
        if told * true <= 0.0 or abs(true) < HALF * limit_ms:
            yield Slip(note.onset_s, "call", f"{note.index} called {told:+.0f} ms, is {true:+.0f}")


def heard(seed: int, kind: str, number: int) -> tuple[str, str, list[list[Slip]]]:
    """Name, family and places of one take."""
    made = take(seed, kind, number)
    report = told_of(made.recording(), made.passage, made.line.tempo_qpm)
    slips = slips_of(made, report, planned_ms(seed, kind, number))
    return made.name, made.line.timbre.family, places_of(slips)


def main() -> None:
    """Hear, count, print."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seed", type=int, default=1000)
    words.add_argument("--takes", type=int, default=144)
    words.add_argument("--kind", choices=KINDS, default="main")
    words.add_argument("--list", action="store_true", help="print every place")
    asked = words.parse_args()
    tones.fonts()
    lines.scores()
    print(f"Method {METHOD}, seed {asked.seed}, {asked.takes} takes ({asked.kind}). {machine()}")
    takes = on_both_cores(partial(heard, asked.seed, asked.kind), range(asked.takes))
    if asked.list:
        for name, family, places in takes:
            for place in places:
                said = "; ".join(
                    f"{slip.kind} {slip.what}{'' if slip.sure else ' (not sure)'}" for slip in place
                )
                print(f"{name} {family}, {place[0].at_s:.2f} s: {said}")
    for name in ("all", *sorted({family for _, family, _ in takes})):
        mine = [places for _, family, places in takes if name in ("all", family)]
        sure = [sum(any(slip.sure for slip in place) for place in places) for places in mine]
        counts = Counter(min(count, 2) for count in sure)
        unsure = sum(not count and bool(places) for count, places in zip(sure, mine, strict=True))
        print(f"{name}: mislead nowhere {proportion(counts[0], len(mine))} (of these {unsure} with "
              f"a place told as not sure), in one place {counts[1]}, in several {counts[2]}")
    kinds = Counter(
        next(slip.kind for slip in place if slip.sure)
        for _, _, places in takes for place in places if any(slip.sure for slip in place)
    )
    print("places by the first thing in them:", dict(kinds.most_common()))


if __name__ == "__main__":
    main()
