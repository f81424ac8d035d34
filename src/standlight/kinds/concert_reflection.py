"""Concert reflection: a few of many prompts in depth, before and after hearing the recording."""

from __future__ import annotations

BEFORE = (
    ("proud", "Which moment are you most proud of?",
     "What did you do, and what did you hear around you?"),
    ("changed", "What was not the same as in rehearsal?",
     "The hall, the speed, the sound, you. Did it help or not?"),
    ("together", "Where did we play or sing as one?",
     "How could you tell? What made it work?"),
    ("apart", "Where did we come apart, and how did we get back?",
     "Who or what did you hold on to?"),
    ("nerves", "What did you do to be ready to go on?",
     "What worked? What will you do next time?"),
    ("hardest", "How did your hardest spot go?",
     "What did you do there? What had you done for it?"),
    ("part", "When did your part matter most?",
     "What would a listener miss if you were not there?"),
    ("listeners", "When did the listeners go with us?",
     "What did you see or hear from them? What had we just done?"),
    ("piece", "Which piece said the most?",
     "What did it say, and how did we make that clear?"),
    ("quiet", "Tell about the softest or stillest moment.",
     "What did it take to make it? Did it reach the last row?"),
    ("conductor", "When did you follow a sign from the front?",
     "What did you see, and what did you do?"),
    ("order", "Was the order of the pieces good?",
     "What would you move, and why?"),
    ("again", "If we did it again right now, what would you change?",
     "Pick one place. Say how it should sound."),
    ("guest", "What would you tell someone who could not come?",
     "Help them to hear one minute of it."),
)  # fmt: skip

AFTER = (
    ("surprise", "What surprised you?",
     "Name a place. What had you heard on stage, and what do you hear now?"),
    ("better", "Where is it better than it felt?",
     "Say what a listener hears there."),
    ("worse", "Where does it need work?",
     "Say what you hear, not who did it. What could we try?"),
    ("balance", "What can you not hear that should be there?",
     "Who should give more, and who should give room?"),
    ("grown", "What do you hear that we could not do weeks ago?",
     "What did we do to get there?"),
    ("own_sound", "Can you find your own part?",
     "What does it add? Does it fit with those around you?"),
    ("judge", "What would a kind and exact judge say?",
     "One thing to keep. One thing to try."),
)  # fmt: skip


def _bank(prompts: tuple[tuple[str, str, str], ...]) -> list[dict]:
    """Each prompt as a long answer."""
    return [
        {"key": key, "type": "long", "prompt": prompt, "help": more, "least": 40, "most": 200}
        for key, prompt, more in prompts
    ]


DEFINITION = {
    "key": "concert_reflection",
    "name": "Concert reflection",
    "edition": 1,
    "aim": "Think back on a concert. Say a few things well, not many things fast.",
    "process": ["respond"],
    "cadence": "after each concert, in the same week",
    "seen_by": ["owner", "director", "second_adult"],
    "standards": ["MU:Re9.1.E.5a", "MU:Re9.1.E.8a", "MU:Re8.1.E.5a"],
    "rubric": [
        {
            "key": "places",
            "name": "Places in the music",
            "question": "Could we find the place and hear it again?",
            "descriptors": [
                "The answers are about the whole concert. They name no place.",
                "A piece is named, but not the place in it.",
                "Most answers name a place that we could find again.",
                "Each answer names a place, and tells what more than one part did there.",
            ],
        },
        {
            "key": "reasons",
            "name": "Reasons",
            "question": "Does it say why?",
            "descriptors": [
                "It says what was good or bad, but not why.",
                "It says why, but the same could be said of any concert.",
                "It says why with something that one can hear or see there.",
                "It says what we did, and how that made it sound.",
            ],
        },
        {
            "key": "next",
            "name": "A next step",
            "question": "Is there a thing to try next?",
            "descriptors": [
                "There is no next step.",
                "There is a next step, but not what to do for it.",
                "The next step says what to try, and where.",
                "It says what to try and where, and how we would hear that it worked.",
            ],
        },
    ],
    "needs": ["sound"],
    "moment": "concert",
    "steps": [
        {
            "key": "before",
            "name": "Before I hear the recording",
            "due": {"moment": "start"},
            "fields": _bank(BEFORE),
            "choices": [
                {
                    "key": "few",
                    "prompt": "Choose three, and take your time with them",
                    "of": [key for key, _, _ in BEFORE],
                    "least": 3,
                    "most": 4,
                }
            ],
        },
        {
            "key": "after",
            "name": "After I heard it",
            "due": {"moment": "end"},
            "laid_before": ["earlier"],
            "fields": [
                {
                    "key": "moments",
                    "type": "rows",
                    "prompt": "Pin two moments you want us to hear again",
                    "least": 2,
                    "most": 5,
                    "columns": [
                        {"key": "at", "type": "clock", "prompt": "When?"},
                        {"key": "why", "type": "short", "prompt": "What should we listen for?",
                         "least": 3, "most": 25},
                    ],
                },
                *_bank(AFTER),
                {
                    "key": "mind",
                    "type": "short",
                    "prompt": "What do I think now that I did not think before?",
                    "help": "Read what you wrote before you heard the recording.",
                    "least": 5,
                    "most": 60,
                },
            ],
            "choices": [
                {
                    "key": "few",
                    "prompt": "Choose two of these",
                    "of": [key for key, _, _ in AFTER],
                    "least": 2,
                    "most": 3,
                }
            ],
        },
    ],
}
