"""Which takes a second person should hear, when there are only so many minutes."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from standlight.programme.models import Account, Ensemble, GivenLevel, Turn
from standlight.programme.queries.desk_queue import seconds_a_take
from standlight.programme.queries.given_ratings import GUEST_RATER, RATER, TAKE, given_levels
from standlight.programme.queries.level_amounts import about_words
from standlight.programme.queries.rater_names import Names, names_for
from standlight.programme.queries.raters_values import TwiceList, TwicePage, TwicePick
from standlight.ratings.double_rating import (
    DOUBLES_BECAUSE,
    DoublePlan,
    Pick,
    worth_hearing_twice,
)

USUAL_MINUTES, MOST_MINUTES = 20, 240
"""Minutes the page begins with (one evening's patience: our choice) and takes at most."""

NORMAL_95 = 1.96
"""Standard errors to each side that hold a normal truth 95 times of 100."""


_plan = lru_cache(maxsize=4)(worth_hearing_twice)
"""The same levels and minutes give the same plan, which takes seconds to find for a large year."""


def second_rater_exists(account: Account) -> bool:
    """True when more than one person's levels stand in the programme. One query."""
    raters = GivenLevel.objects.filter(
        turn__check_row__ensemble__programme=account.programme_id, retired_at__isnull=True
    )
    return len(raters.order_by().values_list("rater", flat=True).distinct()[:2]) > 1


def twice_page(account: Account, minutes: int | None) -> TwicePage | None:
    """The takes for ``minutes`` (20 when not said); ``None`` where only one person rates.

    A director sees takes of the ensembles they direct, the lead those of the programme.
    """
    if not second_rater_exists(account):
        return None
    chosen = min(max(minutes or USUAL_MINUTES, 1), MOST_MINUTES)
    ensembles = None
    if not account.is_lead:
        ensembles = list(Ensemble.objects.visible_to(account).values_list("pk", flat=True))
    levels = given_levels(account.programme_id, ensembles)
    # A guest has no Desk to hear more at.
    given = tuple(row for row in levels.given if row.rater[0] != GUEST_RATER)
    plan = _plan(given, chosen, seconds_a_take(account) / 60)
    lists = _lists(account, plan.picks, names_for(account))
    return TwicePage(chosen, lists, _said(plan))


def _lists(account: Account, picks: Iterable[Pick], names: Names) -> tuple[TwiceList, ...]:
    """The takes by who should hear them, the reader's own first."""
    by_person: dict[str, list[int]] = {}
    for pick in picks:
        by_person.setdefault(pick.second_rater, []).append(int(pick.take.removeprefix(TAKE)))
    turns = {
        turn.pk: turn
        for turn in Turn.objects.visible_to(account)
        .filter(pk__in=[number for numbers in by_person.values() for number in numbers])
        .select_related("musician", "check_row__ensemble")
    }
    found = []
    for person in sorted(by_person, key=lambda key: (key != names.me, key)):
        opened = _opened(person, by_person[person])
        here = [turns[number] for number in by_person[person] if number in turns]
        if here:
            found.append(
                TwiceList(
                    names.rater(person),
                    person == names.me,
                    tuple(_pick(turn, turn.pk in opened) for turn in here),
                )
            )
    return tuple(found)


def _opened(person: str, numbers: Iterable[int]) -> set[int]:
    """The turns that the Desk opens for a person."""
    account = Account.objects.filter(pk=int(person.removeprefix(RATER))).first()
    seen = Turn.objects.visible_to(account).filter(pk__in=list(numbers))
    return set(seen.order_by().values_list("pk", flat=True))


def _pick(turn: Turn, opens: bool) -> TwicePick:
    """One take by name."""
    check = turn.check_row
    return TwicePick(
        turn.musician.name, check.title, check.ensemble.name, check.pk, turn.pk, opens
    )


def _said(plan: DoublePlan) -> str:
    """What the double ratings would bring, or why there are none."""
    if not plan.picks:
        return DOUBLES_BECAUSE[plan.because]
    if plan.error_after is None:
        return "Even after these takes your levels could not all be compared; they are a start."
    after = about_words(NORMAL_95 * plan.error_after)
    if plan.error_before is None:
        return (
            "Now your levels cannot be compared at all. After these takes the differences between "
            f"you would be known to within {after}."
        )
    before = about_words(NORMAL_95 * plan.error_before)
    if before == after:
        return (
            f"How you differ is known to within {before} already. More takes heard twice "
            "would change little."
        )
    return f"How you differ is known to within {before}; after these takes to within {after}."
