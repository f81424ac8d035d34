"""Notes that went on beyond their written time: held too long, or played twice.

Whoever asks for the notes wants to know of it, and so does who asks for the pulse: both are told.
"""

from __future__ import annotations

from standlight.criteria.places import where_if_few
from standlight.criteria.values import Reading, Trouble
from standlight.passages import counted
from standlight.sound.values import Performance

NAME = "held on or played twice"

WORDS = (
    "note longer than written, held or played twice",
    "notes longer than written, held or played twice",
)


def read_longer(performance: Performance, key: str) -> tuple[Reading, ...]:
    """How many notes went on, as a reading of the criterion ``key``; nothing where none did."""
    longer = performance.prolonged
    if not longer:
        return ()
    words = counted(len(longer), "note", "notes").capitalize()
    return (
        Reading(
            key, NAME, float(len(longer)), None, None, "notes", len(performance.notes),
            because="a second start at the same pitch cannot always be told from a held note",
            sentence=f"{words}{where_if_few(performance.passage, longer)} went on longer than "
            "written: held, or played twice.",
        ),
    )  # fmt: skip


def find_longer(performance: Performance) -> tuple[Trouble, ...]:
    """Every note that went on."""
    return tuple(Trouble(index, *WORDS, 1.0) for index in sorted(performance.prolonged))
