"""Evenness: how alike a drummer's strokes are in time and loudness."""

from __future__ import annotations

from standlight.criteria.values import Criterion

CRITERION = Criterion(
    key="evenness",
    name="Even strokes",
    question="Are the strokes even, in time and in loudness?",
    descriptors={
        1: "Strokes are uneven, and hands sound different from each other.",
        2: "Slow strokes are even. Fast strokes or rolls get bumpy.",
        3: "Strokes are even nearly all the time, and rolls are smooth.",
        4: "Strokes and rolls are even at every speed and loudness, with clear accents.",
    },
    families=("percussion",),
    by_ear="TEMPORARY",
)
"""Even strokes, read by the tool beside the director's ear."""
