"""What a director does under Rehearse: draw up a plan and change it.

Every change draws the plan anew by the same rule around the director's wishes. Once something was
tapped the plan stands: what is left over goes into the next one.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence

from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.checks import may_direct
from standlight.programme.actions.rehearse_podium import refuse_beyond
from standlight.programme.clean_text import one_line_of
from standlight.programme.models import (
    Account,
    Ensemble,
    Piece,
    PlannedBlock,
    PlannedRehearsal,
)
from standlight.programme.queries.rehearse_drawn import block_facts, draw, in_order

MOST_MINUTES = 240
"""No period is longer (common practice, no source)."""

MOST_PIECES = 8
MOST_OWN = 99
"""Blocks of the director's own in one plan: far more than a rehearsal has."""

TEXTS = {"title": 120, "how": 240, "done_when": 240}
"""Texts of a block that a director may change, with their lengths."""


@transaction.atomic
def draw_up(
    account: Account, ensemble: Ensemble, day: datetime.date, minutes: int, pieces: Sequence[Piece]
) -> PlannedRehearsal:
    """Draw up the plan of one rehearsal. Raises `StandlightError` where there is one already."""
    may_direct(account, ensemble.pk)
    if any(piece.ensemble_id != ensemble.pk for piece in pieces):
        raise NotAllowed("a piece is another ensemble's")
    if not pieces:
        raise StandlightError("choose at least one piece")
    if len(pieces) > MOST_PIECES:
        raise StandlightError(f"{len(pieces)} pieces in one rehearsal; at most {MOST_PIECES}")
    _refuse_minutes(minutes)
    if day < timezone.localdate():
        raise StandlightError("this day is over", slip="the next rehearsal was meant?")
    if PlannedRehearsal.objects.filter(ensemble=ensemble, day=day).exists():
        raise StandlightError("this rehearsal has a plan already", slip="open it and change it")
    plan = PlannedRehearsal.objects.create(
        ensemble=ensemble, day=day, minutes=minutes, made_by=account
    )
    plan.pieces.set(pieces)
    _redraw(plan)
    return plan


@transaction.atomic
def draw_again(account: Account, plan: PlannedRehearsal) -> None:
    """Draw the plan anew from what is known by now; the director's wishes stay."""
    _open_plan(account, plan)
    _redraw(plan)


@transaction.atomic
def let_go_plan(account: Account, plan: PlannedRehearsal) -> None:
    """Throw a plan away of which nothing was tapped yet."""
    _open_plan(account, plan)
    plan.delete()


@transaction.atomic
def set_period(
    account: Account, plan: PlannedRehearsal, minutes: int, pieces: Sequence[Piece]
) -> None:
    """Change the minutes of the period and the pieces."""
    _open_plan(account, plan)
    _refuse_minutes(minutes)
    if not pieces or any(piece.ensemble_id != plan.ensemble_id for piece in pieces):
        raise StandlightError("choose at least one piece of this ensemble")
    plan.minutes = minutes
    plan.pieces.set(pieces)
    _redraw(plan)


@transaction.atomic
def pin(
    account: Account,
    plan: PlannedRehearsal,
    piece: Piece,
    measures: tuple[int, int],
    minutes: int | None = None,
) -> None:
    """Put measures (0-based) of a piece into the plan; ``minutes`` None leaves them to the rule."""
    _open_plan(account, plan)
    if piece.ensemble_id != plan.ensemble_id:
        raise NotAllowed("this piece is another ensemble's")
    refuse_beyond(piece, measures)
    first, last = sorted(measures)
    pins = [
        one for one in plan.wishes.get("pins", [])
        if one["piece"] != piece.pk or one["last"] < first or one["first"] > last
    ]  # fmt: skip
    pins.append({"piece": piece.pk, "first": first, "last": last, "minutes": minutes})
    key = f"work:{piece.pk}:{first}-{last}"
    plan.wishes = {
        **plan.wishes,
        "pins": pins,
        "dropped": [one for one in plan.wishes.get("dropped", []) if one != key],
    }
    plan.pieces.add(piece)
    _redraw(plan)


@transaction.atomic
def drop(account: Account, block: PlannedBlock) -> None:
    """Leave a block out; the minutes go to the others by the rule."""
    plan = _open_plan(account, block.plan)
    block = _still_there(plan, block)
    if block.kind == PlannedBlock.OWN:
        block.delete()
    else:
        plan.wishes = {
            **plan.wishes,
            "dropped": [*plan.wishes.get("dropped", []), block.key],
            "pins": [one for one in plan.wishes.get("pins", []) if _pin_key(one) != block.key],
            "stretched": _without(plan.wishes.get("stretched", {}), block.key),
        }
    _redraw(plan)


@transaction.atomic
def take_back_wishes(account: Account, plan: PlannedRehearsal) -> None:
    """Forget what was left out, put in, set and moved; blocks of the director's own stay."""
    _open_plan(account, plan)
    plan.wishes, plan.order = {}, []
    _redraw(plan)


@transaction.atomic
def stretch(account: Account, block: PlannedBlock, minutes: int | None) -> None:
    """Set a block's minutes, or with None leave them to the rule again."""
    plan = _open_plan(account, block.plan)
    block = _still_there(plan, block)
    if minutes is not None and not 1 <= minutes <= plan.minutes:
        raise StandlightError(
            f"{minutes} minutes in a rehearsal of {plan.minutes}", slip="leave it out instead?"
        )
    if block.kind == PlannedBlock.OWN:
        block.minutes = minutes or block.minutes
        block.save(update_fields=["minutes"])
    else:
        stretched = _without(plan.wishes.get("stretched", {}), block.key)
        pins = plan.wishes.get("pins", [])
        if minutes is not None:
            stretched[block.key] = minutes
        else:
            pins = [{**one, "minutes": None} if _pin_key(one) == block.key else one
                    for one in pins]  # fmt: skip
        plan.wishes = {**plan.wishes, "stretched": stretched, "pins": pins}
    _redraw(plan)


@transaction.atomic
def move(account: Account, block: PlannedBlock, steps: int) -> None:
    """Move a block ``steps`` places later, or earlier where it is below 0."""
    plan = _as_it_stands(account, block.plan)
    block = _still_there(plan, block)
    rows = list(plan.blocks.order_by("place", "pk"))
    keys = [row.key for row in rows]
    place = keys.index(block.key)
    keys.insert(max(0, min(len(keys) - 1, place + steps)), keys.pop(place))
    _keep_order(plan, keys)


@transaction.atomic
def add_own(
    account: Account,
    plan: PlannedRehearsal,
    *,
    title: str,
    minutes: int,
    piece: Piece | None = None,
    measures: tuple[int, int] | None = None,
    how: str = "",
) -> PlannedBlock:
    """Add a block of the director's own; it takes its minutes first, then the rest is shared."""
    _open_plan(account, plan)
    title = one_line_of(title, TEXTS["title"])
    if not title:
        raise StandlightError("a block of your own needs a name")
    if not 1 <= minutes <= MOST_MINUTES:
        raise StandlightError(f"a block of {minutes} minutes", slip="set its minutes")
    if piece is not None and piece.ensemble_id != plan.ensemble_id:
        raise NotAllowed("this piece is another ensemble's")
    if piece is not None and measures:
        refuse_beyond(piece, measures)
    used = {row.key for row in plan.blocks.all()}
    free = (key for n in range(1, MOST_OWN + 1) if (key := f"own:{n}") not in used)
    key = next(free, None)
    if key is None:
        raise StandlightError(
            f"{MOST_OWN} blocks of your own are in this plan", slip="leave one of them out first"
        )
    first, last = sorted(measures) if piece is not None and measures else (None, None)
    block = PlannedBlock.objects.create(
        plan=plan, key=key, place=len(used), kind=PlannedBlock.OWN, minutes=minutes,
        piece=piece, first_measure=first, last_measure=last, title=title,
        how=one_line_of(how, TEXTS["how"]),
    )  # fmt: skip
    _redraw(plan)
    return block


@transaction.atomic
def set_texts(account: Account, block: PlannedBlock, texts: Mapping[str, str]) -> None:
    """Change what a block says; an empty text brings the plan's own words back."""
    block = _still_there(_as_it_stands(account, block.plan), block)
    for name, length in TEXTS.items():
        if name in texts:
            setattr(block, name, one_line_of(texts[name], length))
    if block.kind == PlannedBlock.OWN and not block.title:
        raise StandlightError("a block of your own needs a name")
    block.save(update_fields=list(TEXTS))


def _open_plan(account: Account, plan: PlannedRehearsal) -> PlannedRehearsal:
    """The plan as it stands, refused where it is another's and where something was tapped."""
    _as_it_stands(account, plan)
    if plan.blocks.filter(state__in=PlannedBlock.TAPPED).exists():
        raise StandlightError(
            "this rehearsal has begun, so its plan stands",
            slip="what is left over goes into the next plan",
        )
    return plan


def _as_it_stands(account: Account, plan: PlannedRehearsal) -> PlannedRehearsal:
    """``plan`` with what another page changed since it was read, held until the act is over.

    Without this the later of two quick changes would write the wishes of before the earlier.
    """
    may_direct(account, plan.ensemble_id)
    held = PlannedRehearsal.objects.select_for_update()
    if not held.filter(pk=plan.pk).exists():
        raise StandlightError("this plan is not there any more", slip="draw up a new one")
    plan.refresh_from_db(from_queryset=held)
    return plan


def _still_there(plan: PlannedRehearsal, block: PlannedBlock) -> PlannedBlock:
    """The block as it stands; `StandlightError` where a change since has taken it away."""
    found = plan.blocks.filter(pk=block.pk).first()
    if found is None:
        raise StandlightError(
            "this block is not in the plan any more", slip="the page was older than the plan?"
        )
    return found


def _redraw(plan: PlannedRehearsal) -> None:
    """Draw the plan and keep its rows; a block that stays keeps the director's texts."""
    own = list(plan.blocks.filter(kind=PlannedBlock.OWN))
    taken = sum(block.minutes for block in own)
    if taken > plan.minutes:
        raise StandlightError(
            f"your own blocks take {taken} of {plan.minutes} minutes",
            slip=f"shorten them by {taken - plan.minutes}",
        )
    pieces = list(plan.pieces.order_by("title", "pk"))
    drawn = draw(plan, pieces, plan.minutes - taken)
    keys = [block.key for block in drawn.blocks]
    plan.blocks.exclude(kind=PlannedBlock.OWN).exclude(key__in=keys).delete()
    for place, block in enumerate(drawn.blocks):
        facts = {**block_facts(block, drawn.strips), "place": place}
        plan.blocks.update_or_create(key=block.key, defaults=facts)
    plan.told = [[one.code, one.n] for one in drawn.remarks]
    # The director's own stand after the work, before the run, until they are moved.
    late = next((n for n, one in enumerate(drawn.blocks) if one.kind in ("run", "question")),
                len(keys))  # fmt: skip
    everything = [*keys[:late], *(block.key for block in own), *keys[late:]]
    plan.save()
    _keep_order(plan, in_order(everything, plan.order), moved=bool(plan.order))


def _keep_order(plan: PlannedRehearsal, keys: Sequence[str], *, moved: bool = True) -> None:
    """Number the blocks, and remember an order that was made by hand."""
    for place, key in enumerate(keys):
        plan.blocks.filter(key=key).update(place=place)
    plan.order = list(keys) if moved else []
    plan.save(update_fields=["order"])


def _pin_key(one: Mapping[str, int]) -> str:
    """The key of the block that a pin makes."""
    return f"work:{one['piece']}:{one['first']}-{one['last']}"


def _without(table: Mapping[str, int], key: str) -> dict[str, int]:
    """A table without one key."""
    return {name: value for name, value in table.items() if name != key}


def _refuse_minutes(minutes: int) -> None:
    """Refuse a period that is none."""
    if not 1 <= minutes <= MOST_MINUTES:
        raise StandlightError(f"a rehearsal of {minutes} minutes", slip="a typing slip?")
