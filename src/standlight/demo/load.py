"""Loading the demo programme: rows at once, takes by background errands.

``load_demo`` writes everything but sound in one transaction and asks the errands to
play the takes (``standlight.demo.errands``), so that the first start is quick.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, datetime

import numpy as np
from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.utils import timezone

from standlight.demo.answers import write_answers
from standlight.demo.cast import SHOWN_MUSICIAN
from standlight.demo.errands import ask_for_takes
from standlight.demo.hear_each_other import write_hear_each_other
from standlight.demo.last_year_rows import write_last_year
from standlight.demo.loading import Loading
from standlight.demo.manner import as_json
from standlight.demo.plan import CheckPlan, GroupPlan, PiecePlan, Scenario, TurnPlan
from standlight.demo.programme_plan import MUSIC_FOLDER
from standlight.demo.recordings import ask_for_recordings
from standlight.demo.rehearsals import write_rehearsals
from standlight.demo.scenario import SEED, scenario
from standlight.demo.season import write_season
from standlight.demo.talks import write_talks
from standlight.demo.work_plan import work
from standlight.demo.work_rows import write_work
from standlight.errors import StandlightError
from standlight.programme import store
from standlight.programme.actions.cards import CARD_LENGTH, CARD_SYMBOLS
from standlight.programme.actions.folder import keep_score
from standlight.programme.actions.passages import say_why
from standlight.programme.models import (
    Account,
    Casting,
    CheckPassage,
    ConcertCycle,
    Ensemble,
    MarkingPeriod,
    Musician,
    Piece,
    PlayingCheck,
    Programme,
    SchoolYear,
    Seat,
    Section,
    Take,
    Turn,
)
from standlight.score import Score, cut_passages, read_score, with_tempo

DIRECTOR_SECRETS = {"director": "lantern-walk", "strings": "ferry-at-dusk"}
MUSICIAN_PIN = "4826"
"""Sign-ins of invented people on a demo: the same on every machine, printed at every start."""

TAKE_TYPE = "audio/webm;codecs=opus"


def _codes(seed: int) -> Iterator[str]:
    """Card codes in the printed alphabet, the same for the same seed, none twice."""
    rng = np.random.default_rng([seed, 9])
    used: set[str] = set()
    while True:
        code = "".join(rng.choice(list(CARD_SYMBOLS), CARD_LENGTH))
        if code not in used:
            used.add(code)
            yield code


def _sign_ins() -> tuple[tuple[str, str, str], ...]:
    """Who, sign-in and secret of the people whom a start prints."""
    plan = scenario(date(2000, 1, 1))
    codes = dict(zip((m.roster_id for m in plan.musicians), _codes(SEED), strict=False))
    group, section, place = SHOWN_MUSICIAN
    shown = [m for m, seat in plan.members(group) if seat.section == section][place]
    groups = {d.key: [g.name for g in plan.groups if g.director == d.key] for d in plan.directors}
    directors = tuple(
        (f"Director ({', '.join(groups[d.key])})", d.sign_in, DIRECTOR_SECRETS[d.sign_in])
        for d in plan.directors
    )
    who = f"Musician ({shown.given_name} {shown.family_name}, {section.lower()})"
    return (*directors, (who, codes[shown.roster_id], MUSICIAN_PIN))


DEMO_SIGN_INS = _sign_ins()
"""Rows of who, sign-in, secret."""


def load_demo(today: date | None = None, seed: int = SEED) -> Programme:
    """Write the demo programme as of ``today`` (default: this day) and ask for its takes.

    A second call finds the programme and changes nothing. Raises ``StandlightError``
    when the demo's scores are not beside the sources.
    """
    existing = Programme.objects.filter(is_demo=True).first()
    if existing is not None:
        return existing
    plan = scenario(today or timezone.localdate(), seed)
    scores = {piece.key: _read(piece) for piece in plan.pieces if piece.file}
    with transaction.atomic():
        loading = Loading(plan, _programme(plan), scores=scores)
        _directors(loading)
        _groups(loading)
        _musicians(loading, seed)
        for piece in plan.pieces:
            _piece(loading, piece)
            _cast(loading, piece)
        for check in plan.checks:
            _check(loading, check)
        _turns(loading)
        write_answers(loading)
        write_work(loading, work(plan, seed))
        write_rehearsals(loading)
        write_last_year(loading, seed)
        write_hear_each_other(loading, seed)
        write_talks(loading)
        write_season(loading)
        ask_for_takes()
        ask_for_recordings()
    return loading.programme


def _read(piece: PiecePlan) -> tuple[bytes, Score]:
    """Bytes and score of a piece of the demo's folder."""
    place = MUSIC_FOLDER / (piece.file or "")
    try:
        data = place.read_bytes()
    except FileNotFoundError:
        raise StandlightError(
            f"the demo's score {piece.file} is missing",
            where="demo/music",
            slip="run from a copy without the demo folder?",
        ) from None
    return data, read_score(data, name=place.name)


def _aware(local: datetime) -> datetime:
    return timezone.make_aware(local)


def _programme(plan: Scenario) -> Programme:
    programme = Programme.objects.create(
        name=plan.school, safety_contact=plan.safety_contact, owns_music=True, is_demo=True
    )
    SchoolYear.objects.create(
        programme=programme,
        name=plan.year_name,
        starts_on=plan.year_starts_on,
        ends_on=plan.year_ends_on,
    )
    for period in plan.periods:
        MarkingPeriod.objects.create(
            programme=programme,
            name=period.name,
            starts_on=period.starts_on,
            ends_on=period.ends_on,
        )
    return programme


def _directors(loading: Loading) -> None:
    for director in loading.plan.directors:
        loading.directors[director.key] = Account.objects.make(
            programme=loading.programme,
            sign_in=director.sign_in,
            role=Account.DIRECTOR,
            secret=DIRECTOR_SECRETS[director.sign_in],
            shown_name=director.shown_name,
            is_lead=director.is_lead,
            # The second director reads all writing too: nobody's is one adult's alone.
            reads_writing=not director.is_lead,
        )


def _groups(loading: Loading) -> None:
    plan = loading.plan
    for group in plan.groups:
        ensemble = Ensemble.objects.create(
            programme=loading.programme,
            name=group.name,
            kind=group.kind,
            period_number=group.period,
            period_minutes=group.minutes,
        )
        ensemble.directors.add(loading.directors[group.director])
        loading.ensembles[group.key] = ensemble
        loading.cycles[group.key] = ConcertCycle.objects.create(
            ensemble=ensemble,
            name=plan.cycle_name,
            starts_on=plan.cycle_starts_on,
            concert_on=plan.concert_on,
        )
        for order, section in enumerate(group.sections, 1):
            loading.sections[group.key, section.name] = Section.objects.create(
                ensemble=ensemble,
                name=section.name,
                instrument=section.instrument,
                order=10 * order,
            )


def _musicians(loading: Loading, seed: int) -> None:
    # One hash for all: 160 would take most of the first start, and the PIN is printed anyway.
    pin_hash = make_password(MUSICIAN_PIN)
    plans = loading.plan.musicians
    accounts = Account.objects.bulk_create(
        Account(
            programme=loading.programme,
            sign_in=code,
            role=Account.MUSICIAN,
            shown_name=f"{plan.given_name} {plan.family_name}",
            password=pin_hash,
        )
        for plan, code in zip(plans, _codes(seed), strict=False)
    )
    rows = Musician.objects.bulk_create(
        Musician(
            programme=loading.programme,
            account=account,
            roster_id=plan.roster_id,
            given_name=plan.given_name,
            family_name=plan.family_name,
            grade=plan.grade,
            way=plan.way,
            accommodation=plan.accommodation,
            changed_goal=plan.changed_goal,
        )
        for plan, account in zip(plans, accounts, strict=True)
    )
    loading.musicians = {row.roster_id: row for row in rows}
    pairs = [(plan, seat) for plan in plans for seat in plan.seats]
    seats = Seat.objects.bulk_create(
        Seat(
            musician=loading.musicians[plan.roster_id],
            section=loading.sections[seat.group, seat.section],
            joined_on=seat.joined_on,
            voice_changing=seat.voice_changing,
            comfort_low_midi=seat.comfort_midi and seat.comfort_midi[0],
            comfort_high_midi=seat.comfort_midi and seat.comfort_midi[1],
        )
        for plan, seat in pairs
    )
    for (plan, seat), row in zip(pairs, seats, strict=True):
        loading.seats[seat.group, plan.roster_id] = row


def _piece(loading: Loading, plan: PiecePlan) -> None:
    piece = Piece(
        ensemble=loading.ensembles[plan.group],
        cycle=loading.cycles[plan.group],
        title=plan.title,
        composer=plan.composer,
        credit=plan.credit,
    )
    data, score = loading.scores.get(plan.key, (None, None))
    if score is None:
        piece.save()
    else:
        rows = keep_score(piece, score, data)
        loading.parts.update({(plan.key, row.name): row for row in rows})
    loading.pieces[plan.key] = piece


def _cast(loading: Loading, plan: PiecePlan) -> None:
    """Deal the parts of a section out in seat order, beginning with the piece's turn."""
    names = dict(plan.casting)
    place: dict[str, int] = defaultdict(lambda: plan.turn)
    rows = []
    for musician, seat in loading.plan.members(plan.group):
        if seat.section not in names:
            continue
        dealt = names[seat.section]
        part = loading.parts[plan.key, dealt[place[seat.section] % len(dealt)]]
        place[seat.section] += 1
        loading.castings[plan.key, musician.roster_id] = part
        rows.append(
            Casting(
                seat=loading.seats[plan.group, musician.roster_id],
                piece=loading.pieces[plan.key],
                part=part,
                by_hand=len(dealt) > 1,
            )
        )
    Casting.objects.bulk_create(rows)


def _check(loading: Loading, plan: CheckPlan) -> None:
    group = _group(loading.plan, plan.group)
    check = PlayingCheck.objects.create(
        ensemble=loading.ensembles[plan.group],
        piece=loading.pieces[plan.piece],
        title=plan.title,
        criteria=list(plan.criteria),
        tempo_qpm=plan.tempo_qpm,
        due_on=plan.due_on,
        asks_self_rating=plan.asks_self_rating,
        note=plan.note,
        made_by=loading.directors[group.director],
        published_at=_aware(plan.published_at),
    )
    PlayingCheck.objects.filter(pk=check.pk).update(made_at=_aware(plan.published_at))
    loading.checks[plan.key] = check
    if plan.measures is None:
        CheckPassage.objects.create(check_row=check, printed=plan.printed, reason=plan.reason)
        return
    data, score = loading.scores[plan.piece]
    first, last = plan.measures
    printed = f"{score.measures[first].printed} to {score.measures[last].printed}"
    played = {part.index: part for key, part in loading.castings.items() if key[0] == plan.piece}
    cuts = cut_passages(data, [(index, first, last) for index in sorted(played)])
    CheckPassage.objects.bulk_create(
        CheckPassage(
            check_row=check,
            part=played[index],
            first_measure=first,
            last_measure=last,
            printed=printed,
            reason=plan.reason,
            notation_digest=store.keep(with_tempo(cut, check.tempo_qpm)),
        )
        for index, cut in zip(sorted(played), cuts, strict=True)
    )
    rows = list(check.passages.select_related("part__piece"))
    say_why(check, rows, plan.reason.rstrip("."))
    CheckPassage.objects.bulk_update(rows, ["reason", "demand", "shows"])


def _group(plan: Scenario, key: str) -> GroupPlan:
    return next(group for group in plan.groups if group.key == key)


def _turns(loading: Loading) -> None:
    """Turns in the order in which their takes are to be played: what waits comes first."""
    ordered = tuple(_playing_order(loading.plan))
    rows = Turn.objects.bulk_create(
        Turn(
            check_row=loading.checks[plan.check],
            musician=loading.musicians[plan.roster_id],
            attempt=plan.attempt,
            way=plan.way,
            self_levels=dict(plan.self_levels),
            words=plan.words,
            excused=plan.excused,
            sent_at=plan.sent_at and _aware(plan.sent_at),
            answered_at=plan.rated_at and _aware(plan.rated_at),
        )
        for plan in ordered
    )
    loading.turns = {
        (plan.check, plan.roster_id, plan.attempt): row
        for plan, row in zip(ordered, rows, strict=True)
    }
    Take.objects.bulk_create(
        Take(
            turn=row,
            chosen=True,
            made_by_machine=True,
            media_type=TAKE_TYPE,
            settings={"way": "machine", "manner": as_json(plan.manner)},
        )
        for plan, row in zip(ordered, rows, strict=True)
        if plan.manner is not None
    )


def _playing_order(plan: Scenario) -> Iterator[TurnPlan]:
    """Unanswered turns first, one from each check in turn and in section order, then the rest."""
    seat_place = {
        (group.key, musician.roster_id): place
        for group in plan.groups
        for place, (musician, _) in enumerate(plan.members(group.key))
    }
    groups = {check.key: check.group for check in plan.checks}
    waiting: dict[str, list[TurnPlan]] = defaultdict(list)
    for turn in plan.turns:
        if turn.manner and not turn.answer:
            waiting[turn.check].append(turn)
    for turns in waiting.values():
        turns.sort(key=lambda turn: seat_place[groups[turn.check], turn.roster_id])
    yield from _round_robin(waiting.values())
    yield from (turn for turn in plan.turns if turn.manner is None or turn.answer)


def _round_robin(rows: Iterable[list[TurnPlan]]) -> Iterator[TurnPlan]:
    left = [list(row) for row in rows]
    while any(left):
        for row in left:
            if row:
                yield row.pop(0)
