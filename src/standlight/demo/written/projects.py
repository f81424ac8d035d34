"""Skill projects of string players, and how they heard their own playing check."""

from __future__ import annotations

from dataclasses import dataclass

from standlight.demo.written.pen import Pen


@dataclass(frozen=True, slots=True)
class Topic:
    """One skill: what, at which measures of the Brandenburg, how one would know, ways, a start."""

    skill: str
    at: tuple[int, ...]
    here: str
    know: str
    ways: tuple[str, ...]
    start: str
    look: str = ""


TOPICS = (
    Topic("even sixteenth notes", (9, 16, 27), "the long run",
          "a friend can tap along and never has to wait", ("slow", "rhythm"),
          "The first four are fine. After that my fingers run away and the bow comes late."),
    Topic("a straight bow", (10, 19), "fast string crossings",
          "the sound is the same from one end to the other", ("mirror", "record"),
          "At the tip my bow goes crooked and it whistles. In the middle it is ok now.",
          "my bow at the tip, please"),
    Topic("Clean string crossings", (12, 24), "back and forth on two strings",
          "nobody hears the string in between", ("slow", "chunk"),
          "I still hit the other string by accident, like one time in four."),
    Topic("in tune in third position", (31, 45), "up high",
          "it rings like the open string", ("drone", "slow"),
          "The shift lands low nearly every time and then I slide up to it."),
    Topic("shorter eighth notes, off the string a bit", (9, 21), "the short ones",
          "there is air between the notes", ("record", "sing"),
          "They come out short but scratchy. When I relax they get long again.",
          "my right hand, is my thumb bent"),
    Topic("not rushing", (15, 28, 40), "where it repeats",
          "the click and I end at the same time", ("record", "chunk"),
          "I end about two beats early. I hear it on the recording but not while I play."),
    Topic("a big sound without pressing", (9, 33), "all together",
          "it is loud but not scratchy at the back of the room", ("record", "mirror"),
          "When I play loud it gets scratchy. Closer to the bridge helped a bit."),
    Topic("Vibrato on long notes", (47, 58), "the long note",
          "you can hear it wave slowly", ("slow", "mirror"),
          "It works on the second finger and not on the others. My wrist gets stiff.",
          "my left wrist"),
    Topic("softer without dying", (37, 50), "where it says p",
          "soft but you can still hear each note start", ("record", "own"),
          "When I play soft the first note does not speak and I have to dig in."),
    Topic("second finger low and high", (18, 26), "natural after a sharp",
          "I do not have to fix it after", ("sing", "drone"),
          "I mix up the low two and the high two when it goes fast."),
    Topic("Reading ahead so I do not stop", (22, 35), "line with the accidentals",
          "I get to the end without a stop", ("chunk", "back"),
          "I stop at each new accidental and look at my hand."),
    Topic("keeping my bow in the middle for fast notes", (11, 30), "sixteenths",
          "less than a hand of bow for all of them", ("mirror", "slow"),
          "I use way too much bow and end up at the tip with nowhere to go.",
          "how much bow I use"),
    Topic("fourth finger instead of open string", (14, 29), "going down",
          "it sounds like the other notes", ("drone", "slow"),
          "My fourth finger is flat and weak. It is better in the morning for some reason."),
    Topic("counting the rests", (38, 52), "after my rest",
          "I come in with my section and not after them", ("sing", "record"),
          "I count fine at home but in the room I look around and lose it."),
    Topic("accents that are not just loud", (13, 44), "the three note thing",
          "the start pops and then it gets out of the way", ("rhythm", "record"),
          "My accents are loud all the way through. I think it is the bow speed."),
    Topic("shifting without a slide", (32, 46), "from first to third",
          "you hear two notes and no siren", ("slow", "back"),
          "Slow it is clean. Fast it sounds like a siren, my sister said."),
    Topic("left hand that stays down", (17, 23), "same four notes",
          "my fingers do not fly up in the mirror", ("mirror", "chunk"),
          "My pinky flies up high all the time and comes down late.",
          "my pinky"),
    Topic("Start together with my stand partner", (9, 41), "our entry",
          "it sounds like one", ("sing", "own"),
          "We breathe together now, but I still start a tiny bit late."),
    Topic("Triplets and sixteenths not the same", (25, 39), "where it changes",
          "someone could write the rhythm down", ("rhythm", "sing"),
          "I can say it but the hand plays them all the same."),
    Topic("memorize one page", (9, 34), "page one",
          "I play it with the part closed", ("chunk", "back"),
          "I know the first line by heart, and then it is a hole until the next one."),
)  # fmt: skip

KNOWS = (
    "five in a row without a slip", "my stand partner says so and does not laugh",
    "I can do it while I look at you and not at the page", "the recording from Friday is clean",
    "it works on the first try, also in the morning", "nobody turns around any more",
    "I do not have to think about it when we play it together", "someone at home asks who that is",
    "the same spot at full speed, two days in a row", "it sounds like the people next to me",
)
"""Ways to know that fit any skill."""

STARTS = (
    "Alone it is better than in the group.", "I do it about ten minutes a day now.",
    "On Monday it was worse than ever.", "Slow I can do it.", "I can hear it before it happens.",
    "It is only this one line, the rest is fine.", "My stand partner has the same trouble.",
    "I did not notice until I recorded it.", "I have never really practiced it before.",
    "It gets better when I breathe.", "Two of four times it works.", "After gym it is hopeless.",
)
"""What anybody could add to how it stands."""

HELPED = (
    "Slow with the click helped. I will go up by 4 now.", "doing only two beats at a time",
    "Recording helped most because I hate how it sounds and then I fix it.",
    "the mirror. I did not know my bow does that", "Playing it before school and not at night.",
    "I skipped three days so not so much. I will put it on my stand.",
    "my stand partner listened and told me which note", "long short long short rhythms work",
    "started from the last bar and added one in front", "Drone on my phone, twenty minutes total.",
    "I was too fast again, next week only 60", "nothing new, but it is easier in the group now",
    "saying the note names out loud", "I changed the fingering, that fixed half of it.",
    "Open strings first. Boring but it works.", "less bow! then it was even",
    "five good ones in a row or start over", "I will leave the run and do only the shift.",
    "Relaxing my thumb. I wrote THUMB in the part.", "counting out loud, then in my head",
    "I tried it soft first and then it was not so scary.", "will ask for a look at my hand",
    "It got worse for a few days and now it is better than before.",
    "playing along with the recording at half speed", "one string alone, then the crossing",
    "shorter practice but each day", "I will record it again on Friday to compare.",
    "Playing it for my neighbor's cat, for real. No stopping.",
    "Singing it showed me where the beat is.", "only the first two notes matter, so I do those",
    "I wrote the counts in and it is much safer.", "ten minutes with eyes closed",
)  # fmt: skip
NOW = (
    "It works when I start by myself but not yet in the group.",
    "Seven out of ten are good now, in the beginning it was about two.",
    "The start is fine. The end of the spot still gets tight.",
    "At 72 it is clean, at 80 it falls apart in the second half.",
    "My teacher heard a difference, I am not so sure myself.",
    "Better sound, same speed as before, so I keep that for now.",
    "Left hand is ok. The bow is what I have to work on next.",
    "I can do it three times and then I get tired and it goes back.",
)

BEST = (
    "the long notes at 17, I like my sound there", "I did not stop even once",
    "letter A was soft like we said", "the start was together with the click",
    "measures 9 to 12, I finally counted the rests", "the last note, full three beats",
    "my C sharps were high enough for once", "dynamics at B, you can hear it get loud",
    "the eighth notes at 21 were slow but all there", "bow changes, you almost do not hear them",
    "I kept the beat through the rests", "it sounds like a song and not like single notes",
    "the low notes were warm, I think", "m. 13, short and light", "second line, in tune mostly",
    "my entry at 17", "I liked how the slurs came out in the first line",
    "nothing great but no mistakes after A", "the shift at 6 landed", "the end got softer nicely",
)  # fmt: skip
SPOT = (
    (21, 22, "eighth notes went too fast", "half speed, then with the click"),
    (13, 16, "my short notes are different lengths", "clap it and then play"),
    (9, 12, "not soft enough to hear the cellos", "play it like an echo"),
    (21, 21, "fingers and bow not together", "left hand alone five times"),
    (17, 18, "loud but scratchy", "more bow, less arm"),
    (6, 7, "a note was flat", "drone on D and hold it"),
    (23, 24, "I let go too early", "count three out loud"),
    (14, 15, "I breathed and came late", "breathe on the rest before"),
    (11, 12, "offbeat turned into on the beat", "tap beat one with my foot"),
    (19, 20, "C sharp not high enough", "sing it first"),
    (5, 6, "bow ran out", "start nearer to the frog"),
    (8, 9, "the change to soft took me two notes", "stop, breathe, go on soft"),
)
BEST_LOW = (
    "the tune at A, I think it sang", "my slurs at 9 were even",
    "the low D at the end, full length",
    "measure 17, big sound and not scratchy", "I kept the beat for everyone, I hope",
    "quarter notes at 21 were in time", "the G in measure 2 was in tune", "bow changes at 9 to 12",
    "I did not stop even once", "the start, warm and together", "my long notes did not sag",
    "the soft way into B", "I was brave at A for once", "intonation on the A string",
)  # fmt: skip
SPOT_LOW = (
    (9, 12, "not enough sound where it matters", "more bow, same speed"),
    (14, 15, "the slurs were bumpy", "slow bow, left hand first"),
    (21, 22, "I dragged the quarters", "with the click on two and three"),
    (6, 7, "the low note spoke late", "start the bow before the beat"),
    (11, 12, "F sharp was low", "drone on D, then sing it"),
    (23, 24, "I let go too early", "count three out loud"),
    (17, 18, "loud but scratchy", "weight from the arm, not the hand"),
    (5, 6, "bow ran out", "start nearer to the frog"),
)
LOW = frozenset({"Cello", "Double bass"})
"""Sections whose part of the piece is another: the tune at A, no eighth notes."""

MATCH_WHY = (
    "You heard the beat move at 21 and I did not.", "I was mad about one note and forgot the rest.",
    "on my phone it sounds softer than it was", "I listened for notes and you for the beat",
    "You gave me more for tone, I only hear the scratch.", "I think I was too nice about the end.",
)
NEXT_TAKE = (
    "play it twice with the click before I record", "tune first, for real",
    "start slower than I want to", "do measure 21 five times alone", "stand up, more room",
    "listen to the first try before the next", "mark the rests in color",
    "one run without stopping and then record", "warm up with the scale in D",
    "put the phone farther away",
)  # fmt: skip
CRITERIA_ASKED = ("tone", "intonation", "rhythm", "pulse", "dynamics", "notes")


def topic_of(pen: Pen) -> Topic:
    """The skill that a musician works on, dealt so that a group has all of them."""
    return pen.deal(TOPICS)


def skill_project(pen: Pen, step: str, topic: Topic, sitting: int = 1) -> dict:
    """Answers to a step of a project on ``topic``; ``sitting`` counts the check-ins from 1."""
    if step == "goal":
        return {
            "skill": pen.hand(topic.skill),
            "spot": {"measure": pen.one(topic.at), "words": pen.hand(topic.here)},
            "know": pen.hand(topic.know) if pen.maybe(0.5) else pen.say(KNOWS),
            "ways": list(topic.ways[: pen.between(1, 2)]),
        }
    if step == "first":
        look = {"look": pen.hand(topic.look)} if topic.look else {}
        told = pen.tell(((topic.start,), STARTS)) if pen.maybe(0.8) else pen.hand(topic.start)
        return {"words": told, **look}
    closer = min(4, sitting + pen.between(0, 1) + (1 if sitting > 1 and pen.maybe(0.3) else 0))
    answers = {"closer": closer, "helped": pen.say(HELPED)}
    if pen.maybe(0.4):
        answers["words"] = pen.say(NOW)
    if topic.look and sitting == 1:
        answers["look"] = pen.hand(f"{topic.look}, again")
    return answers


def playing_check(pen: Pen, step: str) -> dict:
    """How a musician heard the own take of Ferry at Dusk."""
    if step == "after":
        answers = {
            "match": pen.one(("same", "lower", "lower", "higher", "mixed")),
            "next": pen.say(NEXT_TAKE),
        }
        return {**answers, "why": pen.say(MATCH_WHY)} if pen.maybe(0.5) else answers
    first, last, what, plan = pen.deal(SPOT_LOW if pen.section in LOW else SPOT)
    spot = {"piece": "Ferry at Dusk", "from_measure": first, "what": pen.hand(what)}
    spot |= {"to_measure": last} if last > first else {}
    heard = {key: str(pen.between(2, 4)) for key in pen.pick(CRITERIA_ASKED, 3, 5)}
    best = pen.say(BEST_LOW if pen.section in LOW else BEST)
    return {**heard, "best": best, "spot": {**spot, "try": pen.hand(plan)}}
