"""The terms a check is recorded on: kept, and the own starts that follow from them."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.checks import anything_sent, may_direct
from standlight.programme.actions.shifting import kept_takes_again, starts_follow
from standlight.programme.models import Account, CheckTerms, Musician, PlayingCheck
from standlight.programme.queries.terms import terms_of

SEEDS = 2**31 - 1
"""Seeds to draw from, as many as the column holds."""


@dataclass(frozen=True, slots=True)
class TermsFacts:
    """What a director ticks and fills in; times carry their zone."""

    one_take: bool = False
    at_station: bool = False
    own_start: bool = False
    opens_at: datetime | None = None
    closes_at: datetime | None = None


def checked_terms(facts: TermsFacts, *, together: bool, on_paper: bool) -> TermsFacts:
    """``facts`` as they are; raises `StandlightError` for terms that cannot be kept."""
    if facts.opens_at and facts.closes_at and facts.closes_at <= facts.opens_at:
        raise StandlightError(
            "recording would close before it opens", slip="were the two times swapped?"
        )
    if facts.own_start and together:
        raise StandlightError(
            "who records together starts together", slip="untick the measure of their own"
        )
    if facts.own_start and on_paper:
        raise StandlightError(
            "a start for each musician needs music in the Folder; this piece is on paper only"
        )
    return facts


@transaction.atomic
def keep_terms(account: Account, check: PlayingCheck, facts: TermsFacts) -> CheckTerms:
    """Keep the terms; own starts are drawn, or taken back, for everyone on a part.

    A seed is drawn once and stays, so the same musician always starts at the same measure.
    Raises `NotAllowed` when starts would change after something was sent.
    """
    may_direct(account, check.ensemble_id)
    checked_terms(facts, together=check.together, on_paper=check.piece.on_paper_only)
    terms = terms_of(check)
    starts_change = terms.own_start != facts.own_start
    if starts_change and anything_sent(check):
        raise NotAllowed("musicians have already sent something, so where they start stays")
    for name in TermsFacts.__dataclass_fields__:
        setattr(terms, name, getattr(facts, name))
    if terms.own_start and not terms.seed:
        terms.seed = secrets.randbelow(SEEDS) + 1
    terms.save()
    if starts_change and check.published_at is not None:
        starts_follow(account.pk, check)
        kept_takes_again(list(check.passages.filter(part__isnull=False)))
    return terms


@transaction.atomic
def begin_here(musician: Musician, check: PlayingCheck) -> None:
    """Draw the musician's own start if the check has them and theirs is not drawn yet.

    Those who were given a part after the check was published meet it here. Safe to repeat.
    """
    if terms_of(check).own_start:
        starts_follow(check.made_by_id, check, only=musician.pk)
