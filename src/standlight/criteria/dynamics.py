"""Dynamics: how much louder the loud regions are than the soft ones, inside one take."""

from __future__ import annotations

from standlight.criteria.values import EVERYONE, Criterion

CRITERION = Criterion(
    key="dynamics",
    name="Dynamics",
    question="Can a listener hear the written loud and soft?",
    descriptors={
        1: "It is all one loudness, or loud and soft come by accident.",
        2: "A little change can be heard, mostly at the biggest markings.",
        3: "Loud and soft are clearly different where they are written.",
        4: "Every marking is heard, changes grow smoothly, and the sound stays good.",
    },
    families=EVERYONE,
    by_ear="TEMPORARY",
)
"""Dynamics, read by the tool beside the director's ear."""
