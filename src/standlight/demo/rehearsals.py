"""The demo's last band rehearsal as it went, and what was said of it: all invented.

A plan that was held on the last school day, with one block not done and one not reached; the
director's remarks from the podium; and remarks of a few sections on Lantern Walk. The alto
saxophones say nothing of the measures in which the machine hears trouble: a blind spot.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta

from django.utils import timezone

from standlight.demo.loading import Loading
from standlight.demo.programme_plan import school_day
from standlight.programme.models import PlannedBlock, PlannedRehearsal, PodiumRemark, Remark

GROUP, BEGINS = "band", time(10, 20)
MUSICIANS_TELL_AT = timedelta(minutes=40)
DONE, NOT_DONE, OPEN = PlannedBlock.DONE, PlannedBlock.NOT_DONE, PlannedBlock.OPEN


@dataclass(frozen=True, slots=True)
class Held:
    """A block that was held: kind, minutes, how it went; piece and measures (0-based) of work."""

    kind: str
    minutes: int
    state: str
    strategy: str = ""
    piece: str = ""
    first: int | None = None
    last: int | None = None
    aim: str = ""
    finish: str = ""
    why: tuple[tuple[str, int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Told:
    """A director's remark from the podium: measures (0-based), section or "", aim or strategy."""

    piece: str
    first: int
    last: int
    section: str
    words: str
    aim: str = ""
    strategy: str = ""


HELD = (
    Held("warm_up", 5, DONE, "rhythm_echo", aim="rhythm", why=(("for_the_hardest", 0, 0),)),
    Held("work", 10, DONE, "slow", "lantern_walk", 12, 13, "notes", "three_tempos",
         (("said", 6, 9),)),
    Held("work", 9, NOT_DONE, "count", "tenth_regiment", 61, 68, "rhythm", "three_right",
         (("said", 8, 25),)),
    Held("work", 6, OPEN, "extremes", "tenth_regiment", 27, 32, "dynamics", "contrast_heard",
         (("said", 6, 21),)),
    Held("run", 10, DONE, piece="lantern_walk", first=0, last=15, why=(("joins_work", 2, 0),)),
    Held("question", 2, DONE, "which_measure", why=(("closing", 0, 0),)),
)  # fmt: skip
"""How the last rehearsal went."""

TOLD = (
    Told("tenth_regiment", 61, 64, "", "rhythm. The dotted figure drags", "rhythm"),
    Told("tenth_regiment", 27, 30, "Horn", "loud and soft", "dynamics"),
    Told("lantern_walk", 4, 5, "Trumpet", "count aloud", strategy="count"),
)
"""What the director tapped there."""

SAID = {
    "Alto saxophone": ((1, 2, "It was out of tune. I will try: Sing it or tap it"),
                       (3, 3, "I came in early or late. I will try: Count out loud"),
                       (2, 3, "It went well. I will try: Keep it like this"),
                       (0, 0, "I could not hear the others. I will try: Look up")),
    "Flute": ((12, 13, "Wrong notes. I will try: Do it slowly first"),
              (1, 1, "It was out of tune. I will try: Listen to one other part"),
              (14, 15, "It went well. I will try: Keep it like this"),
              (6, 6, "I ran out of air or bow. I will try: Plan where to breathe")),
    "Trombone": ((4, 5, "I lost my place. I will try: Count out loud"),
                 (4, 4, "I came in early or late. I will try: Look up"),
                 (12, 12, "The rhythm was off. I will try: Sing it or tap it")),
}  # fmt: skip
"""By section, what some said of Lantern Walk: measures (0-based) and words."""

FOR_ONE_SECTION = {"Clarinets:": "Clarinet"}
"""Remarks of the director that begin so are for that section."""


def write_rehearsals(loading: Loading) -> None:
    """Write the last rehearsal of the band and what was said of it."""
    day = school_day(loading.plan.today - timedelta(1))
    began = timezone.make_aware(datetime.combine(day, BEGINS))
    director = loading.directors[
        next(group.director for group in loading.plan.groups if group.key == GROUP)
    ]
    plan = PlannedRehearsal.objects.create(
        ensemble=loading.ensembles[GROUP],
        day=day,
        minutes=sum(held.minutes for held in HELD),
        made_by=director,
    )
    plan.pieces.set({loading.pieces[held.piece] for held in HELD if held.piece})
    PlannedBlock.objects.bulk_create(_blocks(loading, plan, began))
    for place, told in enumerate(TOLD):
        row = Remark.objects.create(
            piece=loading.pieces[told.piece], author=director,
            first_measure=told.first, last_measure=told.last, words=told.words,
        )  # fmt: skip
        section = loading.sections[GROUP, told.section] if told.section else None
        PodiumRemark.objects.create(
            remark=row, plan=plan, section=section, aim=told.aim, strategy=told.strategy
        )
        Remark.objects.filter(pk=row.pk).update(made_at=began + timedelta(minutes=12 + 4 * place))
    for words, section in FOR_ONE_SECTION.items():
        for row in Remark.objects.filter(author=director, words__startswith=words, podium=None):
            PodiumRemark.objects.create(remark=row, section=loading.sections[GROUP, section])
    _said(loading, began + MUSICIANS_TELL_AT)


def _blocks(
    loading: Loading, plan: PlannedRehearsal, began: datetime
) -> list[PlannedBlock]:
    """The blocks, tapped as their minutes went by."""
    rows, spent = [], 0
    for place, held in enumerate(HELD):
        spent += held.minutes
        piece = loading.pieces[held.piece] if held.piece else None
        key = held.kind
        if held.kind == "work" and piece is not None:
            key = f"work:{piece.pk}:{held.first}-{held.last}"
        rows.append(
            PlannedBlock(
                plan=plan, key=key, place=place, kind=held.kind, minutes=held.minutes,
                piece=piece, first_measure=held.first, last_measure=held.last, aim=held.aim,
                strategy=held.strategy, finish=held.finish, why=[list(one) for one in held.why],
                state=held.state,
                tapped_at=None if held.state == OPEN else began + timedelta(minutes=spent),
            )
        )  # fmt: skip
    return rows


def _said(loading: Loading, at: datetime) -> None:
    """Remarks of the first musicians of each section."""
    made = []
    for section, remarks in SAID.items():
        people = [one for one, seat in loading.plan.members(GROUP) if seat.section == section]
        for musician, (first, last, words) in zip(people, remarks, strict=False):
            made.append(
                Remark.objects.create(
                    piece=loading.pieces["lantern_walk"],
                    part=loading.castings.get(("lantern_walk", musician.roster_id)),
                    author=loading.musicians[musician.roster_id].account,
                    first_measure=first, last_measure=last, words=words,
                )
            )  # fmt: skip
    Remark.objects.filter(pk__in=[row.pk for row in made]).update(made_at=at)
