"""Answering: written, spoken, kept until all are sent; and what a musician does with an answer.

Nothing that somebody wrote is lost: what another window answered meanwhile is told before it is
written over, and what is written over stays as an ``EarlierAnswer``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme import store
from standlight.programme.accommodations import WRITTEN
from standlight.programme.fill_ins import fill_in
from standlight.programme.models import (
    Account,
    Answer,
    AnswerSound,
    CommentLine,
    EarlierAnswer,
    KeptAnswer,
    MusicianPlan,
    Turn,
)
from standlight.programme.queries.answer_values import AnswerDraft, Said
from standlight.programme.queries.answers import (
    as_draft,
    facts_by_place,
    said_in,
    stamp_of,
    standing_answer,
)
from standlight.programme.queries.offers import translated

LONGEST_WORDS = 400
"""Characters of one line of an answer, a comment line or a remark."""

PLACE_WORDS = {"strength": "strength", "next_step": "next step", "strategy": "strategy"}
"""The lines of an answer as a sentence names them."""

SLACK_S = 1.0
"""A browser stops a little after it is asked to: a second more than promised is taken."""

LARGEST_VOICE_BYTES = 20_000_000
"""Fifteen seconds without any compression are at most 9 MB (96 kHz, 24 bits, stereo)."""

MOST_PLAN_LINES, LONGEST_PLAN_LINE = 3, 120
"""A plan that is longer is not done (our choice)."""


class AnsweredMeanwhile(StandlightError):
    """Another window answered this turn in between; ``said`` is what stands there now."""

    def __init__(self, said: Said) -> None:
        """Keep what stands there; the sentence says whose it is and that nothing is lost."""
        super().__init__(
            f"{said.by} has answered this take meanwhile: “{said.words}” Yours still stands "
            "here and is not kept yet. Send it to put it in the place of the other"
        )
        self.said = said


@dataclass(frozen=True, slots=True)
class SentBatch:
    """What came of sending many at once: how many went, and a sentence for each that did not."""

    sent: int
    stayed: tuple[str, ...] = ()


def answer_turn(
    account: Account,
    turn: Turn,
    *,
    next_step: str,
    strength: str = "",
    strategy: str = "",
    first_measure: int | None = None,
    last_measure: int | None = None,
) -> Answer:
    """Send a written answer at once; see `send_answer`."""
    draft = AnswerDraft(strength, next_step, strategy, first_measure, last_measure)
    return send_answer(account, turn, draft)


@transaction.atomic
def send_answer(
    account: Account, turn: Turn, draft: AnswerDraft, seen: str | None = None
) -> Answer:
    """Keep the answer and let the musician see it; a second answer replaces the first.

    ``seen`` is the stamp of what the form showed: `AnsweredMeanwhile` is raised when other words
    stand there by now; without it they are replaced. Measures are 0-based indexes in the piece.
    Raises ``StandlightError`` without a next step or a voice, for a line too long, measures the
    wrong way round, a voice without its line where text is agreed; ``NotAllowed`` when not sent.
    """
    fields = _checked(turn, draft)
    _refuse_unseen(turn, fields, seen)
    return _send(account, turn, fields)


@transaction.atomic
def keep_answer(
    account: Account, turn: Turn, draft: AnswerDraft, seen: str | None = None
) -> KeptAnswer:
    """Keep the answer until its director sends it: the musician sees nothing yet.

    ``seen`` and what is raised as in `send_answer`.
    """
    fields = _checked(turn, draft)
    _refuse_unseen(turn, fields, seen)
    held = KeptAnswer.objects.filter(turn=turn).first()
    if held is not None and held.written_by_id != account.pk:
        _keep_earlier(held, fields, was_sent=False)
    kept, _ = KeptAnswer.objects.update_or_create(
        turn=turn, defaults={**fields, "written_by": account}
    )
    return kept


def send_kept(account: Account, chosen: Mapping[int, str]) -> SentBatch:
    """Send kept answers, turn to the stamp of what was shown; each by itself, so that none waits.

    One that was changed since, is gone or lacks what was agreed in between stays, with a sentence.
    """
    rows = {
        row.turn_id: row
        for row in KeptAnswer.objects.visible_to(account)
        .filter(turn__in=chosen)
        .select_related("turn__musician", "turn__check_row__ensemble", "turn__check_row__piece")
        .select_related("written_by", "voice")
    }
    sent, stayed = 0, []
    gone = len(set(chosen) - set(rows))
    for turn_pk, row in rows.items():
        try:
            _send_one_kept(row, chosen[turn_pk])
            sent += 1
        except StandlightError as problem:
            stayed.append(f"{row.turn.musician.name}: {problem}.")
    if gone:
        one = "1 answer was" if gone == 1 else f"{gone} answers were"
        stayed.append(f"{one} sent, taken back or removed elsewhere meanwhile.")
    return SentBatch(sent, tuple(stayed))


@transaction.atomic
def take_back(account: Account, turn: Turn) -> None:
    """Drop the kept answer of a turn: it waits for an answer again; its words are kept as earlier.

    Nothing happens where none is kept.
    """
    held = KeptAnswer.objects.filter(turn=turn).first()
    if held is not None:
        _keep_earlier(held, None, was_sent=False)
        held.delete()


def keep_voice(account: Account, turn: Turn, data: bytes) -> AnswerSound:
    """Keep up to fifteen spoken seconds for a turn's answer, as a file that can seek.

    The same bytes again are the same sound. Raises ``StandlightError`` for an empty, unreadable
    or too long recording, ``NotAllowed`` for a turn not sent.
    """
    _must_be_sent(turn)
    if not data:
        raise StandlightError("the recording is empty", slip="was the microphone on?")
    if len(data) > LARGEST_VOICE_BYTES:
        raise StandlightError(
            f"this recording has {len(data) // 10**6} MB",
            slip=f"{AnswerSound.LONGEST_S} seconds are far smaller: was it another file?",
        )
    # The decoder brings numpy: only a process that meets a recording pays for it.
    from standlight.workshop.decoding import decode_with_copy

    recording, copy = decode_with_copy(data)
    seconds = float(recording.seconds)
    if seconds > AnswerSound.LONGEST_S + SLACK_S:
        raise StandlightError(
            f"this recording has {seconds:.0f} seconds, and {AnswerSound.LONGEST_S} fit",
            slip="say the one thing that helps most",
        )
    digest = store.keep(copy)
    same = AnswerSound.objects.filter(turn=turn, digest=digest, removed_at=None).first()
    return same or AnswerSound.objects.create(
        turn=turn, digest=digest, seconds=seconds, made_by=account
    )


@transaction.atomic
def open_answer(answer: Answer) -> None:
    """Note when the musician first opened the answer; a second time changes nothing."""
    Answer.objects.filter(pk=answer.pk, seen_at=None).update(seen_at=timezone.now())


@transaction.atomic
def keep_plan(turn: Turn, lines: Sequence[str]) -> MusicianPlan | None:
    """Keep what the musician will do about an answer, up to three lines; none takes it away.

    Raises ``StandlightError`` for more lines or a longer one, ``NotAllowed`` before an answer.
    """
    if turn.answered_at is None:
        raise NotAllowed("there is no answer yet", slip="a plan follows an answer")
    written = [text for line in lines if (text := " ".join(line.split()))]
    if len(written) > MOST_PLAN_LINES:
        raise StandlightError(
            f"this plan has {len(written)} lines, and {MOST_PLAN_LINES} fit",
            slip="keep the ones you will really do",
        )
    for line in written:
        if len(line) > LONGEST_PLAN_LINE:
            raise StandlightError(
                f"a line of your plan has {len(line)} letters, and {LONGEST_PLAN_LINE} fit",
                slip="make it shorter",
            )
    if not written:
        MusicianPlan.objects.filter(turn=turn).delete()
        return None
    plan, _ = MusicianPlan.objects.update_or_create(turn=turn, defaults={"lines": written})
    return plan


def one_line(text: str, what: str) -> str:
    """``text`` without spare blanks; raises ``StandlightError`` when it is too long."""
    text = " ".join(text.split())
    if len(text) > LONGEST_WORDS:
        raise StandlightError(
            f"this {what} has {len(text)} characters, and {LONGEST_WORDS} fit",
            slip="say the most useful half",
        )
    return text


def measures_of(turn: Turn, first: int | None, last: int | None) -> tuple[int | None, int | None]:
    """A pair of measures of the turn's piece in order; one alone stands for both."""
    if first is None:
        first = last
    if last is None:
        last = first
    if first is not None and last is not None and first > last:
        raise StandlightError(
            "the last measure comes before the first", slip="were the two swapped?"
        )
    written = {row["index"] for row in turn.check_row.piece.measures}
    if first is not None and not {first, last} <= written:
        raise StandlightError(
            "the piece has no such measure", where=str(last), slip="counted from 1?"
        )
    return first, last


def _checked(turn: Turn, draft: AnswerDraft) -> dict[str, object]:
    """The answer's fields as they are kept, braces filled; raises what `send_answer` tells."""
    _must_be_sent(turn)
    first, last = measures_of(turn, draft.first_measure, draft.last_measure)
    places = {}
    for place in (CommentLine.STRENGTH, CommentLine.STRATEGY):
        pair = measures_of(turn, *draft.places.get(place, (None, None)))
        if pair[0] is not None:
            places[place] = list(pair)
    facts = facts_by_place(turn, {**places, CommentLine.NEXT_STEP: (first, last)})
    lines = {
        place: one_line(fill_in(one_line(getattr(draft, place), words), facts[place][0]), words)
        for place, words in PLACE_WORDS.items()
    }
    voice = _voice(turn, draft.voice)
    caption = one_line(draft.caption, "line for the spoken part") if voice is not None else ""
    if not lines["next_step"] and voice is None:
        raise StandlightError(
            "an answer needs a next step", slip="one short sentence is enough to send"
        )
    _needs_caption(turn, voice, caption)
    return {
        **lines,
        "first_measure": first,
        "last_measure": last,
        "places": places,
        "voice": voice,
        "caption": caption,
    }


def _needs_caption(turn: Turn, voice: AnswerSound | None, caption: str) -> None:
    """Refuse a voice without its line for a musician who is to have what is said in writing."""
    if voice is not None and not caption and WRITTEN in turn.musician.accommodations:
        raise StandlightError(
            "it is agreed that this musician gets what is said in writing too",
            slip="write in one line what you said",
        )


def _voice(turn: Turn, key: str) -> AnswerSound | None:
    """The turn's own sound of that key, ``None`` for none."""
    if not key:
        return None
    found = None
    with suppress(ValueError):
        found = AnswerSound.objects.filter(turn=turn, key=UUID(key), removed_at=None).first()
    if found is None:
        raise StandlightError("this recording is not here any more", slip="speak it again")
    return found


def _refuse_unseen(turn: Turn, fields: Mapping[str, object], seen: str | None) -> None:
    """Raise `AnsweredMeanwhile` when other words stand there than the form showed."""
    if seen is None:
        return
    # The write below is in the same transaction, and SQLite lets one writer in at a time.
    standing = standing_answer(turn)
    if standing is None or stamp_of(standing) == seen:
        return
    if any(getattr(standing, name) != value for name, value in fields.items()):
        raise AnsweredMeanwhile(said_in(standing))


def _send(account: Account, turn: Turn, fields: Mapping[str, object]) -> Answer:
    """The answer as the musician reads it from now on; what it replaces is kept."""
    answer = Answer.objects.filter(turn=turn).first()
    if answer is not None:
        _keep_earlier(answer, fields, was_sent=True)
    held = KeptAnswer.objects.filter(turn=turn).first()
    if held is not None:
        if held.written_by_id != account.pk:
            _keep_earlier(held, fields, was_sent=False)
        held.delete()
    translations = _translations(turn, fields)
    sent, _ = Answer.objects.update_or_create(
        turn=turn,
        defaults={
            **fields,
            "translations": translations,
            "language": turn.musician.first_language if translations else "",
            "written_by": account,
            "seen_at": None,
        },
    )
    turn.answered_at = timezone.now()
    turn.save(update_fields=["answered_at"])
    return sent


def _translations(turn: Turn, fields: Mapping[str, object]) -> dict[str, str]:
    """The bank's translations of the lines that stand as they are in the bank."""
    if not turn.musician.first_language:
        return {}
    places = dict(fields["places"])  # type: ignore[call-overload]
    places[CommentLine.NEXT_STEP] = (fields["first_measure"], fields["last_measure"])
    words = {place: str(fields[place]) for place in PLACE_WORDS}
    return translated(turn, words, facts_by_place(turn, places))


@transaction.atomic
def _send_one_kept(row: KeptAnswer, stamp: str) -> Answer:
    """Send one kept answer in the name of who wrote it, unless it was changed since."""
    now = KeptAnswer.objects.filter(pk=row.pk).first()
    if now is None or stamp_of(now) != stamp:
        raise StandlightError("changed since you saw this list", slip="read it again, then send")
    _needs_caption(row.turn, now.voice, now.caption)
    draft = as_draft(now)
    return _send(now.written_by, row.turn, _checked(row.turn, draft))


def _keep_earlier(
    held: Answer | KeptAnswer, fields: Mapping[str, object] | None, *, was_sent: bool
) -> None:
    """Keep what is about to be written over, where ``fields`` say anything else."""
    if fields is not None and all(getattr(held, key) == value for key, value in fields.items()):
        return
    names = (*PLACE_WORDS, "first_measure", "last_measure", "places", "voice", "caption")
    EarlierAnswer.objects.create(
        turn=held.turn,
        written_by=held.written_by,
        written_at=held.written_at,
        was_sent=was_sent,
        **{name: getattr(held, name) for name in names},
    )


def _must_be_sent(turn: Turn) -> None:
    if turn.sent_at is None:
        raise NotAllowed("this turn has not been sent", where=str(turn.musician))
