"""Background note: sources first, then a short programme note that stands on them."""

from __future__ import annotations

LEAST_WORDS, MOST_WORDS = 80, 150
"""A note that fills a third of a printed page (common practice, no source)."""

DEFINITION = {
    "key": "background_note",
    "name": "Background note",
    "edition": 1,
    "aim": "Find out where a piece comes from. Tell our listeners in a few good lines.",
    "process": ["connect"],
    "cadence": "once a concert cycle, each musician on one piece",
    "seen_by": ["owner", "director", "second_adult", "group"],
    "standards": ["MU:Cn11.0.E.5a", "MU:Cn11.0.E.8a"],
    "rubric": [
        {
            "key": "sources",
            "name": "Sources to find again",
            "question": "Could someone else find each source?",
            "descriptors": [
                "A source is missing, or one cannot tell what it is.",
                "Both are named, but one cannot find them with what is given.",
                "Both can be found again: who, what, where and when.",
                "Both can be found, and it says what makes one trust or doubt them.",
            ],
            "steps": ["sources"],
        },
        {
            "key": "facts",
            "name": "Own words, right facts",
            "question": "Are the words new, and do the facts hold?",
            "descriptors": [
                "Most lines are copied, or most facts are not in a source.",
                "Some lines are copied, or a fact is wrong or has no source.",
                "The note is in new words, and each fact is in a source.",
                "New words and right facts, and one fact helps to explain the next.",
            ],
            "steps": ["note"],
        },
        {
            "key": "heard",
            "name": "Tied to what one hears",
            "question": "Does the note point to something in the music?",
            "descriptors": [
                "The note tells of people and years, but not of the music.",
                "The note says what the music is like, but not where to hear it.",
                "A fact is tied to a place in the piece that one can hear.",
                "Facts are tied to two or more places, with what to listen for.",
            ],
            "steps": ["note"],
        },
    ],
    "needs": ["piece"],
    "moment": "before",
    "steps": [
        {
            "key": "sources",
            "name": "My sources",
            "due": {"moment": "start"},
            "fields": [
                {
                    "key": "primary",
                    "type": "source",
                    "prompt": "One source from someone who was there",
                    "help": "It is called a primary source. The score itself, a letter, a photo, "
                    "a talk with the composer, or a first recording.",
                    "options": [{"key": "primary", "label": "Primary source"}],
                },
                {
                    "key": "secondary",
                    "type": "source",
                    "prompt": "One source from someone who looked back",
                    "help": "It is called a secondary source. A book, a web page, or the notes "
                    "that come with a recording.",
                    "options": [{"key": "secondary", "label": "Secondary source"}],
                },
                {
                    "key": "more",
                    "type": "rows",
                    "prompt": "More sources, if I used some",
                    "required": False,
                    "most": 6,
                    "columns": [{"key": "source", "type": "source", "prompt": "Source"}],
                },
                {
                    "key": "trust",
                    "type": "short",
                    "prompt": "Why can I trust the second one?",
                    "help": "Who wrote it? How does that person know? Does the other source "
                    "say the same?",
                    "least": 8,
                    "most": 50,
                },
                {
                    "key": "facts",
                    "type": "rows",
                    "prompt": "What did I find out?",
                    "help": "One fact a line, in my own words, with the source that says so.",
                    "least": 3,
                    "most": 8,
                    "columns": [
                        {"key": "fact", "type": "short", "prompt": "A fact", "least": 4,
                         "most": 40},
                        {
                            "key": "from",
                            "type": "choice",
                            "prompt": "Who says so?",
                            "options": [
                                {"key": "primary", "label": "The first source"},
                                {"key": "secondary", "label": "The second source"},
                                {"key": "both", "label": "Both"},
                                {"key": "more", "label": "One more source"},
                            ],
                        },
                    ],
                },
                {
                    "key": "doubt",
                    "type": "short",
                    "prompt": "What do the sources not agree on, or not tell?",
                    "required": False,
                    "most": 40,
                },
            ],
        },
        {
            "key": "note",
            "name": "My note",
            "due": {"moment": "end"},
            "laid_before": ["earlier"],
            "fields": [
                {
                    "key": "note",
                    "type": "long",
                    "prompt": "Write a note for people who come to hear us",
                    "help": "Who made the piece, when and why? What was going on then? "
                    "What can one hear of it in the music? Use only facts you found.",
                    "least": LEAST_WORDS,
                    "most": MOST_WORDS,
                },
                {
                    "key": "hear",
                    "type": "measure",
                    "prompt": "Where in the piece can one hear it best?",
                    "help": "Pin the measure, and say what to listen for there.",
                },
                {
                    "key": "play",
                    "type": "short",
                    "prompt": "What will I play or sing in a new way, now that I know?",
                    "least": 5,
                    "most": 50,
                },
                {
                    "key": "checks",
                    "type": "several",
                    "prompt": "What did I check?",
                    "least": 2,
                    "options": [
                        {"key": "own", "label": "The words are my own"},
                        {"key": "facts", "label": "Each fact is in a source"},
                        {"key": "names", "label": "Names and years are right"},
                        {"key": "aloud", "label": "I read it out loud"},
                    ],
                },
                {
                    "key": "share",
                    "type": "consent",
                    "prompt": "My note may be printed for our listeners",
                    "help": "You can change your mind until it goes to print.",
                    "required": False,
                },
            ],
        },
    ],
}
