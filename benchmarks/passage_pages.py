"""How long the server takes for a check's page and for one look while an end is dragged.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/passage_pages.py``. The band march of the
tests (28 parts, somebody on each), three criteria, the survey warm. Prints the median and the
95th percentile of whole requests through Django's test client, by the clock and of processor
time. Required: 300 ms for the page, 100 ms for a look. The peer is the same look with the piece
surveyed anew each time, which is what a page without kept surveys would do.
"""

from __future__ import annotations

import datetime
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ["STANDLIGHT_DATA"] = tempfile.mkdtemp(prefix="standlight-bench-")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "standlight.web.settings")
sys.path.insert(0, os.getcwd())

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.test import Client  # noqa: E402

from benchmarks.large_ensemble import large_ensemble  # noqa: E402
from benchmarks.machine import machine  # noqa: E402
from standlight.programme import surveys  # noqa: E402
from standlight.programme.actions import checks, folder  # noqa: E402
from standlight.programme.models import Section  # noqa: E402
from standlight.score import read_score  # noqa: E402

MARCH = Path("tests/scores/real/tenth_regiment_hall.mxl")
RUNS = 20
ASKED_MS = {"the check's page": 300, "a look": 100}


def a_check():
    """The director, and a check of the march with a musician on every part."""
    data = MARCH.read_bytes()
    parts = read_score(data).parts
    school = large_ensemble(len(parts), len(parts))
    sections = Section.objects.filter(ensemble=school.ensemble).order_by("order")
    for section, part in zip(sections, parts, strict=True):
        Section.objects.filter(pk=section.pk).update(name=part.name, instrument=part.instrument)
    folder.confirm_owns_music(school.director)
    piece = folder.add_score(school.director, school.ensemble, data, name=MARCH.name)
    facts = checks.CheckFacts(
        title="March",
        criteria=("rhythm", "dynamics", "articulation"),
        tempo_qpm=112.0,
        due_on=datetime.date(2030, 1, 7),
    )
    return school.director, checks.make_check(school.director, piece, facts)


def timed(name: str, asked: Callable[[], object]) -> None:
    """Median and 95th percentile of ``asked``, by the clock and of processor time."""
    clock, busy = [], []
    asked()
    for _ in range(RUNS):
        start, work = time.perf_counter(), time.process_time()
        asked()
        clock.append((time.perf_counter() - start) * 1e3)
        busy.append((time.process_time() - work) * 1e3)
    cells = [
        f"{statistics.median(some):.0f} ms median, {sorted(some)[-2]:.0f} p95"
        for some in (clock, busy)
    ]
    asked_ms = f"; asked {ASKED_MS[name]}" if name in ASKED_MS else ""
    print(f"{name}: {cells[0]} by the clock; {cells[1]} of processor{asked_ms}", flush=True)


def main() -> None:
    """Make the check, ask for its pages, print."""
    call_command("migrate", verbosity=0)
    director, check = a_check()
    client = Client(SERVER_NAME="localhost")
    client.force_login(director)
    row = check.passages.exclude(notation_digest="").first()
    look = f"/checks/passages/{row.pk}/look/?first=2&last=9"

    def seen(address: str) -> None:
        answer = client.get(address, headers={"HX-Request": "true"})
        assert answer.status_code == 200, (address, answer.status_code)

    def anew() -> None:
        surveys._survey.cache_clear()
        seen(look)

    print(f"machine: {machine()}; {check.passages.count()} passages")
    timed("the check's page", lambda: seen(f"/checks/{check.pk}/"))
    timed("a look", lambda: seen(look))
    timed("   peer: a look, the piece surveyed anew", anew)


if __name__ == "__main__":
    main()
