"""The listening against truth: the one table of issue 4, with the librosa baseline beside it.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/listening.py [--seed N] [--takes N]
[--only SECTION]``. With the usual 144 takes every proportion rests on 200 events or more and
the run takes about half an hour on two cores (made takes are kept under the system's temporary
folder, so that a second run is quicker). Sections: notes, restarts, percussion, verdicts, real,
speed. Seeds 1000 to 1999 are for development; a method's table is printed with a seed that
nobody has looked at, once. Goals stand beside each figure; a figure is *aim*, *met* or *missed*
by its point estimate, *reported* where no figure is asked.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import time
from pathlib import Path

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(threads, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.hearing import accuracy, lines, real, speed, tones  # noqa: E402
from benchmarks.hearing.table import as_markdown  # noqa: E402
from benchmarks.machine import machine  # noqa: E402
from standlight.listening import METHOD  # noqa: E402

USUAL_TAKES = 144
"""Makes more than 200 planted faults of each kind, 288 restarts, 288 clean takes."""

SECTIONS = {
    "notes": ("Notes: faulty takes on every family", accuracy.notes, 1.0),
    "restarts": ("Restarts, and clean takes left alone", accuracy.restarts, 1.0),
    "percussion": ("Percussion", accuracy.percussion, 0.6),
    "verdicts": ("Takes that should not be trusted", accuracy.verdicts, 1.6),
    "real": ("Real takes in the tests", real.real, 1.0),
    "speed": ("Time and memory", speed.speed, 1.0),
}
"""Word to title, work, and takes for one take asked."""


def revision() -> str:
    """The commit that is measured, and whether the source was changed since.

    A listener that somebody is working on gives figures of no version: measure a commit.
    """
    folder = Path(__file__).resolve().parents[1]
    git = ["git", "-C", str(folder)]
    found = subprocess.run([*git, "rev-parse", "--short", "HEAD"], capture_output=True, text=True,
                           check=False)  # fmt: skip
    if found.returncode:
        return "no repository here"
    changed = subprocess.run([*git, "status", "--porcelain", "--", "src"], capture_output=True,
                             text=True, check=False)  # fmt: skip
    return found.stdout.strip() + (" with changes not committed" if changed.stdout else "")


def main() -> None:
    """Print the sections asked for."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seed", type=int, default=1000)
    words.add_argument("--takes", type=int, default=USUAL_TAKES)
    words.add_argument("--only", choices=SECTIONS, action="append")
    asked = words.parse_args()
    found = tones.fonts()
    lines.scores()
    print(f"# Listening, method {METHOD}, seed {asked.seed}, {asked.takes} takes\n")
    sounds = ", ".join([*(one.stem for one in found), "additive"])
    print(f"{machine()}. Source: {revision()}. Sounds: {sounds}.\n")
    for word in asked.only or SECTIONS:
        title, work, share = SECTIONS[word]
        start = time.perf_counter()
        rows = work(asked.seed, max(4, round(asked.takes * share)))
        print(as_markdown(title, rows))
        print(f"({time.perf_counter() - start:.0f} s)\n", flush=True)


if __name__ == "__main__":
    main()
