"""Adjudication: agree what each caption sounds like, rate with a reason, then hear the others."""

from __future__ import annotations

CAPTIONS = (
    ("sound", "Sound", "Is the sound full and clear, loud or soft?"),
    ("tuning", "Tuning", "Do the notes and chords fit?"),
    ("time", "Time", "Do they start, move and end as one?"),
    ("balance", "Balance", "Can you hear the tune, and still hear the rest?"),
    ("style", "Style and shape", "Do the lines go somewhere? Does it fit this kind of music?"),
)
"""Captions to begin with; a director makes their own (common practice, no source)."""

LEVELS = (
    ("1", "Beginning"),
    ("2", "Developing"),
    ("3", "Secure"),
    ("4", "Extending"),
)

DIVISIONS = (
    ("1", "Division 1, the top"),
    ("2", "Division 2"),
    ("3", "Division 3"),
    ("4", "Division 4"),
    ("5", "Division 5"),
)
"""The five divisions of a contest sheet (common practice, no source)."""


TAKES = (
    ("first", "The first"),
    ("second", "The second"),
    ("third", "The third"),
    ("fourth", "The fourth"),
    ("fifth", "The fifth"),
    ("sixth", "The sixth"),
)
"""Takes of one practice, in the order in which they are played."""


def _level(key: str, name: str, question: str) -> dict:
    """The level row of a caption."""
    options = [{"key": level, "label": label} for level, label in LEVELS]
    return {"key": key, "type": "levels", "prompt": name, "help": question, "options": options}


def _reason(key: str, name: str) -> dict:
    """What was heard, for a caption's level."""
    prompt = f"{name}: what did I hear, and where?"
    return {"key": f"{key}_reason", "type": "short", "prompt": prompt, "least": 5, "most": 40}


DEFINITION = {
    "key": "adjudication",
    "name": "Adjudication",
    "edition": 1,
    "aim": "Judge a performance with your ears and give a reason. Then see how others heard it.",
    "process": ["respond"],
    "cadence": "once or twice a concert cycle",
    "seen_by": ["owner", "director", "second_adult", "group"],
    "standards": ["MU:Re9.1.E.5a", "MU:Re9.1.E.8a", "MU:Re9.1.E.Ia"],
    "rubric": [
        {
            "key": "reasons",
            "name": "Reasons from what was heard",
            "question": "Does each reason say what was heard, and where?",
            "descriptors": [
                "The reasons say good or bad, but not what was heard.",
                "The reasons say what was heard, but not where.",
                "Most reasons say what was heard and where.",
                "All do, and they say why that fits the level they go with.",
            ],
            "steps": ["judge", "after"],
        },
    ],
    "director_side": "own",
    "director_steps": ["practice", "judge"],
    "needs": ["sound"],
    "moment": "listening",
    "steps": [
        {
            "key": "agree",
            "name": "What each word sounds like",
            "due": {"moment": "start"},
            "fields": [
                {
                    "key": f"{key}_words",
                    "type": "short",
                    "prompt": f"{name}: what do we hear when it is secure?",
                    "help": question,
                    "least": 4,
                    "most": 40,
                }
                for key, name, question in CAPTIONS
            ],
        },
        {
            "key": "practice",
            "name": "Practice on a take we know",
            "due": {"moment": "start"},
            "least_times": 1,
            "most_times": None,
            "laid_before": ["earlier"],
            "fields": [
                {
                    "key": "take",
                    "type": "choice",
                    "prompt": "Which take is this?",
                    "help": "Your director rates the same one, to lay next to yours.",
                    "options": [{"key": key, "label": label} for key, label in TAKES],
                },
                *(_level(*caption) for caption in CAPTIONS),
                {
                    "key": "sure",
                    "type": "scale",
                    "prompt": "How sure am I?",
                    "least": 1,
                    "most": 4,
                    "options": [
                        {"key": "low", "label": "a guess"},
                        {"key": "high", "label": "very sure"},
                    ],
                },
            ],
        },
        {
            "key": "judge",
            "name": "My levels and reasons",
            "due": {"moment": "start"},
            "laid_before": ["earlier"],
            "fields": [
                *(
                    field
                    for key, name, question in CAPTIONS
                    for field in (_level(key, name, question), _reason(key, name))
                ),
                {
                    "key": "division",
                    "type": "choice",
                    "prompt": "If this were a contest: which division?",
                    "help": "One word cannot hold all you heard. It is only a custom.",
                    "required": False,
                    "options": [{"key": key, "label": label} for key, label in DIVISIONS],
                },
                {
                    "key": "tell",
                    "type": "short",
                    "prompt": "What would I tell them first?",
                    "help": "One thing to keep and one thing to try. Be kind and exact.",
                    "least": 8,
                    "most": 50,
                },
                {
                    "key": "share",
                    "type": "consent",
                    "prompt": "My reasons may be read out to the group",
                    "help": "Your name is not shown.",
                    "required": False,
                },
            ],
        },
        {
            "key": "after",
            "name": "After I saw how others heard it",
            "due": {"moment": "end"},
            "laid_before": ["earlier", "group"],
            "fields": [
                {
                    "key": "change",
                    "type": "choice",
                    "prompt": "Would I change a level now?",
                    "options": [
                        {"key": "up", "label": "Yes, I would go higher"},
                        {"key": "down", "label": "Yes, I would go lower"},
                        {"key": "both", "label": "Yes, one up and one down"},
                        {"key": "stay", "label": "No, I stay with mine"},
                    ],
                },
                {
                    "key": "where",
                    "type": "several",
                    "prompt": "Where were we most apart?",
                    "least": 1,
                    "most": 2,
                    "options": [{"key": key, "label": name} for key, name, _ in CAPTIONS],
                },
                {
                    "key": "why",
                    "type": "long",
                    "prompt": "Why would I change it, or why not?",
                    "help": "What did others hear? Listen to that place once more. "
                    "A good reason counts more than the same level.",
                    "least": 15,
                    "most": 80,
                },
                {
                    "key": "us",
                    "type": "short",
                    "prompt": "Where can we use this in our own music?",
                    "least": 4,
                    "most": 40,
                },
            ],
        },
    ],
}
