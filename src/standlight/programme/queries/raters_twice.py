"""Which takes a second person should hear, when there are only so many minutes."""

from __future__ import annotations

from collections.abc import Iterable

from standlight.programme.models import Account, Ensemble, GivenLevel, Turn
from standlight.programme.queries.desk_queue import seconds_a_take
from standlight.programme.queries.given_ratings import TAKE, given_levels
from standlight.programme.queries.level_amounts import about_words
from standlight.programme.queries.rater_names import Names, names_for
from standlight.programme.queries.raters_values import TwicePage, TwicePick
from standlight.ratings.double_rating import (
    DOUBLES_BECAUSE,
    DoublePlan,
    Pick,
    worth_hearing_twice,
)

USUAL_MINUTES, MOST_MINUTES = 20, 240
"""Minutes the page begins with (one evening's patience: our choice) and takes at most."""


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
    plan = worth_hearing_twice(levels.given, chosen, seconds_a_take(account) / 60)
    names = names_for(account)
    return TwicePage(
        minutes=chosen,
        picks=tuple(_picks(account, plan.picks, names)),
        said=_said(plan),
    )


def _picks(account: Account, picks: Iterable[Pick], names: Names) -> Iterable[TwicePick]:
    """The takes by name, as far as the reader sees them."""
    picks = list(picks)
    numbers = [int(pick.take.removeprefix(TAKE)) for pick in picks]
    turns = {
        turn.pk: turn
        for turn in Turn.objects.visible_to(account)
        .filter(pk__in=numbers)
        .select_related("musician", "check_row")
    }
    for number, pick in zip(numbers, picks, strict=True):
        turn = turns.get(number)
        if turn is not None:
            yield TwicePick(
                musician=turn.musician.name,
                check=turn.check_row.title,
                first=names.rater(pick.first_rater),
                second=names.rater(pick.second_rater),
                check_pk=turn.check_row_id,
                turn_pk=turn.pk,
                yours=pick.second_rater == names.me,
            )


def _said(plan: DoublePlan) -> str:
    """What the double ratings would bring, or why there are none."""
    if not plan.picks:
        return DOUBLES_BECAUSE[plan.because]
    if plan.error_after is None:
        return "Even after these takes your levels could not all be compared; they are a start."
    after = about_words(1.96 * plan.error_after)
    if plan.error_before is None:
        return (
            "Now your levels cannot be compared at all. After these takes the differences between "
            f"you would be known to within {after}."
        )
    return (
        "Now the differences between you are known to within "
        f"{about_words(1.96 * plan.error_before)}; after these takes to within {after}."
    )
