"""Entries that are called early or late, against what the made player planned.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/call_outs.py --seed 4201``. The player of a
made take plays on a bent beat of their own; each note lies off it by their scatter, and some come
after a hesitation. An entry that is called out beyond the limit of its family is wrongly called
where the note was not half as far off, to that side, whoever's fault that is: the onset's, the
follower's or the beat's. Prints them by family, how many of those truly beyond the limit are
called, and how many notes are timed at all. A seed that it is run on is seen.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from contextlib import suppress
from functools import partial
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.hearing import lines, playing, takes, tones
from benchmarks.hearing.accuracy import on_both_cores, told_of
from benchmarks.hearing.intervals import proportion
from benchmarks.machine import machine
from standlight.criteria.limits import entry_limit_ms
from standlight.listening import METHOD

HALF = 0.5
"""An entry is rightly called if it was at least so much of the limit off."""


class _Planned(Exception):
    """Raised once a take is planned: its sound is not needed."""


def planned_ms(seed: int, kind: str, number: int) -> dict[int, float]:
    """How far the last sounding of each written note lies off the player's beat, milliseconds."""
    seen = {}

    def spied(name):
        """The planning function ``name`` of the generator, what it gives kept."""
        work = getattr(playing, name)

        def act(*asked):
            seen[name] = (asked, work(*asked))
            return seen[name][1]

        return patch.object(playing, name, act)

    def stop(*asked):
        raise _Planned

    with (
        suppress(_Planned),
        spied("_order"),
        spied("_pauses"),
        spied("_timed"),
        patch.object(takes, "sounded", stop),
    ):
        takes.make(seed, kind, number)
    (_, before, *_), after = seen["_timed"]
    off_ms = {
        sound.index: 1000.0 * (made.onset_s - sound.onset_s)
        for sound, made in zip(before, after, strict=True)
        if sound.index is not None
    }
    order, _ = seen["_order"][1]
    last = {index: place for place, (index, _) in enumerate(order)}
    pauses_s = seen["_pauses"][1]
    return {index: ms + 1000.0 * pauses_s.get(last[index], 0.0) for index, ms in off_ms.items()}


def called(seed: int, kind: str, number: int) -> tuple[str, Counter]:
    """Family of one take, and its entries counted."""
    made = takes.take(seed, kind, number)
    off_ms = planned_ms(seed, kind, number)
    family = made.line.timbre.family
    limit_ms, counts = entry_limit_ms(family), Counter()
    for note in told_of(made.recording(), made.passage, made.line.tempo_qpm).notes:
        if note.onset_s is None or note.index not in off_ms:
            continue
        told, true = note.asynchrony_ms, off_ms[note.index]
        is_called = told is not None and abs(told) >= limit_ms
        is_right = is_called and told * true > 0.0 and abs(true) >= HALF * limit_ms
        counts += Counter(
            sounded=1,
            timed=told is not None,
            called=is_called,
            wrong=is_called and not is_right,
            far=abs(true) >= limit_ms,
            found=is_right and abs(true) >= limit_ms,
        )
    return family, counts


def main() -> None:
    """Hear and print."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seed", type=int, default=1000)
    words.add_argument("--takes", type=int, default=144)
    words.add_argument("--kind", choices=takes.KINDS, default="main")
    asked = words.parse_args()
    tones.fonts()
    lines.scores()
    print(f"Method {METHOD}, seed {asked.seed}, {asked.takes} takes ({asked.kind}). {machine()}")
    heard = on_both_cores(partial(called, asked.seed, asked.kind), range(asked.takes))
    families = sorted({family for family, _ in heard})
    for name in ("all", *families):
        counts = sum((one for family, one in heard if name in ("all", family)), Counter())
        print(
            f"{name}: called {counts['called']}, wrongly "
            f"{proportion(counts['wrong'], counts['called'])}; of those truly so called "
            f"{proportion(counts['found'], counts['far'])}; timed "
            f"{proportion(counts['timed'], counts['sounded'])}"
        )


if __name__ == "__main__":
    main()
