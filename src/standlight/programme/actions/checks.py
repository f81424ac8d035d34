"""A playing check: made of a piece, its passages moved, published, with a model take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.errors import NotAllowed, StandlightError
from standlight.programme import store
from standlight.programme.actions.folder import cast_missing
from standlight.programme.actions.passages import (
    check_range,
    complete_passages,
    cut_rows,
    say_why,
)
from standlight.programme.models import (
    Account,
    CheckPassage,
    Ensemble,
    Piece,
    PlayingCheck,
    Section,
)
from standlight.programme.notation import ask_to_draw
from standlight.workshop import playback_copy

FEWEST_CRITERIA, MOST_CRITERIA = 3, 5
"""More than five levels a take do not fit the Desk's 45 seconds."""

SLOWEST_QPM, FASTEST_QPM = 20.0, 400.0
"""A third of Largo for a beginner, and a march counted in two written in eighths."""


@dataclass(frozen=True, slots=True)
class CheckFacts:
    """What a director fills in for a check; checked by the actions below."""

    title: str
    criteria: Sequence[str]
    tempo_qpm: float
    due_on: date
    asks_self_rating: bool = False
    note: str = ""


@transaction.atomic
def make_check(
    account: Account, piece: Piece, facts: CheckFacts, *, printed: str = ""
) -> PlayingCheck:
    """A draft with a passage proposed for every part in use.

    On paper only, ``printed`` says which measures or letter everyone plays.
    """
    _may_direct(account, piece.ensemble_id)
    check = PlayingCheck(ensemble=piece.ensemble, piece=piece, made_by=account)
    _fill(check, facts)
    check.save()
    if piece.on_paper_only:
        _say_where(check, None, printed)
        return check
    cast_missing(piece)
    complete_passages(check)
    return check


@transaction.atomic
def change_check(account: Account, check: PlayingCheck, facts: CheckFacts) -> None:
    """Change title, criteria, tempo, day or note; once something is sent, criteria stay."""
    _may_direct(account, check.ensemble_id)
    if _anything_sent(check) and set(facts.criteria) != set(check.criteria):
        raise NotAllowed("musicians have already sent something, so the criteria stay")
    _fill(check, facts)
    check.save()


@transaction.atomic
def move_passage(account: Account, passage: CheckPassage, first: int, last: int) -> None:
    """Let a part play other measures (0-based, inclusive); the cut is made again."""
    check = passage.check_row
    _may_move(account, check)
    if passage.part is None:
        raise StandlightError("a paper passage is named by its printed measures")
    check_range(check.piece, first, last)
    passage.first_measure, passage.last_measure = first, last
    passage.moved_by_hand = True
    _cut_again(check, [passage], "Chosen by you")


@transaction.atomic
def same_place(account: Account, check: PlayingCheck, first: int, last: int) -> int:
    """Let every part play the same measures; how many passages were moved."""
    _may_move(account, check)
    check_range(check.piece, first, last)
    complete_passages(check)
    rows = list(check.passages.filter(part__isnull=False).select_related("part__piece"))
    for row in rows:
        row.first_measure, row.last_measure = first, last
        row.moved_by_hand = True
    _cut_again(check, rows, "The same place for all parts")
    return len(rows)


@transaction.atomic
def propose_again(account: Account, check: PlayingCheck) -> int:
    """Throw away every passage and propose anew; how many there are now."""
    _may_move(account, check)
    check.passages.filter(part__isnull=False).delete()
    return complete_passages(check)


@transaction.atomic
def say_where(account: Account, check: PlayingCheck, section: Section | None, printed: str) -> None:
    """Name the printed measures or letter that a section (or everyone) plays from paper.

    An empty ``printed`` takes a section's own place away again.
    """
    _may_move(account, check)
    if section is not None and section.ensemble_id != check.ensemble_id:
        raise StandlightError("this section is another ensemble's")
    _say_where(check, section, printed)


@transaction.atomic
def publish(account: Account, check: PlayingCheck) -> None:
    """Open the check to its musicians; a second time changes nothing.

    Raises `StandlightError` when no part has a passage, or the school has not confirmed
    that it owns the music.
    """
    _may_direct(account, check.ensemble_id)
    if check.published_at is not None:
        return
    complete_passages(check)
    if not any(row.printed for row in check.passages.all()):
        raise StandlightError(
            "nobody has a passage yet",
            slip="give parts in the folder, or name the printed measures",
        )
    if not check.piece.on_paper_only and not check.ensemble.programme.owns_music:
        raise StandlightError(
            "the school has not yet confirmed that it owns the music it loads",
            slip="confirm it on this page",
        )
    check.published_at = timezone.now()
    check.save(update_fields=["published_at"])


@transaction.atomic
def remove_check(account: Account, check: PlayingCheck) -> None:
    """Throw a check away; raises `NotAllowed` once a musician has a turn in it."""
    _may_direct(account, check.ensemble_id)
    if check.turns.exists():
        raise NotAllowed("musicians have already begun, so this check stays")
    check.delete()


def keep_model_take(account: Account, check: PlayingCheck, sound: bytes) -> None:
    """Keep a recording that the launch page plays; raises `UnreadableTake` when it is none."""
    _may_direct(account, check.ensemble_id)
    digest = store.keep(playback_copy(sound))
    PlayingCheck.objects.filter(pk=check.pk).update(model_take_digest=digest)


def _say_where(check: PlayingCheck, section: Section | None, printed: str) -> None:
    """Keep where a section or everyone plays from paper."""
    printed = " ".join(printed.split())
    row = check.passages.filter(part__isnull=True, section=section).first()
    if not printed and section is not None:
        if row is not None:
            row.delete()
        return
    if not 0 < len(printed) <= 80:
        raise StandlightError(
            "name the measures or the letter to play, in 1 to 80 characters",
            slip="such as: 33 to 40, or: letter B",
        )
    row = row or CheckPassage(check_row=check, section=section)
    row.printed, row.moved_by_hand, row.reason = printed, True, "Chosen by you."
    row.save()


def _cut_again(check: PlayingCheck, rows: Sequence[CheckPassage], lead: str) -> None:
    """Cut and save moved rows; their reason is ``lead`` and what the measures offer."""
    cut_rows(store.fetch(check.piece.score_digest), rows)
    say_why(check, rows, lead)
    CheckPassage.objects.bulk_update(
        rows,
        [
            "first_measure",
            "last_measure",
            "moved_by_hand",
            "reason",
            "demand",
            "shows",
            "printed",
            "notation_digest",
        ],
    )
    ask_to_draw([row.notation_digest for row in rows])


def _fill(check: PlayingCheck, facts: CheckFacts) -> None:
    """Check and set what the director filled in."""
    title = " ".join(facts.title.split())
    criteria = list(dict.fromkeys(facts.criteria))
    unknown = [key for key in criteria if key not in CRITERIA]
    if not 0 < len(title) <= 120:
        raise StandlightError("the check needs a title of 1 to 120 characters")
    if unknown:
        raise StandlightError(f"there is no criterion {unknown[0]!r}")
    if not FEWEST_CRITERIA <= len(criteria) <= MOST_CRITERIA:
        raise StandlightError(
            f"{len(criteria)} criteria are chosen, not {FEWEST_CRITERIA} to {MOST_CRITERIA}",
            slip="choose what you want to listen for now",
        )
    if not SLOWEST_QPM <= facts.tempo_qpm <= FASTEST_QPM:
        raise StandlightError(
            f"a tempo of {facts.tempo_qpm:g} quarter notes a minute is not between "
            f"{SLOWEST_QPM:g} and {FASTEST_QPM:g}",
            slip="counted in half notes or eighths?",
        )
    if len(facts.note) > 400:
        raise StandlightError("the note has more than 400 characters")
    check.title, check.tempo_qpm, check.due_on = title, facts.tempo_qpm, facts.due_on
    check.criteria = [key for key in CRITERIA if key in criteria]
    check.asks_self_rating, check.note = facts.asks_self_rating, facts.note.strip()


def _anything_sent(check: PlayingCheck) -> bool:
    """True once a musician has sent something or was heard."""
    return check.turns.filter(sent_at__isnull=False).exists()


def _may_move(account: Account, check: PlayingCheck) -> None:
    """Refuse to move passages that somebody has already played."""
    _may_direct(account, check.ensemble_id)
    if _anything_sent(check):
        raise NotAllowed(
            "musicians have already sent this passage, so it stays",
            slip="make a new check for another place",
        )


def _may_direct(account: Account, ensemble_pk: int) -> None:
    """Refuse an ensemble that the account does not direct."""
    seen = Ensemble.objects.visible_to(account).filter(pk=ensemble_pk)
    if not (account.is_director and seen.exists()):
        raise NotAllowed("this ensemble is not yours")
