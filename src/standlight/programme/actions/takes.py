"""What a musician does with takes: send pieces, keep a file, let one go, send the turn.

Every act is safe to repeat, because a phone that lost its answer asks again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid4

from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError, UnreadableTake
from standlight.programme import jobs, pieces, store
from standlight.programme.forgetting import forget_sound
from standlight.programme.models import (
    CheckTerms,
    Musician,
    PlayingCheck,
    Remark,
    Seat,
    Take,
    TakePiece,
    Turn,
)
from standlight.programme.queries.hearing import passage_of, section_in
from standlight.programme.queries.my_part import open_attempt
from standlight.programme.queries.terms import closed_words, terms_of

LARGEST_PIECE_BYTES = 4 * 1024 * 1024
"""One piece: a second is 16 kB at 128 kbit/s; a phone that slept hands over minutes at once."""

LARGEST_TAKE_BYTES = 64 * 1024 * 1024
"""One take in pieces: an hour at 128 kbit/s is 58 MB, and the listening stops far earlier."""

LARGEST_FILE_BYTES = 200_000_000
"""One file, as much as the decoder reads; a phone's video of two minutes is near it."""

MOST_PIECES = 3600
"""An hour of one-second pieces."""

WORDS_LENGTH = 600
SPOT_LENGTH = 400

PICTURE_MARKS = (
    (4, b"ftyp"),
    (4, b"moov"),
    (4, b"wide"),
    (0, b"\x1a\x45\xdf\xa3"),  # Matroska and WebM
    (8, b"AVI "),
    (0, b"\x00\x00\x01\xba"),  # MPEG program stream
    (0, b"\x30\x26\xb2\x75"),  # ASF
    (0, b"FLV"),
)
"""Byte offsets and marks of containers that may hold a picture beside the sound (from memory)."""

HERE = (Take.WHOLE, Take.HEARD)
"""States of a take that counts where a check asks for one: one that never arrived, or that cannot
be decoded, takes nobody's chance away."""

FROM_FILE = "file"
"""Value of ``Take.settings["way"]`` for a take that came as one file."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A spot to work on: 0-based measures of the piece, both included, and words about it."""

    first_measure: int
    last_measure: int
    words: str = ""


@dataclass(frozen=True, slots=True)
class Begun:
    """Where and when a take was begun: at a station or not, and when its page was opened.

    ``opened_at`` is ``None`` where only the present is known.
    """

    at_station: bool = False
    opened_at: datetime | None = None


class TooLarge(StandlightError):
    """A piece, a take or a file over its limit."""


class PieceConflict(StandlightError):
    """The same number came again with other bytes, or a number that the take cannot have."""


def keep_piece(
    turn_key: tuple[int, int, int], key: UUID, number: int, data: bytes, begun: Begun | None = None
) -> Take:
    """Keep piece ``number`` of the take ``key``; the same piece again changes nothing.

    ``turn_key`` is (musician id, check id, attempt), from a permit. Order does not
    matter. Raises ``NotAllowed``, ``TooLarge`` or ``PieceConflict``.
    """
    if not data:
        raise PieceConflict("a piece without sound came", where=f"piece {number}")
    if len(data) > LARGEST_PIECE_BYTES:
        raise TooLarge(
            f"this piece has {len(data)} bytes, more than {LARGEST_PIECE_BYTES}",
            where=f"piece {number}",
        )
    if not 0 <= number < MOST_PIECES:
        raise PieceConflict(f"piece {number} is past the last possible one, {MOST_PIECES - 1}")
    digest = hashlib.sha256(data).hexdigest()
    with transaction.atomic():
        take = _take_of(turn_key, key, begun)
        known = TakePiece.objects.filter(take=take, number=number).first()
        if known is None:
            _refuse_new_piece(take, number, len(data))
            pieces.put(key, number, data)
            TakePiece.objects.create(take=take, number=number, digest=digest)
        elif known.digest != digest:
            raise PieceConflict(
                "this piece came before with other bytes",
                where=f"piece {number}",
                slip="two recordings under one key?",
            )
    return take


def _refuse_new_piece(take: Take, number: int, n_bytes: int) -> None:
    """Raise when a take that is whole, or full, is sent one more piece."""
    if take.state != Take.ARRIVING:
        raise PieceConflict("this take is whole already", where=f"piece {number}")
    if pieces.bytes_so_far(take.key) + n_bytes > LARGEST_TAKE_BYTES:
        raise TooLarge(
            f"this take is longer than {LARGEST_TAKE_BYTES // 2**20} MB",
            slip="left running after the passage?",
        )


def make_whole(
    turn_key: tuple[int, int, int],
    key: UUID,
    *,
    n_pieces: int,
    media_type: str,
    settings: Mapping[str, object],
    number: int | None = None,
    begun: Begun | None = None,
) -> tuple[int, ...]:
    """Join the take when all its pieces are here, and have it heard; the missing numbers.

    An empty tuple says that the take is whole, now or from an earlier call. ``settings``
    are the microphone track's real settings, ``number`` the take's number on its device.
    """
    if not 0 < n_pieces <= MOST_PIECES:
        raise PieceConflict(f"a take of {n_pieces} pieces", slip="nothing was recorded?")
    with transaction.atomic():
        take = _take_of(turn_key, key, begun)
        if take.state != Take.ARRIVING:
            return ()
        here = set(TakePiece.objects.filter(take=take).values_list("number", flat=True))
        missing = tuple(sorted(set(range(n_pieces)) - here))
        if missing:
            return missing
        if here - set(range(n_pieces)):
            raise PieceConflict(
                f"{len(here)} pieces came for a take of {n_pieces}", slip="the count is wrong"
            )
        take.digest = store.keep(pieces.joined(key, n_pieces))
        take.n_pieces = n_pieces
        take.media_type = media_type[:80]
        take.settings = dict(settings)
        take.number = _free_number(take, number)
        take.state = Take.WHOLE
        take.save()
        jobs.ask_to_listen(take)
        transaction.on_commit(lambda: pieces.drop(key))
    return ()


def keep_file(
    musician: Musician,
    check: PlayingCheck,
    data: bytes,
    *,
    media_type: str = "",
    name: str = "",
    begun: Begun | None = None,
) -> Take:
    """Keep a recording that came as one file as a take of the open turn, and have it heard.

    Of a video only the sound is kept. A file that cannot be decoded is kept as it came, so
    that nothing is lost, unless it may hold a picture. Raises ``NotAllowed``, ``TooLarge``
    or ``UnreadableTake``.
    """
    if not data:
        raise UnreadableTake("the file is empty", where=name, slip="was the recording saved?")
    if len(data) > LARGEST_FILE_BYTES:
        raise TooLarge(
            f"the file has {len(data) // 10**6} MB, more than {LARGEST_FILE_BYTES // 10**6} MB",
            where=name,
            slip="a video in high quality? record only the sound",
        )
    attempt = open_attempt(musician, check)
    if attempt is None:
        raise NotAllowed("your take is sent already; wait for the answer, then you can try again")
    kept, kept_type, facts = _without_picture(data, media_type)
    digest = hashlib.sha256(kept).hexdigest()
    with transaction.atomic():
        again = Take.objects.filter(
            turn__musician=musician,
            turn__check_row=check,
            turn__attempt=attempt,
            digest=digest,
        ).first()
        if again is not None:
            return again
        take = _take_of((musician.pk, check.pk, attempt), uuid4(), begun)
        take.digest = store.keep(kept)
        take.media_type = kept_type[:80]
        take.settings = facts
        take.state = Take.WHOLE
        take.save()
        jobs.ask_to_listen(take)
    return take


def _without_picture(data: bytes, media_type: str) -> tuple[bytes, str, dict[str, object]]:
    """``data`` as it came, or its sound alone when it holds a picture; type and facts beside."""
    marked = any(data[at : at + len(mark)] == mark for at, mark in PICTURE_MARKS)
    if not marked and not media_type.startswith("video/"):
        return data, media_type, {"way": FROM_FILE}
    # The decoder brings numpy: only a process that meets such a file pays for it.
    from standlight.workshop.decoding import decode_with_copy

    recording, copy = decode_with_copy(data)
    if recording.picture_dropped:
        return copy, "audio/flac", {"way": FROM_FILE, "picture_dropped": True}
    return data, media_type, {"way": FROM_FILE}


@transaction.atomic
def let_go(turn_key: tuple[int, int, int], key: UUID) -> None:
    """Throw a take away, sound and all, while its turn is not sent; safe to repeat."""
    take = Take.objects.select_related("turn").filter(key=key).first()
    if take is None:
        return
    _refuse_foreign(take, turn_key)
    if take.turn.sent_at is not None:
        raise NotAllowed("this turn is sent; its takes stay with it")
    if take.state in HERE and terms_of(take.turn.check_row_id).one_take:
        raise NotAllowed("this check asks for one take, and this is it")
    digests = {take.digest, take.playback_digest} - {""}
    take.delete()
    transaction.on_commit(lambda: forget_sound(key, digests))


@transaction.atomic
def send_turn(
    turn_key: tuple[int, int, int],
    key: UUID,
    *,
    self_levels: Mapping[str, object] | None = None,
    words: str = "",
    spot: Spot | None = None,
    at_station: bool = False,
) -> Turn:
    """Send the take ``key`` to be rated; the same again changes nothing.

    ``self_levels`` are the musician's own levels 1 to 4 by criterion, kept apart from any
    mark. Raises ``StandlightError`` when the take is not whole, is not theirs, or when
    another take was sent.
    """
    take = Take.objects.select_related("turn__check_row__piece").filter(key=key).first()
    if take is None:
        raise StandlightError("this take is not here yet", slip="is it still on its way?")
    _refuse_foreign(take, turn_key)
    turn = take.turn
    if turn.sent_at is not None:
        if take.chosen:
            return turn
        raise NotAllowed("another take of this turn is sent already")
    if take.state == Take.ARRIVING:
        raise StandlightError("this take is not whole yet", slip="is it still on its way?")
    levels = _own_levels(turn.check_row, self_levels or {})
    measures = _checked_spot(turn, spot)
    turn.takes.update(chosen=False)
    Take.objects.filter(key=key).update(chosen=True)
    turn.self_levels = levels
    turn.words = words.strip()[:WORDS_LENGTH]
    turn.section = section_in(turn)
    turn.sent_at = timezone.now()
    own_way = Turn.FILE if take.settings.get("way") == FROM_FILE else Turn.WEB
    turn.way = Turn.STATION if at_station else own_way
    turn.save()
    if spot is not None and measures is not None:
        _keep_remark(turn, spot, measures)
    return turn


def _own_levels(check: PlayingCheck, given: Mapping[str, object]) -> dict[str, int]:
    """The levels 1 to 4 for criteria of ``check``; a criterion left out stays out."""
    levels = {}
    for criterion, value in given.items():
        if criterion not in check.criteria or value in ("", None):
            continue
        if str(value) not in ("1", "2", "3", "4"):
            raise StandlightError(
                f"level {value} is not between 1 and 4", where=criterion, slip="counted from 0?"
            )
        levels[criterion] = int(str(value))
    return levels


def _checked_spot(turn: Turn, spot: Spot | None) -> tuple[int, int] | None:
    """First and last measure of the spot inside the musician's passage, in order."""
    if spot is None:
        return None
    passage = passage_of(turn)
    if passage is None or passage.first_measure is None or passage.last_measure is None:
        return None
    first, last = sorted((spot.first_measure, spot.last_measure))
    if not passage.first_measure <= first <= last <= passage.last_measure:
        raise StandlightError("the spot is outside your passage", slip="look at the numbers again")
    return first, last


def _keep_remark(turn: Turn, spot: Spot, measures: tuple[int, int]) -> None:
    """A remark of the musician on measures of the piece, tied to the turn."""
    passage = passage_of(turn)
    Remark.objects.create(
        piece=turn.check_row.piece,
        part=passage.part if passage else None,
        turn=turn,
        author=turn.musician.account,
        first_measure=measures[0],
        last_measure=measures[1],
        words=spot.words.strip()[:SPOT_LENGTH],
    )


def _refuse_foreign(take: Take, turn_key: tuple[int, int, int]) -> None:
    """Raise ``NotAllowed`` unless the take belongs to the turn of ``turn_key``."""
    turn = take.turn
    if (turn.musician_id, turn.check_row_id, turn.attempt) != turn_key:
        raise NotAllowed("this take is not yours to change")


def _take_of(turn_key: tuple[int, int, int], key: UUID, begun: Begun | None) -> Take:
    """The take ``key`` of the turn, made with its turn when it is new and may be.

    A take of which anything is here already is on its way: nothing refuses the rest of it. The
    check's terms ask nothing of what a director brings in (without ``begun``).
    """
    musician_id, check_id, attempt = turn_key
    take = Take.objects.select_related("turn").filter(key=key).first()
    if take is not None:
        _refuse_foreign(take, turn_key)
        return take
    musician = Musician.objects.filter(pk=musician_id).first()
    check = PlayingCheck.objects.filter(pk=check_id, published_at__isnull=False).first()
    if musician is None or check is None:
        raise NotAllowed("this check is not open any more")
    _refuse_closed(musician, check, attempt)
    terms = terms_of(check) if begun is not None else CheckTerms()
    _refuse_by_terms(terms, begun or Begun())
    turn, _ = Turn.objects.get_or_create(check_row=check, musician=musician, attempt=attempt)
    numbers = list(turn.takes.values_list("number", flat=True))
    if terms.one_take and turn.takes.filter(state__in=HERE).exists():
        raise NotAllowed("this check asks for one take, and yours is here")
    if len(numbers) >= PlayingCheck.TAKES_KEPT:
        raise NotAllowed(
            f"{PlayingCheck.TAKES_KEPT} takes are kept already; let one go to keep another"
        )
    return Take.objects.create(key=key, turn=turn, number=max(numbers, default=0) + 1)


def _refuse_closed(musician: Musician, check: PlayingCheck, attempt: int) -> None:
    """Raise ``NotAllowed`` when this musician may not add a take to this attempt."""
    if musician.way != Musician.RECORD:
        raise NotAllowed("you are heard live, without a recording")
    if not Seat.objects.filter(musician=musician, section__ensemble=check.ensemble_id).exists():
        raise NotAllowed("this check is for another group")
    if open_attempt(musician, check) != attempt:
        raise NotAllowed("this turn is sent already")


def _refuse_by_terms(terms: CheckTerms, begun: Begun) -> None:
    """Raise ``NotAllowed`` where the check's terms do not let a take begin.

    What counts is when the page was opened: a take that was made in time and comes late, from a
    device without network, is on its way and comes in.
    """
    now = timezone.now()
    closed = closed_words(
        terms, at_station=begun.at_station, at=begun.opened_at or now, grace=True
    )
    if closed:
        raise NotAllowed(f"{closed[0].lower()}{closed[1:].rstrip('.')}")


def _free_number(take: Take, wished: int | None) -> int:
    """``wished`` when no other take of the turn has it, else the number the take has."""
    others = take.turn.takes.exclude(key=take.key).values_list("number", flat=True)
    if wished is None or not 1 <= wished <= 99 or wished in others:
        return take.number
    return wished
