"""The terms of a check's recording, as its form fills them in."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.http import QueryDict
from django.utils import timezone

from standlight.errors import StandlightError
from standlight.programme.actions.terms import TermsFacts
from standlight.programme.models import CheckTerms

TICKED = ("one_take", "at_station", "own_start")


def terms_in(cells: QueryDict) -> TermsFacts:
    """What stands in the form; raises `StandlightError` for what is no time."""
    return TermsFacts(
        **{name: bool(cells.get(name)) for name in TICKED},
        opens_at=_moment(cells.get("opens_at", "")),
        closes_at=_moment(cells.get("closes_at", "")),
    )


def terms_cells(terms: CheckTerms) -> Mapping[str, object]:
    """The terms as the form shows them."""
    times = {
        name: f"{timezone.localtime(at):%Y-%m-%dT%H:%M}" if at else ""
        for name, at in (("opens_at", terms.opens_at), ("closes_at", terms.closes_at))
    }
    return {name: getattr(terms, name) for name in TICKED} | times


def _moment(text: str) -> datetime | None:
    """A day and time of the school's clock; ``None`` for an empty field."""
    if not text.strip():
        return None
    try:
        local = datetime.fromisoformat(text.strip())
    except ValueError:
        raise StandlightError(f"{text!r} is no day and time") from None
    return local if local.tzinfo else timezone.make_aware(local)
