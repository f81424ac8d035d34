"""What the levels say and cannot say, in words: one table a code, names put in.

No sentence here shows a figure beyond "about a third of a level"; the exact ones stand where a
finding is opened.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Any

from standlight.programme.queries.level_amounts import (
    about_words,
    crosses_zero,
    interval_figures,
    likely_words,
)
from standlight.programme.queries.rater_names import Names, criterion_name
from standlight.ratings.growth_values import NO_ANCHOR
from standlight.ratings.severity import ALL_EXTREME, FEW_COMMON, NO_MEASURE, NOT_COMPARABLE
from standlight.ratings.statements import (
    ASK_AGAIN,
    GREW_LESS,
    NOT_COMPARABLE_GROUPS,
    NOT_COMPARABLE_RATERS,
    ONE_IMPRESSION,
    RATE_COMMON,
    SAME_PASSAGE,
    STOPPED,
    STRICTER,
    TOGETHER,
)

Json = dict[str, Any]
Said = Callable[[Json, Names], str]


def begun(words: str) -> str:
    """Words as the beginning of a sentence.

    >>> begun("you are stricter")
    'You are stricter'
    """
    return f"{words[:1].upper()}{words[1:]}"


def rater_is(name: str) -> str:
    """A rater and the verb.

    >>> rater_is("you"), rater_is("Ruben Asher")
    ('you are', 'Ruben Asher is')
    """
    return f"{name} {'are' if name == 'you' else 'is'}"


def whose(name: str) -> str:
    """A rater's own.

    >>> whose("you"), whose("Ruben Asher")
    ('your', "Ruben Asher's")
    """
    return "your" if name == "you" else f"{name}'s"


def of_takes(count: int) -> str:
    """How many takes two have heard.

    >>> of_takes(1), of_takes(9)
    ('1 take heard by both', '9 takes heard by both')
    """
    return f"{count} take{'' if count == 1 else 's'} heard by both"


def on_criterion(key: str) -> str:
    """Where: on one criterion, or over all."""
    return f"on {criterion_name(key)}" if key else "over all criteria"


def _stricter(row: Json, names: Names) -> str:
    """The first rater is stricter than the second."""
    rater, other = (names.rater(key) for key in row["subjects"])
    return (
        f"{begun(on_criterion(row['criterion']))}, {rater_is(rater)} "
        f"{about_words(row['points'])} stricter than {other} ({of_takes(row['n'])}; "
        f"{_likely(row)})."
    )


def _one_impression(row: Json, names: Names) -> str:
    """One impression colours all criteria."""
    raters = [names.rater(key) for key in row["subjects"]]
    said = whose(raters[0]) if len(raters) == 1 else "the"
    return (
        f"{begun(said)} levels for the criteria of one take rise and fall together by "
        f"{about_words(row['points'])}, more than the take itself explains: one impression may "
        f"stand for all of them ({row['n']} takes; {_likely(row)})."
    )


def _together(row: Json, names: Names) -> str:
    """Criteria move together, and nobody can say why."""
    return (
        f"The criteria of one take rise and fall together by {about_words(row['points'])} "
        f"({row['n']} takes; {_likely(row)}). It may be how that day went, or one impression for "
        "all of them: these levels cannot say which."
    )


def _stopped(row: Json, names: Names) -> str:
    """A section that grew less than the rest, and perhaps not at all; ``since`` says from when."""
    since = f"Since {row['since']}, by itself, it" if row.get("since") else "By itself it"
    return f"{_grew_less(row, names)} {since} may not have grown at all."


def _grew_less(row: Json, names: Names) -> str:
    """A section that grew less than the rest; ``span`` says in which school year."""
    span = f" {row['span']}" if row.get("span") else ""
    return (
        f"{names.section(row['subjects'][0])}: grew less than the rest of the group{span}, by "
        f"{about_words(row['points'])} a year ({row['n']} musicians; {_likely(row)})."
    )


STATEMENT_WORDS: Mapping[str, Said] = MappingProxyType(
    {
        STRICTER: _stricter,
        ONE_IMPRESSION: _one_impression,
        TOGETHER: _together,
        STOPPED: _stopped,
        GREW_LESS: _grew_less,
    }
)
"""Code of a statement to its sentence."""

STATEMENT_WHY: Mapping[str, str] = MappingProxyType(
    {
        STRICTER: (
            "Plain averages mix the ear with who was heard. Here only the same takes, and how the "
            "same musicians fare with each of you, count."
        ),
        ONE_IMPRESSION: (
            "A musician who has a good day is a little better in everything; that part is taken "
            "out. What is left is the ear. Hearing a take once for each criterion helps."
        ),
        TOGETHER: "More takes that a second person rates too would tell which it is.",
        STOPPED: (
            "Sections of one group play the same passages, so how hard those were falls out. How "
            "far the section came by itself in the later half is seen on each musician's own takes "
            "of that time, and on passages that the group was asked again."
        ),
        GREW_LESS: (
            "Sections of one group play the same passages, so how hard those were falls out. "
            "Whether the section grew by itself is another question."
        ),
    }
)
"""Code of a statement to how it is known."""

STATEMENT_FIGURES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        STRICTER: ("severity", "comparable"),
        ONE_IMPRESSION: ("one_impression",),
        TOGETHER: ("one_impression",),
        STOPPED: ("section_growth", "anchors"),
        GREW_LESS: ("section_growth", "anchors"),
    }
)
"""Code of a statement to the figures that define it."""


def _group_got_better(row: Json, names: Names) -> str:
    """What the averages of a group's passages invite; since which passage of which year."""
    way = "better" if row["averages_say"] > 0 else "weaker"
    since = names.task(row["task"]).title
    return f"Since {since}, {names.ensemble(row['subjects'][0])} got {way} by {_size(row)}."


def _one_is_stricter(row: Json, names: Names) -> str:
    """What the averages of two raters invite; who gives less is called stricter."""
    one, other = (names.rater(key) for key in row["subjects"])
    strict, mild = (one, other) if row["averages_say"] < 0 else (other, one)
    return f"{begun(rater_is(strict))} {_size(row)} stricter than {mild}."


def _one_is_better(row: Json, names: Names) -> str:
    """What the averages of two groups invite."""
    one, other = (names.ensemble(key) for key in row["subjects"])
    good, less = (one, other) if row["averages_say"] > 0 else (other, one)
    return f"{good} plays or sings {_size(row)} better than {less}."


REFUSAL_CLAIMS: Mapping[str, Said] = MappingProxyType(
    {
        NO_ANCHOR: _group_got_better,
        NOT_COMPARABLE_RATERS: _one_is_stricter,
        NOT_COMPARABLE_GROUPS: _one_is_better,
    }
)
"""Code of a refusal to the claim that the plain averages invite."""

REFUSAL_BECAUSE: Mapping[str, str] = MappingProxyType(
    {
        NO_ANCHOR: (
            "The averages say so, the levels do not: it was other music each time. Harder music "
            "looks like falling, easier music like growth."
        ),
        NOT_COMPARABLE_RATERS: (
            "The averages say so, the levels do not: you heard other musicians in other music. A "
            "strict ear and a weaker group look the same."
        ),
        NOT_COMPARABLE_GROUPS: (
            "The averages say so, the levels do not: other music, and nobody who links the two."
        ),
    }
)
"""Code of a refusal to why it cannot be said."""

REFUSAL_FIGURES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        NO_ANCHOR: ("group_growth", "anchors"),
        NOT_COMPARABLE_RATERS: ("comparable", "joins"),
        NOT_COMPARABLE_GROUPS: ("comparable",),
    }
)
"""Code of a refusal to the figures that define it."""

NEED_WORDS: Mapping[str, Said] = MappingProxyType(
    {
        ASK_AGAIN: lambda row, names: (
            f"What would answer it: ask {names.task(row['task']).title} once more, some weeks "
            "after the first time."
        ),
        RATE_COMMON: lambda row, names: (
            "What would answer it: both of you give levels to the same takes, without seeing each "
            "other's."
        ),
        SAME_PASSAGE: lambda row, names: (
            "What would answer it: one passage that both play, heard by somebody who hears both."
        ),
    }
)
"""What would answer a refused claim."""


CONTRAST_BECAUSE: Mapping[str, str] = MappingProxyType(
    {
        "": "",
        NOT_COMPARABLE: "cannot be compared: nothing links the takes you heard",
        FEW_COMMON: "too few takes that both have heard to be sure",
        ALL_EXTREME: "cannot be compared: one of you gave only the lowest or the highest level",
        NO_MEASURE: "cannot be compared: every level is the same",
    }
)
"""Why two raters' levels are not compared, or not surely."""


def contrast_words(row: Json, names: Names, when: str = "") -> str:
    """How two raters compare on one criterion or on all; begins with the reader where it can.

    ``when`` stands first where it is not about all levels.

    >>> names = Names("a2", {"a1": "A.", "a2": "B."}, {}, {}, {})
    >>> row = {"rater": "a1", "other": "a2", "criterion": "rhythm", "stricter_by": -0.34,
    ...        "low": -0.9, "high": 0.2, "n_common_takes": 9, "sure": False, "because": ""}
    >>> contrast_words(row, names)
    'On rhythm you are about a third of a level stricter than A. (9 takes ...; could be chance).'
    """
    row = from_the_reader(row, names)
    rater, other = names.rater(row["rater"]), names.rater(row["other"])
    where = begun(when or on_criterion(row["criterion"]))
    if row["stricter_by"] is None:
        return f"{where} {rater} and {other} {CONTRAST_BECAUSE[row['because']]}."
    word = "stricter" if row["stricter_by"] > 0 else "milder"
    how = f"{about_words(row['stricter_by'])} {word} than"
    if about_words(row["stricter_by"]) == about_words(0):
        how = "as strict as"
    sure = CONTRAST_BECAUSE[row["because"]] or (
        _likely_of(row["low"], row["high"]) if row["sure"] else "could be chance"
    )
    takes = "" if row["because"] else f"{of_takes(row['n_common_takes'])}; "
    return f"{where} {rater_is(rater)} {how} {other} ({takes}{sure})."


LAST_MONTH = "in the last month of levels"
"""When, for a comparison of the levels given in the last thirty days alone."""


def join_words(row: Json, names: Names) -> str:
    """Which takes of another's one should hear, so that both can be compared.

    >>> names = Names("a2", {"a1": "A."}, {"s1": "Trumpet, Band"}, {"e1": "Band"}, {})
    >>> row = {"rater": "a2", "other": "a1", "section": "s1", "ensemble": "e1", "n_takes": 6}
    >>> join_words(row, names)
    'You hear 6 takes of Trumpet, Band that A. has rated.'
    >>> join_words({**row, "rater": "a1", "other": "a2", "section": "", "n_takes": 1}, names)
    'A. hears 1 take of Band that you have rated.'
    """
    rater, other = names.rater(row["rater"]), names.rater(row["other"])
    hears, has = ("hear" if rater == "you" else "hears"), ("have" if other == "you" else "has")
    group = ""
    if row["section"]:
        group = f" of {names.section(row['section'])}"
    elif row["ensemble"]:
        group = f" of {names.ensemble(row['ensemble'])}"
    takes = f"{row['n_takes']} take{'' if row['n_takes'] == 1 else 's'}"
    return f"{begun(rater)} {hears} {takes}{group} that {other} {has} rated."


def from_the_reader(row: Json, names: Names) -> Json:
    """The same contrast seen from the reader's side."""
    if row["other"] != names.me or row["stricter_by"] is None:
        return row
    return {
        **row,
        "rater": row["other"],
        "other": row["rater"],
        "stricter_by": -row["stricter_by"],
        "low": -row["high"],
        "high": -row["low"],
    }


def figures_of(points: float | None, low: float | None, high: float | None) -> tuple[str, ...]:
    """The exact figures as a line, none where there are none."""
    if points is None or low is None or high is None:
        return ()
    return (f"{interval_figures(points, low, high)}.",)


def _likely(row: Json) -> str:
    """The interval of a statement in words."""
    return _likely_of(row["low"], row["high"])


def _likely_of(low: float, high: float) -> str:
    """An interval in words."""
    return likely_words(low, high)


def _size(row: Json) -> str:
    """The size of a difference of averages."""
    return about_words(row["averages_say"])


REMARK_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "no_ratings": "",
        "one_level": "Every level given is the same, so nothing can be told apart.",
        "one_rater": (
            "One person rates: if your own standard moves over the year, it looks like growth of "
            "the group. Takes you hear again tell whether it moves."
        ),
        "no_scale": "The levels are too few to say more.",
        "torn": "",
        "no_day": "",
        "instrument_changed": "Somebody changed the instrument; their lines are not joined.",
        "unsettled": "The levels fit together badly this time: read everything here as rough.",
    }
)
"""Remarks on the whole study that a director can use; empty where there is nothing to do."""


def group_growth_words(row: Json, names: Names) -> str:
    """How a whole group grew, seen on the passages it played again."""
    name = names.ensemble(row["key"])
    seen = f"Seen on what came back: {_passages(row['anchors'], names)}."
    if crosses_zero(row["low"], row["high"]):
        return f"{name}: no clear growth of the group; what moved could be chance. {seen}"
    way = "grew" if row["points_a_year"] > 0 else "fell back"
    return (
        f"{name}: the group {way} by {about_words(row['points_a_year'])} a year "
        f"({_likely_of(row['low'], row['high'])}). {seen}"
    )


MOST_PASSAGES = 3
"""Passages named in a sentence; the rest are counted (our choice)."""


def _passages(tasks: Sequence[str], names: Names) -> str:
    """The passages that carry a group's growth, by name."""
    named = [names.task(task).title for task in tasks[:MOST_PASSAGES]]
    more = len(tasks) - len(named)
    return "; ".join([*named, f"{more} more"] if more else named)
