"""Playing or singing check, the musician's own side: how I heard my take, then both of us.

The takes, the director's levels and the answer live with the check; the rows here carry the keys
of the criteria, so that own and director's levels can stand side by side.
"""

from __future__ import annotations

ROWS = (
    ("tone", "My sound", "Is it clear, steady and full?"),
    ("intonation", "In tune", "Do my notes fit each other and the home note?"),
    ("notes", "The notes", "Did I do the ones that are printed?"),
    ("rhythm", "Rhythm", "Are notes and rests as long as they should be?"),
    ("pulse", "Beat", "Could someone clap along from start to end?"),
    ("dynamics", "Loud and soft", "Could a listener hear the change?"),
    ("articulation", "Starts and ends", "Are they short, long or joined as marked?"),
    ("expression", "Shape", "Does the line go somewhere and say something?"),
    ("diction", "Words", "Could a listener write them down?"),
    ("vowels", "Vowels and breath", "Do vowels keep one shape? Does my breath last?"),
    ("bowing", "Bowing", "Does my bow go the right way, with enough of it?"),
    ("shifts", "Shifts", "Does my hand land in its new place in time?"),
    ("open_strings", "Open strings", "Were my strings in tune before I began?"),
    ("evenness", "Even strokes", "Do both hands match in time and in loudness?"),
    ("sticking", "Sticking", "Do my hands follow the plan, with the right sticks?"),
)
"""Key of a criterion, a short name, and what to listen for."""

LEVELS = (
    ("1", "Beginning"),
    ("2", "Developing"),
    ("3", "Secure"),
    ("4", "Extending"),
)

DEFINITION = {
    "key": "playing_check",
    "name": "Playing or singing check",
    "edition": 1,
    "aim": "Hear your own take as a listener would. Then see how your director heard it.",
    "process": ["perform", "respond"],
    "cadence": "beside a check, when the director asks for it",
    "seen_by": ["owner", "director", "second_adult"],
    "standards": ["MU:Pr6.1.E.5a", "MU:Pr5.3.E.5a", "MU:Re9.1.E.5a"],
    "needs": ["piece"],
    "moment": "in_rehearsal",
    "steps": [
        {
            "key": "own",
            "name": "How I heard my take",
            "due": {"moment": "start"},
            "laid_before": ["takes"],
            "fields": [
                *(
                    {
                        "key": key,
                        "type": "levels",
                        "prompt": name,
                        "help": question,
                        "options": [{"key": level, "label": label} for level, label in LEVELS],
                    }
                    for key, name, question in ROWS
                ),
                {
                    "key": "best",
                    "type": "short",
                    "prompt": "What worked best, and where?",
                    "least": 4,
                    "most": 40,
                },
                {
                    "key": "spot",
                    "type": "spot",
                    "prompt": "Which spot will I work on next?",
                },
            ],
            "choices": [
                {
                    "key": "heard",
                    "prompt": "Listen to your take once for each of these",
                    "of": [key for key, _, _ in ROWS],
                    "least": 3,
                }
            ],
        },
        {
            "key": "after",
            "name": "After the answer",
            "due": {"moment": "end"},
            "laid_before": ["earlier", "answer"],
            "fields": [
                {
                    "key": "match",
                    "type": "choice",
                    "prompt": "How do my levels and the director's fit?",
                    "options": [
                        {"key": "same", "label": "Much the same"},
                        {"key": "lower", "label": "I was harder on myself"},
                        {"key": "higher", "label": "I was easier on myself"},
                        {"key": "mixed", "label": "Some of each"},
                    ],
                },
                {
                    "key": "why",
                    "type": "short",
                    "prompt": "Where did we hear two things, and what may be the reason?",
                    "help": "Listen to that spot again first. You may still hear it your way.",
                    "required": False,
                    "most": 50,
                },
                {
                    "key": "next",
                    "type": "short",
                    "prompt": "What is the first thing I will do for my next take?",
                    "least": 4,
                    "most": 40,
                },
            ],
        },
    ],
}
