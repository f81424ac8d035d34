"""A published check of one clarinet part, and the real recording that plays it."""

import datetime
from pathlib import Path

from django.utils import timezone

from standlight.programme import store
from standlight.programme.models import (
    Casting,
    CheckPassage,
    Part,
    Piece,
    PlayingCheck,
    Seat,
)
from standlight.score import line_to_musicxml
from tests.cast import add_musician

RECORDING = Path(__file__).parent / "browser" / "clarinet_ode_sd15c_sd30ms.flac"
TUNE = (
    "time 4/4 tempo 84 B4 q B4 q C5 q D5 q | D5 q C5 q B4 q A4 q | "
    "G4 q G4 q A4 q B4 q | B4 q. A4 e A4 h"
)
"""The written clarinet part: the recording's score_midi a whole tone higher."""


def clarinet_check(cast):
    """The check, its passage with notation of its own, and the cast's clarinet on the part."""
    piece = Piece.objects.create(ensemble=cast.band, title="Tune", score_digest="0" * 64)
    part = Part.objects.create(piece=piece, index=0, name="Clarinet", instrument="Clarinet in Bb")
    check = PlayingCheck.objects.create(
        ensemble=cast.band, piece=piece, title="Check", criteria=["intonation", "rhythm", "notes"],
        tempo_qpm=84, due_on=timezone.localdate() + datetime.timedelta(days=2),
        made_by=cast.director, published_at=timezone.now(),
    )
    notation = line_to_musicxml(TUNE, instrument="Clarinet in Bb", title="Tune")
    CheckPassage.objects.create(
        check_row=check, part=part, first_measure=0, last_measure=3, printed="1 to 4",
        notation_digest=store.keep(notation),
    )
    Casting.objects.create(seat=Seat.objects.get(musician=cast.musician), piece=piece, part=part)
    return check


def more_clarinets(cast, check, count):
    """``count`` further musicians on the check's clarinet part."""
    part = check.piece.parts.get()
    found = []
    for n in range(count):
        one = add_musician(cast.programme, cast.clarinets, f"9{n:03}", "Player", f"Number {n}")
        seat = Seat.objects.get(musician=one)
        Casting.objects.create(seat=seat, piece=check.piece, part=part)
        found.append(one)
    return found
