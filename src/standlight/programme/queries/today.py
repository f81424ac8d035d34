"""Today: what the next rehearsal of each ensemble needs, what waits, what is worth working on."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone

from standlight.programme.dates import days_ahead
from standlight.programme.models import (
    Account,
    Ensemble,
    Piece,
    PlayingCheck,
    Remark,
    Report,
    Take,
)
from standlight.programme.queries.concerts import next_concert
from standlight.programme.queries.desk import printed_range
from standlight.programme.queries.passages import passages_by_musician, skipped_by_musician
from standlight.programme.queries.reading import Unread, unread_writing
from standlight.programme.queries.standing import (
    DUE,
    EXCUSED,
    MISSING,
    NOT_ASKED,
    SENT,
    TO_HEAR,
    SeatRow,
    Standing,
    one_seat_each,
    seats_of,
    standing,
    turns_of,
    waiting_turns,
)
from standlight.programme.queries.today_beside import (
    Agreed,
    LeftOver,
    PlanLine,
    TalksWaiting,
    WordsToPass,
    agreed_today,
    next_rehearsal,
    talks_waiting,
    words_to_pass,
)
from standlight.programme.queries.trouble import (
    DIRECTORS,
    LEVELS,
    LOCAL,
    MOST_RANGES,
    MUSICIANS,
    READINGS,
    Mention,
    TroubleRange,
    trouble_ranges,
)

LOOKING_BACK_DAYS = 42
"""Checks due this long ago still tell what to rehearse: about one concert cycle."""

CHASED_DAYS = 14
"""Work missing longer than this is a matter for a talk, not for today's list."""

NAMES_A_SECTION = 8
"""Names written out a section; the rest is counted, so that the page prints on one sheet."""

LOW_LEVELS = frozenset({"1", "2"})
"""Levels that ask for work on a passage: Beginning and Developing."""


@dataclass(frozen=True, slots=True)
class SectionNames:
    """A section, its musicians who have not sent, and how many more there are."""

    name: str
    musicians: tuple[str, ...]
    more: int


@dataclass(frozen=True, slots=True)
class NeededRow:
    """A check that still needs something: how many sent, who has not, who is to be heard live."""

    check_pk: int
    title: str
    due: str
    overdue: bool
    sent: int
    asked: int
    not_sent: tuple[SectionNames, ...]
    to_hear: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WaitingRow:
    """What waits for the director in one check; ``oldest_days`` is the age of the oldest."""

    check_pk: int
    title: str
    count: int
    oldest_days: int
    with_words: int


@dataclass(frozen=True, slots=True)
class TroubleRow:
    """Measures worth working on, each source with its own count of people."""

    piece: str
    where: str
    readings: int
    levels: int
    musicians: int
    directors: int


@dataclass(frozen=True, slots=True)
class Group:
    """One ensemble's sheet."""

    pk: int
    heading: str
    minutes: int
    concert: str
    needed: tuple[NeededRow, ...]
    waiting: tuple[WaitingRow, ...]
    writing: Unread
    working: tuple[TroubleRow, ...]
    has_checks: bool
    plan: PlanLine | None
    left_over: LeftOver | None
    agreed: tuple[Agreed, ...]
    talks: TalksWaiting
    to_pass: tuple[WordsToPass, ...]


@dataclass(frozen=True, slots=True)
class TodayPage:
    """The day, and a sheet a group in the order of the day's periods."""

    day: datetime.date
    groups: tuple[Group, ...]


def today_page(account: Account) -> TodayPage:
    """Every ensemble of ``account``; about a dozen queries an ensemble, none a musician."""
    day = timezone.localdate()
    ensembles = Ensemble.objects.visible_to(account).prefetch_related("cycles")
    return TodayPage(day, tuple(_group(account, ensemble, day) for ensemble in ensembles))


def _group(account: Account, ensemble: Ensemble, day: datetime.date) -> Group:
    checks = list(
        PlayingCheck.objects.filter(
            ensemble=ensemble,
            published_at__isnull=False,
            due_on__gte=day - datetime.timedelta(LOOKING_BACK_DAYS),
        )
        .select_related("piece")
        .order_by("due_on", "pk")
    )
    seats = one_seat_each(seats_of(ensemble), day)
    turns = turns_of(checks)
    stand = {
        (check.pk, seat.musician_pk): standing(
            seat, check.due_on, day, turns.get((check.pk, seat.musician_pk), ())
        )
        for check in checks
        for seat in seats
    }
    needed = [_needed(check, seats, stand, day) for check in checks]
    plan, left_over = next_rehearsal(ensemble, day)
    return Group(
        ensemble.pk,
        f"Period {ensemble.period_number}, {ensemble.name}",
        ensemble.period_minutes,
        next_concert(ensemble.cycles.all(), day),
        tuple(row for row in needed if row is not None),
        _waiting(account, ensemble),
        unread_writing(account, ensemble),
        _working(ensemble, checks, seats, stand),
        bool(checks),
        plan,
        left_over,
        agreed_today(seats, day),
        talks_waiting(account, ensemble, day),
        words_to_pass(account, ensemble),
    )


def _needed(
    check: PlayingCheck,
    seats: Sequence[SeatRow],
    stand: dict[tuple[int, int], Standing],
    day: datetime.date,
) -> NeededRow | None:
    """What the check still needs; ``None`` when nothing, or when it is long past."""
    if check.due_on < day - datetime.timedelta(CHASED_DAYS):
        return None
    states = [
        (seat, stand[check.pk, seat.musician_pk].state) for seat in seats if seat.here_on(day)
    ]
    not_sent: dict[str, list[str]] = {}
    for seat, state in states:
        if state in (DUE, MISSING):
            not_sent.setdefault(seat.section, []).append(seat.name)
    to_hear = tuple(seat.name for seat, state in states if state == TO_HEAR)
    if not not_sent and not to_hear:
        return None
    ahead = (check.due_on - day).days
    return NeededRow(
        check.pk,
        check.title,
        f"{'was due' if ahead < 0 else 'due'} {days_ahead(ahead)}",
        ahead < 0,
        sum(state in SENT for _, state in states),
        sum(state not in (NOT_ASKED, EXCUSED) for _, state in states),
        tuple(
            SectionNames(name, tuple(names[:NAMES_A_SECTION]), max(0, len(names) - NAMES_A_SECTION))
            for name, names in not_sent.items()
        ),
        to_hear,
    )


def _waiting(account: Account, ensemble: Ensemble) -> tuple[WaitingRow, ...]:
    """Turns that wait for an answer, by check, the oldest first. One query."""
    now = timezone.now()
    gathered: dict[int, list] = {}
    rows = (
        waiting_turns(account)
        .filter(check_row__ensemble=ensemble)
        .order_by("sent_at")
        .values_list("check_row_id", "check_row__title", "sent_at", "words")
    )
    for check_pk, title, sent_at, words in rows:
        gathered.setdefault(check_pk, []).append((title, sent_at, bool(words)))
    return tuple(
        WaitingRow(
            check_pk,
            turns[0][0],
            len(turns),
            max(0, (now - turns[0][1]).days),
            sum(words for _, _, words in turns),
        )
        for check_pk, turns in gathered.items()
    )


def _working(
    ensemble: Ensemble,
    checks: Sequence[PlayingCheck],
    seats: Sequence[SeatRow],
    stand: dict[tuple[int, int], Standing],
) -> tuple[TroubleRow, ...]:
    """The ranges with most trouble over all pieces of the checks and of their remarks."""
    mentions: dict[int, list[Mention]] = {}
    on_paper: dict[tuple[int, str], set[int]] = {}
    passages = passages_by_musician(checks, seats)
    by_pk = {check.pk: check for check in checks}
    turn_of: dict[int, tuple[int, int]] = {}
    for (check_pk, musician_pk), found in stand.items():
        sent = [turn for turn in found.turns if turn.sent_at]
        if sent:
            turn_of[sent[-1].pk] = (check_pk, musician_pk)
        passage = passages.get((check_pk, musician_pk))
        rated = found.counting(by_pk[check_pk])
        if passage is None or rated is None or not LOW_LEVELS & set(rated.levels.values()):
            continue
        piece_pk = by_pk[check_pk].piece_id
        if passage.first_measure is None or passage.last_measure is None:
            on_paper.setdefault((piece_pk, passage.printed), set()).add(musician_pk)
            continue
        mentions.setdefault(piece_pk, []).append(
            Mention(LEVELS, musician_pk, passage.first_measure, passage.last_measure)
        )
    own_starts = skipped_by_musician(checks)
    for turn_pk, spots in _spots(turn_of).items():
        check_pk, musician_pk = turn_of[turn_pk]
        passage = passages.get((check_pk, musician_pk))
        if passage is None or passage.first_measure is None:
            continue
        first = passage.first_measure + own_starts.get((passage.pk, musician_pk), 0)
        for spot in spots:
            if spot["criterion"] in by_pk[check_pk].criteria:
                mentions.setdefault(by_pk[check_pk].piece_id, []).append(
                    Mention(
                        READINGS,
                        musician_pk,
                        first + spot["first_measure"],
                        first + spot["last_measure"],
                    )
                )
    pieces = {check.piece_id: check.piece for check in checks}
    _add_remarks(ensemble, pieces, mentions)
    return _rows(pieces, mentions, on_paper)


def _spots(turns: dict[int, tuple[int, int]]) -> dict[int, list[dict]]:
    """Turn to the spots of its chosen take's newest report; only that key is read. One query."""
    rows = (
        Report.objects.filter(take__turn__in=list(turns), take__chosen=True, take__state=Take.HEARD)
        .order_by("made_at", "pk")
        .values_list("take__turn_id", "body__spots")
    )
    return {turn_pk: spots or [] for turn_pk, spots in rows}


def _add_remarks(
    ensemble: Ensemble, pieces: dict[int, Piece], mentions: dict[int, list[Mention]]
) -> None:
    """Add what people said of measures of these pieces, and of others in the same weeks."""
    since = timezone.now() - datetime.timedelta(LOOKING_BACK_DAYS)
    rows = Remark.objects.filter(piece__ensemble=ensemble, made_at__gte=since).select_related(
        "piece", "author"
    )
    for row in rows:
        pieces.setdefault(row.piece_id, row.piece)
        said = row.author.is_director and not row.said_in_class
        source = DIRECTORS if said else MUSICIANS
        mentions.setdefault(row.piece_id, []).append(
            Mention(source, row.author_id, row.first_measure, row.last_measure)
        )


def _rows(
    pieces: dict[int, Piece],
    mentions: dict[int, list[Mention]],
    on_paper: dict[tuple[int, str], set[int]],
) -> tuple[TroubleRow, ...]:
    """The most troubled ranges of all pieces together; passages on paper count by levels only."""
    ranked: list[tuple[tuple[int, int], TroubleRow]] = []
    for piece_pk, said in mentions.items():
        piece = pieces[piece_pk]
        for found in trouble_ranges(said):
            where = printed_range(piece.measures, found.first, found.last)
            ranked.append((_weight(found), _row(piece.title, where, found)))
    for (piece_pk, printed), people in on_paper.items():
        where = f"measures {printed}" if printed[:1].isdigit() else printed
        row = TroubleRow(pieces[piece_pk].title, where, 0, len(people), 0, 0)
        ranked.append(((0, len(people)), row))
    ranked.sort(key=lambda pair: pair[0], reverse=True)
    return tuple(row for _, row in ranked[:MOST_RANGES])


def _weight(found: TroubleRange) -> tuple[int, int]:
    return sum(found.counts[source] for source in LOCAL), found.counts[LEVELS]


def _row(piece: str, where: str, found: TroubleRange) -> TroubleRow:
    return TroubleRow(
        piece,
        where,
        found.counts[READINGS],
        found.counts[LEVELS],
        found.counts[MUSICIANS],
        found.counts[DIRECTORS],
    )
