"""Score study: what the printed music asks, pinned to measures before the first rehearsal."""

from __future__ import annotations

_AT = {"key": "at", "type": "measure", "prompt": "Where?"}


def _options(*pairs: tuple[str, str]) -> list[dict]:
    """Key and label of each answer."""
    return [{"key": key, "label": label} for key, label in pairs]


_SECTION_STARTS = _options(
    ("new", "Something new"),
    ("again", "The same as before"),
    ("changed", "As before, but changed"),
    ("opening", "An opening"),
    ("bridge", "A way over to the next part"),
    ("ending", "An ending"),
)
_TEXTURES = _options(
    ("tune", "One tune, the rest help it"),
    ("together", "All move in the same rhythm"),
    ("tunes", "Two or more tunes at once"),
    ("answer", "One group asks, one answers"),
    ("alone", "One part alone"),
    ("held", "A long note under the rest"),
)
_ROLES = _options(
    ("tune", "I have the tune"),
    ("second", "I have a second tune"),
    ("beat", "I keep the beat"),
    ("bass", "I am the floor: the bass"),
    ("fill", "I fill in the chord"),
    ("double", "I share a line with another part"),
    ("rest", "I rest, count and listen"),
)
_HARD = _options(
    ("hands", "Fingers, hands or sticks"),
    ("range", "High or low notes"),
    ("rhythm", "The rhythm"),
    ("leap", "A big leap"),
    ("air", "Air or bow"),
    ("entry", "Coming in at the right time"),
    ("sharps", "Sharps, flats or a new key"),
    ("loud", "Very loud or very soft"),
    ("words", "The words"),
)

DEFINITION = {
    "key": "score_study",
    "name": "Score study",
    "edition": 1,
    "aim": "Look at the music before you play or sing it. Find out what it asks of you.",
    "process": ["respond", "perform"],
    "cadence": "once a piece, before its first rehearsals",
    "seen_by": ["owner", "director", "second_adult"],
    "standards": ["MU:Pr4.2.E.5a", "MU:Pr4.2.E.8a", "MU:Re7.2.E.8a"],
    "director_side": "own",
    "director_steps": ["find"],
    "needs": ["piece"],
    "moment": "before",
    "steps": [
        {
            "key": "find",
            "name": "What I find",
            "due": {"moment": "start"},
            "fields": [
                {
                    "key": "form",
                    "type": "rows",
                    "prompt": "Where does a new part of the music start?",
                    "help": "Look for a double bar, a big rest, a new tune or a new speed. "
                    "There can be more than one good answer.",
                    "least": 2,
                    "most": 8,
                    "columns": [
                        _AT,
                        {"key": "what", "type": "choice", "prompt": "What starts here?",
                         "options": _SECTION_STARTS},
                        {"key": "how", "type": "short", "prompt": "How can I tell?",
                         "required": False, "most": 20},
                    ],
                },
                {
                    "key": "role",
                    "type": "rows",
                    "prompt": "What is my job, and where does it change?",
                    "help": "Start with your first note. Add a line each time your job changes.",
                    "least": 2,
                    "most": 8,
                    "columns": [
                        _AT,
                        {"key": "job", "type": "choice", "prompt": "What is my job here?",
                         "options": _ROLES},
                        {"key": "with", "type": "short", "prompt": "Who has the same job?",
                         "required": False, "most": 12},
                    ],
                },
                {
                    "key": "home",
                    "type": "rows",
                    "prompt": "What is the key, and where does it change?",
                    "help": "Look at the sharps or flats at the start and at the last note. "
                    "Does it sound bright or dark?",
                    "least": 1,
                    "most": 6,
                    "columns": [
                        _AT,
                        {"key": "key", "type": "short", "prompt": "Which key or home note?",
                         "least": 1, "most": 6},
                        {"key": "how", "type": "short", "prompt": "How can I tell?", "least": 2,
                         "most": 20},
                    ],
                },
                {
                    "key": "texture",
                    "type": "rows",
                    "prompt": "What goes on around me?",
                    "help": "Use the score, or listen to the piece and watch your part.",
                    "least": 1,
                    "most": 6,
                    "columns": [
                        _AT,
                        {"key": "how", "type": "choice", "prompt": "How do the parts fit?",
                         "options": _TEXTURES},
                        {"key": "who", "type": "short", "prompt": "Who stands out?",
                         "required": False, "most": 12},
                    ],
                },
                {
                    "key": "wishes",
                    "type": "rows",
                    "prompt": "What does the composer ask for?",
                    "help": "Pick words and signs that tell you how to play or sing. "
                    "Find out what each one means.",
                    "least": 2,
                    "most": 8,
                    "columns": [
                        _AT,
                        {"key": "sign", "type": "short", "prompt": "Which word or sign?",
                         "least": 1, "most": 8},
                        {"key": "do", "type": "short", "prompt": "What will I do there?",
                         "least": 2, "most": 20},
                    ],
                },
                {
                    "key": "hardest",
                    "type": "rows",
                    "prompt": "Which two measures will be the hardest for me?",
                    "help": "Be exact. A spot you can name is a spot you can fix.",
                    "least": 2,
                    "most": 2,
                    "columns": [
                        _AT,
                        {"key": "why", "type": "choice", "prompt": "What makes it hard?",
                         "options": _HARD},
                        {"key": "plan", "type": "short", "prompt": "What will I do about it?",
                         "least": 3, "most": 25},
                    ],
                },
                {
                    "key": "ask",
                    "type": "short",
                    "prompt": "What do I want to ask before we start?",
                    "required": False,
                    "most": 40,
                },
            ],
            "choices": [
                {
                    "key": "closer",
                    "prompt": "Look closer",
                    "of": ["home", "texture", "wishes"],
                    "least": 2,
                }
            ],
        },
        {
            "key": "after",
            "name": "After we looked together",
            "due": {"moment": "end"},
            "laid_before": ["earlier", "group"],
            "fields": [
                {
                    "key": "missed",
                    "type": "short",
                    "prompt": "What did others find that I did not see?",
                    "help": "This is not about right or wrong. Two people can hear two things.",
                    "least": 3,
                    "most": 50,
                },
                {
                    "key": "change",
                    "type": "short",
                    "prompt": "What will I do in a new way when we play or sing it?",
                    "least": 5,
                    "most": 50,
                },
            ],
        },
    ],
}
