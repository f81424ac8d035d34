"""What a loading of the demo has written so far."""

from __future__ import annotations

from dataclasses import dataclass, field

from standlight.demo.plan import Scenario
from standlight.programme.models import (
    Account,
    ConcertCycle,
    Ensemble,
    Musician,
    Part,
    Piece,
    PlayingCheck,
    Programme,
    Seat,
    Section,
    Turn,
)
from standlight.score import Score


@dataclass(slots=True)
class Loading:
    """What has been written so far, by the scenario's keys."""

    plan: Scenario
    programme: Programme
    directors: dict[str, Account] = field(default_factory=dict)
    ensembles: dict[str, Ensemble] = field(default_factory=dict)
    cycles: dict[str, ConcertCycle] = field(default_factory=dict)
    sections: dict[tuple[str, str], Section] = field(default_factory=dict)
    musicians: dict[str, Musician] = field(default_factory=dict)
    seats: dict[tuple[str, str], Seat] = field(default_factory=dict)
    pieces: dict[str, Piece] = field(default_factory=dict)
    scores: dict[str, tuple[bytes, Score]] = field(default_factory=dict)
    parts: dict[tuple[str, str], Part] = field(default_factory=dict)
    checks: dict[str, PlayingCheck] = field(default_factory=dict)
    castings: dict[tuple[str, str], Part] = field(default_factory=dict)
    turns: dict[tuple[str, str, int], Turn] = field(default_factory=dict)
