"""Listening map: three hearings of one recording, one question each, pinned to the clock."""

from __future__ import annotations

CHANGES = (
    ("louder", "It gets louder"),
    ("softer", "It gets softer"),
    ("faster", "It gets faster"),
    ("slower", "It gets slower"),
    ("new", "A new tune"),
    ("back", "A tune comes back"),
    ("more", "More players or voices"),
    ("fewer", "Fewer players or voices"),
    ("brighter", "It turns brighter"),
    ("darker", "It turns darker"),
    ("beat", "A new kind of beat"),
    ("stop", "It stops or holds"),
)
"""Words for what changes in music (common practice, no source)."""

LEADERS = (
    ("one", "One player or voice alone"),
    ("high", "The high ones"),
    ("middle", "The middle ones"),
    ("low", "The low ones"),
    ("wood", "Woodwinds"),
    ("brass", "Brass"),
    ("strings", "Strings"),
    ("drums", "Drums and bells"),
    ("keys", "Piano, harp or guitar"),
    ("voices", "Voices"),
    ("two", "Two who answer each other"),
    ("all", "All together"),
)

DEFINITION = {
    "key": "listening_map",
    "name": "Listening map",
    "edition": 1,
    "aim": "Hear one piece three times. Each time, listen for one thing.",
    "process": ["respond"],
    "cadence": "two or three a concert cycle",
    "seen_by": ["owner", "director", "second_adult", "group"],
    "standards": ["MU:Re7.2.E.5a", "MU:Re7.2.E.8a", "MU:Re8.1.E.5a"],
    "director_side": "own",
    "director_steps": ["first", "second", "third"],
    "needs": ["sound"],
    "moment": "listening",
    "steps": [
        {
            "key": "first",
            "name": "First hearing",
            "due": {"moment": "start"},
            "fields": [
                {
                    "key": "changes",
                    "type": "rows",
                    "prompt": "Where does the music change?",
                    "help": "Listen to the end. Pin a moment each time you notice a change.",
                    "least": 3,
                    "most": 12,
                    "columns": [
                        {"key": "at", "type": "clock", "prompt": "When?"},
                        {
                            "key": "what",
                            "type": "choice",
                            "prompt": "What changes?",
                            "options": [{"key": key, "label": label} for key, label in CHANGES],
                        },
                        {"key": "more", "type": "short", "prompt": "What I hear",
                         "required": False, "most": 20},
                    ],
                }
            ],
        },
        {
            "key": "second",
            "name": "Second hearing",
            "due": {"moment": "start"},
            "laid_before": ["earlier"],
            "fields": [
                {
                    "key": "leads",
                    "type": "rows",
                    "prompt": "Who leads, and what do the others do?",
                    "help": "Pin a moment each time someone new takes the lead.",
                    "least": 2,
                    "most": 10,
                    "columns": [
                        {"key": "at", "type": "clock", "prompt": "When?"},
                        {
                            "key": "who",
                            "type": "choice",
                            "prompt": "Who leads?",
                            "options": [{"key": key, "label": label} for key, label in LEADERS],
                        },
                        {"key": "rest", "type": "short", "prompt": "What do the others do?",
                         "required": False, "most": 20},
                    ],
                }
            ],
        },
        {
            "key": "third",
            "name": "Third hearing",
            "due": {"moment": "start"},
            "laid_before": ["earlier"],
            "fields": [
                {
                    "key": "moment",
                    "type": "clock",
                    "prompt": "Which moment matters most to you?",
                    "help": "Pin it, and give it a name of your own.",
                },
                {
                    "key": "how",
                    "type": "long",
                    "prompt": "How does the music get there?",
                    "help": "What comes just before? What do they do with sound, speed, tune or "
                    "rest to make it work?",
                    "least": 25,
                    "most": 100,
                },
                {
                    "key": "share",
                    "type": "consent",
                    "prompt": "Show my pins on the map of the group",
                    "help": "Your name is not shown.",
                    "required": False,
                },
            ],
        },
        {
            "key": "together",
            "name": "Our maps together",
            "due": {"moment": "end"},
            "laid_before": ["earlier", "group"],
            "fields": [
                {
                    "key": "new",
                    "type": "clock",
                    "prompt": "Where did someone hear what I did not?",
                    "help": "Go back to that moment and listen once more. Say what you hear now.",
                },
                {
                    "key": "ours",
                    "type": "short",
                    "prompt": "What could our group learn from these players or singers?",
                    "least": 5,
                    "most": 50,
                },
            ],
        },
    ],
}
