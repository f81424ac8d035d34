"""What a rehearsal plan is made from and what it is: blocks with their reasons, as codes. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from standlight.planning.strip import Strip

WARM_UP, WORK, CONTRAST, RUN, QUESTION = "warm_up", "work", "contrast", "run", "question"
KINDS_OF_BLOCK = (WARM_UP, WORK, CONTRAST, RUN, QUESTION)
"""In the order of the rehearsal; the hardest work stands first among the work."""

WHY = {
    "heard": "`n` of `of` takes have trouble there",
    "levels": "`n` of `of` rated takes there have a low level",
    "director": "the director remarked on it `n` times",
    "said": "`n` of `of` musicians who spoke worry about it",
    "blind_spot": "trouble was heard and nobody has said so",
    "false_worry": "musicians worry about it and it is in fact fine: play it and be glad",
    "unfinished": "it was not done when it was last worked on, `n` days ago",
    "pinned": "the director put it there",
    "stretched": "the director set its minutes",
    "for_the_hardest": "it prepares the hardest block",
    "idle_play": "`n` parts play here that wait during the work",
    "joins_work": "it puts `n` worked measures back into the music",
    "whole": "there is no evidence yet: playing tells what to listen for",
    "concert_near": "the concert is in `n` days, so that more is played through",
    "closing": "musicians say themselves what changed",
}
"""Codes of reasons."""

REMARKS = {
    "no_concert_date": "no concert date is set: planned as if it were in `n` days; set the date",
    "concert_past": "the concert was `n` days ago: planned as if it were today; set the next date",
    "no_evidence": "nobody was heard and nobody said anything: the plan is a run",
    "left_out": "`n` takes, levels or remarks point at no measure of the piece and count nowhere",
    "pin_moved": "a pinned block lay outside the piece: the nearest measures stand there",
    "unknown_block": "`n` blocks that were dropped or stretched are not in the plan",
    "unplanned": "`n` minutes are left over: nothing more asks for them",
}
"""Codes of what is told beside a plan."""


@dataclass(frozen=True, slots=True)
class PieceEvidence:
    """One piece of the rehearsal: its opaque ``key`` and its strip."""

    key: str
    strip: Strip


@dataclass(frozen=True, slots=True)
class Worked:
    """A block of an earlier rehearsal: minutes really spent, days ago, and whether it was done."""

    piece: str
    first: int
    last: int
    minutes: float
    days_ago: int
    done: bool
    strategy: str = ""
    aim: str = ""


@dataclass(frozen=True, slots=True)
class Pin:
    """Measures that the director wants worked on; ``minutes`` None leaves them to the rule."""

    piece: str
    first: int
    last: int
    minutes: int | None = None
    aim: str = ""


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the director changed: pins, keys of blocks dropped, keys stretched to minutes."""

    pins: tuple[Pin, ...] = ()
    dropped: frozenset[str] = frozenset()
    stretched: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Why:
    """One reason: a key of ``WHY`` with its numbers."""

    code: str
    n: int = 0
    of: int = 0


@dataclass(frozen=True, slots=True)
class Idle:
    """Parts that do not play in a block, and their task there (a key of ``IDLE_TASKS``).

    ``piece``, ``first`` and ``last`` are what they look at; the block's own where they listen.
    """

    parts: tuple[str, ...]
    task: str
    piece: str
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Block:
    """One block: ``strategy`` is a key of the strategies, warm-ups or questions by its kind.

    ``first`` and ``last`` are measures (0-based) of ``piece``; None, with "", for blocks of none.
    ``done_when`` is "" where a block just ends; ``come_back_days`` is when the spot is next due.
    """

    key: str
    kind: str
    minutes: int
    aim: str
    strategy: str
    why: tuple[Why, ...]
    piece: str = ""
    first: int | None = None
    last: int | None = None
    idle: tuple[Idle, ...] = ()
    done_when: str = ""
    come_back_days: int | None = None


@dataclass(frozen=True, slots=True)
class PlanRemark:
    """Something to tell beside the plan: a key of ``REMARKS`` with its number."""

    code: str
    n: int = 0


@dataclass(frozen=True, slots=True)
class RehearsalPlan:
    """Blocks in order, whose minutes add up to ``minutes`` less what a remark says is left over."""

    minutes: int
    blocks: tuple[Block, ...]
    remarks: tuple[PlanRemark, ...]


def work_key(piece: str, first: int, last: int) -> str:
    """The key of a block of work: it stays the same when the rest is made anew."""
    return f"{WORK}:{piece}:{first}-{last}"
