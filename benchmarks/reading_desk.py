"""How long the server takes to put the next sheet on the reading Desk, at 160 musicians.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/reading_desk.py``. Every musician has sent a
score study, a find a week and a remark a week over half a year. Prints the median and the 95th
percentile of whole requests through Django's test client (middleware, sight rules, first opening,
template), of a peer in the same run (the next sheet asked sheet by sheet), and of the pages in
bulk. Required: 100 ms for the next sheet.
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

from django.core.management import call_command  # noqa: E402
from django.test import Client  # noqa: E402
from django.urls import reverse  # noqa: E402
from django.utils import timezone  # noqa: E402

from benchmarks.large_ensemble import large_ensemble  # noqa: E402
from benchmarks.machine import machine  # noqa: E402
from standlight.programme.actions.kinds import latest_edition  # noqa: E402
from standlight.programme.models import (  # noqa: E402
    Account,
    Assignment,
    CommentLine,
    Ensemble,
    Musician,
    Piece,
    Sheet,
)
from standlight.programme.queries import reading_sheet  # noqa: E402
from standlight.programme.queries.reading import Ordered  # noqa: E402

MUSICIANS, SECTIONS, WEEKS, REQUESTS = 160, 10, 24, 60
WORDS = "The tune walks down by steps while the low parts hold one long note under it. "


def school() -> tuple[Account, Ensemble, list[Musician]]:
    """A programme of one large ensemble, its director, and lines in the bank."""
    made = large_ensemble(MUSICIANS, SECTIONS)
    programme = made.director.programme
    CommentLine.objects.bulk_create(
        CommentLine(programme=programme, criterion=f"kind:{key}", place=place, text=f"{key} {n}")
        for key in ("score_study", "finds", "rehearsal_remark")
        for place in (CommentLine.STRENGTH, CommentLine.NEXT_STEP)
        for n in range(6)
    )
    return made.director, made.ensemble, made.musicians


def assignment(director: Account, ensemble: Ensemble, key: str, piece: Piece) -> Assignment:
    """A shipped kind given out to everyone."""
    return Assignment.objects.create(
        ensemble=ensemble,
        kind=latest_edition(director.programme, key),
        title=key,
        piece=piece,
        starts_on=timezone.localdate(),
        made_by=director,
        published_at=timezone.now(),
    )


def study_answers() -> dict:
    """Every list of a score study with four lines in it."""
    at = [{"measure": 12 * n + 1, "words": "here"} for n in range(4)]
    return {
        "form": [{"at": one, "what": "new", "how": WORDS[:60]} for one in at],
        "role": [{"at": one, "job": "tune", "with": "the flutes"} for one in at],
        "texture": [{"at": one, "how": "tune", "who": "the horns"} for one in at],
        "wishes": [{"at": one, "sign": "dolce", "do": WORDS[:60]} for one in at],
        "hardest": [{"at": one, "why": "leap", "plan": WORDS[:60]} for one in at[:2]],
        "ask": WORDS,
    }


def fill(director: Account, ensemble: Ensemble, people: list[Musician]) -> Assignment:
    """Half a year of writing; the score study is the stack that waits."""
    piece = Piece.objects.create(
        ensemble=ensemble,
        title="Piece",
        measures=[{"index": n, "printed": str(n + 1), "movement": 0} for n in range(120)],
    )
    now = timezone.now()
    study = assignment(director, ensemble, "score_study", piece)
    finds = assignment(director, ensemble, "finds", piece)
    find = {"what": WORDS[:30], "who": WORDS[:20], "why": WORDS, "share": True}
    rows = [
        Sheet(
            assignment=study,
            author=person.account,
            about=person,
            step="find",
            answers=study_answers(),
            sent_at=now - datetime.timedelta(minutes=n),
        )
        for n, person in enumerate(people)
    ]
    rows += [
        Sheet(
            assignment=finds,
            author=person.account,
            about=person,
            step="find",
            number=week + 1,
            answers=find,
            sent_at=now - datetime.timedelta(weeks=week),
            opened_at=now,
        )
        for person in people
        for week in range(WEEKS)
    ]
    Sheet.objects.bulk_create(rows, batch_size=500)
    return study


def order_sheet_by_sheet(account: Account, given: Assignment) -> list[Ordered]:
    """The peer: the same order, every sheet looked up for itself with its author and reply."""
    found = []
    keys = Sheet.objects.visible_to(account).filter(assignment=given, sent_at__isnull=False)
    for key in list(keys.values_list("key", flat=True)):
        row = Sheet.objects.select_related("author").get(pk=key)
        if row.author.role == Account.MUSICIAN:
            found.append((row.sent_at, row.key, row.opened_at is None))
    return [Ordered(key, unread) for _, key, unread in sorted(found)]


def milliseconds(client: Client, addresses: list[str]) -> list[float]:
    """The time of each request."""
    times = []
    for address in addresses:
        start = time.perf_counter()
        answer = client.get(address, HTTP_HOST="localhost")
        times.append(1000 * (time.perf_counter() - start))
        assert answer.status_code == 200, address
    return times


def line(name: str, times: list[float]) -> str:
    """The figures of one way."""
    ordered = sorted(times)
    return (
        f"{name}: median {statistics.median(times):.0f} ms, "
        f"95th percentile {ordered[int(0.95 * (len(ordered) - 1))]:.0f} ms, {len(times)} requests"
    )


def main() -> int:
    """Print the figures and what they ran on; 1 when the required figure is missed."""
    call_command("migrate", verbosity=0)
    director, ensemble, people = school()
    study = fill(director, ensemble, people)
    client = Client()
    client.force_login(director, backend="django.contrib.auth.backends.ModelBackend")
    order = reading_sheet.order_of(director, study)
    assert [one.key for one in order] == [one.key for one in order_sheet_by_sheet(director, study)]
    sheets = [reverse("reading-sheet", args=[study.pk, one.key]) for one in order]
    milliseconds(client, sheets[:3])
    ours = milliseconds(client, sheets[3 : 3 + REQUESTS])
    kept, reading_sheet.order_of = reading_sheet.order_of, order_sheet_by_sheet
    peer = milliseconds(client, sheets[-REQUESTS // 3 :])
    reading_sheet.order_of = kept
    together = reverse("reading-together-step", args=[study.pk, "find"])
    search = reverse("reading-search")
    print(f"{MUSICIANS} musicians, {Sheet.objects.count()} sheets, SQLite")
    print(f"on {machine()}")
    print(line("next sheet at the reading Desk", ours))
    print(line("peer, the order sheet by sheet", peer))
    print(line("the stacks", milliseconds(client, [reverse("reading")] * 10)))
    print(line("one question side by side", milliseconds(client, [together] * 10)))
    print(line("words found in everything", milliseconds(client, [f"{search}?q=horns"] * 5)))
    return int(statistics.median(ours) > 100)


if __name__ == "__main__":
    sys.exit(main())
