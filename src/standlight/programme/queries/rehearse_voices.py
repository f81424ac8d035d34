"""What was heard and said of pieces in the last weeks, as the rows that planning lays on a score.

Heard by the machine: the newest sent take of each musician and check, measure by measure, by the
rule of the picture of the whole group. Heard by people: levels of the try that counts (where its
answer names measures, there), and directors' remarks. Said by musicians: remarks, by `SAID`.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from django.db.models import prefetch_related_objects
from django.utils import timezone

from standlight.kinds import KINDS
from standlight.kinds.field_types import columns_of
from standlight.planning import DirectorRemark, HeardTake, MusicianRemark, RatedTake
from standlight.programme.models import (
    Answer,
    CheckPassage,
    Ensemble,
    OwnVersion,
    Piece,
    PlayingCheck,
    Remark,
)
from standlight.programme.queries.hearing import notation_digest_of, terms_heard_on
from standlight.programme.queries.kept_places import (
    newest_reports,
    troubled_measures,
    written_passage,
)
from standlight.programme.queries.passages import passages_by_musician
from standlight.programme.queries.rehearse_outline import (
    CLASS_PART,
    PieceOutline,
    measures_named,
)
from standlight.programme.queries.standing import (
    SeatRow,
    Standing,
    TurnRow,
    one_seat_each,
    seats_of,
    turns_of,
)
from standlight.programme.sheet_remarks import index_of

LOOKING_BACK_DAYS = 42
"""Checks and remarks this old still tell what to rehearse: about one concert cycle, as on Today."""

LOW_LEVELS = frozenset({"1", "2"})
"""Beginning and Developing."""

_HAPPENED_AIMS = {
    "entry": "rhythm", "lost": "", "notes": "notes", "rhythm": "rhythm", "tune": "intonation",
    "speed": "notes", "air": "tone", "loud": "dynamics", "hear": "", "other": "",
}  # fmt: skip
_HARD_AIMS = {
    "hands": "notes", "range": "notes", "rhythm": "rhythm", "leap": "notes", "air": "tone",
    "entry": "rhythm", "sharps": "notes", "loud": "dynamics", "words": "diction",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Meant:
    """What a musician's remark means for a rehearsal: a worry or not, and about what."""

    worry: bool
    aim: str = ""


@dataclass(slots=True)
class Voices:
    """The rows of one piece; ``remark_pks`` tells the remark of a row by the row's id.

    ``unrated`` counts read takes without a person's level; ``no_measures`` levels whose passage
    names no measure ("letter B"), by the words of the passage; ``no_part`` levels and remarks of
    sections that have no part in the piece.
    """

    takes: list[HeardTake] = field(default_factory=list)
    rated: list[RatedTake] = field(default_factory=list)
    director: list[DirectorRemark] = field(default_factory=list)
    musicians: list[MusicianRemark] = field(default_factory=list)
    remark_pks: dict[int, int] = field(default_factory=dict)
    unrated: int = 0
    no_measures: dict[str, int] = field(default_factory=dict)
    no_part: int = 0


def voices_of(
    ensemble: Ensemble, outlines: Mapping[int, PieceOutline], *, only_rated: bool = False
) -> dict[int, Voices]:
    """The voices on each piece of ``outlines``, all of one ensemble. About a dozen queries.

    ``only_rated`` leaves out takes that no person has given a level yet.
    """
    found = {pk: Voices() for pk in outlines}
    now = timezone.now()
    since = now - datetime.timedelta(LOOKING_BACK_DAYS)
    checks = list(
        PlayingCheck.objects.filter(
            ensemble=ensemble, piece__in=list(outlines), published_at__isnull=False,
            due_on__gte=timezone.localdate(since),
        ).select_related("piece", "ensemble")
    )  # fmt: skip
    seats = one_seat_each(seats_of(ensemble), timezone.localdate())
    if checks:
        _heard_and_rated(found, outlines, checks, seats, only_rated)
    _said(found, outlines, since, seats)
    return found


def meaning_of(words: str, *, finding: bool) -> Meant:
    """What a remark means, by the label it begins with; a ``finding`` without one is no worry.

    >>> meaning_of("It was out of tune. I will try: Sing it", finding=True)
    Meant(worry=True, aim='intonation')
    >>> meaning_of("It went well. we all stopped together!", finding=True).worry
    False
    >>> meaning_of("scared of this one", finding=False)
    Meant(worry=True, aim='')
    """
    table = _meanings()
    lowered = words.lower()
    for label, meant in table.items():
        if lowered.startswith(label):
            return meant
    return Meant(worry=not finding)


@lru_cache(maxsize=1)
def _meanings() -> dict[str, Meant]:
    """Label of an answer, in lower case, to what it means: from the shipped kinds' own words."""
    spot = next(one for one in KINDS["rehearsal_remark"].steps[0].fields if one.type == "spot")
    table = {
        option.label.lower(): Meant(option.key != "well", _HAPPENED_AIMS.get(option.key, ""))
        for option in _options(spot, "what")
    }
    hardest = next(one for one in KINDS["score_study"].steps[0].fields if one.key == "hardest")
    for option in _options(hardest, "why"):
        table[option.label.lower()] = Meant(True, _HARD_AIMS.get(option.key, ""))
    return table


def _options(asked: object, key: str) -> Sequence:
    """The options of one column of a question."""
    return next(one.options for one in columns_of(asked) if one.key == key)


def _heard_and_rated(
    found: dict[int, Voices],
    outlines: Mapping[int, PieceOutline],
    checks: Sequence[PlayingCheck],
    seats: Sequence[SeatRow],
    only_rated: bool,
) -> None:
    """Add what the machine heard and what people gave levels for."""
    passages = passages_by_musician(checks, seats)
    prefetch_related_objects(list(passages.values()), "part")
    turns = turns_of(checks)
    own = {
        (row.passage_id, row.musician_id): row
        for row in OwnVersion.objects.filter(passage__check_row__in=[one.pk for one in checks])
    }
    newest: dict[int, tuple[PlayingCheck, SeatRow, TurnRow, CheckPassage]] = {}
    rated: dict[int, tuple[PlayingCheck, SeatRow, TurnRow, CheckPassage]] = {}
    for check in checks:
        for seat in seats:
            rows = turns.get((check.pk, seat.musician_pk), ())
            passage = passages.get((check.pk, seat.musician_pk))
            sent = sorted((row for row in rows if row.sent_at), key=lambda row: row.attempt)
            if passage is None or not sent:
                continue
            newest[sent[-1].pk] = (check, seat, sent[-1], passage)
            counting = Standing("", tuple(sent), seat.extra_days).counting(check)
            if counting is not None:
                rated[counting.pk] = (check, seat, counting, passage)
    for turn_pk, body in newest_reports(list(newest)).items():
        check, seat, turn, passage = newest[turn_pk]
        version = own.get((passage.pk, seat.musician_pk))
        voices, outline = found[check.piece_id], outlines[check.piece_id]
        take = _heard_take(outline, check, seat, turn_pk, passage, version, body)
        unrated = not turn.levels and turn.answered_at is None
        voices.unrated += unrated and take is not None
        if take is not None and not (unrated and only_rated):
            voices.takes.append(take)
    answers = {
        turn: (first, last)
        for turn, first, last in Answer.objects.filter(
            turn__in=list(rated), turn__answered_at__isnull=False, first_measure__isnull=False
        ).values_list("turn_id", "first_measure", "last_measure")
    }
    for turn_pk, (check, seat, turn, passage) in rated.items():
        voices, outline = found[check.piece_id], outlines[check.piece_id]
        span = _span_of(outline.piece, passage)
        if span is None:
            name = passage.printed or "the passage"
            voices.no_measures[name] = voices.no_measures.get(name, 0) + 1
            continue
        part = _part_key(outline, seat, passage)
        if not part:
            voices.no_part += 1
            continue
        voices.rated.append(
            RatedTake(
                f"t{turn_pk}",
                part,
                *span,
                low=bool(LOW_LEVELS & set(turn.levels.values())),
                low_at=_inside(answers.get(turn_pk), span),
            )
        )


def _part_key(outline: PieceOutline, seat: SeatRow, passage: CheckPassage) -> str:
    """The part of the outline that a musician played."""
    return outline.part_keys.get(passage.part_id or 0) or outline.of_seat(seat)


def _span_of(piece: Piece, passage: CheckPassage) -> tuple[int, int] | None:
    """First and last measure (0-based) of a passage; None where it names none."""
    if passage.first_measure is not None and passage.last_measure is not None:
        return passage.first_measure, passage.last_measure
    named = measures_named(passage.printed)
    if named is None:
        return None
    first, last = (index_of(piece, number) for number in named)
    return None if first is None or last is None else (first, last)


def _inside(named: tuple[int, int | None] | None, span: tuple[int, int]) -> tuple[int, int] | None:
    """The measures that an answer names, as far as they lie in the passage; None for none."""
    if named is None:
        return None
    first, last = max(named[0], span[0]), min(named[0] if named[1] is None else named[1], span[1])
    return (first, last) if first <= last else None


def _heard_take(
    outline: PieceOutline,
    check: PlayingCheck,
    seat: SeatRow,
    turn_pk: int,
    passage: CheckPassage,
    version: OwnVersion | None,
    body: Mapping[str, Any],
) -> HeardTake | None:
    """One read take on the measures of the piece; None where nothing could be read.

    A take whose check asks for nothing that names places is not heard here: it is not calm.
    """
    span = _span_of(outline.piece, passage)
    part = _part_key(outline, seat, passage)
    if span is None or not part:
        return None
    found = _found(check, seat, passage, version, body)
    if found is None:
        return None
    heard, troubles = found
    first = span[0] + (version.skipped if version is not None else 0)
    if heard is None:
        heard = frozenset(range(span[1] - first + 1))
    last = outline.outline.n_measures - 1
    placed = frozenset(first + measure for measure in heard if first + measure <= last)
    return HeardTake(
        f"t{turn_pk}",
        part,
        placed,
        tuple(
            sorted(
                (key, first + measure)
                for key, places in troubles.items()
                for measure in places
                if first + measure in placed
            )
        ),
    )


def _found(
    check: PlayingCheck,
    seat: SeatRow,
    passage: CheckPassage,
    version: OwnVersion | None,
    body: Mapping[str, Any],
) -> tuple[frozenset[int] | None, Mapping[str, frozenset[int]]] | None:
    """The measures that a take plays and those in trouble, by criterion, both of its notation.

    By the places that the report names, with no measures, where there is nothing to open it
    against. None where nothing was read, or nothing that names places.
    """
    digest = notation_digest_of(passage, version)
    written = written_passage(digest) if body.get("notes") else None
    if written is not None:
        terms = terms_heard_on(check, passage, version, seat.instrument)
        troubles = troubled_measures(body, written, terms, check.criteria)
        return (frozenset(note.measure for note in written.notes), troubles) if troubles else None
    troubles = {}
    for row in body.get("spots", ()):
        if row["criterion"] in check.criteria:
            places = range(row["first_measure"], row["last_measure"] + 1)
            troubles[row["criterion"]] = troubles.get(row["criterion"], frozenset()) | {*places}
    return (None, troubles) if body.get("notes") or body.get("spots") else None


def _said(
    found: dict[int, Voices],
    outlines: Mapping[int, PieceOutline],
    since: datetime.datetime,
    seats: Sequence[SeatRow],
) -> None:
    """Add what people said of measures. One query."""
    rows = (
        Remark.objects.filter(piece__in=list(outlines), made_at__gte=since)
        .select_related("author", "podium__section", "author__musician")
        .order_by("made_at", "pk")
    )
    by_musician = {seat.musician_pk: seat for seat in seats}
    for row in rows:
        voices, outline = found[row.piece_id], outlines[row.piece_id]
        said: DirectorRemark | MusicianRemark | None
        if row.author.is_director and not row.said_in_class:
            said = _directors_word(outline, row)
        else:
            said = _musicians_word(outline, row, by_musician)
        if said is None:
            voices.no_part += 1
            continue
        (voices.director if isinstance(said, DirectorRemark) else voices.musicians).append(said)
        voices.remark_pks[id(said)] = row.pk


def _directors_word(outline: PieceOutline, row: Remark) -> DirectorRemark | None:
    """A director's remark: for a section where one is named or the take remarked on was of one.

    None where that section has no part in the piece.
    """
    podium = getattr(row, "podium", None)
    section = podium.section.name if podium is not None and podium.section else ""
    if not section and row.part_id in outline.part_keys:
        key = outline.part_keys[row.part_id]
        section = next(one.section for one in outline.outline.parts if one.key == key)
    if section and section not in outline.outline.sections:
        return None
    return DirectorRemark(
        row.first_measure,
        row.last_measure,
        (section,) if section else (),
        podium.aim if podium is not None else "",
    )


def _musicians_word(
    outline: PieceOutline, row: Remark, by_musician: Mapping[int, SeatRow]
) -> MusicianRemark | None:
    """What a musician said, or what somebody called out in class; None without a part there."""
    meant = meaning_of(row.words, finding=row.sheet_id is not None)
    if row.said_in_class:
        who, part = f"c{row.pk}", CLASS_PART
    else:
        musician = getattr(row.author, "musician", None)
        seat = by_musician.get(musician.pk) if musician is not None else None
        who = f"m{row.author_id}"
        part = outline.part_keys.get(row.part_id or 0) or (outline.of_seat(seat) if seat else "")
    if not part:
        return None
    return MusicianRemark(who, part, row.first_measure, row.last_measure, meant.worry, meant.aim)
