"""A band with two sections on one piece: takes read, levels given, remarks made."""

import datetime

from django.utils import timezone

from standlight.programme.actions.desk import rate
from standlight.programme.models import (
    Casting,
    CheckPassage,
    Part,
    Piece,
    PlayingCheck,
    Remark,
    Seat,
    Section,
)
from tests.cast import add_musician
from tests.programme.desk_scene import read, send

N = 40
LOW, FINE = {"rhythm": "2", "notes": "3"}, {"rhythm": "3", "notes": "4"}


class RehearseScene:
    """``piece`` printed 1 to 40; six clarinets and four flutes have a check on measures 9 to 16."""

    def __init__(self, cast, *, scored=True):
        self.cast = cast
        self.piece = Piece.objects.create(
            ensemble=cast.band, cycle=cast.cycle, title="Lamp Tune",
            measures=[
                {"index": n, "printed": str(n + 1), "movement": 0, "rehearsal": "A" if n == 8 else
                 None, "beats": 4, "beat_unit": 4} for n in range(N)
            ] if scored else [],
        )  # fmt: skip
        self.flutes = Section.objects.create(
            ensemble=cast.band, name="Flute", instrument="Flute", order=0
        )
        self.clarinets = cast.clarinets
        self.people = {
            "Clarinet": [cast.musician, *self._more(cast.clarinets, "3", 5)],
            "Flute": self._more(self.flutes, "4", 4),
        }
        self.parts = {}
        if scored:
            for place, name in enumerate(("Flute", "Clarinet")):
                part = Part.objects.create(
                    piece=self.piece, index=place, name=f"{name} 1", instrument=name
                )
                self.parts[name] = part
                for person in self.people[name]:
                    seat = Seat.objects.get(musician=person)
                    Casting.objects.create(seat=seat, piece=self.piece, part=part)
        today = timezone.localdate()
        self.check = PlayingCheck.objects.create(
            ensemble=cast.band, piece=self.piece, title="Letter A", criteria=["rhythm", "notes"],
            tempo_qpm=96, due_on=today - datetime.timedelta(2), made_by=cast.director,
            published_at=timezone.now(),
        )  # fmt: skip
        if scored:
            for part in self.parts.values():
                CheckPassage.objects.create(
                    check_row=self.check, part=part, first_measure=8, last_measure=15,
                    printed="9 to 16",
                )  # fmt: skip
        else:
            CheckPassage.objects.create(check_row=self.check, printed="9 to 16")

    def _more(self, section, start, count):
        return [
            add_musician(self.cast.programme, section, f"{start}{n:03}", f"Given{start}{n}", "Vale")
            for n in range(count)
        ]

    def takes(self, section, count, *, trouble=(2, 3), criterion="rhythm"):
        """``count`` takes of a section with trouble in measures of the passage (0-based)."""
        turns = []
        for person in self.people[section][:count]:
            turn = send(self, person, ago=1)
            spots = [(criterion, *trouble, "late")] if trouble else [("notes", 7, 7, "one")]
            read(turn, spots=spots)
            turns.append(turn)
        return turns

    def rated(self, turns, levels=LOW):
        for turn in turns:
            rate(self.cast.director, turn, levels)

    def said(self, section, count, first, last, words="Scared of this one", start=0):
        """Remarks of musicians of a section, on 0-based measures."""
        return [
            Remark.objects.create(
                piece=self.piece, part=self.parts.get(section), author=person.account,
                first_measure=first, last_measure=last, words=words,
            )
            for person in self.people[section][start : start + count]
        ]  # fmt: skip
