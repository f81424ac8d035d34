"""What people of the demo write: musicians' plain words, and the director's comment bank.

All invented, in the manner of twelve-year-olds after a long day and of a director
in a hurry. No real child wrote any of it.
"""

from __future__ import annotations

SENT_WITH = {
    "fast": (
        "I messed up the fast part",
        "sorry the fast part again",
        "13 and 14 are so hard i always panic",
        "the eighth notes went ok maybe?? idk",
        "I practiced the fast part like 20 times and it is still scary",
        "my fingers got tangled in the fast part",
        "I hate measure 13",
    ),
    "plain": (
        "my brother came in at the end",
        "third try, im done",
        "i think this one is pretty good",
        "I ran out of air",
        "i squeaked once, sorry",
        "recorded in the kitchen because its quiet there",
        "it was better when nobody was listening lol",
        "i forgot the soft part is soft",
        "good I think",
        "is it ok that i started over",
        "dog barked. rest is me",
        "played it slower so I could get the notes",
    ),
    "high": (
        "the high note in 13 scares me",
        "I always crack on the high D",
        "not sure if the high part is right",
        "my voice does weird stuff up there",
        "I got nervous before the high note",
    ),
    "run": (
        "the sixteenths are a mess",
        "i cant get the running notes together with the bow",
        "The sixteenth notes went by too fast for me",
        "I slowed down for the sixteenths sorry",
    ),
}
"""What musicians write when they send a take, by what is on their mind."""

REMARKS = {
    "fast": (
        "I keep thinking I will miss the eighth notes.",
        "fast part = scary",
        "Fingers too slow here I think. Will do it slow 5 times.",
        "I get nervous right before this and stop breathing",
        "the switch C D Eb D is hard",
        "everybody says this is the hard spot",
    ),
    "high": (
        "The D feels too high for me.",
        "i dont trust this note",
        "I push here. Will try lighter.",
        "scared of this one",
    ),
    "run": (
        "sixteenths, left hand and bow not together",
        "Too many notes. Will take it in groups of four.",
        "I lose my place in the middle",
    ),
}
"""Musicians' remarks pinned to measures, by what is on their mind."""

BANK: dict[str, dict[str, tuple[str, str, str, str]]] = {
    "tone": {
        "strength": (
            "You started every note with air.",
            "Your long notes keep their sound to the end.",
            "A full, steady sound through the phrase.",
            "A warm sound that stays the same, high and low, soft and loud.",
        ),
        "next_step": (
            "Hold one easy note for eight slow counts with a steady sound.",
            "Keep the air moving through the whole phrase, not note by note.",
            "Match the sound of your low notes to your best note.",
            "Keep this sound at the soft end of your range too.",
        ),
        "strategy": (
            "Breathe low for four counts, then play one long note. Five times.",
            "Play the phrase on one breath on a single pitch, then as written.",
            "Record one phrase twice and keep the warmer one.",
            "Play the phrase once softer than you dare, same sound.",
        ),
    },
    "intonation": {
        "strength": (
            "You were brave and kept going.",
            "The first and last notes are in tune with each other.",
            "Most notes sit well in tune.",
            "In tune with yourself from the first note to the last.",
        ),
        "next_step": (
            "Sing the first note before you play or sing it aloud.",
            "Listen for the long notes: settle each one before you move on.",
            "Tune the ends of phrases, where the pitch sinks a little.",
            "Tune the leaps as well as you tune the steps.",
        ),
        "strategy": (
            "Play with a drone on the home note, four slow notes at a time.",
            "Hum the phrase, then play it, then hum again.",
            "Stop on each long note and move it up and down until it rings.",
            "Play the leap, then fill it with steps, then leap again.",
        ),
    },
    "notes": {
        "strength": (
            "You found the starting note by yourself.",
            "The first line is all there.",
            "Nearly every note is the written one.",
            "Every note is the written one.",
        ),
        "next_step": (
            "Say the note names in rhythm, then play two measures only.",
            "Fix the one note you changed: look at the key signature.",
            "Check the single measure where one note slipped.",
            "Try the passage from memory.",
        ),
        "strategy": (
            "Finger and say, no sound, three times; then with sound.",
            "Circle the note in pencil and play the measure four times.",
            "Play from that measure to the end, then from the one before.",
            "Close the part, play, open the part, compare.",
        ),
    },
    "rhythm": {
        "strength": (
            "Your quarter notes walk along.",
            "The easy measures have the right rhythm.",
            "The rhythm is clear and counts are right.",
            "Every value has its full length, rests too.",
        ),
        "next_step": (
            "Clap and count the first two measures aloud.",
            "Give half notes both of their beats.",
            "Place the notes after rests exactly on the beat.",
            "Make the short notes as even as the long ones.",
        ),
        "strategy": (
            "Count aloud while a friend claps, then change places.",
            "Tap your foot and say the counts once before each try.",
            "Play the measure on one note only, then as written.",
            "Play it at 60, 72 and 84 and keep the best.",
        ),
    },
    "pulse": {
        "strength": (
            "You kept going to the end.",
            "The pulse holds in the easy measures.",
            "A steady pulse with one small push.",
            "Steady from first to last beat.",
        ),
        "next_step": (
            "March in place and play the first line.",
            "Stop the tempo from running where it gets easy.",
            "Keep the beat through the rest.",
            "Keep this pulse at a softer level.",
        ),
        "strategy": (
            "Set a click at 60 and play only beat one of each measure.",
            "Play with the click on beats two and four.",
            "Say the rest aloud as a word in time.",
            "Turn the click off for two measures, then on: still together?",
        ),
    },
    "dynamics": {
        "strength": (
            "Your loud is loud and free.",
            "I hear that letter A is meant to be softer.",
            "The soft and loud places are clearly different.",
            "Three different levels, each with good sound.",
        ),
        "next_step": (
            "Find your softest good sound and play the first measure with it.",
            "Make p and f farther apart.",
            "Keep the soft line moving, with the same air.",
            "Shape the soft line: grow toward the third measure.",
        ),
        "strategy": (
            "Play one note soft, then loud, then soft, four counts each.",
            "Play the soft line as an echo behind a door.",
            "Whisper the rhythm on air, then play at that level.",
            "Draw the line's shape above the staff and play the drawing.",
        ),
    },
    "articulation": {
        "strength": (
            "Your notes have a clear start.",
            "Tongued and slurred notes sound different now.",
            "Slurs and accents are where they are written.",
            "Each kind of start is clear at every level.",
        ),
        "next_step": (
            "Tongue lightly: only the tip, never stop the air.",
            "Join the two notes under each slur.",
            "Make the accents stronger at the start, not louder all through.",
            "Lighten the note after each slur.",
        ),
        "strategy": (
            "Say 'doo' on the rhythm before you play.",
            "Play the pair with no tongue at all, then tongue the first.",
            "Play all accents alone, then fill in the other notes.",
            "Play the line all slurred, then as written.",
        ),
    },
    "expression": {
        "strength": (
            "You played it to the end as one piece.",
            "You breathe where the phrase ends.",
            "The phrase goes somewhere.",
            "I could follow the story without words.",
        ),
        "next_step": (
            "Find the most important note of the first phrase.",
            "Make the second phrase an answer to the first.",
            "Give the last phrase more time to close.",
            "Choose one more color for the middle.",
        ),
        "strategy": (
            "Sing the phrase and point to its top.",
            "Play question and answer with a friend.",
            "Say the last line slowly as a poem, then play.",
            "Play it as if far away, then as if near. Which fits?",
        ),
    },
    "diction": {
        "strength": (
            "You know all the words.",
            "The vowels are open in the first line.",
            "The words can be understood.",
            "Every consonant is clear and together with the beat.",
        ),
        "next_step": (
            "Speak the text in rhythm, slowly.",
            "Open the jaw for 'low' and 'slow'.",
            "Put the last consonant of each line on the rest.",
            "Keep the same vowel color through the long note.",
        ),
        "strategy": (
            "Whisper the text so that somebody across the room understands.",
            "Put a finger on the chin: it drops for each vowel.",
            "Clap the consonants, sing the vowels.",
            "Sing the line on vowels only, then add the words.",
        ),
    },
    "evenness": {
        "strength": (
            "Both sticks start from the same height.",
            "The quarter notes match.",
            "Right and left sound alike in the eighth notes.",
            "Even strokes at every level.",
        ),
        "next_step": (
            "Play eight slow strokes and watch both sticks.",
            "Match the left hand to the right in the eighth notes.",
            "Keep the sixteenths even to the last one.",
            "Keep them even when it gets soft.",
        ),
        "strategy": (
            "Left hand alone, then right, then both, at 60.",
            "Start the line with the other hand.",
            "Play the groups on a pillow, then on the drum.",
            "Play from soft to loud in eight counts without a bump.",
        ),
    },
    "vowels": {
        "strength": (
            "The vowel stays the same for a whole note.",
            "Your “ah” matches on most notes.",
            "Breaths come where the phrase ends.",
            "Tall vowels, high and low, and a silent breath.",
        ),
        "next_step": (
            "Hold one “ah” for four beats without a change.",
            "Breathe at the commas only.",
            "Keep the vowel tall on the high notes.",
            "Carry one breath through the whole line.",
        ),
        "strategy": (
            "Sing the line on one vowel, then add the words.",
            "Mark the breaths in pencil, then sing to the mark.",
            "Sing it with a finger along the jaw to keep it long.",
            "Sing it softer and see how far one breath goes.",
        ),
    },
    "bowing": {
        "strength": (
            "The bow starts the way it is marked.",
            "The direction is right in the easy measures.",
            "Long notes get more bow than short ones.",
            "The bow is planned for every note.",
        ),
        "next_step": (
            "Say down and up while you air-bow the line.",
            "Save bow on the long notes.",
            "Use half the bow on the eighths.",
            "Move nearer the bridge for the loud end.",
        ),
        "strategy": (
            "Air-bow with a friend who watches the marks.",
            "Play long notes in four equal parts of the bow.",
            "Put a sticker at the middle and meet it on beat three.",
            "Play it once all in the upper half, once all in the lower.",
        ),
    },
    "shifts": {
        "strength": (
            "You found the new place and went on.",
            "One shift arrived right in tune.",
            "Most shifts land in time with a light hand.",
            "The shifts cannot be heard.",
        ),
        "next_step": (
            "Stop before the shift and let the thumb go along.",
            "Land slowly three times, then in time.",
            "Lighten the finger just before it moves.",
            "Choose where a slide would serve the line.",
        ),
        "strategy": (
            "Play only the two notes of the shift, with a stop between.",
            "Sing the second note before you move.",
            "Slide on one finger from note to note with no bow pressure.",
            "Record it and listen for the slide alone.",
        ),
    },
    "open_strings": {
        "strength": (
            "You took time to tune before you began.",
            "Two strings match the note we gave.",
            "All strings match, with one small help.",
            "You tuned alone and checked once more.",
        ),
        "next_step": (
            "Match your A to the tuning note first.",
            "Tune the D against the A as one sound.",
            "Listen for the slow waves and make them stop.",
            "Check the lowest string again after you play.",
        ),
        "strategy": (
            "Hum the note, then turn the fine tuner until it fits.",
            "Play two strings together and wait for a still sound.",
            "Turn it a little low, then come up to the note.",
            "Tune with the lights of the room off: only ears.",
        ),
    },
    "sticking": {
        "strength": (
            "Both hands take part.",
            "The sticking is right when it is slow.",
            "The hands follow the plan nearly all the time.",
            "Sticks, height and hands fit every note.",
        ),
        "next_step": (
            "Say right and left while you tap on your knees.",
            "Loosen the grip between two lines.",
            "Keep the plan when it gets loud.",
            "Try the softer mallets for the second half.",
        ),
        "strategy": (
            "Write R and L under the first measure.",
            "Play it at 60 and let the sticks bounce by themselves.",
            "Start the line with the other hand, then go back.",
            "Play it with two kinds of sticks and choose by ear.",
        ),
    },
}
"""Comment bank: criterion -> place -> a line for each level 1 to 4."""


DIRECTOR_REMARKS = (
    ("lantern_walk", 8, 9, "Clarinets: breathe together before letter A."),
    ("lantern_walk", 3, 3, "Hold the dotted half for all three beats, everybody."),
    ("river_under_snow", 3, 3, "Tenors and basses, listen to the altos on 'snow'."),
    ("ferry_at_dusk", 8, 9, "Everyone but the cellos: softer, let them sing."),
)
"""Remarks of a director: piece, first and last measure (0-based), words."""
