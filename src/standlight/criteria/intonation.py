"""Intonation: how near each note is to its pitch, apart from the tuning of the whole take."""

from __future__ import annotations

from standlight.criteria.values import SUSTAINING, Criterion

CRITERION = Criterion(
    key="intonation",
    name="Intonation",
    question="Are the notes in tune, each one and the line as a whole?",
    descriptors={
        1: "Many notes are clearly sharp or flat, and the player does not fix them.",
        2: "Some notes are in tune. Hard notes or leaps drift sharp or flat.",
        3: "Most notes are in tune. The player hears small slips and fixes them.",
        4: "Notes are in tune from start to end, also high, low, loud and soft ones.",
    },
    families=SUSTAINING,
    by_ear="TEMPORARY",
)
"""Intonation, read by the tool beside the director's ear."""
