"""Score studies of Ferry at Dusk and background notes on Hensel's part song.

Facts about the piece are those of the demo's own score; about the composer, of any encyclopedia.
Sources are invented, as are those who wrote them.
"""

from __future__ import annotations

from standlight.demo.written.pen import Pen

FORM_FIRST = (
    "first note of everybody", "it is the start", "here the ferry leaves i guess",
    "the tune starts right away, no intro", "everyone plays mf",
)  # fmt: skip
FORM_A = (
    "letter A and it gets soft", "double bar, we go to p", "violins stop having the tune",
    "cellos take over", "new tune, lower", "suddenly soft, only cellos loud", "the p and the rests",
    "it is quiet and the tune moves down", "letter A", "offbeats start", "different feeling, calm",
)  # fmt: skip
FORM_13 = (
    "the cello tune goes on but we get short notes", "it sounds like 9 but not the same",
    "second half of A", "dots over the notes", "violin 1 joins the short notes",
)  # fmt: skip
FORM_B = (
    "letter B, f", "same tune as the start but loud", "it is the beginning again",
    "the first tune comes home", "back to measure 1 but forte", "f and everybody plays",
    "same notes as line 1", "i saw the same shape as m. 1", "the tune is back in the violins",
)  # fmt: skip
FORM_21 = (
    "fast notes then long ones to close", "last line, eighth notes", "here it wraps up",
    "the end, dotted half notes", "running notes and then it stops",
)  # fmt: skip
FORMS = (
    (1, "opening", FORM_FIRST), (9, "new", FORM_A), (13, "changed", FORM_13),
    (17, "again", FORM_B), (21, "ending", FORM_21),
)  # fmt: skip

ROLES = {
    "Violin 1": ((1, "tune", "nobody really"), (9, "fill", "violin 2 a bit"), (17, "tune", "")),
    "Violin 2": ((1, "double", "violin 1, just lower"), (9, "beat", "violas"),
                 (17, "double", "violin 1")),
    "Viola": ((1, "fill", "violin 2"), (9, "beat", "violin 2"), (17, "fill", "")),
    "Cello": ((1, "bass", "double bass"), (9, "tune", "just us"), (17, "bass", "double bass")),
    "Double bass": ((1, "bass", "cellos"), (9, "bass", "alone now"), (17, "bass", "cellos")),
}  # fmt: skip
"""By section: from which measure, which job, who else has it."""

KEY_HOW = (
    "two sharps at the front", "F sharp and C sharp, ends on D", "2 sharps and the last note fits",
    "the last chord is D", "it sounds bright", "I sang the last note and it felt like home",
    "sharps. we had it in the scale book", "checked the first and last bass note",
)  # fmt: skip
TEXTURES = (
    (1, "tune", ("violin 1", "the top", "firsts", "the violins")),
    (9, "tune", ("cellos", "cellos!! finally", "the cello line", "low strings")),
    (17, "tune", ("violin 1 again", "firsts", "violins", "the top line")),
    (21, "together", ("no one", "everybody a bit", "the run in violin 1", "violins")),
)
WISHES = (
    (1, "mf", ("play out but not loud", "medium, save some bow", "normal sound, warm")),
    (1, "slur", ("two notes in one bow", "keep the bow going", "dont stop between")),
    (9, "p", ("small bow, closer to the fingerboard", "like a whisper",
              "less bow, listen to cellos", "so soft that i hear the cellos")),
    (13, "dots", ("short but not hard", "lift a little", "stop the string, keep it light")),
    (17, "f", ("more bow, not more press", "big sound like the start but bigger",
               "use the whole bow")),
    (21, "eighth notes", ("stay in time, do not rush", "small bows in the middle")),
    (23, "dotted half", ("hold it all 3 beats", "count to three before i lift")),
)  # fmt: skip
NOT_FOR = {
    "Violin 2": ((13, "dots"),), "Viola": ((1, "slur"), (21, "eighth notes"), (13, "dots")),
    "Cello": ((1, "slur"), (9, "p"), (13, "dots"), (21, "eighth notes")),
    "Double bass": ((1, "slur"), (13, "dots"), (21, "eighth notes")),
}  # fmt: skip
"""Wishes that a section's part does not have there."""

HARD = {
    "Violin 1": ((21, "hands"), (13, "loud"), (6, "range"), (22, "rhythm")),
    "Violin 2": ((9, "entry"), (21, "hands"), (11, "entry"), (22, "sharps")),
    "Viola": ((9, "entry"), (8, "sharps"), (12, "entry"), (21, "rhythm")),
    "Cello": ((9, "loud"), (14, "hands"), (11, "hands"), (21, "leap")),
    "Double bass": ((21, "hands"), (9, "loud"), (6, "leap"), (23, "air")),
}
PLANS = (
    "play it slow with a click, then a bit faster", "say the counts out loud first",
    "ask my stand partner to play the tune over it", "left hand only, no bow, four times",
    "mark a breath before it", "circle it and look at it every day", "start from the bar before",
    "do it with just the first two notes, then add one", "write the fingering in pencil",
    "play it in front of the mirror for the bow", "tap my foot on the rest",
    "sing it, then play it right after", "record it on my phone once a week",
    "go from the last note backwards", "do five good ones in a row", "listen to the low strings",
    "practise the string crossing with open strings", "find the note with a drone first",
    "play it soft first and then loud", "count one and let my arm move on two",
)  # fmt: skip
ASKS = (
    "is A slower or just softer", "do we hold 24 longer", "can we do 21 in pizz first",
    "who do I listen to at 9", "up bow or down bow at B?", "how short are the dots",
    "what is a ferry like at dusk. is it sad", "do we breathe before 17",
)  # fmt: skip
MISSED = (
    "that the cellos are f while we are p", "the start comes back at B, i thought it was new",
    "the violas and seconds fit into each other at A", "that 13 is a part by itself",
    "somebody heard the bass is alone at 9", "the tune is really only 4 notes going down",
    "that violin 2 is the same shape as violin 1", "a rest in my own part lol",
    "how many rests are on beat one", "the last two measures are one long note for almost all",
    "others saw question and answer in the cello line", "dots only in violin 1 at 13",
    "I did not see the slurs stop at 9", "that the loud only comes once before B",
)  # fmt: skip
CHANGES = (
    "play less at 9 so that the cellos can be heard", "lead more at 17 because it is the same tune",
    "watch the bow of the cellos at A", "not rush 21 because all of us have to land together",
    "think of measure 1 when I play measure 17", "give the rests their time on beat one",
    "listen down to the bass for the pitch", "hold the last note to the very end",
    "make 13 lighter than 9", "use more bow at B than at the start",
    "count the beat that I do not play", "try to sound like one instrument with the violas",
)  # fmt: skip

AFTER_FACTS = (
    "It is for four voices and nobody else, no piano at all.",
    "The poem is by Joseph von Eichendorff, who wrote a lot about woods and night.",
    "The songs are called garden songs because you could sing them outside.",
    "She was born in Hamburg in 1805 and grew up in Berlin.",
    "She was the big sister of another composer, Felix Mendelssohn.",
    "For years her music was played on Sundays in the house in Berlin.",
    "She only began to print her works under her own name near the end of her life.",
    "Opus 3 has six songs and ours is the first.",
    "She led the Sunday concerts herself, and there was a choir.",
    "She lived until 1847, so this is one of her last pieces.",
)
"""Facts about Fanny Hensel and op. 3 that any encyclopedia gives."""

PRIMARY = (
    ("Fanny Hensel", "Gartenlieder, op. 3 (the score)", "our choir folder, page 1"),
    ("Fanny Hensel", "Hörst du nicht die Bäume rauschen, the score itself", "our folder"),
    ("Fanny Hensel", "Garden songs, opus 3, notes and text", "score in the choir room"),
    ("Joseph von Eichendorff", "the poem under the notes", "in our score"),
)
SECONDARY = (
    ("M. Tillbrook", "Women Who Wrote Songs", "school library, page 41"),
    ("P. Aldane", "Sunday Music in Berlin", "school library, pages 12 to 15"),
    ("J. Corvell", "A Short Book of Part Songs", "music room shelf, page 8"),
    ("H. Esterly", "Songs for the Garden", "city library, page 77"),
    ("L. Brandmoor", "The Composer Next Door", "school library, chapter 4"),
    ("R. Quillan", "Notes for Choirs, volume 2", "Ms. Winterbourne's shelf, page 30"),
    ("T. Marrow", "Romantic Music for Beginners", "city library, page 102"),
    ("S. Ondine", "Poems That Became Songs", "school library, page 19"),
)
TRUST = (
    "The book says where each fact comes from in the back.",
    "The person taught music history and lists all the letters they read.",
    "It agrees with what is printed on our score about the words.",
    "I checked the years in a second book and they were the same.",
    "The librarian says it is the one teachers use for this.",
    "It is not trying to sell something and it says when it is not sure.",
    "It has the same birth year and the same opus number as the score.",
    "The writer looked at the old prints and has photos of them.",
    "Two books say the same and they do not copy each other's words.",
    "It was written by someone who also edits music, it says so on the cover.",
)
DOUBTS = (
    "One book says 1846 for the songs and the other one 1847.",
    "They do not say who sang it first.",
    "I could not find how many people were in her choir.",
    "No one tells why she picked this poem.",
    "One calls her Mendelssohn and the other Hensel, same person.",
    "It does not say if it was really sung in a garden.",
)
NOTE_OPEN = (
    "Do you hear the trees? That is how our first song starts, in German.",
    "Our next piece needs no piano, only four voices that lean on each other.",
    "This song is about trees at night, and it was made to be sung outside.",
    "Close your eyes for this one and think of a big garden after dark.",
    "The song we sing now is more than 170 years old and still feels fresh.",
    "If you have ever walked in the woods in the evening, you know this song.",
)
NOTE_WHO = (
    "Fanny Hensel wrote it in Berlin in her last years, when she finally printed her own works.",
    "Fanny Hensel made it in the 1840s. She was born in Hamburg in 1805 and lived in Berlin.",
    "It comes from opus 3 by Fanny Hensel, six garden songs that she wrote not long before 1847.",
    "The composer, Fanny Hensel, was the sister of Felix Mendelssohn and every bit as busy.",
    "Fanny Hensel wrote hundreds of pieces, but people could buy only a few while she lived.",
    "Fanny Hensel ran her own Sunday concerts in Berlin and wrote songs like this for singers.",
)
NOTE_WHEN = (
    "At that time many women were told that music was fine at home but not as a job.",
    "There were no recordings, so if you wanted music in the garden you had to sing it.",
    "Friends met on Sundays to sing and to listen, and a choir was part of it.",
    "The words are a poem by Eichendorff, who loved woods, moonlight and far away sounds.",
    "Singing in parts with friends was a thing people did for fun back then.",
    "Poets of that time liked night, woods and old castles, and so did composers.",
)
NOTE_HEAR = (
    "You can hear the leaves when the voices move in small steps, one after another.",
    "Listen to how all four voices start as one and then pull a little apart.",
    "The high voices call and the low ones hold the ground, like trunks of trees.",
    "It gets soft in the middle and you may hear us breathe before it grows again.",
    "We try to make the German words rustle, most of all the sound at the end of rauschen.",
    "The chords change color when the poem looks down from the balcony to the ground.",
)
NOTE_CLOSE = (
    "We hope that you hear the garden too.",
    "When it is over, wait a second before you clap, because the end is very quiet.",
    "We sing it because it shows what a few voices can do alone.",
    "For us it was the hardest text this year, and now it is our favorite.",
    "I like that a song so small can make a room so still.",
    "After that we will wake you up again with something faster.",
)
NOTE_HERE = (
    (2, "all voices start as one"), (5, "the trees in the text"), (9, "it grows here"),
    (14, "alto moves, listen"), (18, "softer all at once"), (23, "low voices hold"),
    (27, "the tune comes back"), (31, "here it turns dark"), (38, "tenors have a nice line"),
    (46, "it thins out to the end"),
)  # fmt: skip
NOTE_PLAY = (
    "sing the start like talking to someone in the dark", "keep the sound of rauschen going",
    "not so loud in the middle, it is night", "think of the whole line and not of each word",
    "listen to the basses before I come in", "use the consonants for the leaves",
    "breathe as if nothing has happened yet", "let the last chord float and not drop",
)  # fmt: skip


def score_study(pen: Pen, step: str) -> dict:
    """Answers to a step of a score study of Ferry at Dusk."""
    if step == "after":
        return {"missed": pen.say(MISSED), "change": pen.say(CHANGES)}
    starts = [FORMS[1], *pen.pick((FORMS[0], *FORMS[2:]), 1, 3)]
    places, hard = ROLES[pen.section], pen.pick(HARD[pen.section], 2, 2)
    answers = {
        "form": [
            {"at": {"measure": at}, "what": what, "how": pen.say(how)}
            for at, what, how in sorted(starts)
        ],
        "role": [
            {"at": {"measure": at}, "job": job, **({"with": mate} if mate else {})}
            for at, job, mate in places[: pen.between(2, 3)]
        ],
        "hardest": [
            {"at": {"measure": at}, "why": why, "plan": pen.say(PLANS)} for at, why in hard
        ],
    }
    for key in pen.pick(("home", "texture", "wishes"), 2, 3):
        answers[key] = CLOSER[key](pen)
    if pen.maybe(0.35):
        answers["ask"] = pen.say(ASKS)
    return answers


def _home(pen: Pen) -> list[dict]:
    key = pen.one(("D major", "D", "D maj", "home is D"))
    return [{"at": {"measure": 1}, "key": key, "how": pen.say(KEY_HOW)}]


def _texture(pen: Pen) -> list[dict]:
    return [
        {"at": {"measure": at}, "how": how, "who": pen.say(who)}
        for at, how, who in pen.pick(TEXTURES, 2, 3)
    ]


def _wishes(pen: Pen) -> list[dict]:
    """What stands in the own part: only the violins have everything."""
    asked = [wish for wish in WISHES if wish[:2] not in NOT_FOR.get(pen.section, ())]
    return [
        {"at": {"measure": at}, "sign": sign, "do": pen.say(do)}
        for at, sign, do in pen.pick(asked, 2, 3)
    ]


CLOSER = {"home": _home, "texture": _texture, "wishes": _wishes}


def background_note(pen: Pen, step: str) -> dict:
    """Answers to a step of a background note on Hensel's song."""
    return _note(pen) if step == "note" else _sources(pen)


def _sources(pen: Pen) -> dict:
    facts = [str(pen.deal(AFTER_FACTS)) for _ in range(pen.between(3, 4))]
    answers = {
        "primary": _source("primary", pen.deal(PRIMARY)),
        "secondary": _source("secondary", pen.deal(SECONDARY)),
        "trust": pen.say(TRUST),
        "facts": [
            {"fact": pen.hand(fact), "from": str(pen.one(("primary", "secondary", "secondary")))}
            for fact in dict.fromkeys(facts)
        ],
    }
    while len(answers["facts"]) < 3:
        fact = pen.hand(str(pen.deal(AFTER_FACTS)))
        if fact not in [row["fact"] for row in answers["facts"]]:
            answers["facts"].append({"fact": fact, "from": "both"})
    if pen.maybe(0.4):
        answers["doubt"] = pen.say(DOUBTS)
    return answers


def _source(kind: str, row: object) -> dict:
    author, title, where = row
    return {"kind": kind, "author": author, "title": title, "where": where}


def _note(pen: Pen) -> dict:
    measure, words = pen.deal(NOTE_HERE)
    tables = (NOTE_OPEN, NOTE_WHO, NOTE_WHEN, NOTE_HEAR, NOTE_HEAR, NOTE_CLOSE)
    return {
        "note": pen.tell(tables, least=80, most=150),
        "hear": {"measure": measure, "words": pen.hand(words)},
        "play": pen.say(NOTE_PLAY),
        "checks": pen.pick(("own", "facts", "names", "aloud"), 2, 4),
        "share": pen.maybe(0.7),
    }
