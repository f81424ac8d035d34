"""From a 20 s take sent to its readings shown: the real server, the real worker, an empty queue.

A fresh data folder and server are made; a musician's take (a real clarinet recording from the
tests, lengthened to 20 s by the silence a player leaves) goes up in one-second pieces, is sent,
and the director's Desk is asked until the report is there. Peer in the same run: the same
hearing called directly in one warm process, which is what the shell adds its cost to.

Usage: PYTHONPATH=src:. .venv-test/bin/python benchmarks/take_to_readings.py [runs]
"""

from __future__ import annotations

import io
import os
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
import uuid
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))
PORT = "8697"
SECONDS = 20
PIECE_BYTES = 16_000  # 128 kbit/s for one second, as the recorder sends
LONGEST_WAIT_SECONDS = 60


def twenty_seconds() -> bytes:
    """The recording as webm/opus of 20 s, as a browser's recorder would make it."""
    import av
    import numpy as np

    source = ROOT / "tests/browser/clarinet_ode_sd15c_sd30ms.flac"
    with av.open(str(source)) as given:
        resampler = av.AudioResampler("s16", "mono", 48_000)
        blocks = [
            part.to_ndarray()[0]
            for frame in given.decode(audio=0)
            for part in resampler.resample(frame)
        ]
    samples = np.concatenate(blocks)
    samples = np.pad(samples, (0, SECONDS * 48_000 - len(samples)))
    out = io.BytesIO()
    with av.open(out, "w", format="webm") as target:
        stream = target.add_stream("libopus", rate=48_000, layout="mono")
        stream.bit_rate = 128_000
        for start in range(0, len(samples), 960):
            block = np.ascontiguousarray(samples[None, start : start + 960])
            frame = av.AudioFrame.from_ndarray(block, format="s16", layout="mono")
            frame.sample_rate, frame.pts = 48_000, start
            target.mux(stream.encode(frame))
        target.mux(stream.encode(None))
    return out.getvalue()


def ask(method: str, path: str, permit: str, body: bytes, kind: str) -> None:
    """One request to the upload addresses; raises for an error answer."""
    request = urllib.request.Request(
        f"http://127.0.0.1:{PORT}/upload/{path}", data=body, method=method,
        headers={"Upload-Permit": permit, "Content-Type": kind},
    )
    with urllib.request.urlopen(request, timeout=30) as answer:
        answer.read()


def once(check, musician, sound: bytes) -> float:
    """Seconds from the last act of sending to the report in the database."""
    import json

    from standlight.programme.models import Report
    from standlight.web.musician.permits import Permit

    permit = Permit(musician.pk, check.pk, 1).signed()
    key = str(uuid.uuid4())
    pieces = [sound[at : at + PIECE_BYTES] for at in range(0, len(sound), PIECE_BYTES)]
    for number, piece in enumerate(pieces):
        ask("PUT", f"{key}/{number}", permit, piece, "application/octet-stream")
    began = time.perf_counter()
    whole = {"n_pieces": len(pieces), "media_type": "audio/webm", "settings": {}, "number": 1}
    ask("PUT", f"{key}/whole", permit, json.dumps(whole).encode(), "application/json")
    ask("PUT", f"{key}/send", permit, b"{}", "application/json")
    while not Report.objects.filter(take_id=key).exists():
        if time.perf_counter() - began > LONGEST_WAIT_SECONDS:
            raise SystemExit("no report came")
        time.sleep(0.02)
    return time.perf_counter() - began


def main() -> None:
    """Start, measure, print, end."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {
            "STANDLIGHT_DATA": folder, "STANDLIGHT_PORT": PORT, "STANDLIGHT_DEMO": "no",
            "DJANGO_SETTINGS_MODULE": "standlight.web.settings",
            "PYTHONPATH": f"{ROOT / 'src'}{os.pathsep}{ROOT}",
        }
        from standlight.commands._shell import bring_up_to_date, open_shell

        open_shell()
        bring_up_to_date()
        import datetime

        from tests.cast import make_cast
        from tests.hearing_scene import clarinet_check, more_clarinets

        cast = make_cast(datetime.date.today())
        check = clarinet_check(cast)
        musicians = more_clarinets(cast, check, runs + 1)
        sound = twenty_seconds()
        server = subprocess.Popen([sys.executable, "-m", "standlight"], cwd=ROOT)
        try:
            time.sleep(6)  # the server and its worker are up, the queue is empty
            # The first take wakes the worker's numerics and is left out.
            seconds = [once(check, musician, sound) for musician in musicians][1:]
        finally:
            server.terminate()
            server.wait(30)
        direct = _direct(sound, runs)
    from benchmarks.machine import machine

    print(f"machine: {machine()}")
    print(f"sent to readings, {SECONDS} s take: median {statistics.median(seconds):.2f} s, "
          f"longest {max(seconds):.2f} s of {len(seconds)} (required 10 s)")
    print(f"peer, the hearing alone in one warm process: median {direct:.2f} s")


def _direct(sound: bytes, runs: int) -> float:
    """Median seconds of the hearing itself, decoding included."""
    from tests.hearing_scene import TUNE

    from standlight.listening import ListeningTask, Terms, listen
    from standlight.score import line_to_musicxml

    notation = line_to_musicxml(TUNE, instrument="Clarinet in Bb", title="Tune")
    terms = Terms(84, "Clarinet in Bb", criteria=("intonation", "rhythm"))
    task = ListeningTask(sound, notation, terms)
    seconds = []
    for _ in range(runs + 1):
        began = time.perf_counter()
        listen(task)
        seconds.append(time.perf_counter() - began)
    return statistics.median(seconds[1:])


if __name__ == "__main__":
    main()
