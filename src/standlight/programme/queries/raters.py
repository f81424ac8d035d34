"""The Raters place: what the levels say and cannot say, own steadiness, how alike two rate."""

from __future__ import annotations

from typing import Any

from standlight.programme.models import Account
from standlight.programme.queries.raters_twice import second_rater_exists
from standlight.programme.queries.raters_values import RatersPage
from standlight.programme.queries.studies import study_for
from standlight.programme.queries.study_days import NONE_YET, as_of_words

Json = dict[str, Any]


def raters_page(account: Account) -> RatersPage:
    """The page for ``account``: own findings and those that involve them; for the lead all."""
    study = study_for(account)
    if study is None:
        return RatersPage("", "", NONE_YET, (), (), (), "", None, (), 0, account.is_lead)
    return RatersPage(
        as_of=as_of_words(study.made_at, study.changed_since),
        rests_on=f"It rests on {study.n_levels} levels.",
        none_yet="",
        says=(),
        cannot=(),
        steady=(),
        steady_yet="",
        alike=() if second_rater_exists(account) else None,
        joins=(),
        n_tasks=len(study.body.get("tasks") or []),
        leads=account.is_lead,
    )
