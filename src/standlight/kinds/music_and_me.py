"""Music and me: a bank of prompts on music outside class; about the music, never about home.

No prompt asks about family, faith, health, money, where somebody comes from, or friendships and
love: a musician may write of them unasked, but nobody has to in order to answer.
"""

from __future__ import annotations

PROMPTS = (
    ("heart", "Which piece or song do you know by heart?",
     "How did you learn it? What part of it do you like to do most?"),
    ("switch", "Which music did you once not like, and now you do?",
     "What did you hear in it that you had not heard before?"),
    ("screen", "Pick a scene from a film, show or game with strong music.",
     "What does the music tell that the picture does not?"),
    ("mute", "Think of a scene or a game with the sound off.",
     "What is lost? What music would you choose for it?"),
    ("cover", "Find two versions of the same song or piece.",
     "What did each one keep, and what did each one change? Which says more?"),
    ("beat", "Which music makes you move?",
     "What is going on in the beat? Who in the band makes it happen?"),
    ("focus", "Which music helps you to work or think?",
     "What does it have, or not have, that makes it good for that?"),
    ("voice", "Pick a singer's voice that you would know at once.",
     "What makes it different? Use words for sound."),
    ("player", "Pick a player you would like to sound like.",
     "What do they do with sound, time or tune? Where can one hear it?"),
    ("words", "Pick a song with words that matter.",
     "How does the tune or the beat help the words?"),
    ("no_words", "Pick a piece without words that still tells a story.",
     "How does it do that? Where does the story turn?"),
    ("sounds", "Which sounds in your day are almost music?",
     "A door, a train, a ball, the rain. What makes them so?"),
    ("silence", "Where did you hear a great silence?",
     "What came before it? What did it do?"),
    ("live", "Tell about music you heard live.",
     "What was there that no recording has?"),
    ("made", "What music have you made up or changed by yourself?",
     "A tune, a beat, a joke on a song. How did you go about it?"),
    ("taught", "If you had ten minutes to teach a tune, which one?",
     "What would you start with? What is the tricky bit?"),
    ("other", "Which thing from sport, art, dance or games helps you in music?",
     "What is the same? What is not?"),
    ("borrow", "What do you do in our group that you use in other places?",
     "Tell what you did there and how music helped."),
    ("tools", "How do machines change the music you hear?",
     "Loops, tuned voices, mixes. Pick one and say what it does to the sound."),
    ("far", "Find music in a style that is new to you.",
     "Hear it three times. What did you notice the third time?"),
    ("old", "Find music that is more than a hundred years old.",
     "What in it still works? What sounds odd to you now?"),
    ("place", "Which music fits a place you know?",
     "A gym, a bus, a park, a hall. What in the music fits it?"),
    ("ours", "You may choose one piece for our group to do.",
     "Which one? Who would have what to do? What would be hard?"),
    ("ask", "What would you ask a composer or a band, if you could?",
     "Pick one piece or song. What do you want to know about how it was made?"),
)  # fmt: skip

DEFINITION = {
    "key": "music_and_me",
    "name": "Music and me",
    "edition": 1,
    "aim": "Tell about music outside of class. Write about what you hear. "
    "You need not tell about your private life.",
    "process": ["connect"],
    "cadence": "once a marking period",
    "seen_by": ["owner", "director", "second_adult"],
    "standards": ["MU:Cn10.0.E.5a", "MU:Cn10.0.E.8a", "MU:Cn11.0.E.5a"],
    "moment": "concert",
    "steps": [
        {
            "key": "answers",
            "name": "My answers",
            "due": {"moment": "end"},
            "fields": [
                {
                    "key": key,
                    "type": "long",
                    "prompt": prompt,
                    "help": more,
                    "least": 30,
                    "most": 150,
                }
                for key, prompt, more in PROMPTS
            ],
            "choices": [
                {
                    "key": "bank",
                    "prompt": "Choose the ones you have something to say about",
                    "of": [key for key, _, _ in PROMPTS],
                    "least": 3,
                }
            ],
        }
    ],
}
