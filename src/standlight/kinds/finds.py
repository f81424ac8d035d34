"""Finds: music, performers and composers new to a musician, a list that grows all year."""

from __future__ import annotations

DEFINITION = {
    "key": "finds",
    "name": "Finds",
    "edition": 1,
    "aim": "Keep a list of music that is new to you and that you want to hear again.",
    "process": ["connect", "respond"],
    "cadence": "all year; often two or three a concert cycle",
    "seen_by": ["owner", "director", "second_adult", "group"],
    "standards": ["MU:Cn10.0.E.5a", "MU:Re7.1.E.5a"],
    "moment": "concert",
    "steps": [
        {
            "key": "find",
            "name": "A find",
            "due": {"moment": "any"},
            "least_times": 1,
            "most_times": None,
            "fields": [
                {
                    "key": "what",
                    "type": "short",
                    "prompt": "What is it called?",
                    "help": "A piece, a song, a player, a group or a composer.",
                    "least": 1,
                    "most": 20,
                },
                {
                    "key": "who",
                    "type": "short",
                    "prompt": "Who made it or plays it?",
                    "least": 1,
                    "most": 20,
                },
                {
                    "key": "why",
                    "type": "short",
                    "prompt": "What should a friend listen for?",
                    "help": "One thing you can hear: a sound, a beat, a turn in the tune.",
                    "least": 3,
                    "most": 60,
                },
                {
                    "key": "heard",
                    "type": "short",
                    "prompt": "Where did I hear it?",
                    "required": False,
                    "most": 20,
                },
                {
                    "key": "share",
                    "type": "consent",
                    "prompt": "Show this to my group",
                    "help": "You can change your mind at any time.",
                    "required": False,
                },
            ],
        }
    ],
}
