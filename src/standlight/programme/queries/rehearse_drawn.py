"""What a plan is drawn up from: pieces, earlier rehearsals, the day of the concert; and what came.

Between rows and the planning room: rows in, frozen values out; the action keeps them.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from standlight.planning import Block, Pin, PlanRemark, Wishes, Worked, plan_rehearsal
from standlight.programme.models import Piece, PlannedBlock, PlannedRehearsal
from standlight.programme.queries.rehearse_evidence import PieceStrip, strips_of

LOOKING_BACK_DAYS = 42
"""Earlier rehearsals that still count: about one concert cycle."""

DRAWN_WORK = "work"
"""The kind of a block of work that the planning room drew."""

WORKED_KINDS = (DRAWN_WORK, PlannedBlock.OWN)
"""Kinds of blocks in which measures are worked on."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A plan as the planning room drew it, and the strips that it was drawn from by piece."""

    blocks: tuple[Block, ...]
    remarks: tuple[PlanRemark, ...]
    strips: dict[int, PieceStrip]


def draw(plan: PlannedRehearsal, pieces: Sequence[Piece], minutes: int) -> Drawn:
    """Draw ``plan`` anew for ``minutes`` of it.

    Pieces of which nobody knows a measure are left out. Raises `StandlightError` where the wishes
    cannot hold.
    """
    strips = strips_of(plan.ensemble, pieces)
    if not strips or minutes < 1:
        return Drawn((), (), strips)
    drawn = plan_rehearsal(
        [found.evidence for found in strips.values()],
        minutes,
        days_to_concert(plan, pieces),
        worked_before(plan, strips),
        wishes_of(plan, strips),
    )
    return Drawn(drawn.blocks, drawn.remarks, strips)


def days_to_concert(plan: PlannedRehearsal, pieces: Iterable[Piece]) -> int | None:
    """Days from the rehearsal to the next concert, of its pieces first; None without one.

    Below 0 where the last concert is over.
    """
    own = {piece.cycle_id for piece in pieces if piece.cycle_id}
    cycles = list(plan.ensemble.cycles.all())
    for some in ([one for one in cycles if one.pk in own], cycles):
        ahead = [one.concert_on for one in some if one.concert_on >= plan.day]
        if ahead:
            return (min(ahead) - plan.day).days
    past = [one.concert_on for one in cycles]
    return (max(past) - plan.day).days if past else None


def worked_before(plan: PlannedRehearsal, strips: Mapping[int, PieceStrip]) -> tuple[Worked, ...]:
    """Blocks of earlier rehearsals in which something was tapped. One query.

    What was not reached there was not done, and took no minute.
    """
    since = plan.day - datetime.timedelta(LOOKING_BACK_DAYS)
    rows = list(
        PlannedBlock.objects.filter(
            plan__ensemble=plan.ensemble_id, plan__day__lt=plan.day, plan__day__gte=since
        ).select_related("plan")
    )
    held = {row.plan_id for row in rows if row.was_tapped}
    return tuple(
        Worked(
            str(row.piece_id),
            row.first_measure,
            row.last_measure,
            float(row.minutes) if row.was_tapped else 0.0,
            (plan.day - row.plan.day).days,
            row.state == PlannedBlock.DONE,
            row.strategy if row.was_tapped else "",
            row.aim,
        )
        for row in rows
        if row.plan_id in held
        and row.kind in WORKED_KINDS
        and row.piece_id in strips
        and row.first_measure is not None
        and row.last_measure is not None
    )


def wishes_of(plan: PlannedRehearsal, strips: Mapping[int, PieceStrip]) -> Wishes:
    """The director's wishes as the planning room takes them; pins of other pieces are left out."""
    return Wishes(
        tuple(
            Pin(str(pin["piece"]), pin["first"], pin["last"], pin.get("minutes"),
                pin.get("aim", ""))
            for pin in plan.wishes.get("pins", [])
            if pin["piece"] in strips
        ),
        frozenset(plan.wishes.get("dropped", [])),
        tuple(plan.wishes.get("stretched", {}).items()),
    )  # fmt: skip


def block_facts(block: Block, strips: Mapping[int, PieceStrip]) -> dict[str, object]:
    """A drawn block as a row keeps it."""
    piece_pk = int(block.piece) if block.piece else None
    return {
        "kind": block.kind,
        "minutes": block.minutes,
        "piece_id": piece_pk,
        "first_measure": block.first,
        "last_measure": block.last,
        "aim": block.aim,
        "strategy": block.strategy,
        "finish": block.done_when,
        "why": [[one.code, one.n, one.of] for one in block.why],
        "idle": [
            {
                "names": strips[int(one.piece)].outlined.waiting_names(one.parts),
                "task": one.task,
                "first": one.first,
                "last": one.last,
            }
            for one in block.idle
        ],
    }


def in_order(keys: Sequence[str], moved: Sequence[str]) -> list[str]:
    """Keys of blocks as the director moved them; a new one stands behind the one it followed.

    >>> in_order(["warm_up", "a", "b", "run"], ["b", "warm_up", "run", "gone"])
    ['b', 'warm_up', 'a', 'run']
    >>> in_order(["warm_up", "a", "run"], [])
    ['warm_up', 'a', 'run']
    """
    placed = [key for key in moved if key in keys] if moved else []
    for place, key in enumerate(keys):
        if key not in placed:
            before = keys[place - 1] if place else None
            placed.insert(placed.index(before) + 1 if before in placed else 0, key)
    return placed
