"""Remarks after rehearsal, and how musicians see what they do for the group."""

from __future__ import annotations

from standlight.demo.written.pen import Pen

REMARKS = {
    "entry": ("I counted 7 instead of 8.", "came in with the wrong section",
              "the rest is longer than i think every time", "I wait for someone else to go first",
              "i was a beat early, sorry", "I looked at my case and missed it"),
    "lost": ("I skipped a line.", "after the repeat i had no idea where we were",
             "turned the page too late", "I was watching the clock and not the part",
             "got lost until the loud part, then I was back"),
    "notes": ("forgot the flat again", "it is the same wrong note as last week",
              "I play the note from the scale and not what is printed", "my fingers guess here",
              "the accidental in the middle of the measure"),
    "rhythm": ("the dotted one, I make it too short", "I rush the two little notes",
               "tied note, i let go too soon", "can clap it but not play it",
               "it sounds different from what the others have"),
    "tune": ("our long note was sour", "I think I was too high", "it got flat when we got soft",
             "two of us did not match", "sounded fine alone but not with the others"),
    "speed": ("ok slow, a mess at full speed", "my hands stop in the middle of the run",
              "I leave out every second note", "we got faster and i fell off"),
    "air": ("no place to breathe!", "I ran out one note before the end",
            "i breathe in the middle of the line", "bow was all used up on the long note"),
    "loud": ("we covered the tune", "I was the only loud one, oops",
             "my soft is not soft yet", "forgot it says p"),
    "hear": ("could not hear the low part at all", "too much drum near me to hear the tune",
             "I do not know who I play with here", "only heard myself"),
    "well": ("we all stopped together!", "first time i got all of it", "the cut off was so clean",
             "it felt easy today", "we got louder together and it worked"),
    "other": ("mute was on the floor", "page had no measure numbers", "my reed was dry",
              "i need a pencil mark here"),
}  # fmt: skip
"""What happened, and the one sentence more."""

FITTING = {
    "entry": ("count", "mark", "look"), "lost": ("mark", "count", "ask"),
    "notes": ("slow", "mark", "loop"), "rhythm": ("sing", "count", "slow"),
    "tune": ("listen", "sing", "slow"), "speed": ("slow", "loop"),
    "air": ("breath", "mark"), "loud": ("listen", "mark", "look"),
    "hear": ("listen", "ask", "look"), "well": ("keep",), "other": ("mark", "ask", "own"),
}  # fmt: skip
"""What somebody tries after what happened."""

MORE_SHARE = 0.75

EXAMPLES = {
    "ready": ("I put my folder on the stand before the bell on Monday.",
              "My pencil is always gone, that gets in the way.",
              "I was late from gym twice so I was not ready.",
              "I sat down and looked at the first piece while others talked.",
              "water bottle, folder, pencil, all there this week",
              "I sit in the back row and have to climb over bags.",
              "had the German words out before you asked", "hung up my coat first for once",
              "I was early on Friday and warmed up with the recording.",
              "forgot my folder on Tuesday and shared"),
    "marks": ("wrote a breath after low in verse one", "I circled the p at the end of the river",
              "put glasses on my part where we always come in wrong",
              "a big arrow at the page turn", "I wrote GO UP where altos split from us",
              "crossed out the breath we do not take any more",
              "a slur over the whole of line three", "a little cloud where it must be soft",
              "I wrote the vowel above the long note.", "numbered the verses so I do not jump"),
    "looks": ("at letter C when it gets loud all at once", "the last chord, you cut it late",
              "the start of verse two", "I look up but only when I know it by heart",
              "for the slow down in the round", "every time after a long rest",
              "at the very first breath", "when the piano stops and we go on alone",
              "only at the end, I am still glued to the words",
              "before verse two, you smile there"),
    "listens": ("basses have the tune for a bit and we went down",
                "in verse two when sopranos go high", "when the tenors move and we hold",
                "I sang softer so that I could hear the altos",
                "in the round when the other group starts", "at letter B, it says mp anyway",
                "I held my note softer under the moving part.", "line three, they have the leap",
                "when someone sang alone for a measure", "at the end, so that the third is heard"),
    "counts": ("I hummed our part while you worked with the sopranos.",
               "I read along with the tenors and found out where they breathe.",
               "counted the rests on my fingers", "I kept my place when we started over at B.",
               "we whispered the words in rhythm", "did not talk, looked at the German",
               "I conducted a little with one finger.", "found three spots where we double them",
               "sang it silently", "I timed it, you need four minutes a section"),
    "keeps_on": ("I got back in on the word snow.", "jumped in at the next line",
                 "I listened to the person next to me and found it.",
                 "waited for letter C and went on from there", "sang the vowel until I had it",
                 "lost it in the round but came back when it was our turn",
                 "mouthed the words until I knew where we were", "watched your hand and counted in",
                 "I made up a word and kept going.", "skipped the high one and was back after"),
    "helps": ("showed the new alto where we were", "shared my part when someone forgot theirs",
              "someone sang my first note in my ear, that helped me",
              "I said well done to the one who tried it alone.",
              "helped put away the risers", "found the page for two people behind me",
              "gave my pencil away and got it back", "hummed the note for our row",
              "somebody moved over so that I could see you",
              "I told my neighbor which measure, without talking."),
    "asks": ("Can we hear just the tenors and us at B?", "what does rauschen mean",
             "I had the idea to start verse two from nothing.",
             "asked if we can try it in a circle", "is it ok to breathe before home",
             "could we sing the last line without a conductor once",
             "what if we stand mixed", "Is the m at the end a sound or a stop?",
             "asked who has the tune at C", "why do we go up when the word is low"),
}  # fmt: skip
"""By act, an example that somebody gives."""

OFTEN = ("seldom", "some", "most", "always")
OFTEN_SHARE = (0.12, 0.33, 0.37, 0.18)

SEEN = {
    "ready": ("Folder open before the bell, three days running.", "In place, pencil in hand."),
    "marks": ("Wrote the new breath down at once.", "Marked the cut-off without being asked."),
    "looks": ("Eyes up at letter C each time.", "Looks up at the starts, not yet at the ends."),
    "listens": ("Came down at B when the basses had the tune.", "Left room for the altos."),
    "counts": ("Followed along while the tenors worked.", "Kept the place through a long wait."),
    "keeps_on": ("Lost the round once and was back in four beats.", "Went on after a slip."),
    "helps": ("Showed a neighbor the page.", "Gave the new singer the starting note."),
    "asks": ("Asked to hear two parts alone. It helped all of us.", "Had the idea of the circle."),
}
"""By act, what a director saw."""


def rehearsal_remark(pen: Pen, *, piece: str, last_measure: int) -> dict:
    """A remark on a spot of ``piece``, whose printed measures go to ``last_measure``."""
    what = str(pen.deal(tuple(REMARKS)))
    first = pen.between(8, last_measure - 3)
    spot = {"piece": piece, "from_measure": first, "what": what}
    if pen.maybe(0.5):
        spot["to_measure"] = first + pen.between(1, 3)
    if pen.maybe(MORE_SHARE):
        spot["more"] = pen.say(REMARKS[what])
    return {"spot": {**spot, "try": str(pen.one(FITTING[what]))}}


def ensemble_acts(pen: Pen) -> dict:
    """How often a musician does each act, with three or four examples."""
    levels = pen.rng.choice(OFTEN, size=len(EXAMPLES), p=OFTEN_SHARE)
    answers: dict = {act: str(level) for act, level in zip(EXAMPLES, levels, strict=True)}
    for act in pen.pick(tuple(EXAMPLES), 3, 4):
        answers[f"{act}_example"] = pen.say(EXAMPLES[act])
    lowest = min(EXAMPLES, key=lambda act: OFTEN.index(answers[act]))
    return {**answers, "next": lowest}


def acts_seen(pen: Pen) -> dict:
    """What a director saw of one musician: a few acts, some with a line; nothing is complete."""
    answers: dict = {}
    for act in pen.pick(tuple(SEEN), 2, 4):
        answers[act] = str(pen.rng.choice(("some", "most", "always")))
        if pen.maybe(0.6):
            answers[f"{act}_example"] = str(pen.deal(SEEN[act]))
    return answers
