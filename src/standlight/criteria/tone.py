"""Tone: the colour and centre of the sound. For people's ears only."""

from __future__ import annotations

from standlight.criteria.values import SUSTAINING, Criterion

CRITERION = Criterion(
    key="tone",
    name="Tone",
    question="Is the sound clear, steady and full for this instrument or voice?",
    descriptors={
        1: "The sound often breaks, shakes or is hard to hear. It is hard to hold a note.",
        2: "The sound is clear on some notes. High, low, loud or soft notes lose it.",
        3: "The sound is clear and steady on most notes, with good air, bow or breath.",
        4: "The sound is full and even on every note, high and low, loud and soft.",
    },
    families=SUSTAINING,
    by_ear="Tone is for a person's ear: a microphone and a room change it too much to measure.",
)
"""Tone quality, rated by ear."""
