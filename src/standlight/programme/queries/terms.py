"""The terms a check is recorded on, in words and as what is open now."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from django.utils import timezone

from standlight.programme.dates import date_words
from standlight.programme.models import CheckTerms, PlayingCheck

GRACE = datetime.timedelta(minutes=10)
"""What begins before the window closes may end after it: as long as a take can be (the recorder
stops after nine and a half minutes)."""


OWN_START = (
    "Each of you starts at a measure of your own and goes on to the end. Your page tells you "
    "which one."
)
"""What the class is told of own starts; on a musician's page their own start stands instead."""


@dataclass(frozen=True, slots=True)
class TermsPage:
    """The terms for a page: sentences, and why nothing can be recorded here now (empty: it can)."""

    sentences: tuple[str, ...] = ()
    closed: str = ""
    one_take: bool = False
    start_at: str = ""


def terms_of(check: PlayingCheck | int) -> CheckTerms:
    """The check's terms; a row that is not stored stands for none. One query."""
    check_pk = check if isinstance(check, int) else check.pk
    found = CheckTerms.objects.filter(check_row=check_pk).first()
    return found or CheckTerms(check_row_id=check_pk)


def terms_sentences(terms: CheckTerms) -> tuple[str, ...]:
    """What the class is told, one sentence a term."""
    said = [
        (terms.one_take, "You make one take. Practise first; what you record is what counts."),
        (terms.at_station, "You record at the station at school, or are heard live."),
        (terms.own_start, OWN_START),
        (bool(terms.opens_at or terms.closes_at), _window_words(terms)),
    ]
    return tuple(sentence for there, sentence in said if there)


def terms_page(
    check: PlayingCheck,
    *,
    at_station: bool,
    start_at: str = "",
    now: datetime.datetime | None = None,
) -> TermsPage:
    """The terms as a musician's page shows them."""
    terms = terms_of(check)
    said = terms_sentences(terms)
    if terms.own_start:
        # Their own start stands in the place of the sentence that tells the class of it.
        own = f"Start at measure {start_at}." if start_at else "You start at the first measure."
        said = tuple(own if one == OWN_START else one for one in said)
    return TermsPage(
        said,
        closed_words(terms, at_station=at_station, at=now or timezone.now()),
        terms.one_take,
        start_at,
    )


def closed_words(
    terms: CheckTerms, *, at_station: bool, at: datetime.datetime, grace: bool = False
) -> str:
    """Why a take may not begin at that time and place, as a sentence; empty when it may."""
    if terms.at_station and not at_station:
        return "This check is recorded at the station at school, or heard live."
    if terms.opens_at is not None and at < terms.opens_at:
        return f"This check can be recorded from {date_words(terms.opens_at, 'clock')}."
    end = terms.closes_at
    if end is not None and at > (end + GRACE if grace else end):
        return (
            f"This check could be recorded until {date_words(end, 'clock')}. "
            "Ask your director if you need more time."
        )
    return ""


def _window_words(terms: CheckTerms) -> str:
    """The window in one sentence."""
    start = f"from {date_words(terms.opens_at, 'clock')}" if terms.opens_at else ""
    end = f"until {date_words(terms.closes_at, 'clock')}" if terms.closes_at else ""
    return f"You can record {' '.join(filter(None, (start, end)))}."
