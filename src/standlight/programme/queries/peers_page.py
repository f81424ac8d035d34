"""Hearing each other as a director sees it: what may be heard, is written, and was heard."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.programme.dates import date_words
from standlight.programme.models import Account, PeerLine, PeerRound, PlayingCheck
from standlight.programme.queries import peers
from standlight.programme.queries.peers_heard import GroupHeard, group_heard
from standlight.programme.queries.peers_mine import line_heading
from standlight.programme.queries.standing import seats_of

USUAL_DAYS = 7
"""A week holds two evenings and a weekend; our choice."""

USUAL_CRITERIA = 2
"""Two things are what one can listen for at once (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class CriterionChoice:
    """A criterion of the check to tick."""

    key: str
    name: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class DirectorLine:
    """One line for the director: to whom, from whom, where, the words, what became of it."""

    pk: int
    owner: str
    writer: str
    heading: str
    words: str
    sent_at: datetime.datetime
    passed: bool
    seen: bool


@dataclass(frozen=True, slots=True)
class PeersPage:
    """The director's page of one check. ``state`` is "" before anybody is asked.

    ``why_not`` says why it cannot be here at all; ``too_few`` why it cannot be opened yet.
    Once somebody has ``answered``, what they were asked stays. ``n_takes`` may be heard now; of
    ``n_hearings`` that were handed out ``n_sent`` came back. No last day is after ``latest``.
    """

    check_pk: int
    title: str
    ensemble: str
    why_not: str
    state: str
    state_words: str
    criteria: tuple[CriterionChoice, ...]
    numbers: tuple[int, ...]
    takes_each: int
    until: datetime.date
    latest: datetime.date
    shows_levels: bool
    answered: bool
    said: peers.Said | None
    n_takes: int
    too_few: str
    hears_fewer: str
    n_hearings: int
    n_sent: int
    waiting: tuple[DirectorLine, ...]
    decided: tuple[DirectorLine, ...]
    heard: GroupHeard | None

    @property
    def oldest(self) -> datetime.datetime | None:
        """Since when the oldest line waits to be read."""
        return min((line.sent_at for line in self.waiting), default=None)


def peers_page(account: Account, check: PlayingCheck) -> PeersPage:
    """The page of ``check`` for ``account``; a handful of queries for each part of it."""
    row = PeerRound.objects.filter(check_row=check).first()
    if row is not None:
        row.check_row = check
    chosen = row.criteria if row is not None else check.criteria[:USUAL_CRITERIA]
    n_takes = len(peers.takes_in(row)) if row is not None else 0
    sent = row.hearings.filter(sent_at__isnull=False).count() if row is not None else 0
    lines = _lines(row) if row is not None else ()
    state = peers.state_of(row) if row is not None else ""
    return PeersPage(
        check_pk=check.pk,
        title=check.title,
        ensemble=check.ensemble.name,
        why_not=why_not(check),
        state=state,
        state_words=state_words(row),
        criteria=tuple(
            CriterionChoice(key, CRITERIA[key].name, key in chosen)
            for key in check.criteria
            if key in CRITERIA
        ),
        numbers=tuple(range(PeerRound.FEWEST, PeerRound.MOST + 1)),
        takes_each=row.takes_each if row is not None else PeerRound.USUAL,
        until=row.until if row is not None else _usual_day(),
        latest=timezone.localdate() + peers.LONGEST_AHEAD,
        shows_levels=row is not None and row.shows_levels,
        answered=row is not None and row.consents.exists(),
        said=peers.said_in(row) if row is not None else None,
        n_takes=n_takes,
        too_few=_too_few(n_takes) if state in (peers.ASKING, peers.OPEN) else "",
        hears_fewer=_hears_fewer(row, n_takes),
        n_hearings=row.hearings.count() if row is not None else 0,
        n_sent=sent,
        waiting=tuple(line for line, decided in lines if not decided),
        decided=tuple(line for line, decided in lines if decided),
        heard=group_heard(account, row) if row is not None and sent else None,
    )


def why_not(check: PlayingCheck) -> str:
    """Why musicians cannot hear each other's takes of a check at all; "" where they can."""
    if check.published_at is None:
        return "This check is a draft. Publish it first; musicians can hear what was sent."
    if check.together:
        return (
            "This check is recorded together, in a small group. One musician cannot say yes for "
            "the others, so their takes are not handed round."
        )
    return ""


def state_words(row: PeerRound | None) -> str:
    """Where a round stands, in a sentence."""
    if row is None:
        return ""
    day = date_words(row.until, "weekday")
    words = {
        peers.ASKING: f"Musicians are being asked. Last day: {day}.",
        peers.OPEN: f"Open until {day}, 23:59.",
        peers.CLOSED: f"Ended {date_words(min(peers.ended_at(row), timezone.now()))}.",
    }
    return words[peers.state_of(row)]


def _usual_day() -> datetime.date:
    return timezone.localdate() + datetime.timedelta(USUAL_DAYS)


def _too_few(n_takes: int) -> str:
    """Why so few takes cannot go round; "" when they are enough."""
    if n_takes >= peers.FEWEST_TAKES:
        return ""
    takes = "1 take" if n_takes == 1 else f"{n_takes or 'no'} takes"
    return (
        f"For now {takes} may be heard. It needs {peers.FEWEST_TAKES}: with fewer everybody would "
        "know whose take it is."
    )


def _hears_fewer(row: PeerRound | None, n_takes: int) -> str:
    """That each hears fewer takes than asked for, where there are not so many."""
    if row is None or n_takes < peers.FEWEST_TAKES or n_takes > row.takes_each:
        return ""
    return f"Each hears {n_takes - 1}, not {row.takes_each}: there are no more takes of others."


def _lines(row: PeerRound) -> tuple[tuple[DirectorLine, bool], ...]:
    """Every line in the order of the roster of those it is for, with whether it is decided."""
    places = {
        seat.musician_pk: place for place, seat in enumerate(seats_of(row.check_row.ensemble))
    }
    rows = PeerLine.objects.filter(hearing__round=row).select_related(
        "hearing__turn__musician", "hearing__listener"
    )
    found = sorted(rows, key=lambda one: places.get(one.hearing.turn.musician_id, len(places)))
    return tuple(
        (
            DirectorLine(
                one.pk,
                one.hearing.turn.musician.name,
                one.hearing.listener.name,
                line_heading(one, row.check_row),
                one.words,
                one.hearing.sent_at or one.hearing.handed_at,
                one.passed,
                one.seen_at is not None,
            ),
            one.decided_at is not None,
        )
        for one in found
    )
