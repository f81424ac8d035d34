"""Articulation: how much of its written length each note sounds."""

from __future__ import annotations

from standlight.criteria.values import SUSTAINING, Criterion

CRITERION = Criterion(
    key="articulation",
    name="Articulation",
    question="Do notes start and end the way they are marked?",
    descriptors={
        1: "Starts are unclear, and all notes are joined or cut the same way.",
        2: "Some marks are followed: slurs, dots and lines sound a little different.",
        3: "Starts are clear, and slurs, dots, lines and accents sound as marked nearly always.",
        4: "Every start and end is clean and fits the style, also in fast music.",
    },
    families=SUSTAINING,
    by_ear="TEMPORARY",
)
"""Articulation, read by the tool beside the director's ear."""
