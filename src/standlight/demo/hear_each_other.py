"""The demo's strings hear each other, half way through; the band is just being asked."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time, timedelta

import numpy as np
from django.utils import timezone

from standlight.demo.cast import SHOWN_MUSICIAN
from standlight.demo.loading import Loading
from standlight.demo.plan import TurnPlan
from standlight.programme.models import (
    PeerConsent,
    PeerHearing,
    PeerLevel,
    PeerLine,
    PeerRound,
)
from standlight.programme.queries.peers_spread import Offered, next_take

OPEN_CHECK, ASKED_CHECK = "strings_first", "band_second"
TAKES_EACH = 2
N_YES, N_NO = 15, 3
"""Of the strings; with fifteen every section that sent has somebody in it."""

UNDONE = 4
"""So many, the shown musician first among them, have one take left to hear."""

DECIDED = 16
"""So many lines the director has read: all passed on but one."""

WELL = (
    "You keep the tempo through the whole phrase.",
    "The first long note is really in tune.",
    "It starts together with the count and stays there.",
    "I like how the line gets louder to the top.",
    "The rests are exactly as long as written.",
    "Your low notes ring. I could hear each one.",
    "After the slip you go on at once, and the beat stays.",
)
TO_TRY = (
    "Try it with a drone on the first note.",
    "Maybe count the rest in your head.",
    "Try the shift slowly and listen before you play.",
    "",
    "",
)
KEPT_BACK = "I think I know who this is."
"""What one musician wrote, and the director did not pass on."""


def write_hear_each_other(loading: Loading, seed: int) -> None:
    """Write both rounds; what is sent lies in the days before today."""
    rng = np.random.default_rng([seed, 31])
    _ask(loading, ASKED_CHECK, opened=False)
    row = _ask(loading, OPEN_CHECK, opened=True)
    turns = _once(loading, OPEN_CHECK)
    shown = _shown(loading)
    first = [turn for turn in turns if turn.roster_id == shown]
    others = [turn for turn in turns if turn.roster_id != shown]
    picked = [others[int(n)] for n in rng.permutation(len(others))[: N_YES + N_NO - 1]]
    people = [*first, *picked]
    _consents(loading, row, people)
    _hear(loading, row, people[:N_YES], rng)
    for turn in _once(loading, ASKED_CHECK)[:4]:
        _consent(loading, PeerRound.objects.get(check_row=loading.checks[ASKED_CHECK]), turn, True)


def _ask(loading: Loading, check: str, *, opened: bool) -> PeerRound:
    """The round of a check, asked some days ago."""
    plan = next(one for one in loading.plan.checks if one.key == check)
    group = next(one for one in loading.plan.groups if one.key == plan.group)
    asked_at = _moment(loading, 6)
    return PeerRound.objects.create(
        check_row=loading.checks[check],
        criteria=list(plan.criteria[:2]),
        takes_each=TAKES_EACH,
        until=loading.plan.today + timedelta(4),
        asked_by=loading.directors[group.director],
        asked_at=asked_at,
        opened_at=_moment(loading, 4) if opened else None,
    )


def _once(loading: Loading, check: str) -> list[TurnPlan]:
    """The turns with a recording of who sent one only, in the order of the plan."""
    again = {turn.roster_id for turn in loading.plan.turns if turn.check == check
             and turn.attempt > 1}  # fmt: skip
    return [
        turn
        for turn in loading.plan.turns
        if turn.check == check and turn.manner is not None and turn.roster_id not in again
    ]


def _shown(loading: Loading) -> str:
    """The roster id of the musician whose sign-in a start prints."""
    group, section, place = SHOWN_MUSICIAN
    members = [m for m, seat in loading.plan.members(group) if seat.section == section]
    return members[place].roster_id


def _consents(loading: Loading, row: PeerRound, people: Sequence[TurnPlan]) -> None:
    """Who said yes, then who said no."""
    for n, turn in enumerate(people):
        _consent(loading, row, turn, n < N_YES)


def _consent(loading: Loading, row: PeerRound, turn: TurnPlan, yes: bool) -> None:
    """One musician's answer."""
    PeerConsent.objects.create(
        round=row,
        musician=loading.musicians[turn.roster_id],
        turn=loading.turns[turn.check, turn.roster_id, turn.attempt],
        said_yes=yes,
        said_at=_moment(loading, 5),
    )


def _hear(
    loading: Loading, row: PeerRound, people: Sequence[TurnPlan], rng: np.random.Generator
) -> None:
    """Everybody hears the takes that the tool would hand them, and says what they hear."""
    takes = {turn.roster_id: _offered(loading, turn) for turn in people}
    plans = {takes[turn.roster_id].turn: turn for turn in people}
    handed: list[tuple[int, int]] = []
    shown, *others = people
    hearings = []
    for n, turn in enumerate([*others, shown]):
        me = takes[turn.roster_id]
        for place in range(1, TAKES_EACH + 1):
            found = next_take(me, tuple(takes.values()), handed, (), row.pk)
            if found is None or (place == TAKES_EACH and n > len(others) - UNDONE):
                continue
            handed.append((found.turn, me.musician))
            sent_at = _moment(loading, 3) + timedelta(minutes=11 * len(handed))
            hearings.append((_hearing(row, me, found, place, sent_at), plans[found.turn]))
    for n, (hearing, plan) in enumerate(hearings):
        _levels(hearing, plan, rng)
        _lines(loading, hearing, plan, n, rng)


def _offered(loading: Loading, turn: TurnPlan) -> Offered:
    """A turn as the tool hands it out."""
    check = next(one for one in loading.plan.checks if one.key == turn.check)
    part = loading.castings.get((check.piece, turn.roster_id))
    return Offered(
        loading.turns[turn.check, turn.roster_id, turn.attempt].pk,
        loading.musicians[turn.roster_id].pk,
        part.pk if part is not None else 0,
    )


def _hearing(
    row: PeerRound, me: Offered, found: Offered, place: int, sent_at: datetime
) -> PeerHearing:
    """One take heard and sent."""
    return PeerHearing.objects.create(
        round=row,
        listener_id=me.musician,
        turn_id=found.turn,
        place=place,
        handed_at=sent_at - timedelta(minutes=3),
        heard_at=sent_at - timedelta(minutes=3),
        sent_at=sent_at,
    )


def _levels(hearing: PeerHearing, plan: TurnPlan, rng: np.random.Generator) -> None:
    """Levels near the director's, a step off now and then, and rather up than down."""
    given = dict(plan.levels)
    PeerLevel.objects.bulk_create(
        PeerLevel(
            hearing=hearing,
            criterion=key,
            value=str(int(np.clip(int(given[key]) + rng.choice((-1, 0, 0, 0, 1, 1)), 1, 4))),
            given_at=hearing.sent_at,
        )
        for key in hearing.round.criteria
        if given.get(key, "").isdigit()
    )


def _lines(
    loading: Loading, hearing: PeerHearing, plan: TurnPlan, n: int, rng: np.random.Generator
) -> None:
    """What went well and where, sometimes one thing to try; the first were read by the director."""
    check = next(one for one in loading.plan.checks if one.key == plan.check)
    first, last = check.measures or (0, 0)
    spot = int(rng.integers(first, max(first + 1, last)))
    kept_back = n == DECIDED // 2
    to_try = str(rng.choice(TO_TRY))
    decided = n < DECIDED or plan.roster_id == _shown(loading)
    rows = [(PeerLine.WELL, KEPT_BACK if kept_back else str(rng.choice(WELL)), spot)]
    rows += [(PeerLine.TRY, to_try, None)] if to_try and not kept_back else []
    group = next(one for one in loading.plan.groups if one.key == check.group)
    PeerLine.objects.bulk_create(
        PeerLine(
            hearing=hearing,
            place=place,
            words=words,
            first_measure=measure,
            last_measure=None if measure is None else min(measure + 1, last),
            decided_at=_moment(loading, 1) if decided else None,
            decided_by=loading.directors[group.director] if decided else None,
            passed=decided and not kept_back,
        )
        for place, words, measure in rows
    )


def _moment(loading: Loading, days_ago: int) -> datetime:
    """An afternoon some days before today."""
    day = loading.plan.today - timedelta(days_ago)
    return timezone.make_aware(datetime.combine(day, time(15, 40)))
