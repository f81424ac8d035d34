"""Diction: whether the sung words can be understood. For people's ears only."""

from __future__ import annotations

from standlight.criteria.values import Criterion

CRITERION = Criterion(
    key="diction",
    name="Diction",
    question="Can a listener understand the words?",
    descriptors={
        1: "Most words cannot be understood, or words are missing.",
        2: "Some words are clear. Vowels change or ends of words get lost.",
        3: "Most words are clear. Vowels match the style and ends of words are together.",
        4: "Every word is clear, with tall vowels and light, exact consonants.",
    },
    families=("voice",),
    by_ear="Diction is for a person's ear: the tool does not listen to words.",
)
"""Clear words, rated by ear; voices only."""
