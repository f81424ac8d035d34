"""Pulse: the tempo of the take, its drift, and how often it stopped."""

from __future__ import annotations

from standlight.criteria.values import EVERYONE, Criterion

CRITERION = Criterion(
    key="pulse",
    name="Steady pulse",
    question="Does the beat stay steady from start to end?",
    descriptors={
        1: "The beat is hard to find, or the playing stops and starts.",
        2: "The beat is there for a while, then it speeds up, slows down or waits at hard spots.",
        3: "The beat is steady nearly all the time and gets back quickly after a slip.",
        4: "The beat is steady all the way and bends only where the music asks for it.",
    },
    families=EVERYONE,
    by_ear="TEMPORARY",
)
"""Steady pulse, read by the tool beside the director's ear."""
