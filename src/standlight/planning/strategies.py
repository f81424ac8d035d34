"""Ways to rehearse, by what the work aims at: tables, all common practice without a source. Pure.

An aim is the key of a criterion, or "" where nobody says what the trouble is.
"""

from __future__ import annotations

from dataclasses import dataclass

STRATEGIES = {
    "slow": "slowly, then a little faster each time it is right",
    "loop": "the smallest piece that fails, over and over",
    "back": "from the last measure, then one measure more in front",
    "count": "count out loud, then play the rhythm on one note",
    "sing": "sing or tap it, then play it",
    "drone": "hold against a drone, lowest parts first",
    "chord": "stop on the chord and build it from the bottom",
    "layers": "two parts alone, then one part more each time",
    "blind": "without the conductor, listening across",
    "click": "with a beat that drops out for two measures",
    "extremes": "much too loud and much too soft, then as written",
    "syllable": "speak the beginnings of the notes on one syllable, then play them",
    "words": "speak the words in rhythm, then sing on the vowels only",
    "breath": "mark and try out where to breathe or to change the bow",
    "model": "one section plays, the others say what they heard, then answer",
    "record": "record it, listen, name one thing, play again",
}
"""Key of a strategy to what is done."""

WARM_UPS = {
    "long_tones": "long notes with a drone, in the key of the hardest spot",
    "scale_slow": "the scale of the hardest spot, slowly, even notes",
    "rhythm_echo": "echo the rhythm of the hardest spot on one note",
    "pulse_walk": "tap the beat, breathe together, play on the beat",
    "swell": "one note from soft to loud and back, together",
    "tongue": "one note with every way to begin and end it",
    "vowel_hum": "hum, then open to one vowel after the other",
    "bows": "open strings with the bowing of the hardest spot",
    "rebound": "even single strokes, slow to fast and back",
}
"""Key of a warm-up to what is done."""

DONE_WHEN = {
    "three_right": "it is right three times in a row, in tempo",
    "three_tempos": "it is right at three tempos, the last one as marked",
    "chord_rings": "the last chord stands still for four beats",
    "together": "everybody comes in and ends together, twice, without the conductor",
    "contrast_heard": "a listener with closed eyes says which is loud and which is soft",
    "listener": "a section that listened says what was better, and all agree",
    "words_clear": "a listener writes the words down",
}
"""Key to what tells that a block is done."""

QUESTIONS = {
    "which_measure": "Which measure changed most today, and what made it change?",
    "what_was_missed": "Which spot did you not know about before today?",
    "how_sure": "Which spot are you now sure of that you were afraid of?",
    "what_next": "What is the one thing to do with your part before the next rehearsal?",
}
"""One closing question a rehearsal."""

STUDY, LISTEN = "study", "listen"
IDLE_TASKS = {
    STUDY: "look at your own measures `first` to `last`: finger, tap or sing them in your head",
    LISTEN: "follow the part that plays and name one thing about the aim that got better",
}
"""What those do who do not play in a block."""


@dataclass(frozen=True, slots=True)
class Aim:
    """What one aim asks of a rehearsal: warm-up, strategies in the order of trying, done-when."""

    warm_up: str
    strategies: tuple[str, ...]
    done_when: str


AIMS = {
    "": Aim("long_tones", ("slow", "layers", "record"), "three_right"),
    "tone": Aim("long_tones", ("model", "breath", "record"), "listener"),
    "intonation": Aim("long_tones", ("drone", "chord", "sing"), "chord_rings"),
    "notes": Aim("scale_slow", ("slow", "loop", "back"), "three_tempos"),
    "rhythm": Aim("rhythm_echo", ("count", "sing", "layers"), "three_right"),
    "pulse": Aim("pulse_walk", ("click", "blind", "layers"), "together"),
    "dynamics": Aim("swell", ("extremes", "model", "record"), "contrast_heard"),
    "articulation": Aim("tongue", ("syllable", "model", "slow"), "listener"),
    "expression": Aim("swell", ("sing", "extremes", "model"), "listener"),
    "diction": Aim("vowel_hum", ("words", "slow", "record"), "words_clear"),
    "vowels": Aim("vowel_hum", ("words", "chord", "model"), "listener"),
    "bowing": Aim("bows", ("slow", "model", "syllable"), "together"),
    "shifts": Aim("scale_slow", ("slow", "loop", "sing"), "three_tempos"),
    "open_strings": Aim("bows", ("model", "slow", "record"), "listener"),
    "evenness": Aim("rebound", ("slow", "click", "loop"), "three_tempos"),
    "sticking": Aim("rebound", ("slow", "loop", "syllable"), "three_right"),
}
"""Every criterion of the house, and "" for trouble that nobody names."""


def aim_of(key: str) -> Aim:
    """The row of an aim; one that the table lacks (a school's own) is rehearsed as unnamed.

    >>> aim_of("rhythm").strategies[0], aim_of("our own").warm_up
    ('count', 'long_tones')
    """
    return AIMS.get(key, AIMS[""])


def next_strategy(aim: str, used: tuple[str, ...]) -> str:
    """The first strategy not yet tried on a spot; when all were, the one tried longest ago.

    ``used`` stands in the order of use, the latest last.

    >>> next_strategy("rhythm", ()), next_strategy("rhythm", ("count",))
    ('count', 'sing')
    >>> next_strategy("rhythm", ("count", "sing", "layers", "count"))
    'sing'
    """
    ways = aim_of(aim).strategies
    latest = {way: place for place, way in enumerate(used)}
    return min(ways, key=lambda way: latest.get(way, -1))
