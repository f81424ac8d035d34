"""Kinds of work are changed and made by the directors of a programme; answers keep theirs.

A change adds an edition. What was given out before goes on with the edition it was given to.
"""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.kinds import KINDS, data_of, kind_of
from standlight.programme.models import Account, Ensemble, KindEdition, Programme
from standlight.programme.queries.kinds import is_outdated, same_body, shipped_body

LONGEST_KEY, LONGEST_NAME = 60, 80


@transaction.atomic
def latest_edition(programme: Programme, key: str) -> KindEdition:
    """The newest row of a kind; the row of a shipped kind is made when it is first needed.

    Raises `StandlightError` for a key that nobody has.
    """
    row = KindEdition.objects.filter(programme=programme, key=key).order_by("-edition").first()
    if row is not None and not is_outdated(row):
        return row
    if key not in KINDS:
        raise StandlightError(f"there is no kind of work {key[:60]!r}")
    edition = 1 if row is None else row.edition + 1
    return KindEdition.objects.create(
        programme=programme,
        key=key,
        edition=edition,
        body={**shipped_body(key), "edition": edition},
        put_away_at=None if row is None else row.put_away_at,
    )


@transaction.atomic
def keep_kind(account: Account, data: Mapping[str, object]) -> KindEdition:
    """Keep a definition as the next edition of its key; the row that stands now.

    Data that say what the latest edition says change nothing. Raises `UnreadableKind` with all
    faults, `NotAllowed` for anybody but a director of an ensemble.
    """
    _may_change(account)
    kind = kind_of(data)
    if len(kind.key) > LONGEST_KEY or len(kind.name) > LONGEST_NAME:
        raise StandlightError(f"the name has more than {LONGEST_NAME} characters")
    body = data_of(kind)
    latest = _latest_or_shipped(account.programme, kind.key)
    if latest is not None and same_body(latest.body, body):
        return latest
    edition = 1 if latest is None else latest.edition + 1
    return KindEdition.objects.create(
        programme=account.programme,
        key=kind.key,
        edition=edition,
        body={**body, "edition": edition},
        made_by=account,
        put_away_at=None if latest is None else latest.put_away_at,
    )


@transaction.atomic
def put_away(account: Account, key: str) -> None:
    """Offer a kind no longer; what was given out stays. A second time changes nothing."""
    _may_change(account)
    row = latest_edition(account.programme, key)
    KindEdition.objects.filter(pk=row.pk, put_away_at__isnull=True).update(
        put_away_at=timezone.now()
    )


@transaction.atomic
def bring_back(account: Account, key: str) -> None:
    """Offer a kind again."""
    _may_change(account)
    row = latest_edition(account.programme, key)
    KindEdition.objects.filter(pk=row.pk).update(put_away_at=None)


def _latest_or_shipped(programme: Programme, key: str) -> KindEdition | None:
    """The newest row, made now for a shipped kind; None for a key that is new."""
    known = key in KINDS or KindEdition.objects.filter(programme=programme, key=key).exists()
    return latest_edition(programme, key) if known else None


def _may_change(account: Account) -> None:
    """Refuse everybody but a director who has an ensemble in the programme."""
    if not (account.is_director and Ensemble.objects.visible_to(account).exists()):
        raise NotAllowed("a director of this programme changes kinds of work")
