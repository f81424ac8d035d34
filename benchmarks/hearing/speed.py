"""Sections on time and memory, always from the bytes of a file to a report.

Workers are spawned, not forked: a fork would carry this process's memory in its figures.
"""

from __future__ import annotations

import csv
import os
import resource
import subprocess
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from benchmarks.hearing.baseline import baseline
from benchmarks.hearing.lines import made_line
from benchmarks.hearing.phones import encoded
from benchmarks.hearing.playing import Plan, play
from benchmarks.hearing.table import Goal, Row
from benchmarks.hearing.takes import MadeTake, generator, mixed, take
from benchmarks.hearing.timbres import BY_KEY
from benchmarks.hearing.tones import RATE_HZ, additive
from standlight.listening import Terms, listen_to
from standlight.score.values import Passage

ROOT = Path(__file__).resolve().parents[2]
TAKE_S = 20.0
LENGTHS_S = {20.0: 9, 60.0: 6, 300.0: 3, 590.0: 3}
"""Takes heard of each length: one alone says more of its line than of its length. Ten minutes is
the longest take; the last is a little under, its lead and tail counted."""

MANY = 150
COLD_RUNS = 5


def speed(seed: int, count: int) -> list[Row]:
    """One warm process on one core, the baseline on the same takes, cold commands, two cores."""
    made = [take(seed, "main", number) for number in range(min(count, 48))]
    with get_context("spawn").Pool(1) as pool:
        seconds, work_s, busy_s, largest_mb = pool.apply(_warm, (_jobs(made),))
    ours = seconds / work_s
    rows = []
    for documented, name, goals in (
        (True, "pyin over its documented range", (Goal(6, 12),)),
        (False, "pyin bounded by the part's range", ()),
    ):
        told = baseline(made, documented=documented)
        if told:
            theirs = sum(one.seconds for one in told) / sum(one.work_s for one in told)
            rows.append(Row(f"speed over the baseline's, {name}", f"{ours / theirs:.1f} times",
                            goals, (ours / theirs,) * len(goals),
                            f"{theirs:.1f} x real time"))  # fmt: skip
    cell = (f"{ours:.1f} x real time ({len(made)} takes of {seconds / len(made):.0f} s, "
            f"{work_s:.1f} s, {largest_mb:.0f} MB; {seconds / busy_s:.1f} x of processor time)")
    rows.insert(0, Row("speed, one core, one warm process, decoding included", cell,
                       (Goal(40, 80),), (ours,)))  # fmt: skip
    cold = _cold(made[0])
    rows.append(Row("one cold ./run listen, s", f"median {np.median(cold):.2f}, longest "
                    f"{max(cold):.2f} of {len(cold)}", (Goal(3, 1.5, low=True),),
                    (float(np.median(cold)),)))  # fmt: skip
    return rows + [_many(made), _length(seed)]


Job = tuple[bytes, Passage, Terms]


def _jobs(made: Sequence[MadeTake]) -> list[Job]:
    """What `listen_to` needs of each take."""
    return [(one.file, one.passage, Terms(one.line.tempo_qpm)) for one in made]


def _warm(jobs: Sequence[Job]) -> tuple[float, float, float, float]:
    """Seconds of sound, of work and of processor time, peak megabytes, on one core.

    The first take is heard before. Processor time (children too) is what a busy machine does
    not change much.
    """
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    listen_to(*jobs[0])
    start, busy = time.perf_counter(), _busy_s()
    seconds = sum(listen_to(*job).seconds for job in jobs)
    return seconds, time.perf_counter() - start, _busy_s() - busy, _peak_mb()


def _busy_s() -> float:
    """Processor time of this process and its ended children so far, seconds."""
    kinds = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    return sum(sum(resource.getrusage(kind)[:2]) for kind in kinds)


def _peak_mb() -> float:
    """Peak resident memory of this process since it was started, megabytes.

    From /proc: the kernel's ``ru_maxrss`` begins with the parent's size in a started process.
    """
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(status.split("VmHWM:")[1].split()[0]) / 1024.0


def _cold(made: MadeTake) -> list[float]:
    """Seconds of a whole command on one take, the environment made before."""
    with tempfile.TemporaryDirectory() as name:
        sound, notes = Path(name) / "take.webm", Path(name) / "notes.csv"
        sound.write_bytes(made.file)
        with notes.open("w", newline="") as target:
            rows = csv.writer(target)
            rows.writerow(("onset_quarters", "duration_quarters", "midi"))
            for note in made.passage.notes:
                rows.writerow((note.onset_quarters, note.duration_quarters, note.midi))
        command = [str(ROOT / "run"), "listen", str(sound), "--notes", str(notes),
                   "--tempo", f"{made.line.tempo_qpm:g}", "--json"]  # fmt: skip
        environment = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
        times = []
        for _ in range(COLD_RUNS + 1):
            start = time.perf_counter()
            subprocess.run(command, check=True, capture_output=True, cwd=ROOT, env=environment)
            times.append(time.perf_counter() - start)
    return times[1:]


def _many(made: Sequence[MadeTake]) -> Row:
    """150 takes by two warm workers: seconds, and the memory of each."""
    jobs = _jobs(made)
    chosen = [jobs[number % len(jobs)] for number in range(MANY)]
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        list(pool.map(_one, jobs[:2]))
        start = time.perf_counter()
        seconds = sum(one for one, _ in pool.map(_one, chosen))
        spent = time.perf_counter() - start
        largest = max(peak for _, peak in pool.map(_one, jobs[:4]))
    scaled = spent * MANY * TAKE_S / seconds
    cell = f"{scaled:.1f} s for {MANY} of {TAKE_S:.0f} s (scaled by length), {largest:.0f} MB"
    goals = (Goal(60, 30, low=True), Goal(400, 250, low=True))
    return Row("150 takes, two cores: s, MB a worker", cell, goals, (scaled, largest))


def _one(job: Job) -> tuple[float, float]:
    """Seconds of one take, and the worker's peak megabytes so far."""
    return listen_to(*job).seconds, _peak_mb()


def _length(seed: int) -> Row:
    """Work a second of sound, from 20 s to 10 minutes of players alike."""
    rates = []
    for length_s, takes in LENGTHS_S.items():
        jobs = [_long_take(seed, number, length_s) for number in range(takes)]
        with get_context("spawn").Pool(1) as pool:
            seconds, work_s, _, peak_mb = pool.apply(_warm, (jobs,))
        rates.append((length_s, takes, seconds / work_s, peak_mb))
    cell = "; ".join(f"{takes} of {s:.0f} s: {x:.0f} x, {mb:.0f} MB" for s, takes, x, mb in rates)
    slower = rates[1][2] / rates[-1][2]
    return Row("length: work a second at 590 s over that at 60 s", f"{slower:.2f}; {cell}",
               (Goal(1.2, 1.1, low=True),), (slower,))  # fmt: skip


def _long_take(seed: int, number: int, length_s: float) -> Job:
    """A clean additive clarinet take of the length."""
    rng = generator(seed, "long", number)
    line = made_line(rng, BY_KEY["clarinet"], 1.0, length_s - 3.0)
    playing = play(rng, line, Plan(), 1.0)
    clips = [additive(line.timbre, sound, rng, 0.12 * sound.joined) for sound in playing.sounds]
    dry = mixed(rng, playing.sounds, clips, 0.15)[: int(599 * RATE_HZ)]
    dry = 0.3 * dry / np.abs(dry).max() + 3e-4 * rng.normal(size=len(dry))
    return encoded(dry, "webm", "libopus", 64), line.passage, Terms(line.tempo_qpm)
