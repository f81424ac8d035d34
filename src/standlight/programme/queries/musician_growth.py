"""Growth of one musician, for their directors and for themself; and the small marks of a group."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import Prefetch
from django.utils import timezone

from standlight.programme.models import Account, Ensemble, GivenLevel, Musician, Turn
from standlight.programme.queries.growth_lines import (
    Calendar,
    changed_instrument,
    director_findings,
    growth_mark,
    musician_findings,
)
from standlight.programme.queries.growth_words import OWN_VIEW_TRENDS, OWN_VIEWS, own_view_words
from standlight.programme.queries.my_part import musician_of
from standlight.programme.queries.rater_names import Names, names_for
from standlight.programme.queries.raters_values import GrowthFinding, GrowthGroup, GrowthPart
from standlight.programme.queries.roster import MusiciansPage
from standlight.programme.queries.studies import GrowthSeen, growth_in, growth_of
from standlight.programme.queries.study_days import as_of_words

Json = dict[str, Any]

DIRECTOR_NONE = (
    "No growth yet. It is worked out from the levels you give at the Desk, a few minutes after "
    "they were given."
)
MUSICIAN_NONE = "There is nothing here yet. It fills as your director hears your takes."
DIRECTOR_CHANGES = "The instrument changed: growth is not shown across the change."
MUSICIAN_CHANGES = "You changed your part or instrument. A new line starts there."


@dataclass(frozen=True, slots=True)
class OwnView:
    """How often a musician rated themself, and how often kinder or stricter than the director."""

    n: int = 0
    kinder: int = 0
    stricter: int = 0

    def with_one(self, difference: float) -> OwnView:
        """One more, own level minus the director's."""
        return OwnView(
            self.n + 1, self.kinder + (difference > 0), self.stricter + (difference < 0)
        )


def growth_part(account: Account, musician: Musician) -> GrowthPart:
    """Growth of ``musician`` in every ensemble that the director ``account`` sees."""
    seen = [one for one in growth_of(account, musician) if one.lines and one.first_day]
    if not seen:
        return GrowthPart("", DIRECTOR_NONE, ())
    names = names_for(account)
    return GrowthPart(
        as_of_words(seen[0].made_at, seen[0].changed_since),
        "",
        tuple(
            _group(one, names, director_findings, DIRECTOR_CHANGES, _counts(musician, one), False)
            for one in seen
        ),
    )


def my_growth(account: Account) -> GrowthPart:
    """A musician's own growth: what answered takes alone tell, nothing of anybody else."""
    musician = musician_of(account)
    seen = [one for one in growth_of(account, musician) if one.lines and one.first_day]
    if not seen:
        return GrowthPart("", MUSICIAN_NONE, ())
    names = names_for(account)
    return GrowthPart(
        as_of_words(seen[0].made_at, changed_since=False),
        "",
        tuple(
            _group(one, names, musician_findings, MUSICIAN_CHANGES, _counts(musician, one), True)
            for one in seen
        ),
    )


def with_growth(account: Account, page: MusiciansPage) -> MusiciansPage:
    """The Musicians place with a small mark beside every musician of whom growth can be told."""
    as_of = ""
    ensembles = []
    rows = {row.pk: row for row in Ensemble.objects.visible_to(account)}
    for lines in page.ensembles:
        seen = growth_in(account, rows[lines.pk])
        marks = {one.musician_pk: growth_mark(one.lines) for one in seen}
        if any(marks.values()):
            as_of = as_of_words(seen[0].made_at, seen[0].changed_since)
        sections = (
            replace(
                section,
                musicians=tuple(
                    replace(one, mark=marks.get(one.pk)) for one in section.musicians
                ),
            )
            for section in lines.sections
        )
        ensembles.append(replace(lines, sections=tuple(sections)))
    return MusiciansPage(tuple(ensembles), growth_as_of=as_of)


def _group(
    seen: GrowthSeen,
    names: Names,
    findings: Callable[[Any, Calendar], tuple[GrowthFinding, ...]],
    changes: str,
    counts: Mapping[str, OwnView],
    you: bool,
) -> GrowthGroup:
    """One ensemble's part; own views stand beside their criterion."""
    made_on = timezone.localtime(seen.made_at).date()
    found = findings(seen.lines, Calendar(seen.first_day, made_on, names.tasks))
    said = {name: _counted(view, you) for name, view in counts.items()}
    return GrowthGroup(
        seen.ensemble_name,
        tuple(replace(one, own_view=said.get(one.criterion, "")) for one in found),
        changes if changed_instrument(seen.lines) else "",
        _on_the_whole(seen.self_views, you),
    )


def _counted(view: OwnView, you: bool) -> str:
    """The own view of one criterion, counted."""
    return own_view_words(view.n, view.kinder, view.stricter, you=you)


def _on_the_whole(views: Iterable[Json], you: bool) -> str:
    """The own view over all criteria, and how it changes."""
    place = 0 if you else 1
    for view in views:
        if not view["criterion"]:
            trend = view["trend"]
            said = (
                OWN_VIEWS[view["state"]][place],
                OWN_VIEW_TRENDS[trend["state"]][place] if trend else "",
            )
            return " ".join(words for words in said if words)
    return ""


def _counts(musician: Musician, seen: GrowthSeen) -> dict[str, OwnView]:
    """Own levels beside the director's, by criterion. Two queries.

    Only answered takes count, so that nothing is told that the musician has not been shown.
    """
    standing = Prefetch("levels", GivenLevel.objects.filter(retired_at=None), "standing")
    turns = Turn.objects.filter(
        musician=musician, check_row__ensemble=seen.ensemble_pk, answered_at__isnull=False
    ).prefetch_related(standing)
    counts: dict[str, OwnView] = defaultdict(OwnView)
    for turn in turns:
        given = defaultdict(list)
        for level in turn.standing:
            if level.value.isdigit():
                given[level.criterion].append(int(level.value))
        for criterion, own in turn.self_levels.items():
            if criterion in given and str(own).isdigit():
                levels = given[criterion]
                difference = int(own) - sum(levels) / len(levels)
                counts[criterion] = counts[criterion].with_one(difference)
    return dict(counts)

