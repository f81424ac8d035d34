"""Maps of a recording of Ferry at Dusk, and levels for one of River Under Snow.

Both recordings are played by the demo's machine player; what is said of them is what it plays.
"""

from __future__ import annotations

from standlight.demo.written.pen import Pen

MEASURE_S = 60.0 / 100.0 * 3
"""A measure of Ferry at Dusk in the recording, at 100 quarter notes a minute."""


def moment_s(measure: int) -> float:
    """When a printed measure of the recording begins, in seconds.

    >>> moment_s(9)
    14.4
    """
    return round((measure - 1) * MEASURE_S, 1)


CHANGES = (
    (9, "softer", ("all but one get soft", "it drops", "suddenly far away", "like a door closed",
                   "only one part stays loud")),
    (9, "darker", ("the low one sings", "darker color", "more brown if sound had a color")),
    (9, "new", ("a new tune down low", "different tune, slower feeling", "the cello one")),
    (13, "brighter", ("the high ones do short notes", "little dots on top", "it wakes up a bit")),
    (15, "slower", ("it feels slower, longer notes", "it waits here", "they hold a note")),
    (17, "louder", ("BOOM all loud again", "much louder", "the loud part", "everybody plays out")),
    (17, "back", ("the first tune again", "I know this one from the start", "back home",
                  "same as the beginning but louder")),
    (21, "faster", ("quick notes run down", "it runs", "fast notes for a second")),
    (23, "stop", ("a long note and it is over", "they hold the last one", "end")),
)  # fmt: skip
LEADS = (
    (1, "high", ("the others hold long notes", "low ones just play on one", "they follow along")),
    (9, "low", ("the high ones go rest short short", "they do little offbeats",
                "everybody else tiptoes", "the rest wait and then answer")),
    (13, "low", ("more short notes around it", "the top joins with dots")),
    (17, "high", ("low ones play louder too", "all of them push", "they hold it up")),
    (21, "high", ("all run together", "the others move with them")),
)  # fmt: skip
MOMENTS = (
    (9, "lights out"), (9, "the cello walks in"), (17, "the sun comes back"), (17, "home again"),
    (21, "down the stairs"), (23, "anchor"), (13, "raindrops"), (16, "holding breath"),
    (1, "leaving"), (9, "the deep one"), (17, "loud at last"), (15, "before the wave"),
    (22, "last push"), (9, "night starts"),
)  # fmt: skip
HOW = (
    (
        "First the violins have the tune and you get used to it.",
        "At the start it is all nice and medium and a bit sleepy.",
        "You think it will go on like that because it repeats.",
        "It begins with a tune that goes down step by step.",
        "They play the same kind of beat for a long time, one two three.",
        "In the beginning the high ones talk and the low ones only nod.",
        "The tune goes down three times and each time I wanted more.",
        "Before that moment there is a long note, like a stop sign.",
    ),
    (
        "Then it gets soft at once and one low instrument takes over.",
        "Then almost everyone plays short notes with rests, so you hear the cello.",
        "Right before it they all hold one note and I held my breath too.",
        "The soft part makes you wait, and the wait makes the loud part bigger.",
        "The rests are what does it, you hear the holes.",
        "They go from soft to loud with no warning at all.",
        "The short notes on top get closer and you feel something is coming.",
        "When the fast notes come it feels like running downhill.",
    ),
    (
        "That is why it works.", "I rewound it three times.", "It got me.",
        "If it was loud all the time nobody would notice.",
        "It is the same tune but it means something else now.",
        "I would not have heard it the first time.",
        "We could do that in our march too.", "My favorite spot by far.",
    ),
)  # fmt: skip
NEWLY = (
    (11, "there is a rest on every one, I never heard that"), (13, "the dots on top are new to me"),
    (5, "the tune is a bit different the second time"), (9, "the bass plays alone on beat one"),
    (20, "the end of the tune is longer here"), (7, "a small soft down before letter A"),
    (15, "the short notes stop before the loud part"), (22, "not all run, some hold"),
    (3, "it goes up here and not down"), (18, "the low ones are louder than at the start"),
)  # fmt: skip
OURS = (
    "to get soft all at the same time and not one by one", "let the low ones have the tune",
    "hold the last note until it is really over", "rests can be exciting if all of us rest",
    "to make the second time different from the first", "to stay with the beat when it is soft",
    "play short notes the same length in all sections", "not give the loud part away too early",
    "that the drums could play softer when the tune is low", "listen down to the low part",
)  # fmt: skip

CAPTIONS = ("sound", "tuning", "time", "balance", "style")
AGREED = {
    "sound": ("full but not pushed, high and low", "it fills the room and still sounds kind",
              "no breathy notes, no shouting", "open vowels, you hear the ring",
              "same sound soft and loud", "like one big voice, not twenty small ones"),
    "tuning": ("the chord stops wobbling", "long notes stay where they start",
               "it locks and gets louder by itself", "the last chord is as high as it began",
               "you want the chord to go on", "no note makes you squint"),
    "time": ("we start words on the same beat", "the ends come off together",
             "the beat does not speed up when it is loud", "all the s sounds at one time",
             "you could march to it", "we all breathe at the same time"),
    "balance": ("you can follow the tune and still find altos", "no one sticks out",
                "basses are there but not on top", "you hear four parts, not one and a half",
                "the part with the words that matter is in front", "soft parts are still there"),
    "style": ("each line leans to one word", "it goes somewhere and comes back",
              "it sounds like a river and not like a march", "the loud place is earned",
              "we do what the text says", "the end of a line is not dropped"),
}  # fmt: skip
REASONS = {
    "sound": ("clear the whole time, a bit thin in the loud part at 13",
              "same color high and low, I like it", "at 13 it gets loud but not harsh",
              "sounds a bit like a machine, no breath at 9", "strong start, thinner in verse two",
              "the low line is warm at 1 and at 9", "soft last line still has sound"),
    "tuning": ("chords at the end of 4 and 8 really sit", "the last chord really rings on",
               "listen to the last chord, it rings with no hall",
               "11 and 12 stay up, ours does not", "tenor note in 6 a bit off to me",
               "every long note at the end of a line fits", "the first chord was perfect to me",
               "the B flat in 9 is right on"),
    "time": ("starts and ends like one, all of it", "the beat at 13 does not run",
             "a bit too straight but together", "quarters are even in every line",
             "cut off in 16 was exactly together", "no rush into letter C",
             "second verse starts right on time"),
    "balance": ("tune on top, but I lose the altos at 9", "at 13 the basses cover the tenors",
                "you hear all four at the start", "sopranos too strong at C",
                "in 15 the tenor comes through, nice", "low part a bit loud in line two",
                "even, maybe a bit too even"),
    "style": ("soft start, grows to C, then p at the end", "line two does not go anywhere yet",
              "the p in 16 is a real surprise", "no words so it is hard to tell a story",
              "like a walk, it should flow more", "letter B is calm and that fits morning",
              "each line has the same shape"),
}  # fmt: skip
TELL = (
    "Keep the way you end together. Try to let line two grow to its last word.",
    "Keep the soft end. Give the altos more room at letter B.",
    "Your chords are so clean. Try a bit more air in the sound at 13.",
    "Keep the steady beat. Make verse two softer so that C can be big.",
    "Keep the first chord. Let the basses back off a little at C.",
    "I loved the last measure. Try to make one word in each line more important.",
    "Keep your tuning at 11. Try breathing where the sentence ends.",
    "Good start, all as one. Try more difference between mp and mf.",
    "Keep the low notes warm. Try not to hit every quarter the same.",
    "Keep it as calm as it is. Try to lean into 13 a measure before.",
    "You stay in tune and that is hard. Tell more of the story.",
    "Keep how it gets loud at C. Do not lose the tenors there.",
)


def listening_map(pen: Pen, step: str) -> dict:
    """Answers to a hearing of Ferry at Dusk; every pin within a second of where it happens."""
    return MAPS[step](pen)


def _at(pen: Pen, measure: int) -> dict:
    return {"at_s": max(0.0, round(moment_s(measure) + float(pen.rng.normal(0.5, 0.4)), 1))}


def _first(pen: Pen) -> dict:
    rows = []
    for measure, what, more in pen.pick(CHANGES, 3, 6):
        row = {"at": _at(pen, measure), "what": what}
        rows.append({**row, "more": pen.say(more)} if pen.maybe(0.6) else row)
    return {"changes": rows}


def _second(pen: Pen) -> dict:
    rows = [
        {"at": _at(pen, measure), "who": who, "rest": pen.say(rest)}
        for measure, who, rest in pen.pick(LEADS, 2, 4)
    ]
    return {"leads": rows}


def _third(pen: Pen) -> dict:
    measure, name = pen.deal(MOMENTS)
    return {
        "moment": {**_at(pen, measure), "words": pen.hand(name)},
        "how": pen.tell(HOW, least=25, most=100),
        "share": pen.maybe(0.7),
    }


def _together(pen: Pen) -> dict:
    measure, words = pen.deal(NEWLY)
    return {"new": {**_at(pen, measure), "words": pen.hand(words)}, "ours": pen.say(OURS)}


MAPS = {"first": _first, "second": _second, "third": _third, "together": _together}


def adjudication(pen: Pen, step: str) -> dict:
    """Answers to a step of judging the recording of River Under Snow."""
    if step == "agree":
        return {f"{caption}_words": pen.both(AGREED[caption]) for caption in CAPTIONS}
    levels = {
        caption: str(pen.rng.choice(("2", "3", "3", "4"))) for caption in CAPTIONS
    }
    if step == "practice":
        return {"take": "first", **levels, "sure": pen.between(1, 4)}
    reasons = {f"{caption}_reason": pen.both(REASONS[caption]) for caption in CAPTIONS}
    answers = {**levels, **reasons, "tell": pen.say(TELL), "share": pen.maybe(0.6)}
    if pen.maybe(0.5):
        answers["division"] = str(pen.one(("1", "2", "2")))
    return answers
