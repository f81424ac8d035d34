"""Finds (all invented but for old songs that nobody owns), and looking back on the year so far."""

from __future__ import annotations

from standlight.demo.written.pen import Pen

FINDS = (
    ("Harbor in Three", "Moss and Tiller", "the accordion comes in after the first chorus"),
    ("Nine Small Doors", "The Cupboard Quartet", "a cello that sounds like a bass guitar"),
    ("Slow Train to Ellwick", "Tall Grass Union", "the drum plays with brushes all the way"),
    ("Scarborough Fair", "an old song, our book has it", "the tune goes around and never ends"),
    ("Copper Weather", "Ida Plum and the Kettles", "three singers so close that it buzzes"),
    ("Winter Bus", "Lowmere", "only two chords but they are never boring"),
    ("Suite for Empty Gym", "P. Hollowell", "you hear the room echo, they use it on purpose"),
    ("Marble Run", "Click Ensemble", "marimba, the two players are one note apart"),
    ("The Fox Hour", "Bren Talloway", "the fiddle slides into each note a bit late"),
    ("Shenandoah", "an old river song, sung by a choir", "the low voices move under the tune"),
    ("Glass Orchard", "Senna Vale", "the voice is high and has no wobble at all"),
    ("Overtime", "Brass on Fifth", "the tuba plays the bass line AND a solo"),
    ("Letters from the Pier", "M. Ostrander, a string quartet", "part two, viola has the tune"),
    ("Paper Gulls", "Small Parade", "claps on two and four and then they stop"),
    ("Night Ferry Waltz", "The Dovecote Players", "one two three but the three is late"),
    ("Kite Weather", "Junie Fairlock", "she sings the second verse an octave lower"),
    ("Symphony of Bells", "a tower in Holland, on a video", "bells ring on into the next chord"),
    ("Greensleeves", "very old, a recorder group", "one note is higher going up than going down"),
    ("Tin Roof", "Delta Hour", "a steel guitar that cries at the end"),
    ("Blue Thread", "Anwen Coe, harp", "the left hand is a clock, the right hand is free"),
    ("Kitchen Samba", "Os Vizinhos do Sul", "a shaker the whole time and a tiny drum that answers"),
    ("Past Pell Street", "Pell Street Seven", "trumpet with a mute, like talking through a door"),
    ("Stone by Stone", "Hollin Choir", "they start with one voice and end with maybe forty"),
    ("Arctic Radio", "Vek", "no tune, just chords that melt"),
    ("The Long Rope", "sailors' song, no one knows who", "everyone pulls on the loud word"),
    ("Seven Eight", "Kostadar Trio", "try to tap your foot, you will be wrong"),
    ("Postcards", "L. Merriweather for two violins", "they pass one note back and forth"),
    ("Ghost Elevator", "Low Ceiling", "the bass goes down and down and the tune stays"),
    ("Harvest Home", "Bell and Barrow", "a hurdy thing with a crank, it drones"),
    ("First Snow on Asphalt", "Yun Terrace", "piano with something on the strings, it clanks"),
    ("Danny's March", "Fairwater Pipes", "the drums are so exact that it sounds like one"),
    ("Salt", "Marisol Quint", "you can hear her breathe in before the loud part"),
    ("Half Moon Reel", "The Tumbledown Four", "it gets faster but nobody falls out"),
    ("Old Oak Concerto", "R. Sundquist", "clarinet laughs, I mean it really laughs"),
    ("Midnight Library", "Paper Cathedral", "the words are whispered and then a big chord"),
    ("Mountain Choir, track 4", "a choir of herders", "no vibrato, very straight, very loud"),
    ("Game level 12, the ice cave", "I could not find who", "high bells far away, then a low one"),
    ("Rowing Song", "Inlet Voices", "the beat is the oars, they rest on four"),
    ("Four Hands, One Cat", "Twill and Dane", "two people at one piano, it is a joke piece"),
    ("Streetlight", "Ferrous", "sax and bass only, so much space"),
    ("Thunder Steps", "the drum club of Ash Hill", "twelve big drums, soft is the scariest"),
    ("Le petit canal", "Trio Aubépine", "oboe, it sounds like a duck that went to college"),
)  # fmt: skip
HEARD = (
    "in the bus", "on the radio", "my cousin's phone", "a video for social studies",
    "at the street fair", "played before the game", "in the background of a show", "at the library",
    "our bass player showed me", "at a wedding", "someone had it in art class", "in a game",
    "on a walk, from a window", "at camp", "record store, they had headphones",
)  # fmt: skip

BACK = {
    "sound": (
        ("My first take was so thin, it sounds like I am afraid of the bow.",
         "In the first one I stop two times and in the last one not even once.",
         "The first take is in tune at the start and then sinks."),
        ("Now the notes start clearly and the long ones do not shake.",
         "The new one has a beat you can tap to, and the soft part is soft.",
         "What is different is the low string, it sounds round now."),
        ("What is the same is that I still rush when it gets easy.",
         "The same is my bow at the tip, it still gets crooked.",
         "One thing is not better, I breathe in before each shift and you can hear it."),
    ),
    "moved": (
        ("The goal with the sixteenth notes moved most.",
         "My goal about counting rests moved a lot.",
         "Shifting moved the most, it was my very first goal."),
        ("I did it slow with the click, about ten minutes on most days.",
         "It moved when I started to record it each Friday.",
         "What made it move was doing the last two notes first."),
        ("It helped that my stand partner had almost the same goal.",
         "Before that I only played it from top to bottom and it stayed the same.",
         "I think the trick was to stop before I got tired."),
    ),
    "pattern": (
        ("My remarks say entry, entry, entry.", "It is always the same run that comes up.",
         "What comes up again and again is being too loud where it says soft."),
        ("I count right but then I wait for others to start.",
         "I write it down and next week it is there again, mostly in the same two measures.",
         "I did not see it until I read them one after the other."),
        ("I put a big mark in my part and it is a bit better since.",
         "I asked to sit where I can hear the basses, that was good.",
         "Now I do that spot first and not last when I practice."),
    ),
    "find": (
        ("The one that will stay is the quartet with the viola tune.",
         "I think the song in seven will stay with me.",
         "The bells on the video will stay, they are stuck in my head."),
        ("At first I only heard that it was odd.",
         "First I liked just the loud part.",
         "When I found it I only heard the top line."),
        ("Now I hear that the low part has its own tune under it.",
         "Now I hear the rests, they make the beat.",
         "Now I notice how long it takes until it comes back home, and I wait for it."),
    ),
    "group": (
        ("We were at our best in the second run of Ferry last week.",
         "Our best day was when half of us were sick and we still did the Brandenburg slowly.",
         "We were best at letter A, when all of us really got soft."),
        ("We listened down and nobody raced.",
         "We all looked up at the start and it was just there.",
         "Everyone kept going, even after the mess in the middle."),
        ("My share was to not play when I was not sure and to come back in.",
         "My share was small bows and counting for two.",
         "I helped my stand partner to find the place, twice."),
    ),
    "ears": (
        ("Now I can hear when a chord is not in tune, before I did not care.",
         "I can hear the bass line now, in any song.",
         "I hear when I rush, sadly."),
        ("In our music I hear who has the tune and who is just filling in.",
         "When I hear a recording I can say if it is two violins or ten.",
         "In my own sound I hear the bow noise and how to get rid of it."),
        ("It makes music on the radio more fun and also more annoying.",
         "That started when we had to write down who leads.",
         "I would not have believed that in September."),
    ),
}  # fmt: skip
"""Prompt to what is said, three tables each."""

WHY = (
    "because I could see that the same spot got better from week to week",
    "I had to listen to myself and that is hard but it works",
    "It was mine and I could pick it.", "writing a remark takes a minute and saves me a week",
)
NEXT_YEAR = (
    "play a whole page in third position in tune", "sight read a page without a stop",
    "have a vibrato that sounds like one", "lead an entry so that others can follow",
)
FIRST_STEP = (
    "scales in thirds, from Monday", "ten minutes with the drone before homework",
    "ask for a harder part in January", "record one line every Friday",
)
KEEP = (
    "Keep the quiet start of rehearsal, change how long we tune.",
    "keep the turns for remarks, and do more small groups",
    "Keep playing slow versions. More time to play it through at the end.",
    "we should keep recording ourselves and change the seats more often",
)
WORK = ("check", "project", "remark", "study", "finds")


def finds(pen: Pen) -> dict:
    """One find of a musician."""
    what, who, why = pen.deal(FINDS)
    answers = {"what": what, "who": who, "why": pen.hand(why), "share": pen.maybe(0.75)}
    return {**answers, "heard": pen.say(HEARD)} if pen.maybe(0.7) else answers


def year_reflection(pen: Pen, step: str) -> dict:
    """Looking back on four prompts, or ahead."""
    if step == "back":
        chosen = pen.pick(tuple(BACK), 4, 4)
        return {prompt: pen.tell(BACK[prompt], least=30, most=200) for prompt in chosen}
    return {
        "most": pen.pick(WORK, 1, 2),
        "why": pen.say(WHY),
        "next": pen.say(NEXT_YEAR),
        "first": pen.say(FIRST_STEP),
        "keep": pen.say(KEEP),
    }


def year_begun(pen: Pen) -> dict:
    """The first answer of somebody who has begun to look back and not sent it."""
    prompt = str(pen.one(tuple(BACK)))
    return {prompt: pen.tell(BACK[prompt][: pen.between(1, 2)])}
