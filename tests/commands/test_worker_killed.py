"""A worker killed in the middle of a take: the errand comes back and is done once."""

import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from standlight.commands.serve import WorkerKeeper

ROOT = Path(__file__).resolve().parents[2]

SET_UP = """
from standlight.commands._shell import open_shell, bring_up_to_date
open_shell()
bring_up_to_date()
import datetime, io, sys, wave
import numpy as np
from django.db import transaction
from tests.cast import make_cast
from standlight.programme import jobs, store
from standlight.programme.models import Piece, PlayingCheck, Take, Turn

cast = make_cast(datetime.date(2026, 11, 2))
piece = Piece.objects.create(ensemble=cast.band, title="On paper")
check = PlayingCheck.objects.create(
    ensemble=cast.band, piece=piece, title="Check", criteria=["rhythm"], tempo_qpm=80,
    due_on=datetime.date(2026, 11, 6), made_by=cast.director,
)
# Two minutes of a steady A: long enough that the kill falls into the hearing.
time_s = np.arange(44100 * 120) / 44100
samples = (8000 * np.sin(2 * np.pi * 440 * time_s)).astype("<i2")
sound = io.BytesIO()
with wave.open(sound, "wb") as out:
    out.setnchannels(1); out.setsampwidth(2); out.setframerate(44100)
    out.writeframes(samples.tobytes())
turn = Turn.objects.create(check_row=check, musician=cast.musician)
take = Take.objects.create(turn=turn, state=Take.WHOLE, digest=store.keep(sound.getvalue()))
with transaction.atomic():
    jobs.ask_to_listen(take)
"""


def one(database: Path, question: str):
    with sqlite3.connect(f"file:{database}?mode=ro", uri=True, timeout=10) as connection:
        return connection.execute(question).fetchone()


def wait_for(what, seconds, said):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if what():
            return
        time.sleep(0.05)
    pytest.fail(f"{said} did not happen in {seconds} s")


def test_a_killed_worker_is_started_again_and_the_take_is_heard(tmp_path, monkeypatch):
    for name, value in {
        "STANDLIGHT_DATA": str(tmp_path), "STANDLIGHT_LEASE_SECONDS": "12",
        "STANDLIGHT_WORKERS": "1", "DJANGO_SETTINGS_MODULE": "standlight.web.settings",
        "PYTHONPATH": f"{ROOT / 'src'}{os.pathsep}{ROOT}",
    }.items():
        monkeypatch.setenv(name, value)
    subprocess.run([sys.executable, "-c", SET_UP], check=True, cwd=ROOT)
    database = tmp_path / "standlight.sqlite3"

    keeper = WorkerKeeper()
    keeper.start()
    try:
        wait_for(
            lambda: one(database, "select claimed_at from programme_take")[0], 60,
            "claiming the take",
        )
        killed = keeper.process.pid
        os.killpg(killed, signal.SIGKILL)
        assert one(database, "select count(*) from programme_report")[0] == 0
        wait_for(
            lambda: one(database, "select state from programme_take")[0] == "heard", 90,
            "hearing the take after the kill",
        )
        assert keeper.process.pid != killed
        assert one(database, "select count(*) from programme_report")[0] == 1
    finally:
        keeper.stop()
    wait_for(lambda: keeper.process.poll() is not None, 15, "the worker's end")
