"""A plan as pages: the column of blocks, the podium page, the page for a substitute."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from standlight.planning import AIMS
from standlight.programme.dates import date_words
from standlight.programme.models import (
    Account,
    ConcertCycle,
    Piece,
    PlannedBlock,
    PlannedRehearsal,
    Remark,
    Section,
)
from standlight.programme.queries.desk import printed_range
from standlight.programme.queries.rehearse_drawn import DRAWN_WORK, WORKED_KINDS
from standlight.programme.queries.rehearse_evidence import PieceStrip, strips_of
from standlight.programme.queries.rehearse_words import (
    AIM_TAGS,
    KIND_WORDS,
    STRATEGY_TAGS,
    USUAL_TAGS,
    aim_name,
    capital,
    done_words,
    how_words,
    idle_words,
    told_words,
    why_words,
)

TALLEST = 30
"""Minutes from which a block grows no taller on the page."""

HARDEST_SPOT = "the hardest spot"
"""What a warm-up calls the first block of work: a page names its measures instead."""

MOST_TAGS = 9
"""Tags of a block: what a thumb finds without looking twice (our choice)."""


@dataclass(frozen=True, slots=True)
class BlockRow:
    """One block in words; ``height`` is its minutes as far as they show.

    ``first`` and ``last`` are printed numbers, "" where the block has no measures. ``worked`` is a
    block with an end of its own, ``may_keep`` one that the rule put there and could take away.
    ``own_title``, ``own_how`` and ``own_done`` are texts that a director changed.
    """

    pk: int
    key: str
    kind: str
    minutes: int
    height: int
    title: str
    piece_pk: int
    piece: str
    where: str
    first: str
    last: str
    aim: str
    how: str
    done_when: str
    why: tuple[str, ...]
    idle: tuple[str, ...]
    state: str
    worked: bool
    may_keep: bool
    own: bool
    own_title: str
    own_how: str
    own_done: str
    is_first: bool
    is_last: bool


@dataclass(frozen=True, slots=True)
class Offer:
    """A spot that is not in the plan, to be put in; 0-based measures."""

    piece_pk: int
    first: int
    last: int
    words: str


@dataclass(frozen=True, slots=True)
class PlanPage:
    """The plan of one rehearsal; ``no_measures`` are pieces of which nobody knows a measure."""

    pk: int
    ensemble_pk: int
    ensemble: str
    heading: str
    day: str
    concert: str
    minutes: int
    planned: int
    changed: bool
    begun: bool
    told: tuple[str, ...]
    blocks: tuple[BlockRow, ...]
    offers: tuple[Offer, ...]
    no_measures: tuple[tuple[int, str], ...]
    pieces: tuple[tuple[int, str, bool], ...]


@dataclass(frozen=True, slots=True)
class Tag:
    """One tap of a remark: what stands on the button, and what it means."""

    words: str
    aim: str
    strategy: str


@dataclass(frozen=True, slots=True)
class PodiumBlock:
    """A block at the podium: the block and the tags that fit it."""

    block: BlockRow
    number: int
    tags: tuple[Tag, ...]


@dataclass(frozen=True, slots=True)
class PodiumPage:
    """The rehearsal, block by block, for a stand; no name of a musician is on it."""

    pk: int
    owner: int
    ensemble: str
    day: str
    minutes: int
    blocks: tuple[PodiumBlock, ...]
    pieces: tuple[tuple[int, str], ...]
    sections: tuple[tuple[int, str], ...]
    said: tuple[tuple[str, str], ...]


def plan_page(plan: PlannedRehearsal) -> PlanPage:
    """The page of ``plan`` (with its ensemble); some thirty queries for the spots left over."""
    pieces = list(plan.pieces.order_by("title", "pk"))
    chosen = {piece.pk for piece in pieces}
    rows = list(plan.blocks.select_related("piece"))
    begun = any(row.was_tapped for row in rows)
    ensemble = plan.ensemble
    strips = {} if begun else strips_of(ensemble, pieces)
    return PlanPage(
        pk=plan.pk,
        ensemble_pk=ensemble.pk,
        ensemble=ensemble.name,
        heading=f"Period {ensemble.period_number}, {ensemble.name}",
        day=date_words(plan.day, "weekday"),
        concert=concert_words(plan, pieces),
        minutes=plan.minutes,
        planned=sum(row.minutes for row in rows),
        changed=bool(plan.order or any(plan.wishes.values())),
        begun=begun,
        told=tuple(filter(None, (told_words(one) for one in plan.told))),
        blocks=block_rows(plan, rows),
        offers=_offers(strips, rows),
        no_measures=tuple(
            (piece.pk, piece.title) for piece in pieces if not begun and piece.pk not in strips
        ),
        pieces=tuple(
            (pk, title, pk in chosen) for pk, title in pieces_offered(plan, chosen)
        ),
    )


def podium_page(account: Account, plan: PlannedRehearsal) -> PodiumPage:
    """The podium page of ``plan`` (with its ensemble). Six queries."""
    rows = list(plan.blocks.select_related("piece"))
    said = (
        Remark.objects.filter(podium__plan=plan).select_related("piece").order_by("-made_at", "-pk")
    )
    return PodiumPage(
        pk=plan.pk,
        owner=account.pk,
        ensemble=plan.ensemble.name,
        day=date_words(plan.day, "weekday"),
        minutes=plan.minutes,
        blocks=tuple(
            PodiumBlock(block, number, tags_of(row))
            for number, (block, row) in enumerate(
                zip(block_rows(plan, rows), rows, strict=True), 1
            )
        ),
        pieces=tuple(plan.pieces.order_by("title", "pk").values_list("pk", "title")),
        sections=tuple(
            Section.objects.filter(ensemble=plan.ensemble_id).values_list("pk", "name")
        ),
        said=tuple(
            (printed_range(row.piece.measures, row.first_measure, row.last_measure), row.words)
            for row in said
        ),
    )


def block_rows(plan: PlannedRehearsal, rows: Sequence[PlannedBlock]) -> tuple[BlockRow, ...]:
    """The blocks of a plan in words, in their order."""
    pinned = {
        f"work:{one['piece']}:{one['first']}-{one['last']}" for one in plan.wishes.get("pins", [])
    }
    made = tuple(
        _row(row, row.key in pinned, place, len(rows))
        for place, row in enumerate(rows)
    )
    hardest = next((one for one in made if one.kind == DRAWN_WORK), None)
    if hardest is None:
        return made
    spot = f"{hardest.where} of {hardest.piece}"
    return tuple(replace(one, how=one.how.replace(HARDEST_SPOT, spot)) for one in made)


def tags_of(row: PlannedBlock) -> tuple[Tag, ...]:
    """The tags of a block: its own trouble and strategies first, then what any group has.

    >>> [tag.words for tag in tags_of(PlannedBlock(aim="intonation"))][:4]
    ['out of tune', 'drone', 'build the chord', 'sing it']
    """
    aims = [row.aim, *USUAL_TAGS] if row.aim in AIM_TAGS else list(USUAL_TAGS)
    ways = AIMS.get(row.aim, AIMS[""]).strategies
    tags = [Tag(AIM_TAGS[aim], aim, "") for aim in aims[:1]]
    tags += [Tag(STRATEGY_TAGS[way], "", way) for way in ways]
    tags += [Tag(AIM_TAGS[aim], aim, "") for aim in dict.fromkeys(aims[1:]) if aim != aims[0]]
    return tuple(tags[:MOST_TAGS])


def pieces_offered(plan: PlannedRehearsal, chosen: set[int]) -> tuple[tuple[int, str], ...]:
    """Pieces of concerts to come, those of no concert, and those that are chosen already."""
    over = set(
        ConcertCycle.objects.filter(
            ensemble=plan.ensemble_id, concert_on__lt=plan.day
        ).values_list("pk", flat=True)
    )
    rows = Piece.objects.filter(ensemble=plan.ensemble_id).order_by("title", "pk")
    return tuple(
        (pk, title)
        for pk, title, cycle in rows.values_list("pk", "title", "cycle_id")
        if cycle not in over or pk in chosen
    )


def concert_words(plan: PlannedRehearsal, pieces: Sequence[Piece]) -> str:
    """The concert that the plan works towards, and the days to it."""
    own = {piece.cycle_id for piece in pieces}
    ahead = [one for one in plan.ensemble.cycles.all() if one.concert_on >= plan.day]
    if not ahead:
        return "no concert set"
    nearest = min(ahead, key=lambda one: (one.pk not in own, one.concert_on))
    days = (nearest.concert_on - plan.day).days
    when = {0: "is this day", 1: "is the day after"}.get(days, f"is {days} days later")
    return f"{nearest.name} {when}"


def _row(row: PlannedBlock, pinned: bool, place: int, count: int) -> BlockRow:
    """One block in words."""
    measures = row.piece.measures if row.piece is not None else []
    has_place = row.first_measure is not None and row.last_measure is not None
    where = printed_range(measures, row.first_measure, row.last_measure) if has_place else ""
    printed = {one["index"]: str(one["printed"]) for one in measures}
    ends = [
        printed.get(index, str(index + 1)) if has_place else ""
        for index in (row.first_measure, row.last_measure)
    ]
    return BlockRow(
        pk=row.pk,
        key=row.key,
        kind=row.kind,
        minutes=row.minutes,
        height=min(row.minutes, TALLEST),
        title=row.title or KIND_WORDS.get(row.kind, ""),
        piece_pk=row.piece_id or 0,
        piece=row.piece.title if row.piece is not None else "",
        where=where,
        first=ends[0],
        last=ends[1],
        aim=aim_name(row.aim),
        how=row.how or how_words(row.kind, row.strategy),
        done_when=row.done_when or done_words(row.finish),
        why=tuple(filter(None, (why_words(one) for one in row.why))) or ("you added it",),
        idle=_idle(row, measures),
        state=row.state,
        worked=row.kind in WORKED_KINDS,
        may_keep=row.kind == DRAWN_WORK and not pinned,
        own=row.kind == PlannedBlock.OWN,
        own_title=row.title,
        own_how=row.how,
        own_done=row.done_when,
        is_first=place == 0,
        is_last=place == count - 1,
    )


def _idle(row: PlannedBlock, measures: Sequence[Mapping[str, object]]) -> tuple[str, ...]:
    """Who waits in a block and what they do, a sentence a task."""
    said = (
        idle_words(one["names"], one["task"], printed_range(measures, one["first"], one["last"]))
        for one in row.idle
        if one["names"]
    )
    return tuple(filter(None, said))


def _offers(
    strips: Mapping[int, PieceStrip], rows: Sequence[PlannedBlock]
) -> tuple[Offer, ...]:
    """Spots that no block of work meets."""
    worked = [
        (row.piece_id, row.first_measure, row.last_measure)
        for row in rows
        if row.kind in WORKED_KINDS and row.first_measure is not None
    ]
    found = []
    for pk, strip in strips.items():
        for spot in strip.strip.spots:
            if any(piece == pk and first <= spot.last and last >= spot.first
                   for piece, first, last in worked):  # fmt: skip
                continue
            where = capital(printed_range(strip.piece.measures, spot.first, spot.last))
            words = ", ".join(filter(None, (where, aim_name(spot.aim), strip.piece.title)))
            found.append((spot.need, Offer(pk, spot.first, spot.last, words)))
    found.sort(key=lambda pair: -pair[0])
    return tuple(offer for _, offer in found[:MOST_OFFERS])


MOST_OFFERS = 5
"""Spots offered beside a plan: more is a search, not a choice (our choice)."""
