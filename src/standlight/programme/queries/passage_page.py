"""A check's passages as a director reads them: one line a part, and one part opened."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString

from standlight.criteria import CRITERIA, Criterion
from standlight.errors import StandlightError
from standlight.passages import Survey, look
from standlight.programme.models import CheckPassage, PlayingCheck
from standlight.programme.notation import WIDE_MM, drawn
from standlight.programme.queries.bounds import Bounds, bounds_of
from standlight.programme.queries.checks import (
    CheckPage,
    MeasureChoice,
    PassageLine,
    passage_line,
)
from standlight.programme.queries.fairness import (
    LINES,
    Fairness,
    PartDemand,
    fairness_of,
)
from standlight.programme.queries.seeing import (
    LONGEST_S,
    SHORTEST_S,
    Others,
    Seen,
    missing_words,
    others_of,
    points_of,
    seconds_words,
    seen_of,
    shows_words,
)
from standlight.programme.surveys import survey_of
from standlight.programme.tables import tables_of
from standlight.score import INSTRUMENTS


@dataclass(frozen=True, slots=True)
class OtherPlace:
    """Measures that a part could play instead, in words."""

    first: int
    last: int
    printed: str
    words: str
    reason: str


@dataclass(frozen=True, slots=True)
class PartRow:
    """One part of a check on one line.

    ``where`` is what it plays, empty for nothing; ``points`` its demand; ``notes`` are short
    words on what is unusual; ``others`` other places, the best first.
    """

    pk: int
    part_name: str
    who: str
    where: str
    points: int | None
    why: str
    notes: tuple[str, ...]
    others: tuple[OtherPlace, ...]


@dataclass(frozen=True, slots=True)
class PassagesPage:
    """Every part of a check: those that play something, those that have none yet.

    ``other_criteria`` are names that the passages were found for and that are no longer
    chosen, or the other way round. ``n_nearest`` of the parts without have a nearest place.
    ``n_chosen`` are the places that the director chose by hand, 0 when all are.
    """

    fairness: Fairness
    rows: tuple[PartRow, ...]
    without: tuple[PartRow, ...]
    n_nearest: int
    n_chosen: int
    other_criteria: bool


@dataclass(frozen=True, slots=True)
class PartPage:
    """One part of a check, opened.

    ``seen`` are the measures looked at now (the passage, or others on trial), with
    ``bounds`` around them; both ``None`` where the score cannot be read. ``svg`` is the
    passage's music, ``None`` while it is not drawn. ``drawn_here`` is false for a piece
    without an engraving.
    """

    pk: int
    check_pk: int
    check_title: str
    part_name: str
    who: str
    names: tuple[str, ...]
    where: str
    reason: str
    moved: bool
    locked: bool
    music: bool
    drawn_here: bool
    svg: SafeString | None
    others: tuple[OtherPlace, ...]
    measures: tuple[MeasureChoice, ...]
    seen: Seen | None
    bounds: Bounds | None
    is_passage: bool


def passages_page(check: PlayingCheck, page: CheckPage) -> PassagesPage:
    """The passages of ``page``, with how fair they are. One survey, five queries at most."""
    survey = survey_or_none(check)
    lines = [*page.passages, *page.resting]
    _, tables = tables_of(check.ensemble.programme)
    rows = [(line, _row(line, survey)) for line in sorted(lines, key=lambda one: one.part_index)]
    without = tuple(row for line, row in rows if not line.plays)
    chosen = [line.moved for line in lines]
    return PassagesPage(
        fairness=fairness_of([_demand(line, survey) for line in lines], tables),
        rows=tuple(row for line, row in rows if line.plays),
        without=without,
        n_nearest=sum(bool(row.others) for row in without),
        n_chosen=sum(chosen) if not all(chosen) else 0,
        other_criteria=_found_for_others(check, lines),
    )


def part_page(
    check: PlayingCheck, page: CheckPage, passage: CheckPassage, trial: tuple[int, int] | None
) -> PartPage:
    """One part of a check opened; ``trial`` are measures to look at instead of its own.

    Raises `StandlightError` for measures the piece does not have.
    """
    lines = [*page.passages, *page.resting]
    line = next((one for one in lines if one.pk == passage.pk), None) or _unused(passage)
    survey = survey_or_none(check)
    ends = _ends(line, trial, len(page.measures))
    seen = bounds = None
    if survey is not None:
        seen = seen_at(check, survey, passage, *ends)
        bounds = bounds_of(survey, line.part_index, *ends, [one.label for one in page.measures])
    return PartPage(
        pk=line.pk,
        check_pk=check.pk,
        check_title=check.title,
        part_name=line.part_name,
        who=_who(line),
        names=line.players,
        where=line.where + _in_movement(survey, line.first),
        reason=line.reason,
        moved=line.moved,
        locked=page.anything_sent,
        music=line.music,
        drawn_here=not (check.piece.from_midi and line.first is not None),
        svg=drawn(passage.notation_digest, width_mm=WIDE_MM),
        others=tuple(_other(one, survey) for one in line.others),
        measures=page.measures,
        seen=seen,
        bounds=bounds,
        is_passage=ends == (line.first, line.last),
    )


def seen_at(
    check: PlayingCheck, survey: Survey, passage: CheckPassage, first: int, last: int
) -> Seen:
    """Measures of the passage's part, in words, beside the demands of the others.

    Raises `StandlightError` for measures the piece does not have.
    """
    try:
        found = look(survey, passage.part.index, first, last, chosen_criteria(check))
    except ValueError as slip:
        raise StandlightError(str(slip)) from None
    return seen_of(survey, found, compared_with(check, survey, passage))


def compared_with(check: PlayingCheck, survey: Survey, passage: CheckPassage) -> Others:
    """The demands of the other parts of the same group in the check."""
    group = survey.profiles[passage.part.index].group
    rows = check.passages.exclude(pk=passage.pk).filter(part__isnull=False)
    return others_of(
        [
            demand
            for index, demand in rows.values_list("part__index", "demand")
            if survey.profiles[index].group == group
        ]
    )


def chosen_criteria(check: PlayingCheck) -> tuple[Criterion, ...]:
    """The criteria of a check, in its order."""
    return tuple(CRITERIA[key] for key in check.criteria)


def survey_or_none(check: PlayingCheck) -> Survey | None:
    """The survey of the check's piece; ``None`` on paper only or when its file is lost."""
    if check.piece.on_paper_only:
        return None
    try:
        return survey_of(check)
    except StandlightError:
        return None


def _row(line: PassageLine, survey: Survey | None) -> PartRow:
    """One part on one line."""
    notes = []
    missing = missing_words(line.shows)
    if line.plays and missing:
        notes.append(missing)
    if survey is not None and line.first is not None:
        starts = survey.clock.starts_s
        seconds = float(starts[line.last + 1] - starts[line.first])
        if not SHORTEST_S <= seconds <= LONGEST_S:
            notes.append(seconds_words(seconds))
    return PartRow(
        line.pk,
        line.part_name,
        _who(line),
        line.where + _in_movement(survey, line.first),
        points_of(line.demand),
        line.reason,
        tuple(notes),
        tuple(_other(one, survey) for one in line.others),
    )


def _who(line: PassageLine) -> str:
    """How many play it and in which sections."""
    count = len(line.players)
    return f"{', '.join(line.sections)}: {count} musician{'' if count == 1 else 's'}"


def _demand(line: PassageLine, survey: Survey | None) -> PartDemand:
    """What the strip draws of a part."""
    group = survey.profiles[line.part_index].group if survey is not None else LINES
    return PartDemand(line.part_name, line.demand if line.plays else None, group, line.plays)


def _in_movement(survey: Survey | None, first: int | None) -> str:
    """Which movement a measure is in, to follow its number; empty in a piece of one."""
    if survey is None or first is None or survey.setting.movements[-1] == 0:
        return ""
    return f" of movement {survey.setting.movements[first] + 1}"


def _other(place: Mapping[str, object], survey: Survey | None) -> OtherPlace:
    """A kept alternative in words."""
    points = points_of(place["demand"])
    said = [f"Demand {points}."] if points is not None else []
    said.append(shows_words(place.get("shows", {})))
    return OtherPlace(
        place["first"],
        place["last"],
        f"{place['printed']}{_in_movement(survey, place['first'])}",
        " ".join(filter(None, said)),
        place.get("reason", ""),
    )


def _ends(line: PassageLine, trial: tuple[int, int] | None, count: int) -> tuple[int, int]:
    """The measures to look at: on trial, the passage's, the nearest place's, or the first few."""
    if trial is not None:
        if not 0 <= trial[0] <= trial[1] < count:
            raise StandlightError(
                "these are no measures of the piece in order", slip="first and last swapped?"
            )
        return trial
    if line.first is not None and line.last is not None:
        return line.first, line.last
    if line.others:
        return line.others[0]["first"], line.others[0]["last"]
    return 0, min(8, count) - 1


def _unused(passage: CheckPassage) -> PassageLine:
    """The line of a part that nobody plays today."""
    return passage_line(passage, ())


def _found_for_others(check: PlayingCheck, lines: Sequence[PassageLine]) -> bool:
    """Whether what the passages show was measured for other criteria than are chosen now."""
    shown = {key for line in lines for key in line.shows}
    families = {
        INSTRUMENTS[line.instrument].family for line in lines if line.instrument in INSTRUMENTS
    }
    asked = {
        key for key in check.criteria if any(map(CRITERIA[key].applies_to, families))
    }
    return bool(shown) and not (shown <= set(check.criteria) and asked <= shown)
