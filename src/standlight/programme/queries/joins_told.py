"""Joins heard in a recording, told as questions to the director and to nobody else.

Phones, apps and rooms make them too: a gate that shuts, a call that comes in, a gain control. So
the words ask, and name the harmless reasons first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

MOST_TOLD = 2
"""Joins told of one take: more of them say the same (our choice)."""

WORDS = {
    "gap": "At {at} the sound is gone for a moment. A phone may do that. Was it paused there?",
    "step": "At {at} the room gets {by} at once. A phone may do that. Was it moved, or paused?",
}
"""What is asked about a join, by its kind."""


@dataclass(frozen=True, slots=True)
class JoinQuestion:
    """One question, and the second of the take it is about."""

    words: str
    at_s: float


def join_questions(body: Mapping[str, Any]) -> tuple[JoinQuestion, ...]:
    """Questions on the joins of the report ``body``; a report of an early edition has none.

    >>> body = {"joins": [{"kind": "step", "at_s": 62.4, "change_db": -14.0}]}
    >>> join_questions(body)[0].words
    'At 1:02 the room gets quieter at once. A phone may do that. Was it moved, or paused?'
    """
    return tuple(
        JoinQuestion(
            WORDS[row["kind"]].format(
                at=_clock(row["at_s"]), by="louder" if row["change_db"] > 0 else "quieter"
            ),
            row["at_s"],
        )
        for row in list(body.get("joins", ()))[:MOST_TOLD]
    )


def _clock(seconds: float) -> str:
    """A second of the take as a player shows it."""
    return f"{int(seconds) // 60}:{int(seconds) % 60:02}"
