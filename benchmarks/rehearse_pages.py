"""How long Rehearse takes on a large piece: 28 parts, 300 measures, 160 takes, 5,000 remarks.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/rehearse_pages.py``. Prints processor time,
the least of several runs: the strip of the piece from its rows (gathered, laid, drawn as a page
value; reports name places, no notes), the strip alone from rows in memory, the plan drawn up with
its podium page; the number of queries; and in the same run a peer: every remark counted measure by
measure and nothing else. The strip alone is required in 0.3 s.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable

os.environ["STANDLIGHT_DATA"] = tempfile.mkdtemp(prefix="standlight-bench-")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "standlight.web.settings")
sys.path.insert(0, os.getcwd())

import django

django.setup()

import numpy as np  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection, transaction  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402
from django.utils import timezone  # noqa: E402

from benchmarks.large_ensemble import large_ensemble  # noqa: E402
from benchmarks.machine import machine  # noqa: E402
from standlight.planning import draw_strip  # noqa: E402
from standlight.programme.actions import rehearse as acts  # noqa: E402
from standlight.programme.models import (  # noqa: E402
    Casting,
    CheckPassage,
    GivenLevel,
    Part,
    Piece,
    PlayingCheck,
    Remark,
    Report,
    Seat,
    Take,
    Turn,
)
from standlight.programme.queries.rehearse_evidence import strips_of  # noqa: E402
from standlight.programme.queries.rehearse_plan import podium_page  # noqa: E402
from standlight.programme.queries.rehearse_strip import strip_page  # noqa: E402

MUSICIANS, SECTIONS, PARTS, MEASURES, REMARKS, RUNS = 160, 14, 28, 300, 5000, 5
REQUIRED_S = 0.3
WORDS = ("It was out of tune. I will try: Sing it", "It went well", "Scared of this one")


def large_piece() -> tuple[Piece, object]:
    """The piece, everybody's take of sixteen measures read and rated, and the remarks."""
    random = np.random.default_rng(26)
    made = large_ensemble(MUSICIANS, SECTIONS)
    piece = Piece.objects.create(
        ensemble=made.ensemble,
        title="Large piece",
        measures=[
            {"index": n, "printed": str(n + 1), "movement": 0, "rehearsal": None, "beats": 4,
             "beat_unit": 4} for n in range(MEASURES)
        ],
    )  # fmt: skip
    parts = [
        Part.objects.create(piece=piece, index=n, name=f"Part {n}", instrument="Flute")
        for n in range(PARTS)
    ]
    now = timezone.now()
    check = PlayingCheck.objects.create(
        ensemble=made.ensemble, piece=piece, title="Check", criteria=["rhythm", "notes"],
        tempo_qpm=96, due_on=timezone.localdate(), made_by=made.director, published_at=now,
    )  # fmt: skip
    seats = list(Seat.objects.order_by("section__order", "pk"))
    of_part = [parts[n * PARTS // len(seats)] for n in range(len(seats))]
    Casting.objects.bulk_create(
        Casting(seat=seat, piece=piece, part=part)
        for seat, part in zip(seats, of_part, strict=True)
    )
    for n, part in enumerate(parts):
        first = 8 * n
        CheckPassage.objects.create(
            check_row=check, part=part, first_measure=first, last_measure=first + 15
        )
    for seat in seats:
        turn = Turn.objects.create(check_row=check, musician=seat.musician, sent_at=now)
        take = Take.objects.create(turn=turn, chosen=True, state=Take.HEARD)
        spots = [
            {"criterion": key, "first_measure": int(m), "last_measure": int(m), "sentence": ""}
            for key, m in zip(("rhythm", "notes"), random.integers(0, 16, 2), strict=True)
        ]
        Report.objects.create(take=take, method="x", body={"notes": [], "spots": spots})
        GivenLevel.objects.create(
            turn=turn, criterion="rhythm", value=str(random.integers(1, 5)), rater=made.director
        )
    firsts = random.integers(0, MEASURES - 4, REMARKS)
    Remark.objects.bulk_create(
        Remark(
            piece=piece, part=of_part[n % len(seats)],
            author=seats[n % len(seats)].musician.account,
            first_measure=int(first), last_measure=int(first + n % 4), words=WORDS[n % 3],
        )
        for n, first in enumerate(firsts)
    )  # fmt: skip
    return piece, made.director


def counted(piece: Piece) -> Counter[int]:
    """The peer: how many remarks touch each measure."""
    touched: Counter[int] = Counter()
    rows = Remark.objects.filter(piece=piece).values_list("first_measure", "last_measure")
    for first, last in rows:
        touched.update(range(first, last + 1))
    return touched


def seconds(act: Callable[[], object]) -> float:
    """Processor seconds of the quickest of several runs."""
    times = []
    for _ in range(RUNS):
        start = time.process_time()
        act()
        times.append(time.process_time() - start)
    return min(times)


def drawn(piece: Piece, director: object) -> object:
    """A plan drawn up, taken back at once."""
    with transaction.atomic():
        day = timezone.localdate()
        plan = acts.draw_up(director, piece.ensemble, day, 45, [piece])
        page = podium_page(director, plan)
        transaction.set_rollback(True)
    return page


def main() -> int:
    """Print the figures and what they ran on; 1 when the required figure is missed."""
    call_command("migrate", verbosity=0)
    with transaction.atomic():
        piece, director = large_piece()
    with CaptureQueriesContext(connection) as asked:
        page = strip_page(piece, None, only_rated=False)
    assert len(page.spots) + len(page.more_spots) == 10
    voices = strips_of(piece.ensemble, [piece])[piece.pk]
    rows = voices.voices
    assert (len(rows.takes), len(rows.musicians)) == (MUSICIANS, REMARKS)
    outline = voices.outlined.outline
    alone = seconds(
        lambda: draw_strip(outline, rows.takes, rows.rated, rows.director, rows.musicians)
    )
    print(f"{PARTS} parts, {MEASURES} measures, {MUSICIANS} takes, {REMARKS} remarks, SQLite")
    print(f"on {machine()}")
    print(f"strip alone: {alone:.2f} s of processor time (required {REQUIRED_S} s)")
    whole = seconds(lambda: strip_page(piece, None, only_rated=False))
    print(f"strip page from rows: {whole:.2f} s, {len(asked)} queries")
    print(f"plan drawn up and podium page: {seconds(lambda: drawn(piece, director)):.2f} s")
    print(f"peer, remarks counted by measure: {seconds(lambda: counted(piece)):.2f} s")
    return int(alone > REQUIRED_S)


if __name__ == "__main__":
    raise SystemExit(main())
