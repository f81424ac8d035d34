"""Lines of the comment bank that the Desk offers for one turn, filled in, the most fitting first.

The criterion with the lowest level comes first for what to do next, the one with the highest for
what is strong; lines for just that level before those for any. Nothing is ever sent by itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from standlight.criteria import CRITERIA
from standlight.programme.fill_ins import Facts, fill_in, own_translation
from standlight.programme.models import (
    CheckPassage,
    CommentLine,
    LineTranslation,
    PlayingCheck,
    Seat,
    Turn,
)
from standlight.programme.queries.checks import beat_of
from standlight.programme.queries.desk_values import Offer
from standlight.programme.queries.passages import where_printed
from standlight.ratings import LEVEL_NAMES

MOST_OFFERS = 8
"""Lines offered for one place; more are found faster by writing (our choice)."""

KEYS = {
    CommentLine.NEXT_STEP: "abc",
    CommentLine.STRATEGY: "t",
    CommentLine.STRENGTH: "s",
}
"""The keys that take the first lines of each place."""

NO_PASSAGE = "your passage"
"""What stands for the measures where no passage is set."""


def numbered(check: PlayingCheck, given: Mapping[str, str]) -> list[tuple[str, int]]:
    """Criteria with a level, in the check's order."""
    return [(key, int(given[key])) for key in check.criteria if given.get(key, "").isdigit()]


def offered_for(check: PlayingCheck, given: Mapping[str, str]) -> str:
    """What the first next step is about: the lowest level given, in words."""
    levels = numbered(check, given)
    return _about(*min(levels, key=lambda row: row[1])) if levels else ""


def offers_for(
    check: PlayingCheck, given: Mapping[str, str], facts: Facts
) -> dict[str, tuple[Offer, ...]]:
    """Lines by place for the levels ``given``; nothing when no criterion has a level. One query."""
    levels = numbered(check, given)
    if not levels:
        return {}
    rows = list(
        CommentLine.objects.filter(
            programme=check.ensemble.programme_id, criterion__in=[key for key, _ in levels]
        ).order_by("pk")
    )
    weak_first = sorted(levels, key=lambda row: row[1])
    # Of equal levels the check's own order stands both ways.
    strong_first = sorted(levels, key=lambda row: -row[1])
    offers = {}
    for place, keys in KEYS.items():
        order = strong_first if place == CommentLine.STRENGTH else weak_first
        found = [
            (line, _about(criterion, level))
            for criterion, level in order
            for line in fitting(rows, place, criterion, level)
        ]
        offers[place] = tuple(
            _offer(line, about, keys[n] if n < len(keys) else "", facts)
            for n, (line, about) in enumerate(found[:MOST_OFFERS])
        )
    return offers


def fitting(
    rows: Sequence[CommentLine], place: str, criterion: str, level: int
) -> list[CommentLine]:
    """The lines of one place and criterion for ``level``: those for just that level first."""
    found = [
        line
        for line in rows
        if line.place == place and line.criterion == criterion and line.level in (level, None)
    ]
    return sorted(found, key=lambda line: line.level is None)


def facts_of(turn: Turn, passage: CheckPassage | None, seat: Seat | None) -> Facts:
    """What fills the braces of a line for this turn."""
    return Facts(
        name=turn.musician.given_name,
        part=_part(passage, seat),
        measures=where_printed(passage) or NO_PASSAGE,
        tempo=beat_of(turn.check_row.piece).tempo_words(turn.check_row.tempo_qpm),
    )


def bare_facts(facts: Facts, turn: Turn, passage: CheckPassage | None, measures: str) -> Facts:
    """The same in numbers alone, for words in another language; ``measures`` as "33-40"."""
    beat = beat_of(turn.check_row.piece)
    return Facts(
        name=facts.name,
        part=facts.part,
        measures=measures or (passage.printed.replace(" to ", "-") if passage else ""),
        tempo=f"{round(turn.check_row.tempo_qpm / beat.quarters, 1):g}",
    )


def translated(
    turn: Turn, words: Mapping[str, str], facts: Mapping[str, tuple[Facts, Facts]]
) -> dict[str, str]:
    """The bank's own translations of ``words`` (by place) in the musician's first language.

    ``facts`` are by place those in words and in numbers alone. Empty where no first language is
    noted, or no line stands unchanged.
    """
    language = turn.musician.first_language
    if not language:
        return {}
    rows = LineTranslation.objects.filter(
        language=language, line__programme=turn.check_row.ensemble.programme_id
    ).values_list("line__place", "line__text", "text")
    lines: dict[str, list[tuple[str, str]]] = {}
    for place, text, translation in rows:
        lines.setdefault(place, []).append((text, translation))
    found = {
        place: own_translation(said, lines.get(place, ()), *facts[place])
        for place, said in words.items()
        if said
    }
    return {place: text for place, text in found.items() if text}


def _offer(line: CommentLine, about: str, key: str, facts: Facts) -> Offer:
    """A line filled in; where measures can still be chosen, its template stands beside."""
    text = fill_in(line.text, facts)
    template = fill_in(line.text, facts.without("measures"))
    return Offer(line.pk, line.place, text, key, about, template if template != text else "")


def _part(passage: CheckPassage | None, seat: Seat | None) -> str:
    if passage is not None and passage.part is not None:
        return passage.part.name
    return seat.section.name if seat is not None else "your part"


def _about(criterion: str, level: int) -> str:
    return f"{CRITERIA[criterion].name}, {LEVEL_NAMES[level].lower()}"
