"""Hearing each other: a director asks, opens and passes words on; a musician says yes and listens.

Nobody's name goes from one musician to another, and nothing here asks for a study of levels: what
musicians give is compared with a director's own levels on the round's page alone.
"""

from __future__ import annotations

import datetime
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.answers import measures_of, one_line
from standlight.programme.actions.checks import may_direct
from standlight.programme.models import (
    Account,
    Musician,
    PeerConsent,
    PeerHearing,
    PeerLevel,
    PeerLine,
    PeerRound,
    PlayingCheck,
)
from standlight.programme.queries import peers
from standlight.programme.queries.peers_mine import (
    passage_measures,
    sound_of,
    stamp_of,
    standing_lines,
)
from standlight.ratings.levels import level_name

LONGEST_PLACE = 60
"""Letters of a place on a printed part, such as "the second line, from the key change"."""


@dataclass(frozen=True, slots=True)
class RoundTerms:
    """What a director asks: which criteria, how many takes each, the last day, levels shown."""

    criteria: Sequence[str]
    takes_each: int
    until: datetime.date
    shows_levels: bool = False


@dataclass(frozen=True, slots=True)
class PeerSaid:
    """What a listener says of a take: levels, what went well and where, one thing to try.

    Measures are 0-based indexes in the piece; on paper alone ``printed`` says where.
    """

    levels: Mapping[str, str] = field(default_factory=dict)
    well: str = ""
    first_measure: int | None = None
    last_measure: int | None = None
    printed: str = ""
    to_try: str = ""


class SentMeanwhile(StandlightError):
    """Another window sent words on this take in between; ``stamp`` is that of what stands now."""

    def __init__(self, words: str, stamp: str) -> None:
        """Keep the stamp; the sentence says what stands there and that nothing is lost."""
        super().__init__(
            f"You sent this in another window meanwhile: “{words}” What you see here is not kept "
            "yet. Send it once more to put it in the place of the other"
        )
        self.stamp = stamp


# --- the director --------------------------------------------------------------------------------


@transaction.atomic
def ask_group(account: Account, check: PlayingCheck, terms: RoundTerms) -> PeerRound:
    """Ask the musicians of a check who lets others hear their take, or change what was asked.

    Once somebody has answered only the last day and the hiding of levels may change. Raises
    ``StandlightError`` for wrong terms, ``NotAllowed`` for a check that is not published or is
    recorded together, and for a change of what musicians have answered to.
    """
    may_direct(account, check.ensemble_id)
    if check.published_at is None:
        raise NotAllowed("this check is not published yet", slip="publish it first")
    if check.together:
        raise NotAllowed(
            "this check is recorded together: one musician cannot say yes for the others"
        )
    held = PeerRound.objects.select_for_update().filter(check_row=check).first()
    criteria = [key for key in check.criteria if key in terms.criteria]
    if not criteria or set(terms.criteria) - set(check.criteria):
        raise StandlightError("choose what they listen for", slip="one or two criteria are enough")
    if not PeerRound.FEWEST <= terms.takes_each <= PeerRound.MOST:
        raise StandlightError(
            f"each hears {PeerRound.FEWEST} to {PeerRound.MOST} takes, not {terms.takes_each}"
        )
    _check_last_day(terms.until)
    if held is None:
        return PeerRound.objects.create(
            check_row=check,
            criteria=criteria,
            takes_each=terms.takes_each,
            until=terms.until,
            shows_levels=terms.shows_levels,
            asked_by=account,
        )
    _keep_promises(held, criteria, terms)
    held.criteria, held.takes_each = criteria, terms.takes_each
    held.until, held.shows_levels = terms.until, terms.shows_levels
    held.save(update_fields=["criteria", "takes_each", "until", "shows_levels"])
    return held


def _check_last_day(until: datetime.date) -> None:
    """Raise ``StandlightError`` for a last day that is over, or so far off that it is a slip."""
    today = timezone.localdate()
    if until < today:
        raise StandlightError("the last day is over already", slip="choose today or a later day")
    if until > today + peers.LONGEST_AHEAD:
        raise StandlightError(
            "the last day is more than a year ahead", slip=f"is the year {until.year} right?"
        )


def _keep_promises(held: PeerRound, criteria: Sequence[str], terms: RoundTerms) -> None:
    """Refuse a change that goes beyond what musicians have said yes to."""
    if not held.consents.exists():
        return
    if terms.shows_levels and not held.shows_levels:
        raise NotAllowed("some have answered already, and they were not told that levels are shown")
    if criteria != held.criteria or terms.takes_each != held.takes_each:
        raise NotAllowed(
            "some have answered already, so what is listened for stays", slip="the day may change"
        )


@transaction.atomic
def open_round(account: Account, row: PeerRound) -> None:
    """Let those who said yes hear each other; twice is harmless.

    Raises ``NotAllowed`` with fewer than three takes, or when the last day is over.
    """
    may_direct(account, row.check_row.ensemble_id)
    row = PeerRound.objects.select_for_update().get(pk=row.pk)
    if row.opened_at is not None:
        return
    if row.until < timezone.localdate():
        raise NotAllowed("the last day is over", slip="choose a later one first")
    n_takes = len(peers.takes_in(row))
    if n_takes < peers.FEWEST_TAKES:
        raise NotAllowed(
            f"{n_takes} {'take' if n_takes == 1 else 'takes'} may be heard, and it needs "
            f"{peers.FEWEST_TAKES}: with fewer everybody would know whose take it is"
        )
    row.opened_at = timezone.now()
    row.save(update_fields=["opened_at"])


@transaction.atomic
def close_round(account: Account, row: PeerRound) -> None:
    """End a round now; what was sent stays. Closing twice changes nothing."""
    may_direct(account, row.check_row.ensemble_id)
    rows = PeerRound.objects.filter(pk=row.pk, opened_at__isnull=False, closed_at__isnull=True)
    rows.update(closed_at=timezone.now())


@transaction.atomic
def open_again(account: Account, row: PeerRound, until: datetime.date) -> None:
    """Go on with a round that has ended, until a new last day.

    Raises ``StandlightError`` for a day that is over or more than a year ahead, ``NotAllowed`` for
    one never opened.
    """
    may_direct(account, row.check_row.ensemble_id)
    _check_last_day(until)
    if not PeerRound.objects.filter(pk=row.pk, opened_at__isnull=False).update(
        until=until, closed_at=None
    ):
        raise NotAllowed("this was never opened")


@transaction.atomic
def drop_round(account: Account, row: PeerRound) -> None:
    """Ask nobody any more, with every answer; one that was opened can only be closed."""
    may_direct(account, row.check_row.ensemble_id)
    if not PeerRound.objects.filter(pk=row.pk, opened_at__isnull=True).exists():
        raise NotAllowed("it was opened, so it can only be closed")
    row.delete()


@transaction.atomic
def decide(
    account: Account,
    row: PeerRound,
    lines: Collection[int],
    *,
    passed: bool,
    undecided: bool = False,
) -> int:
    """Pass lines on to the owners of the takes, or keep them back; how many stand so now.

    What an owner has read cannot be kept back. Lines that are gone meanwhile (their writer sent
    others) are left out, so that nothing goes out unread. With ``undecided`` a page showed the
    lines as waiting: what somebody decided otherwise meanwhile stays as it is.
    """
    may_direct(account, row.check_row.ensemble_id)
    chosen = PeerLine.objects.filter(pk__in=list(lines), hearing__round=row)
    if not passed:
        chosen = chosen.exclude(passed=True, seen_at__isnull=False)
    n_before = 0
    if undecided:
        n_before = chosen.filter(decided_at__isnull=False, passed=passed).count()
        chosen = chosen.filter(decided_at__isnull=True)
    decided = {"passed": passed, "decided_at": timezone.now(), "decided_by": account}
    return n_before + chosen.update(**decided)


# --- the musician --------------------------------------------------------------------------------


@transaction.atomic
def say_consent(
    musician: Musician, row: PeerRound, *, yes: bool, terms: str | None = None
) -> PeerConsent:
    """Keep the musician's yes or no to others hearing their latest take without their name.

    A yes may become a no at any time, after the end too: from then on the take is handed to
    nobody. ``terms`` is the stamp of what the page told. Raises ``NotAllowed`` for a new yes after
    the end and for a yes without a take that can be heard; ``StandlightError`` for a new yes to
    other terms than those asked now.
    """
    row = PeerRound.objects.select_for_update().get(pk=row.pk)
    held = PeerConsent.objects.filter(round=row, musician=musician).first()
    if held is not None and held.said_yes == yes:
        return held
    if yes and peers.state_of(row) == peers.CLOSED:
        raise NotAllowed("hearing each other has ended for this passage")
    turn = peers.turn_to_offer(musician, row.check_row)
    if turn is None and (yes or held is None):
        raise NotAllowed("you have not sent a take of this passage that others could hear")
    if yes and terms is not None and terms != peers.terms_stamp(row):
        raise StandlightError(
            "What you are asked has changed since you opened this page. Read it once more, then "
            "answer again"
        )
    consent, _ = PeerConsent.objects.update_or_create(
        round=row,
        musician=musician,
        defaults={
            "turn_id": turn.pk if turn is not None else held.turn_id,
            "said_yes": yes,
            "said_at": timezone.now(),
        },
    )
    return consent


@transaction.atomic
def hand_next(musician: Musician, row: PeerRound) -> PeerHearing:
    """Hand the musician the take they hear next; the one they have begun, while it can be played.

    Raises ``NotAllowed`` when the round is not open, the musician has not said yes or has heard
    all they are asked to, and where no take is left for them.
    """
    row = PeerRound.objects.select_for_update().get(pk=row.pk)
    if peers.state_of(row) != peers.OPEN:
        raise NotAllowed("hearing each other is not open for this passage")
    if not peers.stands_by_yes(row, musician):
        raise NotAllowed("those who let others hear their take hear others: say yes first")
    if not peers.is_seated(musician, row.check_row.ensemble_id):
        raise NotAllowed("you are not in this group any more")
    takes = peers.takes_in(row)
    live = {take.turn for take in takes}
    begun = row.hearings.filter(listener=musician, sent_at__isnull=True, turn__in=live).first()
    if begun is not None:
        return begun
    if peers.n_done(row, musician) >= peers.most_each(row, len(takes)):
        raise NotAllowed("there is no more take for you to hear now")
    found = peers.next_for(row, musician)
    if found is None:
        raise NotAllowed("there is no more take for you to hear now")
    place = row.hearings.filter(listener=musician).aggregate(last=Max("place"))["last"] or 0
    return PeerHearing.objects.create(
        round=row, listener=musician, turn_id=found.turn, place=place + 1
    )


@transaction.atomic
def note_heard(hearing: PeerHearing) -> None:
    """Remember when the sound first went out to the listener."""
    rows = PeerHearing.objects.filter(pk=hearing.pk, heard_at__isnull=True)
    rows.update(heard_at=timezone.now())


@transaction.atomic
def send_hearing(hearing: PeerHearing, said: PeerSaid, seen: str | None = None) -> None:
    """Keep what a listener says of a take; sent again, it takes the place of what stood there.

    ``seen`` is the stamp of what the form showed: `SentMeanwhile` when other words stand there by
    now. Raises ``StandlightError`` without a level, without what went well and where;
    ``NotAllowed`` after the end, once a director has read the words, and for a take whose sound
    never went out to the listener.
    """
    hearing = PeerHearing.objects.select_for_update().get(pk=hearing.pk)
    if not peers.may_still_send(hearing):
        raise NotAllowed("hearing each other has ended, so this is not kept")
    if hearing.lines.filter(decided_at__isnull=False).exists():
        raise NotAllowed("your director has read what you sent, so it stays as it is")
    if hearing.heard_at is None:
        gone = sound_of(hearing) is None
        raise NotAllowed(
            "you have not heard this take, so this is not kept",
            slip="it is not here any more: go back and hear another" if gone else "play it first",
        )
    fields = _checked(hearing, said)
    if seen is not None and stamp_of(hearing) != seen:
        standing = standing_lines(hearing)
        if standing != _as_lines(fields):
            words = " ".join(line["words"] for line in standing.values())
            raise SentMeanwhile(words, stamp_of(hearing))
    _keep_levels(hearing, said.levels)
    hearing.lines.all().delete()
    PeerLine.objects.bulk_create(
        PeerLine(hearing=hearing, place=place, **line)
        for place, line in _as_lines(fields).items()
    )
    hearing.sent_at = timezone.now()
    hearing.save(update_fields=["sent_at"])


@transaction.atomic
def note_read(musician: Musician, row: PeerRound) -> None:
    """Remember that the owner has read what was passed on to them."""
    lines = PeerLine.objects.filter(
        hearing__round=row, hearing__turn__musician=musician, passed=True, seen_at__isnull=True
    )
    lines.update(seen_at=timezone.now())


def _checked(hearing: PeerHearing, said: PeerSaid) -> dict[str, object]:
    """The words and their place as they are kept; raises what `send_hearing` tells."""
    asked = hearing.round.criteria
    for criterion, value in said.levels.items():
        if criterion not in asked:
            raise NotAllowed(f"this is not asked: {criterion!r}")
        level_name(value)
    missing = [CRITERIA[key].name for key in asked if key not in said.levels]
    if missing:
        raise StandlightError(f"No level yet: {', '.join(missing)}")
    well = one_line(said.well, "line")
    if not well:
        raise StandlightError("Name one thing that went well", slip="there always is one")
    first, last = measures_of(hearing.turn, said.first_measure, said.last_measure)
    written = {choice.index for choice in passage_measures(hearing.turn)}
    if first is not None and not {first, last} <= written:
        raise StandlightError("The passage has no such measure", slip="an old page? Load it again")
    printed = " ".join(said.printed.split())[:LONGEST_PLACE] if not written else ""
    if first is None and not printed:
        raise StandlightError("Say where it went well", slip="a measure will do")
    return {
        "well": well,
        "to_try": one_line(said.to_try, "line"),
        "first_measure": first,
        "last_measure": last,
        "printed": printed,
    }


def _as_lines(fields: Mapping[str, object]) -> dict[str, dict[str, object]]:
    """The fields of `_checked` as lines by place."""
    where = {key: fields[key] for key in ("first_measure", "last_measure", "printed")}
    lines = {PeerLine.WELL: {"words": fields["well"], **where}}
    if fields["to_try"]:
        nowhere = {"first_measure": None, "last_measure": None, "printed": ""}
        lines[PeerLine.TRY] = {"words": fields["to_try"], **nowhere}
    return lines


def _keep_levels(hearing: PeerHearing, levels: Mapping[str, str]) -> None:
    """Add a row for each level that is new and retire the one in whose place it comes."""
    now = timezone.now()
    held = {row.criterion: row for row in hearing.levels.filter(retired_at__isnull=True)}
    changed = {
        key: value
        for key, value in levels.items()
        if key not in held or held[key].value != value
    }
    hearing.levels.filter(pk__in=[held[key].pk for key in changed if key in held]).update(
        retired_at=now
    )
    PeerLevel.objects.bulk_create(
        PeerLevel(hearing=hearing, criterion=key, value=value, given_at=now)
        for key, value in changed.items()
    )
