"""Year reflection: the musician's own year is laid in front of them first, then it asks."""

from __future__ import annotations

BACK = (
    ("sound", "Play your first take and your latest. What do you hear?",
     "Name two things that are not the same. Name one that is."),
    ("moved", "Which goal moved the most, and what made it move?",
     "What did you do, how often, and what helped?"),
    ("stuck", "Which goal did not move, or changed on the way?",
     "What got in the way? What would you try now?"),
    ("pattern", "Read your remarks. What comes up again and again?",
     "Name the spot or the skill. What did you do about it?"),
    ("find", "Which of your finds will stay with you?",
     "What do you hear in it now that you did not hear at first?"),
    ("group", "When was our group at its best?",
     "What did we do, and what was your share in it?"),
    ("ears", "What can you hear now that you could not when the year began?",
     "In our music, in a recording, or in your own sound."),
    ("helped", "Who in our group helped you to play or sing better?",
     "What did they do? You may leave out the name."),
)  # fmt: skip

WORK = (
    ("check", "Playing or singing checks"),
    ("study", "Looking at the music first"),
    ("note", "Background notes"),
    ("project", "My skill project"),
    ("remark", "Rehearsal remarks"),
    ("map", "Listening maps"),
    ("judge", "Judging others"),
    ("concert", "Thinking back on concerts"),
    ("me", "Music and me"),
    ("finds", "Finds"),
    ("sections", "Working in small groups"),
)
"""What a musician did this year, in plain words; a director takes out what the group did not do."""

_WORK = [{"key": key, "label": label} for key, label in WORK]

DEFINITION = {
    "key": "year_reflection",
    "name": "Year reflection",
    "edition": 1,
    "aim": "Look back on your own year in music, and then ahead.",
    "process": ["respond", "connect"],
    "cadence": "once, in the last weeks of the year",
    "seen_by": ["owner", "director", "second_adult"],
    "standards": ["MU:Re9.1.E.8a", "MU:Cn10.0.E.8a"],
    "moment": "year",
    "steps": [
        {
            "key": "back",
            "name": "Looking back",
            "due": {"moment": "start"},
            "laid_before": ["takes", "goals", "remarks", "finds"],
            "fields": [
                {
                    "key": key,
                    "type": "long",
                    "prompt": prompt,
                    "help": more,
                    "least": 30,
                    "most": 200,
                }
                for key, prompt, more in BACK
            ],
            "choices": [
                {
                    "key": "few",
                    "prompt": "Choose four or more",
                    "of": [key for key, _, _ in BACK],
                    "least": 4,
                }
            ],
        },
        {
            "key": "ahead",
            "name": "Looking ahead",
            "due": {"moment": "end"},
            "laid_before": ["earlier"],
            "fields": [
                {
                    "key": "most",
                    "type": "several",
                    "prompt": "Which work taught me the most?",
                    "least": 1,
                    "most": 3,
                    "options": _WORK,
                },
                {
                    "key": "least",
                    "type": "several",
                    "prompt": "Which work taught me the least?",
                    "help": "Be honest. It helps us plan. It does not change a mark.",
                    "required": False,
                    "most": 3,
                    "options": _WORK,
                },
                {
                    "key": "why",
                    "type": "short",
                    "prompt": "Why?",
                    "least": 5,
                    "most": 60,
                },
                {
                    "key": "next",
                    "type": "short",
                    "prompt": "What do I want to be able to do a year from now?",
                    "help": "One thing that someone could hear.",
                    "least": 4,
                    "most": 40,
                },
                {
                    "key": "first",
                    "type": "short",
                    "prompt": "What is my first step, and when will I take it?",
                    "least": 4,
                    "most": 40,
                },
                {
                    "key": "keep",
                    "type": "short",
                    "prompt": "What should our group keep, and what should we change?",
                    "least": 5,
                    "most": 60,
                },
                {
                    "key": "advice",
                    "type": "short",
                    "prompt": "What would I tell someone who joins us next year?",
                    "required": False,
                    "most": 60,
                },
            ],
        },
    ],
}
