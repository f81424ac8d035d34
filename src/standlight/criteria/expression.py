"""Expression: the shape and character a player gives the line. For people's ears only."""

from __future__ import annotations

from standlight.criteria.values import EVERYONE, Criterion

CRITERION = Criterion(
    key="expression",
    name="Expression",
    question="Does the line have shape and character, as if it says something?",
    descriptors={
        1: "The notes come one by one, all the same. I do not hear phrases yet.",
        2: "Some phrases grow and relax, or some markings are followed. Others are flat.",
        3: "Most phrases have a shape and an end, and the style fits the piece.",
        4: "Every phrase goes somewhere. The style is clear, and the player makes choices.",
    },
    families=EVERYONE,
    by_ear="Expression is for a person's ear: the tool does not judge musical meaning.",
)
"""Phrasing and style, rated by ear."""
