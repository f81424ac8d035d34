"""Bringing recordings in: files and long recordings wait as arrivals until a director says whose.

Nothing becomes a take before it is confirmed, and what is confirmed becomes one exactly as when
the musician sends a file.
"""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db import transaction

from standlight.errors import NotAllowed, StandlightError
from standlight.programme import store
from standlight.programme.actions.takes import LARGEST_FILE_BYTES, TooLarge, keep_file, send_turn
from standlight.programme.forgetting import forget_arrival, forget_recording
from standlight.programme.models import (
    Account,
    Arrival,
    LongRecording,
    Musician,
    PlayingCheck,
    Section,
    Take,
    Turn,
)
from standlight.programme.queries.bringing import expected_seconds
from standlight.programme.queries.my_part import open_attempt

NAME_LENGTH = 200

LARGEST_LONG_BYTES = 250_000_000
"""One long recording, as much as the cutter reads; forty minutes as M4A are 40 MB."""

SHORTEST_SPAN_S = 0.5
"""A span shorter than this is no take and no half of one."""


@dataclass(frozen=True, slots=True)
class BroughtIn:
    """What became of confirmed rows: names of those kept, and a sentence for each that was not."""

    kept: tuple[str, ...]
    stayed: tuple[str, ...]


def bring_file(
    account: Account,
    check: PlayingCheck,
    data: bytes,
    *,
    name: str,
    media_type: str = "",
    file_time: datetime.datetime | None = None,
) -> Arrival:
    """Keep one file as an arrival that is nobody's yet; of a video only the sound.

    Raises ``NotAllowed`` for a check not published and for a file that is here already,
    ``TooLarge`` and ``UnreadableTake`` for what cannot be a take, each with a sentence.
    """
    _refuse_unpublished(check)
    if len(data) > LARGEST_FILE_BYTES:
        raise TooLarge(
            f"the file has {len(data) // 10**6} MB, more than {LARGEST_FILE_BYTES // 10**6} MB",
            where=name,
            slip="several musicians in one recording? bring it in as a long one",
        )
    # The decoder brings numpy: only a process that meets a file pays for it.
    from standlight.workshop.decoding import decode_with_copy

    recording, copy = decode_with_copy(data)
    kept, kept_type = (copy, "audio/flac") if recording.picture_dropped else (data, media_type)
    digest = hashlib.sha256(kept).hexdigest()
    with transaction.atomic():
        _refuse_known(check, digest, name)
        return Arrival.objects.create(
            check_row=check,
            brought_by=account,
            file_name=name[:NAME_LENGTH],
            file_time=file_time,
            digest=store.keep(kept),
            playback_digest=store.keep(copy),
            media_type=kept_type[:80],
            seconds=recording.seconds,
        )


def _refuse_unpublished(check: PlayingCheck) -> None:
    if check.published_at is None:
        raise NotAllowed("this check is not published yet", where=check.title)


def _refuse_known(check: PlayingCheck, digest: str, name: str) -> None:
    """Raise when these very bytes wait here already, or are somebody's take of the check."""
    if Arrival.objects.filter(check_row=check, digest=digest).exists():
        raise NotAllowed("this recording waits here already", where=name)
    take = Take.objects.filter(turn__check_row=check, digest=digest).first()
    if take is not None:
        raise NotAllowed(
            f"this recording is a take of {take.turn.musician.name} already", where=name
        )


def bring_long(
    account: Account, check: PlayingCheck, data: bytes, *, name: str, section: Section | None
) -> LongRecording:
    """Keep a recording of several musicians in a row, with an arrival for each span of sound.

    ``section`` is whose roster it follows. Only the seekable copy is kept. Raises like
    `bring_file`.
    """
    _refuse_unpublished(check)
    digest = hashlib.sha256(data).hexdigest()
    if LongRecording.objects.filter(check_row=check, digest=digest).exists():
        raise NotAllowed("this recording is here already", where=name)
    from standlight.workshop.long_takes import read_long_take

    long = read_long_take(data, expected_s=expected_seconds(check))
    with transaction.atomic():
        recording = LongRecording.objects.create(
            check_row=check,
            brought_by=account,
            section=section,
            file_name=name[:NAME_LENGTH],
            digest=digest,
            copy_digest=store.keep(long.copy),
            seconds=long.seconds,
        )
        spans = [(span.start_s, span.end_s, span.short) for span in long.spans]
        for start_s, end_s, short in spans or [(0.0, long.seconds, False)]:
            _span(recording, account, start_s, end_s, short=short)
    return recording


def _span(
    recording: LongRecording, account: Account, start_s: float, end_s: float, *, short: bool
) -> Arrival:
    return Arrival.objects.create(
        check_row_id=recording.check_row_id,
        brought_by=account,
        recording=recording,
        start_s=start_s,
        end_s=end_s,
        seconds=end_s - start_s,
        short=short,
    )


@transaction.atomic
def settle(rows: Sequence[Arrival], choices: Mapping[int, int | None]) -> None:
    """Remember what a director chose by hand: arrival to musician, or nobody to leave it out."""
    for arrival in rows:
        if arrival.pk in choices:
            Arrival.objects.filter(pk=arrival.pk).update(
                chosen=True, musician=choices[arrival.pk], told=""
            )


@transaction.atomic
def unsettle(rows: Sequence[Arrival]) -> None:
    """Forget who was chosen, so that names stand in roster order again; left out stays left out."""
    Arrival.objects.filter(pk__in=[row.pk for row in rows], musician__isnull=False).update(
        chosen=False, musician=None, told=""
    )


@transaction.atomic
def join_next(arrival: Arrival) -> None:
    """Make one span of this one and the next; the silence between comes with it."""
    following = arrival.recording and arrival.recording.spans.filter(
        start_s__gt=arrival.start_s
    ).order_by("start_s").first()  # fmt: skip
    if not following:
        raise StandlightError("there is no next one to join with")
    arrival.end_s = max(arrival.end_s, following.end_s)
    arrival.seconds = arrival.end_s - arrival.start_s
    arrival.short = False
    following.delete()
    arrival.save()


@transaction.atomic
def split_at(arrival: Arrival, second: float) -> None:
    """Make two spans of one at ``second`` of the whole recording; the first keeps its choice."""
    if arrival.recording is None:
        raise StandlightError("only a part of a long recording can be split")
    low, high = arrival.start_s + SHORTEST_SPAN_S, arrival.end_s - SHORTEST_SPAN_S
    if not low <= second <= high:
        raise StandlightError(
            f"{clock(second)} is not inside this part, {clock(arrival.start_s)} to"
            f" {clock(arrival.end_s)}",
            slip="stop the sound where the next musician begins",
        )
    _span(arrival.recording, arrival.brought_by, second, arrival.end_s, short=False)
    arrival.end_s = second
    arrival.seconds = second - arrival.start_s
    arrival.short = False
    arrival.save()


@transaction.atomic
def move_ends(arrival: Arrival, start_s: float, end_s: float) -> None:
    """Set where a span begins and ends, in seconds of the whole recording."""
    if arrival.recording is None:
        raise StandlightError("only a part of a long recording has ends to move")
    if not 0.0 <= start_s <= end_s - SHORTEST_SPAN_S <= arrival.recording.seconds:
        raise StandlightError(
            f"{clock(start_s)} to {clock(end_s)} is no part of this recording",
            slip="were the two swapped?",
        )
    arrival.start_s, arrival.end_s = start_s, min(end_s, arrival.recording.seconds)
    arrival.seconds = arrival.end_s - arrival.start_s
    arrival.short = False
    arrival.save()


def clock(second: float) -> str:
    """A place in a recording as people say it.

    >>> clock(83.46), clock(9.0)
    ('1:23.5', '0:09.0')
    """
    tenths = round(10 * second)
    return f"{tenths // 600}:{tenths % 600 // 10:02}.{tenths % 10}"


def keep_chosen(
    account: Account, check: PlayingCheck, rows: Sequence[tuple[Arrival, Musician]]
) -> BroughtIn:
    """Make a sent turn with its take of each row; a row that cannot be kept stays, with why.

    Each row is whole or not at all. Raises ``StandlightError`` when one musician stands in two
    rows: then nothing is kept.
    """
    _refuse_unpublished(check)
    _refuse_twice(rows)
    kept, stayed = [], []
    sounds = _sounds([arrival for arrival, _ in rows])
    for arrival, musician in rows:
        try:
            _keep_one(check, arrival, musician, sounds[arrival.pk])
        except StandlightError as problem:
            sentence = f"{musician.name}: {problem}"
            Arrival.objects.filter(pk=arrival.pk).update(told=sentence[:240])
            stayed.append(sentence)
        else:
            kept.append(musician.name)
    for recording in {arrival.recording for arrival, _ in rows if arrival.recording}:
        if not recording.spans.exists():
            forget_recording(recording)
    return BroughtIn(tuple(kept), tuple(stayed))


def _refuse_twice(rows: Sequence[tuple[Arrival, Musician]]) -> None:
    seen = set()
    for _, musician in rows:
        if musician.pk in seen:
            raise StandlightError(
                f"{musician.name} stands in two rows", slip="leave one of them out"
            )
        seen.add(musician.pk)


def _sounds(arrivals: Sequence[Arrival]) -> dict[int, tuple[bytes, str]]:
    """Bytes and media type by arrival; the spans of a recording are cut in one go."""
    found = {}
    cuts: dict[LongRecording, list[Arrival]] = {}
    for arrival in arrivals:
        if arrival.recording is None:
            found[arrival.pk] = store.fetch(arrival.digest), arrival.media_type
        else:
            cuts.setdefault(arrival.recording, []).append(arrival)
    if cuts:
        from standlight.workshop.long_takes import cut_spans
    for recording, spans in cuts.items():
        pieces = cut_spans(
            store.fetch(recording.copy_digest), [(span.start_s, span.end_s) for span in spans]
        )
        for span, piece in zip(spans, pieces, strict=True):
            found[span.pk] = piece, "audio/flac"
    return found


@transaction.atomic
def _keep_one(
    check: PlayingCheck, arrival: Arrival, musician: Musician, sound: tuple[bytes, str]
) -> Turn:
    """One row becomes a sent turn, as if the musician had sent the file."""
    if not Arrival.objects.select_for_update().filter(pk=arrival.pk).exists():
        raise NotAllowed("somebody has kept or removed this recording meanwhile")
    data, media_type = sound
    digest = hashlib.sha256(data).hexdigest()
    mine = Take.objects.filter(turn__musician=musician, turn__check_row=check)
    if mine.filter(digest=digest, turn__sent_at__isnull=False).exists():
        raise NotAllowed("this very recording is their take already")
    if musician.way != Musician.RECORD:
        raise NotAllowed("it is agreed that they are not recorded")
    attempt = open_attempt(musician, check)
    if attempt is None:
        raise NotAllowed("a take was sent meanwhile, or they are excused")
    take = keep_file(musician, check, data, media_type=media_type)
    turn = send_turn((musician.pk, check.pk, attempt), take.key)
    forget_arrival(arrival)
    return turn
