"""Notes: which written notes were heard, which were other pitches, which were missing."""

from __future__ import annotations

from standlight.criteria.values import EVERYONE, Criterion

CRITERION = Criterion(
    key="notes",
    name="Notes",
    question="Are the written notes the ones that sound?",
    descriptors={
        1: "Many notes are missing or are other notes than written.",
        2: "More than half are right. Key signature, hard fingerings or leaps go wrong.",
        3: "Nearly all notes are right. A slip is fixed without stopping.",
        4: "Every note is right, with the key signature and all accidentals.",
    },
    families=EVERYONE,
    by_ear="TEMPORARY",
)
"""Notes, read by the tool beside the director's ear."""
