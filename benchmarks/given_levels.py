"""How long it takes to gather a school's levels as rows of keys: 200 musicians, 17 checks of 3.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/given_levels.py``. Prints processor time, the
least of several runs, and of a peer in the same run: the same rows from the models' own objects,
followed from level to turn to check. Required: 10,000 levels in half a second.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable

os.environ["STANDLIGHT_DATA"] = tempfile.mkdtemp(prefix="standlight-bench-")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "standlight.web.settings")
sys.path.insert(0, os.getcwd())

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402
from django.utils import timezone  # noqa: E402

from benchmarks.large_ensemble import large_ensemble  # noqa: E402
from benchmarks.machine import machine  # noqa: E402
from standlight.programme.models import (  # noqa: E402
    CheckPassage,
    GivenLevel,
    Piece,
    PlayingCheck,
    Seat,
    Turn,
)
from standlight.programme.queries.given_ratings import given_levels  # noqa: E402

MUSICIANS, SECTIONS, CHECKS, RUNS = 200, 10, 17, 7
CRITERIA = ("intonation", "rhythm", "notes")
REQUIRED_S = 0.5


def school() -> int:
    """A programme in which everyone has sent every check and has levels; its key."""
    made = large_ensemble(MUSICIANS, SECTIONS)
    now = timezone.now()
    for number in range(CHECKS):
        piece = Piece.objects.create(ensemble=made.ensemble, title=f"Piece {number}", measures=[])
        check = PlayingCheck.objects.create(
            ensemble=made.ensemble,
            piece=piece,
            title=f"Check {number}",
            criteria=list(CRITERIA),
            tempo_qpm=96,
            due_on=timezone.localdate(),
            made_by=made.director,
            published_at=now,
        )
        CheckPassage.objects.create(check_row=check, printed="letter A")
        turns = Turn.objects.bulk_create(
            Turn(check_row=check, musician=person, sent_at=now) for person in made.musicians
        )
        GivenLevel.objects.bulk_create(
            GivenLevel(turn=turn, criterion=key, value=str(1 + turn.pk % 4), rater=made.director)
            for turn in turns
            for key in CRITERIA
        )
    return made.director.programme_id


def from_objects(programme_pk: int) -> list[tuple[str, ...]]:
    """The peer: what a row says of who and what, from the models' own objects."""
    seats = {seat.musician_id: seat for seat in Seat.objects.select_related("section")}
    levels = GivenLevel.objects.filter(
        turn__check_row__ensemble__programme=programme_pk, retired_at__isnull=True
    ).select_related("turn__check_row__ensemble", "turn__musician", "rater")
    return [
        (
            f"m{level.turn.musician.pk}",
            f"e{level.turn.check_row.ensemble.pk}",
            f"s{seats[level.turn.musician_id].section.pk}",
            f"t{level.turn.pk}",
            level.criterion,
            f"a{level.rater.pk}",
            level.value,
        )
        for level in levels
    ]


def seconds(act: Callable[[], object]) -> float:
    """Processor seconds of the quickest of several runs."""
    times = []
    for _ in range(RUNS):
        start = time.process_time()
        act()
        times.append(time.process_time() - start)
    return min(times)


def main() -> int:
    """Print both figures and what they ran on; 1 when the required figure is missed."""
    call_command("migrate", verbosity=0)
    programme = school()
    with CaptureQueriesContext(connection) as asked:
        found = given_levels(programme)
    peer = from_objects(programme)
    same = sorted(
        (row.student, row.ensemble, row.section, row.take, row.criterion, row.rater, str(row.level))
        for row in found.given
    )
    assert same == sorted(peer)
    ours = seconds(lambda: given_levels(programme))
    theirs = seconds(lambda: from_objects(programme))
    print(f"{len(found.given)} levels, {MUSICIANS} musicians x {CHECKS} checks, SQLite")
    print(f"on {machine()}")
    print(f"gathered as rows: {ours:.2f} s of processor time, {len(asked)} queries")
    print(f"peer, the models' own objects: {theirs:.2f} s")
    return int(ours * 10_000 / len(found.given) > REQUIRED_S)


if __name__ == "__main__":
    sys.exit(main())
