"""What the first version of the listening reaches on made takes and on the spliced real notes.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/listening_first.py [takes per timbre]``
(default 6, about three minutes on one core). Truth is exact: additive tones and drum strokes
with room and noise by a seed (tests/sound/takes.py, which shares no code with the listener) and
real single notes spliced to a melody (tests/recordings/spliced). Proportions carry their Wilson
95 percent intervals. No peer runs beside it yet: the pyin and alignment baseline comes with the
deeper method.
"""

from __future__ import annotations

import os
import sys
import time
from collections import Counter

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, os.getcwd())

import numpy as np
from tests.sound.real_takes import PLANTED, RECORDINGS, SPLICED, spliced
from tests.sound.scoring import compare, summed
from tests.sound.takes import TIMBRES, make_strokes, make_take

from benchmarks.machine import machine
from standlight.listening import Terms, hear
from standlight.sound import Recording
from standlight.workshop import decode

SEED = 90_000
INSTRUMENTS = {"violin": "Violin", "cello": "Cello", "voice": "Alto", "snare": "Snare drum"}


def wilson(hits: int, of: int) -> str:
    """Hits, number, share and its 95 percent interval (Wilson 1927)."""
    if not of:
        return "none"
    share, z = hits / of, 1.96
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    reach = z * np.sqrt(share * (1 - share) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    return f"{hits}/{of} = {share:.3f} ({middle - reach:.3f} to {middle + reach:.3f})"


def onsets(name: str, result: dict) -> None:
    """One line of onset and pitch errors."""
    late, cents = np.abs(result["onset_ms"]), np.abs(result["cents"])
    line = f"{name:10s} onset median {np.median(late):5.1f} ms, 95th {np.percentile(late, 95):5.0f}"
    line += f", within 50 ms {wilson(int((late < 50).sum()), len(late))}"
    if len(cents):
        line += f"; cents {np.median(cents):.2f} / {np.percentile(cents, 95):.1f}"
    print(line, flush=True)


def faults(counts: Counter, names: tuple[str, ...]) -> None:
    """Precision and recall of each kind of fault."""
    for name in names:
        hit = counts[f"{name}_hit"]
        print(f"{name:17s} precision {wilson(hit, counts[f'{name}_told'])}")
        print(f"{'':17s} recall    {wilson(hit, counts[f'{name}_true'])}")


def heard(take, recording=None):
    """The report on a made take."""
    return hear(
        recording or take.recording,
        take.passage,
        Terms(take.tempo_qpm, INSTRUMENTS.get(take.instrument)),
    )


def made_takes(count: int) -> None:
    """Faulty takes on every timbre: onsets, pitch, faults, intervals, speed."""
    results, covered, notes, sound_s, work_s = [], 0, 0, 0.0, 0.0
    for place, timbre in enumerate(TIMBRES):
        mine = []
        for number in range(count):
            take = make_take(
                SEED + 100 * place + number,
                timbre=timbre,
                wrong=2,
                skipped=1,
                added=1,
                restart=number % 4 == 3,
                snr_db=(40.0, 30.0, 22.0)[number % 3],
                echo=(0.0, 0.3, 0.5)[number % 3],
            )
            start = time.perf_counter()
            report = heard(take)
            work_s += time.perf_counter() - start
            sound_s += take.recording.seconds
            if not report.notes:
                print(f"  {timbre} {number} refused: {[v.code for v in report.verdicts]}")
                continue
            mine.append(compare(take, report))
            truth = take.last_played()
            for note in report.notes:
                if note.deviation_cents is None or note.index not in truth:
                    continue
                true = 100.0 * (truth[note.index].midi - take.passage.notes[note.index].midi)
                if abs(note.deviation_cents - true) < 50:
                    notes += 1
                    reach = 1.96 * note.deviation_se_cents
                    covered += abs(note.deviation_cents - true) <= reach
        onsets(timbre, summed(mine))
        results += mine
    whole = summed(results)
    onsets("all", whole)
    faults(whole["counts"], ("other_pitch", "missing", "wrong_or_missing", "added", "restart"))
    print(f"95 percent interval of a note's deviation covers {wilson(covered, notes)}")
    print(f"speed without decoding: {sound_s / work_s:.0f} x real time")


def strokes(count: int) -> None:
    """Snare lines."""
    results = []
    for number in range(count):
        take = make_strokes(SEED + 5_000 + number, skipped=number % 3)
        results.append(compare(take, heard(take)))
    whole = summed(results)
    late = np.abs(whole["onset_ms"])
    print(
        f"snare      onset median {np.median(late):.1f} ms, "
        f"within 30 ms {wilson(int((late < 30).sum()), len(late))}"
    )
    faults(whole["counts"], ("missing", "added"))


def verdicts(count: int) -> None:
    """Bad takes caught, clean takes left alone."""
    caught, of, alarms, clean, moved = Counter(), Counter(), Counter(), 0, 0
    rng = np.random.default_rng(SEED)
    for number in range(count):
        take = make_take(SEED + 6_000 + number, count=16)
        other = make_take(SEED + 7_000 + number, count=16, timbre=take.instrument)
        samples, rate_hz = take.recording.samples, take.recording.rate_hz
        level = np.sqrt(np.mean(samples**2))
        made = {
            "silence": samples * 0 + rng.normal(0, 1e-5, len(samples)).astype(np.float32),
            "clipped": np.clip(samples / np.abs(samples).max() * 4.0, -1, 1),
            "too_noisy": samples + rng.normal(0, level * 10 ** (-3 / 20), len(samples)),
        }
        codes = {verdict.code for verdict in heard(take).verdicts}
        clean += 1
        alarms.update(codes)
        for code, sound in made.items():
            report = heard(take, Recording(np.asarray(sound, np.float32), rate_hz))
            caught[code] += code in {verdict.code for verdict in report.verdicts}
            of[code] += 1
        report = hear(take.recording, other.passage, Terms(96.0))
        caught["other_piece"] += "other_piece" in {verdict.code for verdict in report.verdicts}
        of["other_piece"] += 1
        shift = (-12, 12, -2, 3, -9, 7)[number % 6]
        shifted = make_take(SEED + 8_000 + number, count=16, shift=shift)
        wanted = "octave" if shift % 12 == 0 else "transposed"
        moved += wanted in {verdict.code for verdict in heard(shifted).verdicts}
    for code in of:
        print(f"verdict {code:12s} caught {wilson(caught[code], of[code])}")
    print(f"verdict other key or octave caught {wilson(moved, clean)}")
    print(f"clean takes with any verdict: {wilson(sum(alarms.values()), clean)} {dict(alarms)}")


def spliced_takes() -> None:
    """Real single notes joined to a melody; the truth is exact."""
    late, cents, told, sound_s, work_s = [], [], [], 0.0, 0.0
    for name in SPLICED:
        start = time.perf_counter()
        recording = decode((RECORDINGS / "spliced" / f"{name}.flac").read_bytes())
        _, written, truth = spliced(name)
        report = hear(recording, written, Terms(100.0))
        work_s += time.perf_counter() - start
        sound_s += recording.seconds
        for note, row in zip(report.notes, truth, strict=True):
            late.append(1000 * abs(note.onset_s - float(row["onset_s"])))
            if note.deviation_cents is not None:
                cents.append(abs(note.deviation_cents - float(row["cents"])))
        wrong = [note.index for note in report.notes if note.outcome != "played"]
        told.append(wrong == ([PLANTED[name]] if name in PLANTED else []))
    late = np.array(late)
    print(
        f"spliced    onset median {np.median(late):.1f} ms, 95th {np.percentile(late, 95):.0f}, "
        f"within 50 ms {wilson(int((late < 50).sum()), len(late))}; "
        f"cents {np.median(cents):.2f} / {np.percentile(cents, 95):.1f}; "
        f"planted wrong note told and no other: {sum(told)} of {len(told)} takes; "
        f"{sound_s / work_s:.0f} x real time with decoding"
    )


if __name__ == "__main__":
    per_timbre = int(sys.argv[1]) if len(sys.argv) > 1 else 6
    print(machine())
    made_takes(per_timbre)
    strokes(4 * per_timbre)
    verdicts(6 * per_timbre)
    spliced_takes()
