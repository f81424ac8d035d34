"""A check with takes waiting, for the tests of the Desk, the live form, Marks and Today."""

import datetime
from dataclasses import dataclass

from django.utils import timezone

from standlight.programme import store
from standlight.programme.models import (
    Casting,
    CheckPassage,
    Part,
    Piece,
    PlayingCheck,
    Report,
    Seat,
    Take,
    Turn,
)
from standlight.score import cut_passage, line_to_musicxml
from tests.cast import add_musician

LINE = "time 4/4\nkey C\ntempo 96\nC5 q D5 q E5 q F5 q | G5 h G5 h | F5 q E5 q D5 q C5 q | C5 w"


@dataclass
class DeskScene:
    """The check of the band, and who plays what in it."""

    cast: object
    piece: Piece
    clarinet: Part
    check: PlayingCheck


def make_scene(cast, *, notation=False, days_to_due=3):
    """The band's check on a four-measure tune, printed 33 to 36; engraved if ``notation``."""
    today = timezone.localdate()
    measures = [
        {"index": n, "printed": str(33 + n), "movement": 0, "rehearsal": None, "beats": 4,
         "beat_unit": 4}
        for n in range(4)
    ]
    digest = score_digest = ""
    if notation:
        whole = line_to_musicxml(LINE, instrument="Clarinet in Bb")
        score_digest = store.keep(whole)
        digest = store.keep(cut_passage(whole, 0, 0, 3))
    piece = Piece.objects.create(
        ensemble=cast.band, cycle=cast.cycle, title="Lamp Tune", measures=measures,
        score_digest=score_digest,
    )
    clarinet = Part.objects.create(
        piece=piece, index=0, name="Clarinet", instrument="Clarinet in Bb"
    )
    for seat in Seat.objects.filter(section=cast.clarinets):
        Casting.objects.create(seat=seat, piece=piece, part=clarinet)
    check = PlayingCheck.objects.create(
        ensemble=cast.band, piece=piece, title="Lamp Tune check",
        criteria=["intonation", "rhythm", "notes"], tempo_qpm=96,
        due_on=today + datetime.timedelta(days_to_due), made_by=cast.director,
        published_at=timezone.now(),
    )
    CheckPassage.objects.create(
        check_row=check, part=clarinet, first_measure=0, last_measure=3, printed="33 to 36",
        notation_digest=digest,
    )
    CheckPassage.objects.create(check_row=check, section=cast.snares, printed="letter B")
    return DeskScene(cast, piece, clarinet, check)


def send(scene, musician, *, attempt=1, way=Turn.WEB, take=True, state=Take.HEARD, ago=0, **more):
    """A turn sent ``ago`` days ago with one chosen take."""
    turn = Turn.objects.create(
        check_row=scene.check, musician=musician, attempt=attempt, way=way,
        sent_at=timezone.now() - datetime.timedelta(ago), **more,
    )
    if take:
        Take.objects.create(
            turn=turn, chosen=True, state=state, seconds=20.0, first_note_s=1.5,
            digest="0" * 64, playback_digest="1" * 64 if state == Take.HEARD else "",
        )
    return turn


def read(turn, *, notes=(), spots=(), verdicts=(), readings=(), tuning=0.0):
    """A report on the turn's chosen take."""
    body = {
        "method": "2026-11",
        "verdicts": [{"code": "noisy", "sentence": words} for words in verdicts],
        "tuning_cents": tuning,
        "tempo_qpm": 96.0,
        "notes": list(notes),
        "readings": list(readings),
        "spots": [
            {"criterion": criterion, "first_measure": first, "last_measure": last,
             "sentence": sentence}
            for criterion, first, last, sentence in spots
        ],
    }
    return Report.objects.create(take=turn.takes.get(chosen=True), method="2026-11", body=body)


def note(index, **more):
    """A note's reading as the report keeps it: played as written unless told otherwise."""
    return {
        "index": index, "outcome": "played", "onset_s": 1.0, "offset_s": 1.5, "midi_heard": 70.0,
        "deviation_cents": 0.0, "deviation_se_cents": 1.0, "asynchrony_ms": 0.0,
        "probability": 0.99, **more,
    }


def more_clarinets(scene, count):
    """``count`` further clarinettists with the clarinet's part."""
    people = []
    start = Seat.objects.filter(section=scene.cast.clarinets).count()
    for number in range(start, start + count):
        person = add_musician(
            scene.cast.programme, scene.cast.clarinets, f"2{number:03}", f"Given{number:03}", "Vale"
        )
        Casting.objects.create(seat=person.seats.get(), piece=scene.piece, part=scene.clarinet)
        people.append(person)
    return people


ALL_THREE = {"intonation": "2", "rhythm": "3", "notes": "4"}
"""A whole set of levels for the scene's check."""
