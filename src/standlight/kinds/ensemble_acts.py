"""Ensemble acts: what a good member of a group can be seen to do; never part of a mark."""

from __future__ import annotations

ACTS = (
    ("ready", "In place at the start, with music and all that is needed",
     "An example of being ready, or of what gets in the way"),
    ("marks", "Writes it in the part when something changes",
     "An example of a mark in the part that helped"),
    ("looks", "Looks up for starts, changes and ends",
     "An example of a place where looking up helped"),
    ("listens", "Gives room when another part has the tune",
     "An example of a place where making room helped"),
    ("counts", "Counts along and stays with us while others work",
     "An example of what was good to do in the wait"),
    ("keeps_on", "Finds the place again after a slip, and goes on",
     "An example of getting back in"),
    ("helps", "Helps someone near: a place, a page, a kind word",
     "An example of helping, or of being helped"),
    ("asks", "Asks, or has an idea about the music",
     "A question or an idea from these weeks"),
)  # fmt: skip
"""Acts that anybody in the room can see (common practice, no source)."""

HOW_OFTEN = (
    ("seldom", "Not often yet"),
    ("some", "Some days"),
    ("most", "Most days"),
    ("always", "Every time"),
)

_ROWS = [
    {
        "key": key,
        "type": "levels",
        "prompt": act,
        "options": [{"key": often, "label": label} for often, label in HOW_OFTEN],
    }
    for key, act, _ in ACTS
]
_EXAMPLES = [
    {"key": f"{key}_example", "type": "short", "prompt": example, "least": 3, "most": 40}
    for key, _, example in ACTS
]

DEFINITION = {
    "key": "ensemble_acts",
    "name": "Ensemble acts",
    "edition": 1,
    "aim": "See how you help the group to make music. This never counts in a mark.",
    "process": ["perform"],
    "cadence": "two or three times a concert cycle",
    "seen_by": ["owner", "director", "second_adult"],
    "standards": ["MU:Pr5.3.E.5a"],
    "director_side": "each",
    "director_steps": ["acts"],
    "marked": False,
    "moment": "in_rehearsal",
    "steps": [
        {
            "key": "acts",
            "name": "How it went these weeks",
            "due": {"moment": "again", "weeks_least": 3, "weeks_most": 6},
            "least_times": 1,
            "most_times": None,
            "fields": [
                *(field for pair in zip(_ROWS, _EXAMPLES, strict=True) for field in pair),
                {
                    "key": "next",
                    "type": "choice",
                    "prompt": "Which one comes next?",
                    "options": [{"key": key, "label": act} for key, act, _ in ACTS],
                },
            ],
            "choices": [
                {
                    "key": "examples",
                    "prompt": "Give an example for three or more of them",
                    "of": [field["key"] for field in _EXAMPLES],
                    "least": 3,
                }
            ],
        }
    ],
}
