"""Answers as the Desk shows them: what stands in one, which are kept, which were opened."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils import timezone

from standlight.programme.accommodations import WRITTEN
from standlight.programme.dates import date_words
from standlight.programme.fill_ins import Facts
from standlight.programme.languages import LANGUAGES
from standlight.programme.models import (
    Account,
    Answer,
    AnswerSound,
    CheckPassage,
    EarlierAnswer,
    KeptAnswer,
    MusicianPlan,
    PlayingCheck,
    Seat,
    Take,
    Turn,
)
from standlight.programme.queries.answer_values import AnswerDraft, Answering, Said, Spoken
from standlight.programme.queries.hearing import passage_of, seat_in
from standlight.programme.queries.offers import bare_facts, facts_of

PLACES = ("next_step", "strength", "strategy")
"""The lines of an answer, the one that is needed first."""

KEPT, NOT_OPENED = "answer kept, not sent", "not opened yet"
"""What the Desk's list says of an answer beside its state."""


@dataclass(frozen=True, slots=True)
class KeptLine:
    """One kept answer: whom it is for, what it says, and what should be known before it goes."""

    turn_pk: int
    stamp: str
    musician: str
    where: str
    next_step: str
    more: tuple[str, ...]
    voice: Spoken | None
    by: str
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class KeptCheck:
    """The kept answers of one check."""

    pk: int
    title: str
    ensemble: str
    lines: tuple[KeptLine, ...]


@dataclass(frozen=True, slots=True)
class KeptPage:
    """All answers that are kept and not sent, by check."""

    checks: tuple[KeptCheck, ...]

    @property
    def total(self) -> int:
        """How many answers."""
        return sum(len(check.lines) for check in self.checks)


def answering(
    turn: Turn,
    passage: CheckPassage | None,
    seat: Seat | None,
    draft: AnswerDraft | None = None,
) -> Answering:
    """The answer's part of the page for ``turn``; ``draft`` is what stands in the form."""
    standing = standing_answer(turn)
    shown = draft or (as_draft(standing) if standing is not None else AnswerDraft())
    kept = standing if isinstance(standing, KeptAnswer) else None
    facts = facts_of(turn, passage, seat)
    language = LANGUAGES.get(turn.musician.first_language)
    return Answering(
        draft=shown,
        stamp=stamp_of(standing),
        kept_by=kept.written_by.shown_name if kept is not None else "",
        voice=_spoken(turn, shown),
        needs_caption=WRITTEN in turn.musician.accommodations,
        language=language.name if language else "",
        opened=_opened(Answer.objects.filter(turn=turn).first()),
        plan=_plan(turn),
        earlier=tuple(
            said_in(row)
            for row in EarlierAnswer.objects.filter(turn=turn).select_related("written_by")
        ),
        measures_words=facts.measures or "",
    )


def standing_answer(turn: Turn) -> Answer | KeptAnswer | None:
    """What the form shows: the kept answer, else the one that was sent. Up to two queries."""
    for rows in (KeptAnswer.objects, Answer.objects):
        found = rows.filter(turn=turn).select_related("written_by", "voice").first()
        if found is not None:
            return found
    return None


def stamp_of(answer: Answer | KeptAnswer | None) -> str:
    """What tells one edition of an answer from the next; empty where there is none."""
    if answer is None:
        return ""
    return f"{type(answer).__name__} {answer.written_at.isoformat()}"


def as_draft(answer: Answer | KeptAnswer) -> AnswerDraft:
    """An answer as it stands in the form; a voice whose time is over is not in it."""
    voice = answer.voice
    return AnswerDraft(
        answer.strength,
        answer.next_step,
        answer.strategy,
        answer.first_measure,
        answer.last_measure,
        {place: tuple(pair) for place, pair in answer.places.items()},
        str(voice.key) if voice is not None and voice.removed_at is None else "",
        answer.caption,
    )


def said_in(answer: Answer | KeptAnswer | EarlierAnswer) -> Said:
    """Whose answer it is and its words in a row."""
    lines = [getattr(answer, place) for place in PLACES]
    spoken = answer.caption or ("(spoken)" if answer.voice_id else "")
    was_sent = answer.was_sent if isinstance(answer, EarlierAnswer) else isinstance(answer, Answer)
    return Said(
        answer.written_by.shown_name,
        answer.written_at,
        " · ".join(line for line in (*lines, spoken) if line),
        was_sent,
    )


def facts_by_place(
    turn: Turn, places: Mapping[str, Sequence[int | None]]
) -> dict[str, tuple[Facts, Facts]]:
    """What fills each line of an answer, in words and in numbers alone, by its own measures."""
    passage = passage_of(turn)
    facts = facts_of(turn, passage, seat_in(turn))
    found = {}
    for place in PLACES:
        first, last = places.get(place) or (None, None)
        numbers = numbers_printed(turn.check_row, first, last)
        found[place] = (
            facts.at(in_words(numbers)),
            bare_facts(facts, turn, passage, numbers.replace(" to ", "-")),
        )
    return found


def numbers_printed(check: PlayingCheck, first: int | None, last: int | None) -> str:
    """Printed numbers of 0-based measures, "33 to 40" or "33"; nothing where none is chosen."""
    if first is None:
        return ""
    printed = {row["index"]: str(row["printed"]) for row in check.piece.measures}
    start = printed.get(first, "")
    end = printed.get(first if last is None else last, "")
    return start if start == end else f"{start} to {end}"


def in_words(numbers: str) -> str:
    """The measures as they stand in a sentence.

    >>> in_words("33 to 40"), in_words("33"), in_words("")
    ('measures 33 to 40', 'measure 33', '')
    """
    if not numbers:
        return ""
    return f"measures {numbers}" if " to " in numbers else f"measure {numbers}"


def answer_notes(check: PlayingCheck) -> dict[int, str]:
    """What the list says of each turn's answer: opened or not, kept, a plan. Three queries."""
    plans = set(
        MusicianPlan.objects.filter(turn__check_row=check).values_list("turn_id", flat=True)
    )
    notes = {}
    sent = Answer.objects.filter(turn__check_row=check).only("turn_id", "seen_at")
    for answer in sent:
        plan = ", wrote a plan" if answer.turn_id in plans else ""
        notes[answer.turn_id] = _opened(answer) + plan
    kept = KeptAnswer.objects.filter(turn__check_row=check).values_list("turn_id", flat=True)
    notes.update(dict.fromkeys(kept, KEPT))
    return notes


def kept_count(account: Account) -> int:
    """How many answers are kept and not sent. One query."""
    return KeptAnswer.objects.visible_to(account).count()


def kept_page(account: Account) -> KeptPage:
    """All kept answers that ``account`` may send, in the order they were written by check."""
    rows = list(
        KeptAnswer.objects.visible_to(account)
        .select_related(
            "turn__musician", "turn__check_row__ensemble", "turn__check_row__piece"
        )
        .select_related("written_by", "voice")
        .order_by("turn__check_row__due_on", "turn__check_row_id", "written_at", "pk")
    )
    gone = _without_sound([row.turn_id for row in rows])
    here = _here_now([row.turn for row in rows])
    by_check: dict[int, list[KeptLine]] = {}
    checks: dict[int, PlayingCheck] = {}
    for row in rows:
        check = row.turn.check_row
        checks[check.pk] = check
        by_check.setdefault(check.pk, []).append(
            _kept_line(row, account, row.turn_id in gone, row.turn_id in here)
        )
    return KeptPage(
        tuple(
            KeptCheck(pk, checks[pk].title, checks[pk].ensemble.name, tuple(lines))
            for pk, lines in by_check.items()
        )
    )


def _kept_line(row: KeptAnswer, account: Account, gone: bool, here: bool) -> KeptLine:
    voice = row.voice if row.voice is not None and row.voice.removed_at is None else None
    remarks = []
    if not here:
        remarks.append("no longer in the group; the answer stays readable when they sign in")
    if gone:
        remarks.append("the recording was removed after the time the school has set")
    return KeptLine(
        turn_pk=row.turn_id,
        stamp=stamp_of(row),
        musician=row.turn.musician.name,
        where=in_words(numbers_printed(row.turn.check_row, row.first_measure, row.last_measure)),
        next_step=row.next_step,
        more=tuple(line for line in (row.strength, row.strategy) if line),
        voice=Spoken(str(voice.key), round(voice.seconds), row.caption) if voice else None,
        by="" if row.written_by_id == account.pk else row.written_by.shown_name,
        remarks=tuple(remarks),
    )


def _without_sound(turns: Sequence[int]) -> set[int]:
    """Turns whose sent take was removed by the school's rule."""
    rows = Take.objects.filter(turn__in=turns, chosen=True, state=Take.REMOVED)
    return set(rows.values_list("turn_id", flat=True))


def _here_now(turns: Sequence[Turn]) -> set[int]:
    """Turns whose musician sits in the check's ensemble today."""
    today = timezone.localdate()
    seats = Seat.objects.filter(musician__in=[turn.musician_id for turn in turns])
    seated = {
        (musician, ensemble)
        for musician, ensemble, left in seats.values_list(
            "musician_id", "section__ensemble_id", "left_on"
        )
        if left is None or left > today
    }
    return {
        turn.pk for turn in turns if (turn.musician_id, turn.check_row.ensemble_id) in seated
    }


def _spoken(turn: Turn, draft: AnswerDraft) -> Spoken | None:
    """The recording that stands in the form, if it is still there."""
    if not draft.voice:
        return None
    found = AnswerSound.objects.filter(turn=turn, key=draft.voice, removed_at=None).first()
    return Spoken(draft.voice, round(found.seconds), draft.caption) if found else None


def _opened(answer: Answer | None) -> str:
    """Whether the musician has opened what was sent; empty before it is sent."""
    if answer is None:
        return ""
    if answer.seen_at is None:
        return NOT_OPENED
    return f"opened {date_words(answer.seen_at)}"


def _plan(turn: Turn) -> tuple[str, ...]:
    """The musician's plan about this turn's answer, else about the latest one before it."""
    rows = MusicianPlan.objects.filter(
        turn__check_row=turn.check_row_id,
        turn__musician=turn.musician_id,
        turn__attempt__lte=turn.attempt,
    )
    found = rows.order_by("-turn__attempt").first()
    return tuple(found.lines) if found is not None else ()
