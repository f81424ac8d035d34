"""What was heard in a take, as its musician reads it: places, pictures and plain words.

It is shown with the answer, never before it, and it is no level. Only the musician's own
chosen take is read; practice hints are the director's own and stand in the answer.
"""

from __future__ import annotations

from dataclasses import dataclass

from standlight.programme.models import Report, Take, Turn
from standlight.programme.queries.desk import music_with_readings, written_passage
from standlight.programme.queries.desk_questions import OfTake, heard_on
from standlight.programme.queries.hearing import (
    notation_digest_of,
    own_version_of,
    passage_of,
    seat_in,
)
from standlight.programme.queries.reading_marks import Readings, readings_of
from standlight.programme.queries.take_lines import TakeLine

NO_PLACE = "No place stands out in this recording."
"""Said when the take was read and nothing is worth another listen."""

NO_PLACE_ASKED = (
    "No place stands out in what this check listens for. Notes that may not have sounded as "
    "written are marked in the music."
)
"""Said where the music has such marks all the same: the check asks for other things, or they are
not sure. "No place" alone would contradict the picture below it."""


@dataclass(frozen=True, slots=True)
class HeardTake:
    """Verdicts, up to three places, the music with its marks (wide and narrow), the lines."""

    verdicts: tuple[str, ...]
    places: tuple[str, ...]
    music: str
    music_narrow: str
    marked: bool
    longer: bool
    together: bool
    lines: tuple[TakeLine, ...]


def heard_take(turn: Turn, take: Take | None) -> HeardTake | None:
    """What was heard in ``take`` of ``turn``; ``None`` when nothing was, or nothing is kept.

    ``turn`` comes with its check.
    """
    if take is None or not take.has_sound:
        return None
    report = Report.objects.filter(take=take).order_by("-made_at", "-pk").first()
    passage = passage_of(turn)
    own = own_version_of(passage, turn.musician_id)
    notation = notation_digest_of(passage, own)
    if report is None or not notation:
        return None
    check = turn.check_row
    written = written_passage(notation)
    of = OfTake(check, seat_in(turn), passage, own)
    readings = readings_of(report.body, check.criteria, written, heard_on(of))
    if readings.silent:
        verdicts = readings.verdicts
        return HeardTake(verdicts, (), "", "", False, False, False, ()) if verdicts else None
    music, narrow, moved = music_with_readings(passage, notation, readings)
    return HeardTake(
        verdicts=readings.verdicts,
        places=_places(readings),
        music=music,
        music_narrow=narrow,
        marked=bool(readings.marks) and not moved,
        longer=readings.longer and not moved,
        together=readings.together,
        lines=readings.lines,
    )


def _places(readings: Readings) -> tuple[str, ...]:
    """The places worth another listen, or that there is none; of a group no place is known."""
    if readings.together:
        return ()
    none = NO_PLACE_ASKED if readings.otherwise else NO_PLACE
    return tuple(spot.sentence for spot in readings.spots) or (none,)
