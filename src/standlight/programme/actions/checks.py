"""A playing check: made of a piece, its passages moved, published, with a model take."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial

from django.db import transaction
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.errors import NotAllowed, StandlightError
from standlight.programme import store
from standlight.programme.actions.folder import cast_missing
from standlight.programme.actions.passages import (
    as_alternative,
    check_range,
    complete_passages,
    cut_rows,
    found_rows,
    keep_rows,
    look_at,
    parts_in_use,
    say_why,
)
from standlight.programme.actions.shifting import (
    kept_takes_again,
    shorten_where_agreed,
    starts_follow,
    versions_again,
    wishes_again,
    wishes_of,
)
from standlight.programme.forgetting import forget_arrival, forget_files, forget_recording
from standlight.programme.models import (
    Account,
    CheckPassage,
    CheckTerms,
    Ensemble,
    Piece,
    PlayingCheck,
    Section,
)
from standlight.programme.notation import ask_to_draw
from standlight.programme.pitch_targets import checked_target
from standlight.programme.queries.places import plays_enough
from standlight.score import with_tempo
from standlight.workshop import playback_copy

FEWEST_CRITERIA, MOST_CRITERIA = 3, 5
"""More than five levels a take do not fit the Desk's 45 seconds."""

MOST_OTHER_PLACES = 4
"""Other places kept beside a passage: three that were found and the one it was moved from."""

CHOSEN = "Chosen by you"
"""How the reason of a passage begins that a director placed."""

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
    together: bool = False
    pitch_target: str = PlayingCheck.EQUAL
    tonic: str = ""


def make_check(
    account: Account, piece: Piece, facts: CheckFacts, *, printed: str = ""
) -> PlayingCheck:
    """A draft with a passage proposed for every part in use.

    On paper only, ``printed`` says which measures or letter everyone plays. Passages are
    found first and written in one transaction after.
    """
    may_direct(account, piece.ensemble_id)
    check = PlayingCheck(ensemble=piece.ensemble, piece=piece, made_by=account)
    _fill(check, facts)
    if piece.on_paper_only:
        with transaction.atomic():
            check.save()
            _say_where(check, None, printed)
        return check
    cast_missing(piece)
    rows = found_rows(check)
    with transaction.atomic():
        check.save()
        keep_rows(check, rows)
    return check


@transaction.atomic
def change_check(account: Account, check: PlayingCheck, facts: CheckFacts) -> bool:
    """Change what is filled in; once something is sent, what is listened for stays.

    That is the criteria, whether a group records together, and what intonation is read against.
    Takes that are kept but not sent are read again when the latter two change. True when what
    passages are found by has changed and they can still be found again.
    """
    may_direct(account, check.ensemble_id)
    sent = anything_sent(check)
    if sent and set(facts.criteria) != set(check.criteria):
        raise NotAllowed("musicians have already sent something, so the criteria stay")
    before, heard_before = (list(check.criteria), check.tempo_qpm), _read_by(check)
    _fill(check, facts)
    if heard_before != _read_by(check):
        if sent:
            raise NotAllowed(
                "musicians have already sent something, so who records and what intonation is"
                " read against stay"
            )
        check.save()
        kept_takes_again(_part_rows(check))
    check.save()
    if before[1] != check.tempo_qpm:
        _tempo_again(check)
    changed = before != (check.criteria, check.tempo_qpm)
    return changed and not sent and not check.piece.on_paper_only


def move_passage(account: Account, passage: CheckPassage, first: int, last: int) -> None:
    """Let a part play other measures (0-based, inclusive); the cut is made again.

    Where it played before stays on offer among its other places.
    """
    check = passage.check_row
    may_move(account, check)
    _to_measures(check, passage, first, last)
    _keep_moved(account, check, [passage], CHOSEN)


def same_place(
    account: Account, check: PlayingCheck, first: int, last: int
) -> tuple[int, int]:
    """Let every part that plays there play the same measures; how many moved, how many did not.

    A part that rests there, or has too few notes there to rate, keeps its own place.
    """
    may_move(account, check)
    check_range(check.piece, first, last)
    complete_passages(check)
    rows = _part_rows(check)
    there = [row for row in rows if plays_enough(look_at(check, row.part, first, last))]
    if not there:
        raise StandlightError("nobody has enough to play there", slip="rests in every part?")
    for row in there:
        _to_measures(check, row, first, last)
    _keep_moved(account, check, there, "The same place for all who play there")
    return len(there), len(rows) - len(there)


def give_nearest(account: Account, check: PlayingCheck) -> tuple[str, ...]:
    """Give every part without a passage the nearest place it has; the names of those parts.

    A part that is nowhere to be heard alone has no such place and stays without.
    """
    may_move(account, check)
    rows = [
        row for row in _part_rows(check)
        if not row.printed and row.first_measure is None and row.alternatives
    ]  # fmt: skip
    for row in rows:
        _to_measures(check, row, row.alternatives[0]["first"], row.alternatives[0]["last"])
    _keep_moved(account, check, rows, "The nearest place of this part")
    return tuple(row.part.name for row in rows)


def say_again(account: Account, check: PlayingCheck) -> int:
    """Leave passages where they are and say anew what they ask and show; how many."""
    may_move(account, check)
    rows = [row for row in _part_rows(check) if row.first_measure is not None]
    say_why(check, rows, "Kept by you")
    keep_changed(account, check, rows)
    return len(rows)


def propose_again(account: Account, check: PlayingCheck, *, keep_chosen: bool = False) -> int:
    """Throw away the passages and find anew; how many were found.

    With ``keep_chosen`` those that the director placed by hand stay where they are.
    Musicians' own versions are made again of the new passages; takes kept but not sent are
    read again.
    """
    may_move(account, check)
    rows = found_rows(check, anew=True)
    with transaction.atomic():
        may_move(account, check)
        wishes = wishes_of(check)
        old = check.passages.filter(part__isnull=False)
        (old.filter(moved_by_hand=False) if keep_chosen else old).delete()
        kept = keep_rows(check, rows)
        wishes_again(check, wishes)
        kept_takes_again(rows)
    return kept


@transaction.atomic
def say_where(account: Account, check: PlayingCheck, section: Section | None, printed: str) -> None:
    """Name the printed measures or letter that a section (or everyone) plays from paper.

    An empty ``printed`` takes a section's own place away again.
    """
    may_move(account, check)
    if section is not None and section.ensemble_id != check.ensemble_id:
        raise StandlightError("this section is another ensemble's")
    _say_where(check, section, printed)


def publish(account: Account, check: PlayingCheck) -> None:
    """Open the check to its musicians; a second time changes nothing.

    Raises `StandlightError` when no part has a passage, or the school has not confirmed
    that it owns the music.
    """
    may_direct(account, check.ensemble_id)
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
    shorten_where_agreed(account, check)
    if CheckTerms.objects.filter(check_row=check, own_start=True).exists():
        starts_follow(account.pk, check)


@transaction.atomic
def remove_check(account: Account, check: PlayingCheck) -> None:
    """Throw a check away with what was brought in for it and is nobody's take.

    Raises `NotAllowed` once a musician has a turn in it.
    """
    may_direct(account, check.ensemble_id)
    if check.turns.exists():
        raise NotAllowed("musicians have already begun, so this check stays")
    # The rows would go with the check, but their sound only by its own way out.
    for recording in check.long_recordings.all():
        forget_recording(recording)
    for arrival in check.arrivals.all():
        forget_arrival(arrival)
    digests = {check.model_take_digest} - {""}
    check.delete()
    transaction.on_commit(partial(forget_files, digests))


def keep_model_take(account: Account, check: PlayingCheck, sound: bytes) -> None:
    """Keep a recording that the launch page plays; raises `UnreadableTake` when it is none."""
    may_direct(account, check.ensemble_id)
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


def _part_rows(check: PlayingCheck) -> list[CheckPassage]:
    """The rows of the check's parts in use, with part and piece."""
    used = {part.pk for part in parts_in_use(check.piece)}
    rows = check.passages.filter(part__in=used).select_related("part__piece")
    return list(rows)


def _to_measures(check: PlayingCheck, row: CheckPassage, first: int, last: int) -> None:
    """Set a row's measures, with where it was among its other places; not saved, not cut."""
    if row.part is None:
        raise StandlightError("a paper passage is named by its printed measures")
    check_range(check.piece, first, last)
    others = [one for one in row.alternatives if (one["first"], one["last"]) != (first, last)]
    was = (row.first_measure, row.last_measure)
    if row.first_measure is not None and was not in ((first, last), *map(_ends, others)):
        others.insert(0, as_alternative(look_at(check, row.part, *was)))
    row.alternatives = others[:MOST_OTHER_PLACES]
    row.first_measure, row.last_measure = first, last
    row.moved_by_hand = True


def _ends(place: Mapping[str, int]) -> tuple[int, int]:
    """First and last measure of another place."""
    return place["first"], place["last"]


def _keep_moved(
    account: Account, check: PlayingCheck, rows: Sequence[CheckPassage], lead: str
) -> None:
    """Cut moved rows, say why (``lead``, then what is offered), and save them in one transaction.

    Musicians' own versions are made again of the new cuts.
    """
    cut_rows(store.fetch(check.piece.score_digest), rows)
    say_why(check, rows, lead)
    keep_changed(account, check, rows)


@transaction.atomic
def keep_changed(account: Account, check: PlayingCheck, rows: Sequence[CheckPassage]) -> None:
    """Save rows with new notation, their own versions with them, and have them drawn.

    Takes that are kept but not sent are read against the new notation.
    """
    may_move(account, check)
    before = dict(check.passages.values_list("pk", "notation_digest"))
    CheckPassage.objects.bulk_update(
        rows,
        [
            "first_measure",
            "last_measure",
            "moved_by_hand",
            "reason",
            "demand",
            "shows",
            "alternatives",
            "printed",
            "notation_digest",
        ],
    )
    ask_to_draw([row.notation_digest for row in rows])
    versions_again(rows)
    kept_takes_again([row for row in rows if row.notation_digest != before.get(row.pk)])


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
    check.together = facts.together
    check.pitch_target, check.tonic = checked_target(facts.pitch_target, facts.tonic)


def _tempo_again(check: PlayingCheck) -> None:
    """Let the music that musicians see carry the check's new tempo, their own versions too."""
    rows = list(check.passages.exclude(notation_digest=""))
    for row in rows:
        notation = with_tempo(store.fetch(row.notation_digest), check.tempo_qpm)
        row.notation_digest = store.keep(notation)
    CheckPassage.objects.bulk_update(rows, ["notation_digest"])
    ask_to_draw([row.notation_digest for row in rows])
    versions_again(rows)


def _read_by(check: PlayingCheck) -> tuple[bool, str, str]:
    """What a reading depends on beside the notes and the tempo."""
    return check.together, check.pitch_target, check.tonic


def anything_sent(check: PlayingCheck) -> bool:
    """True once a musician has sent something or was heard."""
    return check.turns.filter(sent_at__isnull=False).exists()


def may_move(account: Account, check: PlayingCheck) -> None:
    """Refuse to move passages that somebody has already played."""
    may_direct(account, check.ensemble_id)
    if anything_sent(check):
        raise NotAllowed(
            "musicians have already sent this passage, so it stays",
            slip="make a new check for another place",
        )


def may_direct(account: Account, ensemble_pk: int) -> None:
    """Refuse an ensemble that the account does not direct."""
    seen = Ensemble.objects.visible_to(account).filter(pk=ensemble_pk)
    if not (account.is_director and seen.exists()):
        raise NotAllowed("this ensemble is not yours")
