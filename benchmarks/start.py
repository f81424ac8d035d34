"""First and second start of ``./run`` in a fresh clone: seconds until the pages are open.

The peer of the first start is the bare install of the same lock file into an
empty environment by the same installer, in the same run.

Usage: python benchmarks/start.py        (asks the package registry; a few minutes)
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from benchmarks.machine import machine

ROOT = Path(__file__).resolve().parents[1]
PORT = "8699"
LONGEST_SECONDS = 600


def seconds_to_open(clone: Path) -> tuple[float, list[str]]:
    """Start ``./run``, wait for its address, end it; seconds and what it said."""
    environment = {**os.environ, "STANDLIGHT_PORT": PORT, "PYTHONPATH": ""}
    for name in ("STANDLIGHT_DATA", "DJANGO_SETTINGS_MODULE"):
        environment.pop(name, None)
    began = time.perf_counter()
    process = subprocess.Popen(
        ["./run"], cwd=clone, env=environment, stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT, text=True, start_new_session=True,
    )
    said = []
    try:
        for line in process.stdout:
            said.append(line.rstrip())
            if "is open at" in line:
                return time.perf_counter() - began, said
            if time.perf_counter() - began > LONGEST_SECONDS:
                break
        raise SystemExit("did not open:\n" + "\n".join(said))
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(30)


def folder_megabytes(folder: Path) -> float:
    """Size on disk of a folder in MB (10^6 bytes), links not followed."""
    return sum(f.lstat().st_size for f in folder.rglob("*") if f.is_file()) / 1e6


def main() -> None:
    """Clone, start twice, print."""
    with tempfile.TemporaryDirectory() as folder:
        clone = Path(folder) / "standlight"
        subprocess.run(["git", "clone", "--quiet", str(ROOT), str(clone)], check=True)
        first, _ = seconds_to_open(clone)
        second, _ = seconds_to_open(clone)
        third, _ = seconds_to_open(clone)
        weight = folder_megabytes(clone / ".venv")
        began = time.perf_counter()
        bare = Path(folder) / "bare"
        subprocess.run([sys.executable, "-m", "venv", str(bare)], check=True)
        subprocess.run(
            [str(bare / "bin/python"), "-m", "pip", "install", "--quiet", "--require-hashes",
             "--only-binary", ":all:", "--disable-pip-version-check",
             "-r", str(clone / "requirements/product.txt")],
            check=True, stderr=subprocess.DEVNULL,
        )
        install = time.perf_counter() - began
        print(f"machine: {machine()}")
        print(f"installer: {'uv' if shutil.which('uv') else 'pip'} (a warm package cache helps)")
        print(f"first start:  {first:6.1f} s, with the demo programme")
        print(f"second start: {second:6.1f} s; third: {third:.1f} s")
        print(f"peer, bare install of the same lock by pip: {install:.1f} s")
        print(f"environment: {weight:.0f} MB")


if __name__ == "__main__":
    main()
