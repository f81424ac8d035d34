"""What directors of the demo write back: two short lines, by kind of work."""

from __future__ import annotations

WORDS: dict[str, tuple[str, ...]] = {
    "score_study": (
        "You saw that the start comes back at B. That saves you half the work.",
        "Good eye for your job at A.", "Your two spots are real ones, I hear them too.",
        "You name what you will do, not just what is hard.", "Clear map. I can follow it.",
        "I had not thought of 13 as a part of its own. It works.",
    ),
    "background_note": (
        "Both sources can be found again. That is how it is done.",
        "You put it in your own words, and it is shorter for it.",
        "I like that you tell what you could not find.", "The facts are well chosen.",
    ),
    "skill_project": (
        "You can hear the goal. That makes it a good one.", "I heard the difference on Tuesday.",
        "An honest check-in. The dip is part of it.", "Small and exact, keep it like that.",
        "You found out what helps. Write it on the first page of your folder.",
        "Good spot for it. It comes four more times in the piece.",
    ),
    "rehearsal_remark": (
        "Thank you, five of you wrote the same. We start there tomorrow.",
        "Good that you say what you will try.", "I hear that spot too.",
        "That is a page turn, not you. I will copy the line.", "Glad it worked.",
    ),
    "ensemble_acts": (
        "I saw that too, on Monday.", "You are harder on yourself than I would be.",
        "That example helped more people than you think.", "The way you get back in is a skill.",
        "Yes to the pencil. Take one from my desk.",
    ),
    "playing_check": (
        "You heard your own sound well.",
        "I agree about 21, and your long notes are better than you say.",
        "A fair look at your own take.", "You named the place, so now it can be fixed.",
    ),
    "listening_map": (
        "You heard that the rests make the soft part. So did I.", "A name like that tells a lot.",
        "Your third pin is one that most of you missed.", "Nicely told, in the order it happens.",
        "You went back to check. Good listening.",
    ),
    "adjudication": (
        "Your reasons say where. That is worth more than the level.",
        "I was a level lower on balance. Listen to 13 once more.",
        "One thing to keep and one to try: just right.", "Kind and exact.",
    ),
    "finds": (
        "I put it on during lunch. The end!", "You tell me what to listen for. Thank you.",
        "New to me too.", "That would be fun to play for the others.",
    ),
    "music_and_me": (
        "You describe the sound so well that I can nearly hear it.",
        "I would like to hear that tune of yours.", "A good example. Tell it to your section.",
        "I never noticed the bus. Now I will.", "You say how it works, not only that you like it.",
    ),
    "year_reflection": ("Reading this made my evening. You can hear your own year.",),
}  # fmt: skip
NEXT_STEPS: dict[str, tuple[str, ...]] = {
    "score_study": (
        "Mark it in your part before Thursday.", "Find one more place with the same notes.",
        "Play the tune of the others once, so that you hear where you fit.",
        "At 9, listen for beat one before you move.",
    ),
    "background_note": (
        "Write the page number too.", "Now find one thing we can hear.",
        "Check the year once more.",
    ),
    "skill_project": (
        "Record it at the same speed on Friday.", "Only the two notes before the shift, ten times.",
        "Try it with the bow in the middle.", "Come by before school on Wednesday for a look.",
        "Go up by four clicks when five in a row are clean.", "Do it at the start of practice.",
    ),
    "rehearsal_remark": (
        "Count out loud once at home.", "Mark the rest in your part.",
        "Sing it before you play it.",
        "Breathe one beat earlier.",
    ),
    "ensemble_acts": (
        "Look up at C once this week.", "Write one mark a day.", "Help me to start verse two.",
    ),
    "playing_check": ("Start slower than you want to.", "Drone on D for the long notes.",
                      "Let the last note ring three full beats."),
    "listening_map": ("Which section would do that in our march?", "Pin where it turns back.",
                      "Hear it once for the bass alone."),
    "adjudication": ("Say next time which part you listened to.",
                     "Use the same ears on our line two."),
    "finds": ("Find out who plays the low part.",),
    "music_and_me": ("Try to write down the beat.", "Play it for us at the warm up?",
                     "What would your part do there?"),
    "year_reflection": ("Tell me in January how the first step went.",),
}  # fmt: skip
