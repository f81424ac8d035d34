"""How long the server takes to put the next take on the Desk, at 160 musicians x 12 checks.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/desk_next.py``. Prints the median and the
95th percentile of whole requests through Django's test client (middleware, sight rules, template),
and of a peer in the same run: the same page with a queue asked turn by turn. Required: 150 ms.
"""

from __future__ import annotations

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
from standlight.programme import store  # noqa: E402
from standlight.programme.models import (  # noqa: E402
    Account,
    Casting,
    CheckPassage,
    CommentLine,
    GivenLevel,
    Part,
    Piece,
    PlayingCheck,
    Report,
    Seat,
    Take,
    Turn,
)
from standlight.programme.notation import PHONE_MM, WIDE_MM, svg_of  # noqa: E402
from standlight.programme.queries import desk_queue  # noqa: E402
from standlight.score import cut_passage, line_to_musicxml  # noqa: E402

MUSICIANS, CHECKS, SECTIONS, REQUESTS = 160, 12, 10, 60
CRITERIA = ["intonation", "rhythm", "notes"]
LINE = " | ".join(["C5 e D5 e E5 e F5 e G5 q E5 q"] * 8)


def school() -> tuple[Account, list[PlayingCheck]]:
    """A programme of one large ensemble in which everyone has sent every check."""
    made = large_ensemble(MUSICIANS, SECTIONS)
    director, ensemble, seats = made.director, made.ensemble, made.seats
    programme = director.programme
    whole = line_to_musicxml(f"time 4/4\ntempo 96\n{LINE}", instrument="Clarinet in Bb")
    digest = store.keep(cut_passage(whole, 0, 0, 7))
    CommentLine.objects.bulk_create(
        CommentLine(programme=programme, criterion=key, place=place, level=level, text=f"{key} {n}")
        for key in CRITERIA
        for place in CommentLine.PLACES
        for level in range(1, 5)
        for n in range(3)
    )
    return director, [check_of(director, ensemble, seats, digest, n) for n in range(CHECKS)]


def check_of(director, ensemble, seats, digest, number) -> PlayingCheck:
    """One piece, check and passage; a turn, take and report of everyone; all but the last rated."""
    now = timezone.now()
    piece = Piece.objects.create(
        ensemble=ensemble,
        title=f"Piece {number}",
        measures=[{"index": n, "printed": str(n + 1), "movement": 0} for n in range(120)],
    )
    part = Part.objects.create(piece=piece, index=0, name="Clarinet", instrument="Clarinet in Bb")
    Casting.objects.bulk_create(Casting(seat=seat, piece=piece, part=part) for seat in seats)
    check = PlayingCheck.objects.create(
        ensemble=ensemble,
        piece=piece,
        title=f"Check {number}",
        criteria=CRITERIA,
        tempo_qpm=96,
        due_on=timezone.localdate(),
        made_by=director,
        published_at=now,
    )
    CheckPassage.objects.create(
        check_row=check,
        part=part,
        first_measure=0,
        last_measure=7,
        printed="1 to 8",
        notation_digest=digest,
    )
    waits = number == CHECKS - 1
    turns = Turn.objects.bulk_create(
        Turn(
            check_row=check,
            musician_id=seat.musician_id,
            sent_at=now,
            answered_at=None if waits else now,
        )
        for seat in seats
    )
    takes = Take.objects.bulk_create(
        Take(
            turn=turn,
            chosen=True,
            state=Take.HEARD,
            digest=digest,
            playback_digest=digest,
            seconds=20.0,
            first_note_s=1.0,
        )
        for turn in turns
    )
    Report.objects.bulk_create(
        Report(take=take, method="2026-11", body={"notes": [], "spots": [], "readings": []})
        for take in takes
    )
    if not waits:
        GivenLevel.objects.bulk_create(
            GivenLevel(turn=turn, criterion=key, value="3", rater=director)
            for turn in turns
            for key in CRITERIA
        )
    svg_of(digest, width_mm=WIDE_MM)
    svg_of(digest, width_mm=PHONE_MM)
    return check


def queue_turn_by_turn(account, check):
    """The peer: the same order, asked one turn after the other."""
    found = []
    for turn in Turn.objects.visible_to(account).filter(check_row=check, sent_at__isnull=False):
        newer = Turn.objects.filter(
            check_row=check, musician=turn.musician_id, attempt__gt=turn.attempt
        )
        if turn.answered_at is None and not newer.exists():
            seat = Seat.objects.select_related("section").get(
                musician=turn.musician_id, section__ensemble=check.ensemble_id
            )
            found.append((seat.section.order, turn.musician.family_name, turn.pk))
    return [pk for *_, pk in sorted(found)]


def milliseconds(client: Client, check: PlayingCheck, turns: list[int]) -> list[float]:
    """The time of each request for the page of a turn."""
    times = []
    for pk in turns:
        address = reverse("desk-turn", args=[check.pk, pk])
        start = time.perf_counter()
        answer = client.get(address, HTTP_HOST="localhost")
        times.append(1000 * (time.perf_counter() - start))
        assert answer.status_code == 200
    return times


def line(name: str, times: list[float]) -> str:
    """The figures of one way."""
    ordered = sorted(times)
    return (
        f"{name}: median {statistics.median(times):.0f} ms, "
        f"95th percentile {ordered[int(0.95 * (len(ordered) - 1))]:.0f} ms, {len(times)} requests"
    )


def main() -> int:
    """Print both figures and what they ran on; 1 when the required figure is missed."""
    call_command("migrate", verbosity=0)
    director, checks = school()
    client = Client()
    client.force_login(director, backend="django.contrib.auth.backends.ModelBackend")
    waiting = desk_queue.queue_of(director, checks[-1])
    assert queue_turn_by_turn(director, checks[-1]) == waiting
    milliseconds(client, checks[-1], waiting[:3])
    ours = milliseconds(client, checks[-1], waiting[:REQUESTS])
    kept, desk_queue.queue_of = desk_queue.queue_of, queue_turn_by_turn
    peer = milliseconds(client, checks[-1], waiting[: REQUESTS // 3])
    desk_queue.queue_of = kept
    print(f"{MUSICIANS} musicians x {CHECKS} checks, {Turn.objects.count()} turns, SQLite")
    print(f"on {machine()}")
    print(line("next take at the Desk", ours))
    print(line("peer, queue turn by turn", peer))
    return int(statistics.median(ours) > 150)


if __name__ == "__main__":
    sys.exit(main())
