"""Rhythm: where each note starts against the player's own smooth beat."""

from __future__ import annotations

from standlight.criteria.values import EVERYONE, Criterion

CRITERION = Criterion(
    key="rhythm",
    name="Rhythm",
    question="Are the notes and rests the right length, in the right place?",
    descriptors={
        1: "Many rhythms are not the written ones yet, or they are guessed.",
        2: "Easy rhythms are right. Harder ones, ties or rests are uneven or rushed.",
        3: "Nearly all rhythms and rests are right, with a small slip or two.",
        4: "All rhythms and rests are exact and feel easy, also in the hard spots.",
    },
    families=EVERYONE,
    by_ear="TEMPORARY",
)
"""Rhythm, read by the tool beside the director's ear."""
