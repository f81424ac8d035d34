"""Everything one hearing needs, gathered at once."""

from __future__ import annotations

from uuid import UUID

from standlight.criteria.kept import HeardOn
from standlight.criteria.limits import entry_limit_ms
from standlight.listening import ListeningTask, Terms
from standlight.programme import store
from standlight.programme.models import (
    Casting,
    CheckPassage,
    OwnVersion,
    PlayingCheck,
    Seat,
    Section,
    Take,
    Turn,
)
from standlight.programme.pitch_targets import target_of
from standlight.score import INSTRUMENTS


def seat_in(turn: Turn) -> Seat | None:
    """The musician's seat in the ensemble of the turn's check, ``None`` when they left."""
    return (
        Seat.objects.filter(
            musician_id=turn.musician_id, section__ensemble_id=turn.check_row.ensemble_id
        )
        .select_related("section")
        .order_by("left_on", "pk")
        .first()
    )


def section_in(turn: Turn) -> Section | None:
    """The section the musician sits in today for the turn's check, to be kept when it is sent."""
    seat = seat_in(turn)
    return seat.section if seat is not None else None


def passage_of(turn: Turn) -> CheckPassage | None:
    """The passage this musician plays in the check: by part, else by section, else everyone's."""
    seat = seat_in(turn)
    passages = turn.check_row.passages.select_related("part", "section")
    if seat is None:
        return None
    casting = Casting.objects.filter(seat=seat, piece_id=turn.check_row.piece_id).first()
    if casting is not None:
        found = passages.filter(part_id=casting.part_id).first()
        if found is not None:
            return found
    paper = passages.filter(part__isnull=True)
    return paper.filter(section=seat.section_id).first() or paper.filter(section=None).first()


def own_version_of(passage: CheckPassage | None, musician_pk: int) -> OwnVersion | None:
    """The musician's own version of the passage, ``None`` when they have it as it is cut."""
    if passage is None:
        return None
    return OwnVersion.objects.filter(passage=passage, musician=musician_pk).first()


def notation_digest_of(passage: CheckPassage | None, own: OwnVersion | None) -> str:
    """The digest of what a musician has before them, and is read against.

    Their ``own`` version's, else the passage's; empty on paper only.
    """
    if own is not None:
        return own.notation_digest
    return passage.notation_digest if passage is not None else ""


def terms_heard_on(
    check: PlayingCheck, passage: CheckPassage | None, own: OwnVersion | None, seated: str
) -> HeardOn:
    """On what terms a take was heard, as far as the words of its readings depend on it.

    ``passage`` comes with its part; ``seated`` names the instrument of the musician's section,
    which is asked where the part names none (empty when the musician left).
    """
    part = passage.part if passage is not None else None
    instrument = INSTRUMENTS.get((part.instrument if part is not None else "") or seated)
    family = instrument.family if instrument is not None else ""
    moved = own.semitones if own is not None else 0
    return HeardOn(
        onset_tolerance_ms=entry_limit_ms(family),
        marked_tempo_qpm=check.tempo_qpm,
        sung=family == "voice",
        target=target_of(check.pitch_target, check.tonic, semitones=moved),
    )


def listening_task(key: UUID | str) -> ListeningTask:
    """The task of the take ``key``; without notation only the recording itself is judged."""
    take = Take.objects.select_related("turn__check_row__ensemble", "turn__musician").get(key=key)
    check = take.turn.check_row
    passage = passage_of(take.turn)
    seat = seat_in(take.turn)
    own = own_version_of(passage, take.turn.musician_id)
    digest = notation_digest_of(passage, own)
    instrument = passage.part.instrument if passage is not None and passage.part else ""
    moved = own.semitones if own is not None else 0
    return ListeningTask(
        take=store.fetch(take.digest),
        notation=store.fetch(digest) if digest else None,
        terms=Terms(
            tempo_qpm=check.tempo_qpm,
            instrument=instrument or (seat.section.instrument if seat else None),
            a4_hz=check.ensemble.a4_hz,
            criteria=tuple(check.criteria),
            octave_free=bool(seat and seat.voice_changing),
            target=target_of(check.pitch_target, check.tonic, semitones=moved),
            together=check.together,
        ),
    )
