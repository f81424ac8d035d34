"""One place for all parts: what is there for whom, before anybody is put there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from standlight.errors import StandlightError
from standlight.passages import Look, Survey
from standlight.programme.models import CheckPassage, PlayingCheck
from standlight.programme.queries.checks import CheckPage, MeasureChoice
from standlight.programme.queries.fairness import LINES
from standlight.programme.queries.passage_page import chosen_criteria
from standlight.programme.queries.places import (
    Place,
    best_common,
    exposed_lines,
    letters,
    n_notes,
    plays_enough,
    seen_there,
)
from standlight.programme.queries.seeing import (
    listed,
    others_of,
    points_of,
    seconds_words,
    shows_words,
)

MOST_NAMED = 3
"""Parts named as exposed together; more are counted."""


@dataclass(frozen=True, slots=True)
class PartThere:
    """One part at the place: what it asks and shows, or why it does not play.

    ``here`` is true when it plays these measures already.
    """

    passage_pk: int
    part_name: str
    plays: bool
    points: int | None
    words: str
    flags: tuple[str, ...]
    here: bool


@dataclass(frozen=True, slots=True)
class PlacePage:
    """Places to choose from, and one of them seen across the parts."""

    check_pk: int
    check_title: str
    locked: bool
    measures: tuple[MeasureChoice, ...]
    letters: tuple[Place, ...]
    exposed: tuple[Place, ...]
    common: Place | None
    first: int
    last: int
    printed: str
    seconds: str
    playing: tuple[PartThere, ...]
    resting: tuple[PartThere, ...]
    spread: str
    shown: str


def place_page(
    check: PlayingCheck, page: CheckPage, survey: Survey, span: tuple[int, int] | None
) -> PlacePage:
    """The place ``span`` (0-based, inclusive) seen across the parts in use.

    ``None`` is the common place that most can play. Raises `StandlightError` for measures
    the piece does not have.
    """
    rows = {row.part.index: row for row in check.passages.select_related("part") if row.part}
    pks = {line.pk for line in (*page.passages, *page.resting)}
    used = {index: row for index, row in rows.items() if row.pk in pks}
    common = best_common(survey, used)
    opening = (0, min(survey.length, len(page.measures)) - 1)
    first, last = span or ((common.first, common.last) if common else opening)
    try:
        seen = seen_there(survey, first, last, chosen_criteria(check), used)
    except ValueError:
        raise StandlightError(
            "these are no measures of the piece in order", slip="first and last swapped?"
        ) from None
    there = [_there(used[one.part], one) for one in seen]
    looks = [one for one in seen if plays_enough(one)]
    return PlacePage(
        check_pk=check.pk,
        check_title=check.title,
        locked=page.anything_sent,
        measures=page.measures,
        letters=letters(survey, survey.length),
        exposed=_exposed(survey, used),
        common=common,
        first=first,
        last=last,
        printed=survey.setting.printed_range(first, last),
        seconds=seconds_words(seen[0].seconds) if seen else "",
        playing=tuple(one for one in there if one.plays),
        resting=tuple(one for one in there if not one.plays),
        spread=_spread([one for one in looks if survey.profiles[one.part].group == LINES]),
        shown=_shown(check, looks),
    )


def _there(row: CheckPassage, seen: Look) -> PartThere:
    """One part at the place."""
    count = n_notes(seen)
    plays = plays_enough(seen)
    words = shows_words(seen.shows)
    if not plays:
        words = "rests" if not count else f"only {count} note{'' if count == 1 else 's'}"
    return PartThere(
        row.pk,
        row.part.name,
        plays,
        points_of(seen.demand) if plays else None,
        words,
        seen.flags if plays else (),
        (row.first_measure, row.last_measure) == (seen.first, seen.last),
    )


def _spread(looks: Sequence[Look]) -> str:
    """How far apart the demands are there, in a sentence; empty for fewer than two."""
    demands = others_of([one.demand for one in looks])
    if len(looks) < 2 or demands.low is None:
        return ""
    return f"Demand there is {demands.low} to {demands.high} of 100."


def _shown(check: PlayingCheck, looks: Sequence[Look]) -> str:
    """By how many parts each criterion is really shown there, in a sentence."""
    said = []
    for one in chosen_criteria(check):
        asked = [seen for seen in looks if one.key in seen.shows]
        count = sum(one.key not in seen.missing for seen in asked)
        if asked:
            number = f"{count} of {len(asked)}" if count else "none"
            said.append(f"{one.name.lower()} by {number}")
    return f"Really shown: {', '.join(said)}." if said else ""


def _exposed(survey: Survey, used: dict[int, CheckPassage]) -> tuple[Place, ...]:
    """Exposed lines as places, each with who has it."""
    found = []
    for one in exposed_lines(survey, survey.length, used):
        names = [used[part].part.name for part in one.parts]
        if len(names) > MOST_NAMED:
            names = [*names[:MOST_NAMED], f"{len(names) - MOST_NAMED} more"]
        share = round(100 * one.others_share)
        words = f"{listed(names)}: the others sound {share} % of the time."
        found.append(Place(one.first, one.last, one.printed, words))
    return tuple(found)
