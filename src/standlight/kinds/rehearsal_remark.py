"""Rehearsal remark: a spot on my own part, what happened there, what I will try; in a minute."""

from __future__ import annotations

HAPPENED = (
    ("entry", "I came in early or late"),
    ("lost", "I lost my place"),
    ("notes", "Wrong notes"),
    ("rhythm", "The rhythm was off"),
    ("tune", "It was out of tune"),
    ("speed", "It was too fast for me"),
    ("air", "I ran out of air or bow"),
    ("loud", "Too loud or too soft"),
    ("hear", "I could not hear the others"),
    ("well", "It went well"),
    ("other", "Something else"),
)
"""What happens in a rehearsal, in a musician's words (common practice, no source)."""

TRIES = (
    ("slow", "Do it slowly first"),
    ("loop", "Do just this spot, five times"),
    ("count", "Count out loud"),
    ("sing", "Sing it or tap it"),
    ("mark", "Write it in my part"),
    ("listen", "Listen to one other part"),
    ("look", "Look up"),
    ("breath", "Plan where to breathe or change bow"),
    ("ask", "Ask for help"),
    ("keep", "Keep it like this"),
    ("own", "My own idea"),
)
"""What a musician can try next (common practice, no source)."""

DEFINITION = {
    "key": "rehearsal_remark",
    "name": "Rehearsal remark",
    "edition": 1,
    "aim": "Name one spot while it is fresh. It helps us plan the next rehearsal.",
    "process": ["perform"],
    "cadence": "in the last two minutes, by turns: one section a day",
    "seen_by": ["owner", "director", "second_adult"],
    "standards": ["MU:Pr5.3.E.5a", "MU:Pr5.3.E.8a"],
    "moment": "in_rehearsal",
    "steps": [
        {
            "key": "remark",
            "name": "A remark",
            "due": {"moment": "any"},
            "least_times": 1,
            "most_times": None,
            "fields": [
                {
                    "key": "spot",
                    "type": "spot",
                    "prompt": "Which spot in my part?",
                    "help": "The piece we worked on last stands first.",
                    "columns": [
                        {
                            "key": "what",
                            "type": "choice",
                            "prompt": "What happened there?",
                            "options": [{"key": key, "label": label} for key, label in HAPPENED],
                        },
                        {
                            "key": "more",
                            "type": "short",
                            "prompt": "One sentence more, if I like",
                            "required": False,
                            "most": 30,
                        },
                        {
                            "key": "try",
                            "type": "choice",
                            "prompt": "What will I try?",
                            "options": [{"key": key, "label": label} for key, label in TRIES],
                        },
                    ],
                }
            ],
        }
    ],
}
