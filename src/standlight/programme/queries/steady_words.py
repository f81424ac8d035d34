"""How steady an ear is, in words: takes heard again without knowing, an evening, a year."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any

from standlight.programme.queries.level_amounts import about_words, likely_words
from standlight.programme.queries.rater_words import begun
from standlight.ratings.steadiness import FEWEST_FOR_DRIFT, FEWEST_TAKES, NO_SPREAD, TOO_FEW

Json = dict[str, Any]

NOT_HEARD_AGAIN = (
    "Takes you have rated come back to you now and then at the Desk, among the others and "
    f"without a sign. When {FEWEST_TAKES} have come back, this says how alike you heard them."
)
"""What a rater reads who has no take heard again yet."""

BECAUSE_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "": "",
        TOO_FEW: "too few takes were heard again",
        NO_SPREAD: "the times between the two hearings are too much alike",
    }
)
"""Why nothing is said of a shift or a drift."""


def steady_sentences(row: Json, name: str) -> Iterator[str]:
    """A rater's steadiness, a sentence each; ``name`` is "you" for the reader."""
    you = name == "you"
    yield (
        f"{begun(name)} heard {row['n_takes']} take{'' if row['n_takes'] == 1 else 's'} again "
        f"without knowing: {row['n_same']} of {row['n_levels']} levels came out the same, "
        f"{row['n_within_one']} at most one apart."
    )
    if row["because"]:
        yield f"More cannot be said: {BECAUSE_WORDS[row['because']]}; it takes {FEWEST_TAKES}."
        return
    if row["sure"]:
        word = "stricter" if row["stricter_by"] > 0 else "milder"
        yield (
            f"The second time {'you' if you else 'they'} were "
            f"{about_words(row['stricter_by'])} {word} ({likely_words(row['low'], row['high'])})."
        )
    else:
        yield "Neither stricter nor milder the second time, beyond chance."
    evening = _drift(row["in_session"], "in half an hour")
    year = _drift(row["over_year"], "a month")
    if evening == year:
        yield f"Within an evening and over the year: {year}"
        return
    yield f"Within an evening: {evening}"
    yield f"Over the year: {year}"


def beside_words(row: Json, name: str, other: str) -> str:
    """How a rater moved beside another on takes both heard; empty where nothing can be said.

    >>> drift = {"n_takes": 14, "stricter_by": 0.1, "low": 0.02, "high": 0.2, "sure": True,
    ...          "because": ""}
    >>> beside_words({"over_year": drift}, "you", "A.")
    'Beside A., on 14 takes you both heard: about a tenth of a level stricter a month (likely ...).'
    >>> beside_words({"over_year": {**drift, "sure": False}}, "B.", "A.")
    'B. beside A., on 14 takes both heard: no moving beyond chance.'
    """
    drift = row["over_year"]
    if drift["because"]:
        return ""
    you = name == "you"
    whom = f"Beside {other}" if you else f"{begun(name)} beside {other}"
    heard = f"{drift['n_takes']} takes {'you ' * you}both heard"
    return f"{whom}, on {heard}: {_drift(drift, 'a month')}"


def beside_the_reader(row: Json, me: str) -> Json:
    """The same drift seen from the reader's side."""
    drift = row["over_year"]
    if row["other"] != me or drift["stricter_by"] is None:
        return row
    turned = {
        "stricter_by": -drift["stricter_by"], "low": -drift["high"], "high": -drift["low"]
    }  # fmt: skip
    return {"rater": me, "other": row["rater"], "over_year": {**drift, **turned}}


def _drift(drift: Json, each: str) -> str:
    """One drift, as what follows a colon."""
    if drift["because"]:
        wanted = f"; it takes {FEWEST_FOR_DRIFT}" if drift["because"] == TOO_FEW else ""
        return f"cannot be said yet, {BECAUSE_WORDS[drift['because']]}{wanted}."
    if not drift["sure"]:
        return "no moving beyond chance."
    word = "stricter" if drift["stricter_by"] > 0 else "milder"
    return (
        f"{about_words(drift['stricter_by'])} {word} {each} "
        f"({likely_words(drift['low'], drift['high'])})."
    )
