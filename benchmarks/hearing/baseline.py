"""The baseline beside the listener: librosa.pyin, and librosa's DTW on chroma and onset strength.

librosa is in no lock of the house: it gets a private environment under the system's temporary
folder and runs as a child on wav files (`baseline_child.py`).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.io import wavfile

from benchmarks.hearing.takes import MadeTake

WANTED = "librosa==0.11.*"
"""The last line of versions for this Python."""

ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "NUMBA_NUM_THREADS": "1"}
CHILD = Path(__file__).with_name("baseline_child.py")


@dataclass(frozen=True, slots=True)
class ToldNote:
    """A note as the baseline tells it, shaped like the listener's."""

    index: int
    outcome: str
    onset_s: float | None
    offset_s: float | None
    midi_heard: float | None
    deviation_cents: float | None
    deviation_se_cents: None = None


@dataclass(frozen=True, slots=True)
class Told:
    """What the baseline tells of a take, shaped like a report; no faults in time."""

    notes: tuple[ToldNote, ...]
    tuning_cents: float | None
    seconds: float
    work_s: float
    verdicts: tuple = ()
    added: tuple = ()
    prolonged: tuple = ()
    restarts: tuple = ()
    attempts: tuple = ()


def python_with_librosa() -> Path | None:
    """The private environment's Python, made now if need be; None (said aloud) when it fails."""
    folder = Path(tempfile.gettempdir()) / "standlight-baseline"
    python = folder / "bin" / "python"
    if not (folder / "complete").exists():
        print(f"Making the baseline's environment ({WANTED}) ...", file=sys.stderr)
        steps = (
            [sys.executable, "-m", "venv", "--clear", str(folder)],
            [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check",
             "--only-binary", ":all:", WANTED],
        )  # fmt: skip
        for step in steps:
            done = subprocess.run(step, capture_output=True, text=True, check=False)
            if done.returncode:
                print(f"The baseline cannot run here: {done.stderr[-300:]}", file=sys.stderr)
                return None
        (folder / "complete").touch()
    return python


def baseline(takes: Sequence[MadeTake], *, documented: bool = False) -> list[Told] | None:
    """What librosa tells of every take, in one warm process on one core; None: not to be had.

    pyin is bounded by the part's own range, as kindly as the listener, unless it shall have the
    range of its ``documented`` example, which is slower.
    """
    python = python_with_librosa()
    if python is None:
        return None
    with tempfile.TemporaryDirectory() as name:
        folder, jobs = Path(name), []
        for number, made in enumerate(takes):
            recording = made.recording()
            path = folder / f"{number}.wav"
            whole = np.round(recording.samples * 32767).astype(np.int16)
            wavfile.write(path, recording.rate_hz, whole)
            jobs.append({
                "wav": str(path), "tempo_qpm": made.line.tempo_qpm, "seconds": recording.seconds,
                "documented": documented,
                "notes": [[float(n.onset_quarters), float(n.duration_quarters), n.midi]
                          for n in made.passage.notes],
            })  # fmt: skip
        (folder / "jobs.json").write_text(json.dumps(jobs))
        done = subprocess.run(
            [str(python), str(CHILD), str(folder / "jobs.json"), str(folder / "out.json")],
            capture_output=True, text=True, check=False, env={**os.environ, **ONE_THREAD},
            preexec_fn=_one_core,
        )  # fmt: skip
        if done.returncode:
            print(f"The baseline broke: {done.stderr[-500:]}", file=sys.stderr)
            return None
        answers = json.loads((folder / "out.json").read_text())
    return [_told(answer, job) for answer, job in zip(answers, jobs, strict=True)]


def _one_core() -> None:
    """Keep the child on one core, as the listener is in the speed figures."""
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})


def _told(answer: dict, job: dict) -> Told:
    """One answer of the child as a report."""
    notes = tuple(ToldNote(index=index, **note) for index, note in enumerate(answer["notes"]))
    return Told(notes, answer["tuning_cents"], job["seconds"], answer["work_s"])
