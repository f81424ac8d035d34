"""Codes of strips and plans as a director reads them: tables, and nothing else.

Plans are kept as codes and outlive the edition that drew them: a code that no table has any more
says nothing, and the page of an old plan still opens.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from standlight.criteria import CRITERIA
from standlight.planning import DONE_WHEN, QUESTIONS, STRATEGIES, WARM_UPS, Share
from standlight.programme.dates import days_ahead

FEWEST_TOLD = 3
"""Of fewer takes or musicians no number is told: it could point at a person."""

WHY_WORDS = {
    "heard": "{n} of {of} takes have trouble here",
    "levels": "{n} of {of} rated takes have level 1 or 2 here",
    "director": "a director remarked on it {times}",
    "said": "{n} of {of} musicians who said anything worry about it",
    "blind_spot": "a section has trouble here that nobody in it has said",
    "false_worry": "musicians worry about it and the takes are fine: play it and be glad",
    "unfinished": "it was not done {ago}",
    "pinned": "you put it in",
    "stretched": "you set its minutes",
    "for_the_hardest": "it gets everybody ready for the hardest block",
    "idle_play": "{n} part{s} play{v} here that wait{v} during the work",
    "joins_work": "it puts {n} worked measure{s} back into the music",
    "whole": "nothing was heard or said yet: playing tells what to listen for",
    "concert_near": "the concert is {ahead}, so more is played through",
    "closing": "musicians say for themselves what changed",
}
"""Reason of a block to its words."""

FEW_WORDS = {
    "heard": "trouble was heard in a take or two",
    "levels": "a take or two have level 1 or 2 here",
    "said": "a worry was said",
}
"""The same where too few are known to give a number."""

NONE_WORDS = {"idle_play": "it is something else after the work, and no trouble is known here"}
"""The same where the number is none."""

TOLD_WORDS = {
    "no_concert_date": "No concert is set for this group: planned as if it were in {n} days. "
    "Set the day in the Folder.",
    "concert_past": "The concert was {n} day{s} ago. Set the next one in the Folder.",
    "no_evidence": "No take was read and nobody has said anything on these pieces, so the plan "
    "is to play and listen.",
    "left_out": "{n} take{s}, level{s} or remark{s} name measures that the piece does not have. "
    "The page of the piece lists them.",
    "pin_moved": "A place you put in lay outside the piece. The nearest measures stand here.",
    "unknown_block": "{n} block{s} that you left out or changed {are} not in this plan any more.",
    "unplanned": "{n} minute{s} {are} left over. Add a block of your own, or make one longer.",
}
"""What is told beside a plan, by its code."""

KIND_WORDS = {
    "warm_up": "Warm-up",
    "work": "Work",
    "contrast": "Something else",
    "run": "Play through",
    "question": "Last question",
    "own": "Your own",
}
"""What a block is called by its kind."""

STRATEGY_TAGS = {
    "slow": "slower",
    "loop": "loop it",
    "back": "from the end",
    "count": "count aloud",
    "sing": "sing it",
    "drone": "drone",
    "chord": "build the chord",
    "layers": "two parts alone",
    "blind": "no conductor",
    "click": "with the beat",
    "extremes": "overdo it",
    "syllable": "on a syllable",
    "words": "speak the words",
    "breath": "mark breaths",
    "model": "one section shows",
    "record": "record it",
}
"""Strategies as a director taps them at the podium."""

AIM_TAGS = {
    "intonation": "out of tune",
    "rhythm": "rhythm",
    "pulse": "not together",
    "notes": "wrong notes",
    "dynamics": "loud and soft",
    "articulation": "beginnings of notes",
    "tone": "sound",
    "expression": "no line yet",
    "diction": "words",
    "vowels": "vowels",
    "bowing": "bowing",
    "shifts": "shifts",
    "evenness": "uneven",
    "sticking": "sticking",
}
"""Trouble as a director taps it at the podium, by the criterion it is about."""

USUAL_TAGS = ("notes", "rhythm", "intonation", "pulse", "dynamics")
"""Trouble that any group has (common practice, no source)."""

IDLE_WORDS = {
    "study": "{names}: look at your own {where}. Finger it, tap it or sing it in your head.",
    "listen": "{names}: follow the part that plays. Name one thing that got better.",
}
"""What those do who wait."""

DONE_OR_TIME = "The time is over."
"""What ends a block that has no sign of its own."""


def aim_name(aim: str) -> str:
    """An aim in a sentence; "" where nobody says what the trouble is.

    >>> aim_name("intonation"), aim_name(""), aim_name("our own")
    ('intonation', '', 'our own')
    """
    return CRITERIA[aim].name.lower() if aim in CRITERIA else aim.replace("_", " ")


def why_words(why: Sequence) -> str:
    """One reason [code, n, of] as words; "" for a code of an earlier edition.

    >>> why_words(["heard", 9, 12]), why_words(["unfinished", 1, 0])
    ('9 of 12 takes have trouble here', 'it was not done yesterday')
    >>> why_words(["heard", 1, 2]), why_words(["director", 2, 0])
    ('trouble was heard in a take or two', 'a director remarked on it twice')
    """
    code, n, of = why
    if code in FEW_WORDS and of < FEWEST_TOLD:
        return FEW_WORDS[code]
    if code in NONE_WORDS and not n:
        return NONE_WORDS[code]
    words = WHY_WORDS.get(code, "")
    return words.format(of=of, times=_times(n), ago=_ago(n), ahead=days_ahead(n), **_many(n))


def told_words(told: Sequence) -> str:
    """What is told beside a plan, [code, n], as a sentence; "" for a code of an earlier edition.

    >>> told_words(["unplanned", 1])
    '1 minute is left over. Add a block of your own, or make one longer.'
    """
    code, n = told
    return TOLD_WORDS.get(code, "").format(**_many(n))


def how_words(kind: str, strategy: str) -> str:
    """What is done in a block, as a sentence; "" where its kind says all.

    >>> how_words("work", "count")
    'Count out loud, then play the rhythm on one note.'
    >>> how_words("question", "what_next")[:29], how_words("run", "")
    ('What is the one thing to do w', '')
    """
    tables: Mapping[str, Mapping[str, str]] = {"warm_up": WARM_UPS, "question": QUESTIONS}
    words = tables.get(kind, STRATEGIES).get(strategy, "")
    return _sentence(words)


def done_words(finish: str) -> str:
    """What tells that a block is done, as a sentence.

    >>> done_words("three_right"), done_words("")
    ('It is right three times in a row, in tempo.', 'The time is over.')
    """
    return _sentence(DONE_WHEN.get(finish, "")) or DONE_OR_TIME


def idle_words(names: Sequence[str], task: str, where: str) -> str:
    """Who waits and what they do.

    >>> idle_words(["Flute", "Oboe"], "study", "measures 9 to 12")
    'Flute, Oboe: look at your own measures 9 to 12. Finger it, tap it or sing it in your head.'
    """
    return IDLE_WORDS.get(task, "").format(names=", ".join(names), where=where)


def of_words(share: Share, of: str) -> str:
    """A share in words.

    >>> of_words(Share(7, 10), "take"), of_words(Share(0, 1), "musician")
    ('7 of 10 takes', '0 of 1 musician')
    """
    return f"{share.hits} of {share.count} {of}{'' if share.count == 1 else 's'}"


def capital(words: str) -> str:
    """Words that begin a line.

    >>> capital("measures 9 to X1"), capital("")
    ('Measures 9 to X1', '')
    """
    return f"{words[:1].upper()}{words[1:]}"


def _sentence(words: str) -> str:
    """Words with a capital and a stop."""
    if not words:
        return ""
    return capital(words) + ("" if words.endswith(("?", ".")) else ".")


def _times(n: int) -> str:
    return {1: "once", 2: "twice"}.get(n, f"{n} times")


def _ago(n: int) -> str:
    return days_ahead(-n) if n else "earlier today"


def _many(n: int) -> dict[str, object]:
    """The number, and the endings that go with it."""
    return {"n": n, "s": "" if n == 1 else "s", "v": "s" if n == 1 else "",
            "are": "is" if n == 1 else "are"}  # fmt: skip
