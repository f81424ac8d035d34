"""What a musician sees: the next thing, what came back, the rest of the year, one check."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch
from django.utils import timezone
from django.utils.safestring import mark_safe

from standlight.criteria import CRITERIA
from standlight.programme.languages import LANGUAGES
from standlight.programme.models import (
    Account,
    Answer,
    Casting,
    CheckPassage,
    Musician,
    MusicianPlan,
    PlayingCheck,
    Seat,
    Turn,
)
from standlight.programme.notation import PHONE_MM, WIDE_MM, svg_of
from standlight.programme.queries.heard_again import again_sentences
from standlight.programme.queries.heard_take import HeardTake, heard_take
from standlight.programme.queries.hearing import notation_digest_of, own_version_of
from standlight.programme.queries.musician_words import LEVEL_WORDS, due_words
from standlight.programme.queries.my_work import WorkLine, work_lines
from standlight.programme.queries.passage_places import with_measures
from standlight.programme.queries.peers_mine import HearLine, hear_lines
from standlight.programme.queries.standing import turns_of
from standlight.programme.queries.talks_mine import AgreedStep, open_steps
from standlight.programme.queries.which_try import TryRule, rule_of
from standlight.programme.queries.years import year_begins

WAY_SENTENCES = {
    Musician.RECORD: "",
    Musician.LIVE_ONLY: "You are heard live: you play for your director at the stand. "
    "Nothing is recorded, and you do not need to send anything.",
    Musician.NEITHER: "You are not recorded and not heard alone. Your director has agreed "
    "another way with you. You do not need to send anything.",
}
"""How a musician is heard, by ``Musician.way``; empty when they record."""

OPEN, SENT, ANSWERED, EXCUSED = "open", "sent", "answered", "excused"


@dataclass(frozen=True, slots=True)
class CheckLine:
    """One check as a line: ``state`` is open, sent, answered or excused."""

    pk: int
    kind: str
    title: str
    piece: str
    ensemble: str
    where: str
    due_on: datetime.date
    due: str
    overdue: bool
    state: str
    turn: int | None
    unread: bool
    is_work: bool = False

    @property
    def is_open(self) -> bool:
        """True while it is still to be sent."""
        return self.state == OPEN


Line = CheckLine | WorkLine


@dataclass(frozen=True, slots=True)
class MyPart:
    """The first page of a musician; ``next`` is ``None`` when nothing is open.

    Checks and work of every kind stand in one order: what is due next is first. ``quick`` is
    what may be written once more, ``owner`` names the musician in the browser's own store.
    """

    name: str
    next: Line | None
    also_open: tuple[Line, ...]
    back: tuple[Line, ...]
    year: tuple[Line, ...]
    quick: tuple[WorkLine, ...]
    hear: tuple[HearLine, ...]
    owner: str
    way_sentence: str
    accommodation: str
    changed_goal: str
    is_singer: bool
    agreed: tuple[AgreedStep, ...] = ()


@dataclass(frozen=True, slots=True)
class LevelLine:
    """One criterion's level in words, with what that level sounds like."""

    name: str
    question: str
    level: str
    descriptor: str
    own_level: str


@dataclass(frozen=True, slots=True)
class SaidLine:
    """One line of an answer with its measures, and the director's own words in another language."""

    words: str
    where: str = ""
    translated: str = ""


@dataclass(frozen=True, slots=True)
class CameBack:
    """One answered turn: what was strong, what is next, how, and the levels in words.

    ``language`` tags the translations and ``language_name`` names it as its speakers do; ``voice``
    is the key of a spoken answer, ``caption`` its words; ``plan`` holds three lines, empty or
    written; ``tries`` says whether one may try again and which try counts.
    """

    line: CheckLine
    strength: SaidLine
    next_step: SaidLine
    strategy: SaidLine
    language: str
    language_name: str
    voice: str
    voice_gone: bool
    caption: str
    written_by: str
    levels: tuple[LevelLine, ...]
    take: str | None
    words: str
    may_try_again: bool
    tries: str
    counts: str
    music: str
    music_narrow: str
    plan: tuple[str, ...]
    safety_contact: str
    heard: HeardTake | None = None
    heard_again: tuple[str, ...] = ()


def musician_of(account: Account) -> Musician:
    """The musician of ``account``, with the programme."""
    return Musician.objects.select_related("programme").get(account=account)


def my_part(account: Account, today: datetime.date | None = None) -> MyPart:
    """The first page of the musician ``account``, in a handful of queries."""
    today = today or timezone.localdate()
    musician = musician_of(account)
    seats = tuple(musician.seats.select_related("section__ensemble"))
    checks = tuple(_lines(musician, seats, today))
    lines = (*checks, *work_lines(account, musician, today))
    waiting = sorted((line for line in lines if line.is_open), key=_by_due_day)
    records = musician.way == Musician.RECORD
    following = _following([line for line in waiting if records or line.is_work])
    return MyPart(
        name=musician.given_name,
        next=following,
        also_open=tuple(line for line in waiting if line is not following and not line.unread),
        back=tuple(line for line in lines if line.unread),
        year=tuple(line for line in lines if not line.is_open and not line.unread),
        quick=tuple(line for line in lines if line.is_work and line.again),
        hear=hear_lines(musician, today),
        owner=f"work-{account.pk}",
        way_sentence=WAY_SENTENCES[musician.way],
        accommodation=musician.agreed_words,
        changed_goal=musician.changed_goal,
        is_singer=any(seat.section.ensemble.kind == "choir" for seat in seats),
        agreed=open_steps(account),
    )


def _by_due_day(line: Line) -> datetime.date:
    """What is due next is first; what has no day comes last."""
    return line.due_on or datetime.date.max


def _following(waiting: list[Line]) -> Line | None:
    """The next thing: due soonest, else what was due last, else what has no day."""
    dated = [line for line in waiting if line.due_on is not None]
    coming = [line for line in dated if not line.overdue]
    undated = [line for line in waiting if line.due_on is None]
    return next(iter((*coming, *dated[::-1], *undated)), None)


def came_back(account: Account, turn: Turn, today: datetime.date | None = None) -> CameBack:
    """The answer to ``turn``; levels are those standing, the latest rater's for a criterion."""
    today = today or timezone.localdate()
    musician = musician_of(account)
    seats = tuple(musician.seats.select_related("section__ensemble"))
    check = turn.check_row
    passage = _passage(check, seats, _castings(seats))
    answer = turn.answer
    standing = {level.criterion: level.value for level in turn.levels.filter(retired_at=None)}
    chosen = turn.takes.filter(chosen=True).first()
    last = Turn.objects.filter(musician=musician, check_row=check).order_by("-attempt").first()
    rule = rule_of(check, musician.extra_days)
    records = musician.way == Musician.RECORD
    voice = answer.voice
    plan = MusicianPlan.objects.filter(turn=turn).first()
    music, narrow = _drawn(turn, answer, passage)
    return CameBack(
        line=_line(check, turn, passage, today),
        strength=_said(check, answer, "strength"),
        next_step=_said(check, answer, "next_step"),
        strategy=_said(check, answer, "strategy"),
        language=answer.language,
        language_name=LANGUAGES[answer.language].own_name if answer.language in LANGUAGES else "",
        voice=str(voice.key) if voice is not None and voice.removed_at is None else "",
        voice_gone=voice is not None and voice.removed_at is not None,
        caption=answer.caption,
        written_by=answer.written_by.shown_name,
        levels=tuple(_level_line(key, standing.get(key), turn) for key in check.criteria),
        take=str(chosen.key) if chosen is not None and chosen.has_sound else None,
        words=turn.words,
        may_try_again=last == turn and records and not rule.is_over(today),
        tries=rule.words(today) if records else "",
        counts=_counts(rule, turn),
        music=music,
        music_narrow=narrow,
        plan=tuple([*(plan.lines if plan else ()), "", "", ""][:3]),
        safety_contact=musician.programme.safety_contact,
        heard=heard_take(turn, chosen),
        heard_again=again_sentences(turn),
    )


def _drawn(turn: Turn, answer: Answer, passage: CheckPassage | None) -> tuple[str, str]:
    """The musician's own passage, wide and narrow; empty on paper only or when it cannot be.

    Where the next step has measures, the others step back.
    """
    own = own_version_of(passage, turn.musician_id)
    notation = notation_digest_of(passage, own)
    if passage is None or not notation:
        return "", ""
    drawn = [str(svg_of(notation, width_mm=width)) for width in (WIDE_MM, PHONE_MM)]
    if not all(one.startswith("<svg") for one in drawn):
        return "", ""
    first, last = passage.first_measure, passage.last_measure
    if None not in (first, last, answer.first_measure, answer.last_measure):
        begins = first + (own.skipped if own is not None else 0)
        drawn = [
            with_measures(
                one, last - begins + 1, answer.first_measure - begins, answer.last_measure - begins
            )
            for one in drawn
        ]
    # The engraver's own drawing, with nothing but a class added.
    return mark_safe(drawn[0]), mark_safe(drawn[1])


def _said(check: PlayingCheck, answer: Answer, place: str) -> SaidLine:
    """One line of the answer with the measures that stand beside it."""
    own = (answer.first_measure, answer.last_measure)
    first, last = own if place == "next_step" else answer.places.get(place, (None, None))
    return SaidLine(
        getattr(answer, place), _measures(check, first, last), answer.translations.get(place, "")
    )


def _counts(rule: TryRule, turn: Turn) -> str:
    """Which of several tries counts, once there are several; empty for a single one."""
    tries = turns_of([turn.check_row]).get((turn.check_row_id, turn.musician_id), [])
    sent = [one for one in tries if one.answered_at is not None]
    counting = rule.counting(sent)
    if counting is None or len(sent) < 2:
        return ""
    if counting.attempt == turn.attempt:
        return f"This is try {turn.attempt}. It is the one that counts now."
    return f"This is try {turn.attempt}. Try {counting.attempt} counts now."


def open_attempt(
    musician: Musician, check: PlayingCheck, today: datetime.date | None = None
) -> int | None:
    """The attempt (from 1) that takes can be recorded for now, ``None`` while one waits.

    A sent turn waits for its answer; an answered one may be tried again until the check's last
    day for that; an excused one is over. A further try that was begun in time may be sent.
    """
    today = today or timezone.localdate()
    last = Turn.objects.filter(musician=musician, check_row=check).order_by("-attempt").first()
    if last is None:
        return 1
    if last.excused:
        return None
    if last.sent_at is None:
        return last.attempt
    if last.answered_at is None or rule_of(check, musician.extra_days).is_over(today):
        return None
    return last.attempt + 1


def checks_of(musician: Musician) -> Iterable[PlayingCheck]:
    """Published checks of the groups the musician sits in, with piece, group and passages."""
    passages = CheckPassage.objects.select_related("part", "section")
    return (
        PlayingCheck.objects.filter(
            published_at__isnull=False, ensemble__sections__seats__musician=musician
        )
        .distinct()
        .select_related("piece", "ensemble")
        .prefetch_related(Prefetch("passages", queryset=passages))
    )


def _lines(
    musician: Musician, seats: tuple[Seat, ...], today: datetime.date
) -> Iterable[CheckLine]:
    """A line for every check of the present school year, by the musician's latest attempt."""
    castings = _castings(seats)
    begins = year_begins(musician.programme_id, today)
    latest: dict[int, Turn] = {}
    for turn in musician.turns.select_related("answer").order_by("attempt"):
        # A draft of a further attempt must not hide the answer that invited it.
        if turn.sent_at or turn.excused or turn.check_row_id not in latest:
            latest[turn.check_row_id] = turn
    for check in checks_of(musician):
        if begins is not None and check.due_on < begins:
            continue
        turn = latest.get(check.pk)
        if turn is not None or _was_here(seats, check):
            passage = _passage(check, seats, castings)
            yield _line(check, turn, passage, today, extra_days=musician.extra_days)


def _was_here(seats: tuple[Seat, ...], check: PlayingCheck) -> bool:
    """True when the musician sat in the group of ``check`` on its due day."""
    return any(
        seat.section.ensemble_id == check.ensemble_id
        and (seat.joined_on is None or seat.joined_on <= check.due_on)
        and (seat.left_on is None or seat.left_on > check.due_on)
        for seat in seats
    )


def _line(
    check: PlayingCheck,
    turn: Turn | None,
    passage: CheckPassage | None,
    today: datetime.date,
    *,
    extra_days: int = 0,
) -> CheckLine:
    """One check and the musician's turn as a line; ``extra_days`` are the musician's own."""
    state = state_of(turn)
    due_on = check.due_on + datetime.timedelta(days=extra_days)
    answer = getattr(turn, "answer", None) if state == ANSWERED else None
    return CheckLine(
        pk=check.pk,
        kind="singing check" if check.is_singing else "playing check",
        title=check.title,
        piece=check.piece.title,
        ensemble=check.ensemble.name,
        where=passage_words(check, passage),
        due_on=due_on,
        due=due_words(due_on, today),
        overdue=due_on < today,
        state=state,
        turn=turn.pk if turn else None,
        unread=answer is not None and answer.seen_at is None,
    )


def state_of(turn: Turn | None) -> str:
    """Open, sent, answered or excused."""
    if turn is not None and turn.excused:
        return EXCUSED
    if turn is None or turn.sent_at is None:
        return OPEN
    return ANSWERED if turn.answered_at and hasattr(turn, "answer") else SENT


def passage_words(check: PlayingCheck, passage: CheckPassage | None) -> str:
    """Where to play: "measures 33 to 40", the printed words of a paper part, or nothing."""
    if passage is None:
        return ""
    words = passage.printed or _measures(check, passage.first_measure, passage.last_measure)
    if words[:1].isdigit():
        return f"measures {words}" if " to " in words else f"measure {words}"
    return words


def _measures(check: PlayingCheck, first: int | None, last: int | None) -> str:
    """Printed numbers of 0-based measures of the piece, "33 to 40" or "33"; else nothing."""
    if first is None:
        return ""
    printed = {row["index"]: str(row["printed"]) for row in check.piece.measures}
    start = printed.get(first, "")
    end = printed.get(first if last is None else last, "")
    return start if start == end else f"{start} to {end}"


def _castings(seats: tuple[Seat, ...]) -> dict[tuple[int, int], int]:
    """Seat and piece to part, for all seats at once."""
    rows = Casting.objects.filter(seat__in=seats).values_list("seat_id", "piece_id", "part_id")
    return {(seat, piece): part for seat, piece, part in rows}


def _passage(
    check: PlayingCheck, seats: tuple[Seat, ...], castings: dict[tuple[int, int], int]
) -> CheckPassage | None:
    """The musician's passage, as ``queries.hearing.passage_of`` finds it, from rows at hand."""
    in_group = [seat for seat in seats if seat.section.ensemble_id == check.ensemble_id]
    if not in_group:
        return None
    # Empty leaving days sort first in SQLite, and so they do in passage_of.
    seat = min(in_group, key=lambda one: (one.left_on or datetime.date.min, one.pk))
    passages = list(check.passages.all())
    part = castings.get((seat.pk, check.piece_id))
    cast = [one for one in passages if part is not None and one.part_id == part]
    paper = [one for one in passages if one.part_id is None]
    own = [one for one in paper if one.section_id == seat.section_id]
    everyone = [one for one in paper if one.section_id is None]
    return next(iter((*cast, *own, *everyone)), None)


def _level_line(key: str, value: str | None, turn: Turn) -> LevelLine:
    """One criterion of an answered turn."""
    criterion = CRITERIA[key]
    own = turn.self_levels.get(key)
    number = int(value) if value and value.isdecimal() else None
    return LevelLine(
        name=criterion.name,
        question=criterion.question,
        level=LEVEL_WORDS[value] if value else "",
        descriptor=criterion.descriptors[number] if number else "",
        own_level=LEVEL_WORDS[str(own)] if own else "",
    )
