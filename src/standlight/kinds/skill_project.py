"""Skill project: one chosen skill over some weeks, first and last evidence on the same spot."""

from __future__ import annotations

STRATEGIES = (
    ("slow", "Play it slowly, then a little faster"),
    ("chunk", "Cut it into small pieces"),
    ("rhythm", "Change the rhythm"),
    ("record", "Record myself and compare"),
    ("drone", "Play with a drone"),
    ("mirror", "Use a mirror"),
    ("sing", "Sing it or tap it first"),
    ("back", "Start from the last measure and go back"),
    ("own", "My own idea"),
)
"""Ways to practise that a director may change (common practice, no source)."""

_EVIDENCE = {
    "key": "evidence",
    "prompt": "Show where I am now",
    "of": ["take", "look", "words"],
    "least": 1,
}
_EVIDENCE_FIELDS = [
    {"key": "take", "type": "recording", "prompt": "A recording of my spot"},
    {
        "key": "look",
        "type": "short",
        "prompt": "What should my director come and look at?",
        "help": "For example my bow hold, how I sit, my lips or my sticks.",
        "least": 1,
        "most": 15,
    },
    {
        "key": "words",
        "type": "long",
        "prompt": "In my own words: what works now, and what does not yet?",
        "least": 10,
        "most": 150,
    },
]

DEFINITION = {
    "key": "skill_project",
    "name": "Skill project",
    "edition": 1,
    "aim": "Pick one skill. Work on it for some weeks. Show how far you got.",
    "process": ["perform"],
    "cadence": "six to twelve weeks, a check-in every two to four",
    "seen_by": ["owner", "director", "second_adult"],
    "standards": ["MU:Pr5.3.E.5a", "MU:Pr5.3.E.8a"],
    "rubric": [
        {
            "key": "goal",
            "name": "A goal one can hear",
            "question": "Could a listener tell when the goal is reached?",
            "descriptors": [
                "The goal is so wide that no one could hear it.",
                "The goal names a skill, but not what will sound better.",
                "The goal names one skill, one spot, and what one will hear there.",
                "It also says what one hears at that spot now.",
            ],
            "steps": ["goal"],
        },
        {
            "key": "evidence",
            "name": "Evidence",
            "question": "Does it show the skill at the spot of the goal?",
            "descriptors": [
                "One cannot tell from it how the spot goes now.",
                "It shows something, but not this skill or not this spot.",
                "It shows this skill at this spot as it is now.",
                "It shows it, and names what works there and what does not yet.",
            ],
            "steps": ["first", "check_in", "last"],
        },
        {
            "key": "learned",
            "name": "What was learned",
            "question": "Does it say what helped, and how one can tell?",
            "descriptors": [
                "It says that it went well or not, and no more.",
                "It names a way to work, but not what it changed.",
                "It names what helped or did not, and what one could hear of it.",
                "It also says why, and where else that could be of use.",
            ],
            "steps": ["check_in", "last"],
        },
    ],
    "moment": "before",
    "steps": [
        {
            "key": "goal",
            "name": "My goal",
            "due": {"moment": "start"},
            "fields": [
                {
                    "key": "skill",
                    "type": "short",
                    "prompt": "What do I want to do better?",
                    "help": "One thing. For example: even sixteenth notes, or a soft high note.",
                    "least": 2,
                    "most": 25,
                },
                {
                    "key": "spot",
                    "type": "measure",
                    "prompt": "Where in my part will I hear it?",
                    "help": "Pick a spot you can play again at the end.",
                },
                {
                    "key": "know",
                    "type": "short",
                    "prompt": "How will I know that it is better?",
                    "help": "Say what you or a friend would hear.",
                    "least": 3,
                    "most": 40,
                },
                {
                    "key": "ways",
                    "type": "several",
                    "prompt": "How will I work on it?",
                    "least": 1,
                    "most": 3,
                    "options": [{"key": key, "label": label} for key, label in STRATEGIES],
                },
            ],
        },
        {
            "key": "first",
            "name": "First evidence",
            "due": {"moment": "start"},
            "fields": _EVIDENCE_FIELDS,
            "choices": [_EVIDENCE],
        },
        {
            "key": "check_in",
            "name": "Check-in",
            "due": {"moment": "again", "weeks_least": 2, "weeks_most": 4},
            "least_times": 2,
            "most_times": None,
            "laid_before": ["earlier"],
            "fields": [
                {
                    "key": "closer",
                    "type": "scale",
                    "prompt": "How close am I to my goal?",
                    "least": 1,
                    "most": 4,
                    "options": [
                        {"key": "low", "label": "just begun"},
                        {"key": "high", "label": "there"},
                    ],
                },
                {
                    "key": "helped",
                    "type": "short",
                    "prompt": "What helped, and what will I change?",
                    "least": 5,
                    "most": 60,
                },
                *({**field, "required": False} for field in _EVIDENCE_FIELDS),
            ],
        },
        {
            "key": "last",
            "name": "Last evidence",
            "due": {"moment": "end"},
            "laid_before": ["earlier"],
            "fields": [
                *_EVIDENCE_FIELDS,
                {
                    "key": "learned",
                    "type": "short",
                    "prompt": "What will I keep from this for the next skill?",
                    "least": 5,
                    "most": 60,
                },
            ],
            "choices": [_EVIDENCE],
        },
    ],
}
