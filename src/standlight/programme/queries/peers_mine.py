"""Hearing each other as a musician sees it: the question, the takes to hear, what came of it."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from standlight.criteria import CRITERIA
from standlight.programme.models import (
    Account,
    Musician,
    PeerConsent,
    PeerHearing,
    PeerLine,
    PeerRound,
    PlayingCheck,
    Take,
    Turn,
)
from standlight.programme.queries import peers
from standlight.programme.queries.blind_takes import BlindTake, blind_take
from standlight.programme.queries.desk import printed_range
from standlight.programme.queries.desk_values import MeasureChoice
from standlight.programme.queries.hearing import passage_of
from standlight.programme.queries.musician_words import due_words
from standlight.programme.queries.passages import where_printed
from standlight.programme.queries.peers_heard import counted, peer_levels
from standlight.programme.queries.standing import turns_of
from standlight.ratings.levels import level_name

SHOWN_DAYS = 14
"""How long My part leads to what came of it, in days (our choice); the page itself stays."""

YES, NO = "yes", "no"

STANDING = "You said that others may hear your take"
"""What My part says where nothing is to be done: its page is where a yes is taken back."""

NOTHING_TO_PLAY = "There is nothing to play any more."
OWN_YES_BACK = "You took your yes back, so you hear no takes of others."

STILL_TO_DO = {
    (True, True): "What you have written you can still send, or go back and hear another.",
    (True, False): "What you have written you can still send.",
    (False, True): "Go back and hear another.",
    (False, False): "",
}
"""What a listener can do about a take that is gone: whether they heard it, whether their own yes
stands."""


@dataclass(frozen=True, slots=True)
class HearLine:
    """A line of My part: what is to be done, or what came, for one check."""

    check_pk: int
    title: str
    ensemble: str
    words: str
    fresh: bool


@dataclass(frozen=True, slots=True)
class WordLine:
    """What somebody wrote about the reader's take: where, and the words; never who."""

    heading: str
    words: str


@dataclass(frozen=True, slots=True)
class HearingLine:
    """One take that was handed out; ``sent`` when levels and words are."""

    place: int
    sent: bool
    playable: bool


@dataclass(frozen=True, slots=True)
class HeardRow:
    """One criterion of a take that the reader heard; ``director`` is "" unless it is shown."""

    criterion: str
    mine: str
    group: str
    director: str


@dataclass(frozen=True, slots=True)
class HeardOne:
    """A take that the reader heard, afterwards: how many heard it, criterion by criterion."""

    place: int
    n_heard: int
    rows: tuple[HeardRow, ...]


@dataclass(frozen=True, slots=True)
class MyHearPage:
    """The musician's page of one round. ``answer`` is yes, no or "" before they said anything.

    ``terms`` is the stamp of what they are asked; a yes is kept for these terms alone.
    ``was_heard`` when somebody has heard their take; ``n_left`` how many takes they may still ask
    for; ``all_done`` when they have heard all they are asked to; ``heard`` what came of it, once
    it has ended.
    """

    check_pk: int
    title: str
    piece: str
    where: str
    ensemble: str
    state: str
    until: datetime.date
    criteria: tuple[str, ...]
    takes_each: int
    shows_levels: bool
    terms: str
    has_take: bool
    answer: str
    was_heard: bool
    n_done: int
    n_left: int
    all_done: bool
    begun: bool
    hearings: tuple[HearingLine, ...]
    words: tuple[WordLine, ...]
    heard: tuple[HeardOne, ...]
    safety_contact: str


@dataclass(frozen=True, slots=True)
class MyHearing:
    """One take to hear, with what is said of it so far.

    ``stamp`` is of what stands; ``fixed`` says why nothing can be changed, empty while it can;
    ``gone`` why there is nothing to play, empty while there is; ``unheard`` when it went before
    the listener heard it, so that there is nothing to say either.
    """

    check_pk: int
    place: int
    until: datetime.date
    heard: BlindTake
    measures: tuple[MeasureChoice, ...]
    well: str
    first: str
    last: str
    printed: str
    to_try: str
    stamp: str
    sent: bool
    fixed: str
    gone: str
    unheard: bool
    safety_contact: str


def hear_lines(musician: Musician, today: datetime.date) -> tuple[HearLine, ...]:
    """What My part says of hearing each other; nothing for who has nothing to do or read."""
    since = today - datetime.timedelta(SHOWN_DAYS)
    rows = _rounds(musician).filter(until__gte=since)
    lines = [_hear_line(musician, row, today) for row in rows]
    return tuple(line for line in lines if line is not None)


def my_hear_page(musician: Musician, row: PeerRound) -> MyHearPage:
    """The page of one round for ``musician``."""
    check = row.check_row
    consent = PeerConsent.objects.filter(round=row, musician=musician).first()
    mine = list(row.hearings.filter(listener=musician).order_by("place"))
    takes = peers.takes_in(row)
    live = {take.turn for take in takes}
    state = peers.state_of(row)
    lines = tuple(
        HearingLine(one.place, one.sent_at is not None, one.turn_id in live)
        for one in mine
        if one.sent_at is not None or one.turn_id in live
    )
    begun = any(not line.sent for line in lines)
    n_done = sum(line.sent for line in lines)
    return MyHearPage(
        check_pk=check.pk,
        title=check.title,
        piece=check.piece.title,
        where=where_printed(passage_of(Turn(check_row=check, musician=musician))),
        ensemble=check.ensemble.name,
        state=state,
        until=row.until,
        criteria=tuple(CRITERIA[key].name for key in row.criteria),
        takes_each=row.takes_each,
        shows_levels=row.shows_levels,
        terms=peers.terms_stamp(row),
        has_take=peers.turn_to_offer(musician, check) is not None,
        answer="" if consent is None else YES if consent.said_yes else NO,
        was_heard=_was_heard(row, musician),
        n_done=n_done,
        n_left=_n_left(musician, row, consent, takes, n_done, begun),
        all_done=0 < peers.most_each(row, len(takes)) <= n_done,
        begun=begun,
        hearings=lines,
        words=_words(musician, row),
        heard=_heard(musician, row) if state == peers.CLOSED else (),
        safety_contact=musician.programme.safety_contact,
    )


def my_hearing(hearing: PeerHearing, typed: Mapping[str, str] | None = None) -> MyHearing:
    """One take to hear; ``typed`` is a form that was refused, and stands in the fields then."""
    row, turn = hearing.round, hearing.turn
    given = dict(hearing.levels.filter(retired_at=None).values_list("criterion", "value"))
    fields = _fields(hearing)
    if typed is not None:
        given = {key: typed[f"level-{key}"] for key in row.criteria if typed.get(f"level-{key}")}
        fields = {name: typed.get(name, "") for name in fields}
    measures = passage_measures(turn)
    gone = _gone(hearing)
    return MyHearing(
        check_pk=row.check_row_id,
        place=hearing.place,
        until=row.until,
        heard=blind_take(turn, row.criteria, given),
        measures=measures,
        **fields,
        stamp=stamp_of(hearing),
        sent=hearing.sent_at is not None,
        fixed=_fixed(hearing),
        gone=gone,
        unheard=bool(gone) and hearing.heard_at is None and hearing.sent_at is None,
        safety_contact=hearing.listener.programme.safety_contact,
    )


def stamp_of(hearing: PeerHearing) -> str:
    """One text for what stands of a hearing; "" before anything was sent."""
    return hearing.sent_at.isoformat() if hearing.sent_at is not None else ""


def standing_lines(hearing: PeerHearing) -> dict[str, dict[str, object]]:
    """What is written of a take by place, as its lines are kept."""
    names = ("words", "first_measure", "last_measure", "printed")
    return {
        line.place: {name: getattr(line, name) for name in names} for line in hearing.lines.all()
    }


def passage_measures(turn: Turn) -> tuple[MeasureChoice, ...]:
    """The measures of what a turn plays, to say where; none on paper alone."""
    passage = passage_of(turn)
    if passage is None or passage.first_measure is None or passage.last_measure is None:
        return ()
    return tuple(
        MeasureChoice(row["index"], str(row["printed"]))
        for row in turn.check_row.piece.measures
        if passage.first_measure <= row["index"] <= passage.last_measure
    )


def sound_of(hearing: PeerHearing) -> Take | None:
    """The recording a listener hears: while its owner lets it be heard and its sound is kept.

    Only who lets others hear their own take hears others. Who sent what they heard may hear it
    again to the end of the round.
    """
    live = {take.turn for take in peers.takes_in(hearing.round)}
    if hearing.turn_id not in live or not peers.may_still_send(hearing):
        return None
    if not peers.stands_by_yes(hearing.round, hearing.listener):
        return None
    playable = hearing.turn.takes.filter(chosen=True).exclude(state__in=Take.SOUNDLESS)
    return playable.exclude(state=Take.ARRIVING).first()


def line_heading(line: PeerLine, check: PlayingCheck) -> str:
    """What a line is about, and where: "What went well, measures 33 to 34"."""
    where = line.printed
    if line.first_measure is not None and line.last_measure is not None:
        where = printed_range(check.piece.measures, line.first_measure, line.last_measure)
    return ", ".join(filter(None, (PeerLine.PLACES[line.place], where)))


def _rounds(musician: Musician) -> Iterable[PeerRound]:
    """The rounds of the groups that the musician still sits in, the newest first."""
    rows = PeerRound.objects.filter(
        check_row__published_at__isnull=False,
        check_row__ensemble__sections__seats__in=musician.seats.filter(left_on__isnull=True),
    )
    return rows.distinct().select_related("check_row__piece", "check_row__ensemble")


def _hear_line(musician: Musician, row: PeerRound, today: datetime.date) -> HearLine | None:
    """One round as a line of My part, ``None`` when there is nothing for this musician."""
    check = row.check_row
    unread = PeerLine.objects.filter(
        hearing__round=row, hearing__turn__musician=musician, passed=True, seen_at__isnull=True
    ).exists()
    words = "Somebody who heard your take wrote to you" if unread else _to_do(musician, row, today)
    if not words:
        return None
    return HearLine(check.pk, check.title, check.ensemble.name, words, unread)


def _to_do(musician: Musician, row: PeerRound, today: datetime.date) -> str:
    """What the musician is asked to do, or may look at; "" for nothing."""
    state = peers.state_of(row)
    consent = PeerConsent.objects.filter(round=row, musician=musician).first()
    standing = STANDING if consent is not None and consent.said_yes else ""
    if state == peers.CLOSED:
        heard = row.hearings.filter(listener=musician, sent_at__isnull=False).exists()
        return "See how your group heard it" if heard else standing
    due = due_words(row.until, today)
    if consent is None:
        asked = row.until >= today and peers.turn_to_offer(musician, row.check_row) is not None
        return f"May others hear your take? {due}" if asked else ""
    if state == peers.ASKING or not consent.said_yes:
        return standing
    takes = peers.takes_in(row)
    n_done = peers.n_done(row, musician)
    left = _n_left(musician, row, consent, takes, n_done, begun=False)
    return f"{left} {'take' if left == 1 else 'takes'} to hear. {due}" if left else standing


def _n_left(
    musician: Musician,
    row: PeerRound,
    consent: PeerConsent | None,
    takes: tuple[peers.Offered, ...],
    n_done: int,
    begun: bool,
) -> int:
    """How many takes the musician may still ask for, one that is begun among them."""
    if consent is None or not consent.said_yes or peers.state_of(row) != peers.OPEN:
        return 0
    if not begun and peers.next_for(row, musician) is None:
        # What was handed out and not sent is no next one, but it is still to be heard.
        live = {take.turn for take in takes}
        open_rows = row.hearings.filter(listener=musician, sent_at__isnull=True, turn__in=live)
        return open_rows.count()
    return max(0, peers.most_each(row, len(takes)) - n_done)


def _was_heard(row: PeerRound, musician: Musician) -> bool:
    """True when somebody has heard the musician's take."""
    return row.hearings.filter(turn__musician=musician, heard_at__isnull=False).exists()


def _words(musician: Musician, row: PeerRound) -> tuple[WordLine, ...]:
    """What was passed on to the owner, in an order that tells nothing of who wrote when."""
    lines = PeerLine.objects.filter(
        hearing__round=row, hearing__turn__musician=musician, passed=True
    )
    found = sorted(lines, key=lambda line: (line.place != PeerLine.WELL, line.words))
    return tuple(WordLine(line_heading(line, row.check_row), line.words) for line in found)


def _heard(musician: Musician, row: PeerRound) -> tuple[HeardOne, ...]:
    """How the group heard the takes that the musician heard."""
    mine = list(row.hearings.filter(listener=musician, sent_at__isnull=False).order_by("place"))
    if not mine:
        return ()
    group = peer_levels(row)
    director = {}
    if row.shows_levels:
        turns = turns_of([row.check_row]).values()
        allowed = peers.turns_with_yes(row)
        # Nobody else learns a level before its owner does, or once they want it no more.
        director = {
            one.pk: one.levels
            for found in turns
            for one in found
            if one.answered_at and one.pk in allowed
        }
    counts = {}
    for turn in row.hearings.filter(sent_at__isnull=False).values_list("turn_id", flat=True):
        counts[turn] = counts.get(turn, 0) + 1
    return tuple(
        HeardOne(
            one.place,
            counts[one.turn_id],
            tuple(
                HeardRow(
                    CRITERIA[key].name,
                    _word(given.get(key, "")),
                    counted(group.get(one.turn_id, {}).get(key, ())),
                    _word(director.get(one.turn_id, {}).get(key, "")),
                )
                for key in row.criteria
            ),
        )
        for one in mine
        if (given := _levels(one)) is not None
    )


def _levels(hearing: PeerHearing) -> dict[str, str]:
    """The levels that stand, by criterion."""
    return dict(hearing.levels.filter(retired_at=None).values_list("criterion", "value"))


def _word(value: str) -> str:
    """A level in words, "" for none."""
    return level_name(value) if value else ""


def _fields(hearing: PeerHearing) -> dict[str, str]:
    """What stands of a hearing as the form's fields hold it."""
    lines = standing_lines(hearing)
    well = lines.get(PeerLine.WELL, {})
    to_try = lines.get(PeerLine.TRY, {})
    return {
        "well": str(well.get("words", "")),
        "first": _index(well.get("first_measure")),
        "last": _index(well.get("last_measure")),
        "printed": str(well.get("printed", "")),
        "to_try": str(to_try.get("words", "")),
    }


def _index(value: object) -> str:
    """A measure's index as a form holds it, "" for none."""
    return "" if value is None else str(value)


def _gone(hearing: PeerHearing) -> str:
    """Why there is nothing to play, and what can still be done; "" while there is.

    Whether its owner took it back or the school's time for it is over is the owner's own affair.
    """
    if sound_of(hearing) is not None:
        return ""
    own_yes = peers.stands_by_yes(hearing.round, hearing.listener)
    why = NOTHING_TO_PLAY if own_yes else OWN_YES_BACK
    if hearing.sent_at is not None:
        return f"{why} What you sent is kept."
    if not peers.may_still_send(hearing):
        return why
    what_now = STILL_TO_DO[hearing.heard_at is not None, own_yes]
    return f"{why} {what_now}".strip()


def _fixed(hearing: PeerHearing) -> str:
    """Why what was sent cannot be changed any more; "" while it can."""
    if hearing.lines.filter(decided_at__isnull=False).exists():
        return "Your director has read what you sent, so it stays as it is."
    if not peers.may_still_send(hearing):
        return "Hearing each other has ended for this passage."
    return ""


def musician_of(account: Account) -> Musician:
    """The musician of ``account``, with the programme."""
    return Musician.objects.select_related("programme").get(account=account)
