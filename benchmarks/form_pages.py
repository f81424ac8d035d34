"""How long the server takes for a musician's form, lists and saves, at 160 musicians.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/form_pages.py``. One ensemble has every kind
that ships given out, and everyone has sent a find a week for half a year. Prints the median and
the 95th percentile, by the clock and of processor time alone, of whole requests through Django's
test client (middleware, sight rules, template): each step's form, My part, the list of work, one
piece of work, and a save by script. Required: 100 ms.
"""

from __future__ import annotations

import datetime
import json
import os
import statistics
import sys
import tempfile
import time
from uuid import uuid4

os.environ["STANDLIGHT_DATA"] = tempfile.mkdtemp(prefix="standlight-bench-")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "standlight.web.settings")
sys.path.insert(0, os.getcwd())

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.test import Client  # noqa: E402
from django.urls import reverse  # noqa: E402
from django.utils import timezone  # noqa: E402

from benchmarks.machine import machine  # noqa: E402
from benchmarks.reading_desk import school  # noqa: E402
from standlight.kinds import KINDS  # noqa: E402
from standlight.programme.actions.kinds import latest_edition  # noqa: E402
from standlight.programme.models import Assignment, Piece, Sheet  # noqa: E402

WEEKS, ROUNDS = 24, 3
ASKED_MS = 100
FIND = {"what": "A slow march", "who": "A band", "why": "Listen for the low drums."}
WORDS = "The tune walks down by steps while the low parts hold one long note. "


def given_out(director, ensemble):
    """Every kind that ships, given out to the ensemble; by the kind's key."""
    piece = Piece.objects.create(
        ensemble=ensemble,
        title="Ode",
        measures=[{"index": n, "printed": str(n + 1), "movement": 0} for n in range(120)],
    )
    today = timezone.localdate()
    return {
        key: Assignment.objects.create(
            ensemble=ensemble,
            kind=latest_edition(ensemble.programme, key),
            title=kind.name,
            piece=piece if "piece" in kind.needs else None,
            starts_on=today,
            due_on=today + datetime.timedelta(days=7),
            made_by=director,
            published_at=timezone.now(),
        )
        for key, kind in KINDS.items()
    }


def send_finds(assignment, people):
    """A find a week of everyone."""
    now = timezone.now()
    Sheet.objects.bulk_create(
        Sheet(
            assignment=assignment,
            author=person.account,
            about=person,
            step="find",
            number=week,
            answers=FIND,
            sent_at=now,
        )
        for person in people
        for week in range(1, WEEKS + 1)
    )


def timed(act) -> tuple[float, float]:
    """Milliseconds of one call by the clock, and of the processor's time in it.

    The second tells what the first would be on a machine that does nothing else.
    """
    start, busy = time.perf_counter(), time.process_time()
    act()
    return (time.perf_counter() - start) * 1000, (time.process_time() - busy) * 1000


def shown(client, address):
    """Open a page, which has to be there."""
    answer = client.get(address)
    assert answer.status_code == 200, (address, answer.status_code)


def save(client, assignment):
    """Save one long answer as the script of the page does, with a new stamp."""
    fields = [["q.what", WORDS * 3]]
    body = {"saves": {"what": {"fields": fields, "stamp": str(uuid4()), "seen": ""}}}
    address = reverse("my-sheet-save", args=[assignment.pk, "find"])
    answer = client.put(address, json.dumps(body), content_type="application/json")
    assert answer.status_code == 200 and answer.json()["stamps"], answer.content


def told(name: str, times: list[tuple[float, float]]) -> None:
    """One line of figures: by the clock, then processor time alone."""
    parts = []
    for figures in zip(*times, strict=True):
        p95 = statistics.quantiles(figures, n=20)[-1]
        parts.append(f"{statistics.median(figures):6.1f} {p95:6.1f}")
    print(f"{name:36} clock {parts[0]} ms   processor {parts[1]} ms   ({len(times)} requests)")


def main() -> None:
    """Make the school, ask every page of several musicians, print the figures."""
    call_command("migrate", verbosity=0)
    director, ensemble, people = school()
    works = given_out(director, ensemble)
    send_finds(works["finds"], people)
    steps = [(works[key].pk, step.key) for key, kind in KINDS.items() for step in kind.steps]
    client = Client(HTTP_HOST="localhost")
    client.force_login(
        people[0].account, backend="django.contrib.auth.backends.ModelBackend"
    )
    # The first request of a process compiles templates; it is no page's own time.
    shown(client, reverse("my-sheet-form", args=steps[0]))
    print(machine())
    print(f"{len(people)} musicians, {Sheet.objects.count()} sheets, asked: {ASKED_MS} ms")
    forms = {
        address: [timed(lambda at=address: shown(client, at)) for _ in range(ROUNDS * 3)]
        for address in (reverse("my-sheet-form", args=step) for step in steps)
    }
    told(f"a form, {len(steps)} steps", [one for times in forms.values() for one in times])
    slowest = max(forms, key=lambda address: statistics.median(forms[address]))
    told(f"the slowest form ({slowest})", forms[slowest])
    for name, address in (
        ("My part", reverse("my-part")),
        ("the list of work", reverse("my-works")),
        ("one piece of work, 24 sheets", reverse("my-work", args=[works["finds"].pk])),
    ):
        told(name, [timed(lambda at=address: shown(client, at)) for _ in range(40)])
    times = []
    for person in people[: ROUNDS * 20]:
        client.force_login(
            person.account, backend="django.contrib.auth.backends.ModelBackend"
        )
        times.append(timed(lambda: save(client, works["finds"])))
    told("a save by script, 60 musicians", times)


if __name__ == "__main__":
    main()
