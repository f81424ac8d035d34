"""The spots that may be worked on today, each with its claim on the minutes and why. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from standlight.errors import StandlightError
from standlight.planning.minutes import (
    LEAST_BLOCK_MINUTES,
    MOST_BLOCK_MINUTES,
    Claim,
    fresh_minutes,
)
from standlight.planning.plan_values import (
    PieceEvidence,
    Pin,
    PlanRemark,
    Why,
    Wishes,
    Worked,
    work_key,
)
from standlight.planning.strategies import next_strategy
from standlight.planning.strip import Spot, Strip

UNFINISHED_WORTH = 1.3
"""What was not done is worth so much more: finishing it also keeps what it cost (our choice)."""

LEAST_WORTH = 0.5
"""Worth of unfinished or pinned measures that no spot speaks of: half a section in trouble."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """Measures that may become a block, with aim, strategy, claim and reasons."""

    piece: str
    first: int
    last: int
    aim: str
    strategy: str
    claim: Claim
    why: tuple[Why, ...]

    @property
    def key(self) -> str:
        """The key of its block."""
        return work_key(self.piece, self.first, self.last)


def candidates_of(
    pieces: Sequence[PieceEvidence],
    worked: Sequence[Worked],
    wishes: Wishes,
    days_to_concert: int,
) -> tuple[tuple[Candidate, ...], tuple[PlanRemark, ...]]:
    """Spots, unfinished blocks and pins, the greatest worth first; and what had to be moved."""
    strips = {piece.key: piece.strip for piece in pieces}
    pins, moved = _pins_inside(wishes.pins, strips)
    found: list[Candidate] = []
    for piece, first, last, aim, spot, pin in _places(strips, worked, pins):
        own = [one for one in worked if (one.piece, True) == (piece, _meet(one, first, last))]
        used = tuple(one.strategy for one in sorted(own, key=lambda one: -one.days_ago))
        key = work_key(piece, first, last)
        claim, why = _claim(spot, own, pin, dict(wishes.stretched).get(key), days_to_concert)
        if key in wishes.dropped or not claim.most:
            continue
        strip = strips[piece]
        found.append(Candidate(piece, first, last, aim, next_strategy(aim, used), claim,
                               (*_heard_why(strip, spot), *why)))  # fmt: skip
    found.sort(key=lambda one: (-one.claim.worth, one.piece, one.first))
    return tuple(found), (PlanRemark("pin_moved"),) * moved


def _pins_inside(
    pins: Iterable[Pin], strips: Mapping[str, Strip]
) -> tuple[tuple[Pin, ...], int]:
    """Pins on measures that exist, and how many had to be moved there."""
    kept, moved = [], 0
    for pin in pins:
        if pin.piece not in strips:
            near = get_close_matches(pin.piece, strips, 1)
            raise StandlightError(
                f"the pinned block is of the piece {pin.piece}, which is not in this rehearsal",
                slip=f"meant {near[0]}?" if near else "add the piece first",
            )
        outline = strips[pin.piece].outline
        first, last = sorted((outline.nearest(pin.first), outline.nearest(pin.last)))
        moved += (first, last) != (pin.first, pin.last)
        kept.append(Pin(pin.piece, first, last, pin.minutes, pin.aim))
    return tuple(kept), moved


def _places(
    strips: Mapping[str, Strip], worked: Sequence[Worked], pins: Sequence[Pin]
) -> Iterator[tuple[str, int, int, str, Spot | None, Pin | None]]:
    """Every place that asks for minutes, once: a pin stands for the spots that it meets."""
    for pin in pins:
        spot = next((one for one in strips[pin.piece].spots
                     if one.first <= pin.last and one.last >= pin.first), None)  # fmt: skip
        aim = pin.aim or (spot.aim if spot else "")
        yield pin.piece, pin.first, pin.last, aim, spot, pin
    for piece, strip in strips.items():
        taken = [(pin.first, pin.last) for pin in pins if pin.piece == piece]
        for spot in strip.spots:
            if not _taken(taken, spot.first, spot.last):
                yield piece, spot.first, spot.last, spot.aim, spot, None
        taken += [(spot.first, spot.last) for spot in strip.spots]
        latest = sorted((one for one in worked if one.piece == piece), key=lambda one: one.days_ago)
        for one in latest:
            first, last = sorted((strip.outline.nearest(one.first),
                                  strip.outline.nearest(one.last)))  # fmt: skip
            if _taken(taken, first, last):
                continue
            taken.append((first, last))
            if not one.done:
                yield piece, first, last, one.aim, None, None


def _taken(taken: Sequence[tuple[int, int]], first: int, last: int) -> bool:
    """Whether measures overlap a place that is there already."""
    return any(a <= last and b >= first for a, b in taken)


def _meet(worked: Worked, first: int, last: int) -> bool:
    """Whether earlier work was on some of the measures."""
    return worked.first <= last and worked.last >= first


def _claim(
    spot: Spot | None,
    own: Sequence[Worked],
    pin: Pin | None,
    stretched: int | None,
    days_to_concert: int,
) -> tuple[Claim, tuple[Why, ...]]:
    """The claim of one place, and the reasons that are not in the voices."""
    why: list[Why] = []
    worth = spot.need if spot else LEAST_WORTH
    latest = min(own, key=lambda one: one.days_ago, default=None)
    if latest is not None and not latest.done:
        worth *= UNFINISHED_WORTH
        why.append(Why("unfinished", latest.days_ago))
    spent = fresh_minutes(((one.minutes, one.days_ago) for one in own), days_to_concert)
    least, most = 0, MOST_BLOCK_MINUTES
    if pin is not None:
        least, most = ((LEAST_BLOCK_MINUTES, most) if pin.minutes is None
                       else (pin.minutes, pin.minutes))  # fmt: skip
        why.append(Why("pinned"))
    if stretched is not None:
        least = most = stretched
        why.append(Why("stretched"))
    return Claim(worth, spent, least, most), tuple(why)


def _heard_why(strip: Strip, spot: Spot | None) -> Iterator[Why]:
    """What the three voices say of a spot, all sections together."""
    if spot is None:
        return
    for code in ("heard", "levels", "said"):
        shares = [getattr(one, code) for one in spot.sections]
        hits = sum(share.hits for share in shares)
        if hits:
            yield Why(code, hits, sum(share.count for share in shares))
    remarks = max((one.director for one in spot.sections), default=0)
    if remarks:
        yield Why("director", remarks)
    if _taken([(one.first, one.last) for one in strip.blind_spots], spot.first, spot.last):
        yield Why("blind_spot")
