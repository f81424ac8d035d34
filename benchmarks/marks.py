"""How long marks take for 300 musicians x 12 checks x 3 criteria, and how near truth they come.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/marks.py``. Prints, by the clock and by the
processor, the time of the marks alone under every policy and of whole requests for the page
(middleware, sight rules, template), with a peer in the same run: the levels asked musician by
musician. Then how far each policy's figure is from the planted level at the period's end, and how
often the line's interval holds it. Required: 1 s of the processor for the marks and for the page
(the clock says more where other work shares the machine).
"""

from __future__ import annotations

import datetime
import os
import statistics
import sys
import tempfile
import time

os.environ["STANDLIGHT_DATA"] = tempfile.mkdtemp(prefix="standlight-bench-")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "standlight.web.settings")
sys.path.insert(0, os.getcwd())

import django

django.setup()

import numpy as np  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.test import Client  # noqa: E402
from django.urls import reverse  # noqa: E402
from django.utils import timezone  # noqa: E402

from benchmarks.large_ensemble import large_ensemble  # noqa: E402
from benchmarks.machine import machine  # noqa: E402
from standlight.programme.marking_terms import Terms, data_of  # noqa: E402
from standlight.programme.models import (  # noqa: E402
    GivenLevel,
    MarkingPeriod,
    PeriodMarks,
    Piece,
    PlayingCheck,
    Turn,
)
from standlight.programme.queries.marks_works import gather  # noqa: E402
from standlight.ratings import POLICIES, MarkPolicy, group_lines, mark  # noqa: E402
from standlight.ratings.marking_policies import figure_of  # noqa: E402
from standlight.ratings.marking_trend import group_trend, own_trend  # noqa: E402
from standlight.ratings.marking_values import Dated  # noqa: E402

MUSICIANS, CHECKS, SECTIONS, REQUESTS = 300, 12, 12, 9
CRITERIA = ["intonation", "rhythm", "notes"]
DAYS = 60
MOST_SECONDS = 1.0
PEER_MUSICIANS = 30
SIMULATED_GROUPS, SIMULATED_MUSICIANS = 20, 60


def school() -> tuple[object, object, MarkingPeriod]:
    """A director, an ensemble in which every check of a period is rated, and the period."""
    made = large_ensemble(MUSICIANS, SECTIONS)
    chance = np.random.default_rng(7)
    today = timezone.localdate()
    period = MarkingPeriod.objects.create(
        programme=made.director.programme,
        name="Period",
        starts_on=today - datetime.timedelta(DAYS),
        ends_on=today,
    )
    piece = Piece.objects.create(ensemble=made.ensemble, title="Piece", measures=[])
    for number in range(CHECKS):
        due_on = period.starts_on + datetime.timedelta((number + 1) * DAYS // CHECKS)
        check = PlayingCheck.objects.create(
            ensemble=made.ensemble,
            piece=piece,
            title=f"Check {number}",
            criteria=CRITERIA,
            tempo_qpm=96,
            due_on=due_on,
            made_by=made.director,
            published_at=timezone.now(),
        )
        sent_at = timezone.now() - datetime.timedelta((today - due_on).days)
        turns = Turn.objects.bulk_create(
            Turn(check_row=check, musician=person, sent_at=sent_at, answered_at=sent_at)
            for person in made.musicians
        )
        GivenLevel.objects.bulk_create(
            GivenLevel(
                turn=turn, criterion=key, value=str(chance.integers(1, 5)), rater=made.director
            )
            for turn in turns
            for key in CRITERIA
        )
    return made.director, made.ensemble, period


def now() -> tuple[float, float]:
    """Clock and processor, in seconds."""
    return time.perf_counter(), time.process_time()


def since(start: tuple[float, float]) -> tuple[float, float]:
    """Seconds of clock and processor since ``start``."""
    clock, processor = now()
    return clock - start[0], processor - start[1]


def words(seconds: tuple[float, float]) -> str:
    """Both, in milliseconds."""
    return f"{1000 * seconds[0]:.0f} ms by the clock, {1000 * seconds[1]:.0f} ms of the processor"


def marks_alone(ensemble: object, period: MarkingPeriod) -> dict[str, tuple[float, float]]:
    """Seconds for everybody's mark, by policy, from levels already in memory."""
    found = gather(ensemble, period, Terms(), timezone.localdate())
    works = [[one.work for one in mine] for mine in found.works.values()]
    assert len(works) == MUSICIANS
    assert sum(len(work.numbers) for mine in works for work in mine) == (
        MUSICIANS * CHECKS * len(CRITERIA)
    )
    seconds = {}
    for key in POLICIES:
        policy = MarkPolicy(key)
        start = now()
        group = group_lines(works, policy, found.span_days)
        made = [mark(mine, policy, group=group, names=found.names) for mine in works]
        seconds[key] = since(start)
        assert all(one.value is not None for one in made)
    return seconds


def page_seconds(client: Client, address: str) -> list[tuple[float, float]]:
    """The time of each whole request."""
    times = []
    for _ in range(REQUESTS):
        start = now()
        answer = client.get(address, HTTP_HOST="localhost")
        times.append(since(start))
        assert answer.status_code == 200
    return times


def peer_seconds(ensemble: object) -> float:
    """The peer: levels asked musician by musician and check by check, scaled to all musicians."""
    checks = list(PlayingCheck.objects.filter(ensemble=ensemble))
    people = [turn.musician_id for turn in Turn.objects.filter(check_row=checks[0])]
    start = time.perf_counter()
    for person in people[:PEER_MUSICIANS]:
        for check in checks:
            for turn in Turn.objects.filter(check_row=check, musician=person):
                list(turn.levels.filter(retired_at__isnull=True).order_by("given_at"))
    return (time.perf_counter() - start) * MUSICIANS / PEER_MUSICIANS


def errors() -> tuple[dict[str, tuple[float, float]], float]:
    """By policy: root mean square error and mean error against the end level; the line's cover."""
    off: dict[str, list[float]] = {key: [] for key in POLICIES}
    held = []
    for seed in range(SIMULATED_GROUPS):
        chance = np.random.default_rng(seed)
        ends = 2.9 + 0.55 * chance.standard_normal(SIMULATED_MUSICIANS)
        rises = 0.5 + 0.4 * chance.standard_normal(SIMULATED_MUSICIANS)
        series = []
        for end, rise in zip(ends, rises, strict=True):
            days = np.linspace(5, DAYS, CHECKS)
            around = 0.6 * chance.standard_normal(CHECKS)
            values = np.clip(np.rint(end + rise * (days - DAYS) / DAYS + around), 1, 4)
            series.append([Dated(float(v), float(d)) for v, d in zip(values, days, strict=True)])
        group = group_trend(series, DAYS)
        assert group is not None
        for one, end in zip(series, np.clip(ends, 1, 4), strict=True):
            for key, found in off.items():
                found.append(figure_of(one, MarkPolicy(key), group).value - end)
            own = own_trend(one, group)
            held.append(own.low <= end <= own.high)
    return {
        key: (float(np.sqrt(np.mean(np.square(one)))), float(np.mean(one)))
        for key, one in off.items()
    }, float(np.mean(held))


def main() -> int:
    """Print the figures and what they ran on; 1 when the required time is missed."""
    call_command("migrate", verbosity=0)
    director, ensemble, period = school()
    client = Client()
    client.force_login(director, backend="django.contrib.auth.backends.ModelBackend")
    address = reverse("marks-period", args=[ensemble.pk, period.pk])
    print(f"{MUSICIANS} musicians x {CHECKS} checks x {len(CRITERIA)} criteria, SQLite")
    print(f"on {machine()}")
    alone = marks_alone(ensemble, period)
    for key, seconds in alone.items():
        print(f"marks alone, {key}: {words(seconds)}")
    medians = {}
    for key in ("mean", "trend"):
        PeriodMarks.objects.update_or_create(
            ensemble=ensemble, period=period, defaults={"terms": data_of(Terms(MarkPolicy(key)))}
        )
        page_seconds(client, address)
        clock, processor = zip(*page_seconds(client, address), strict=True)
        medians[key] = (statistics.median(clock), statistics.median(processor))
        print(f"page, {key}: median {words(medians[key])}")
    print(f"peer, levels asked one by one: {peer_seconds(ensemble):.1f} s")
    found, cover = errors()
    print(f"against the planted end level, {CHECKS} levels, {SIMULATED_MUSICIANS} musicians:")
    for key, (size, lean) in found.items():
        print(f"  {key}: error {size:.2f}, leans {lean:+.2f}")
    print(f"  the line's 95 percent interval holds it in {100 * cover:.0f} percent")
    return int(max(one for _, one in (*alone.values(), *medians.values())) > MOST_SECONDS)


if __name__ == "__main__":
    sys.exit(main())
