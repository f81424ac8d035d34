"""The whole group's picture of one check: every take that this director has given levels for.

A take counts only when its levels are whole (or it was answered): what the machine heard must
not stand before the director's ear has spoken.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from django.db.models import prefetch_related_objects
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.criteria.limits import entry_limit_ms
from standlight.errors import StandlightError
from standlight.programme import store
from standlight.programme.models import (
    Account,
    CheckPassage,
    GivenLevel,
    OwnVersion,
    PlayingCheck,
    Report,
    Take,
    Turn,
)
from standlight.programme.queries.gathered import (
    FEWEST_TAKES,
    GroupTake,
    SectionPicture,
    TroubledPlace,
    most_troubled,
    section_pictures,
)
from standlight.programme.queries.hearing import notation_digest_of
from standlight.programme.queries.passages import passages_by_musician
from standlight.programme.queries.standing import SeatRow, one_seat_each, seats_of
from standlight.score import INSTRUMENTS, read_passage

PASSAGES_REMEMBERED = 256
"""Passages whose measures are kept in mind: those of a few checks of a large group."""


@dataclass(frozen=True, slots=True)
class MeasureCell:
    """One measure of one criterion: how many takes, how dark, and all of it in words."""

    troubled: int
    shade: int
    words: str


@dataclass(frozen=True, slots=True)
class CriterionLine:
    """A criterion of a section by measure, and how many takes have any trouble in it."""

    name: str
    anywhere: str
    cells: tuple[MeasureCell, ...]
    in_words: str


@dataclass(frozen=True, slots=True)
class SectionRows:
    """A section with its measures as printed; ``too_few`` says why there are no lines."""

    name: str
    takes: int
    measures: tuple[str, ...]
    lines: tuple[CriterionLine, ...]
    too_few: str


@dataclass(frozen=True, slots=True)
class GroupPage:
    """Everything the page of the whole group shows."""

    check_pk: int
    title: str
    ensemble: str
    piece: str
    counted: int
    waiting: int
    unread: int
    places: tuple[str, ...]
    sections: tuple[SectionRows, ...]
    by_ear: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Written:
    """A passage's note to measure, and the printed numbers of its measures."""

    measures: tuple[int, ...]
    printed: tuple[str, ...]


def group_page(account: Account, check: PlayingCheck) -> GroupPage:
    """The picture of ``check`` (with its ensemble and piece) for ``account``. Ten queries."""
    sent = _newest_sent(check)
    rated = _rated(account, check, sent)
    seats = {
        seat.musician_pk: seat
        for seat in one_seat_each(seats_of(check.ensemble), timezone.localdate())
    }
    kept = _reports(rated)
    passages = passages_by_musician([check], list(seats.values()))
    prefetch_related_objects(list(passages.values()), "part")
    own = _own_versions(check)
    takes, written = [], {}
    for turn, musician in rated.items():
        seat, passage = seats.get(musician), passages.get((check.pk, musician))
        if turn not in kept or seat is None or passage is None:
            continue
        digest = notation_digest_of(passage, own.get((passage.pk, musician)))
        lines = _written(digest)
        if lines is None:
            continue
        version = own.get((passage.pk, musician))
        skipped = version.skipped if version is not None else 0
        whole = _written(passage.notation_digest) if skipped else lines
        written.setdefault(passage.pk, whole or lines)
        group_take = _group_take(seat, passage, lines, kept[turn], skipped)
        takes.append((seat.section_order, group_take))
    takes.sort(key=lambda pair: pair[0])
    readable = [key for key in check.criteria if CRITERIA[key].has_readings]
    pictures = section_pictures([take for _, take in takes], readable)
    return GroupPage(
        check_pk=check.pk,
        title=check.title,
        ensemble=check.ensemble.name,
        piece=check.piece.title,
        counted=len(takes),
        waiting=len(sent) - len(rated),
        unread=len(rated) - len(takes),
        places=tuple(_place_words(place, written) for place in most_troubled(pictures)),
        sections=tuple(_rows(picture, written) for picture in pictures),
        by_ear=tuple(
            CRITERIA[key].name for key in check.criteria if not CRITERIA[key].has_readings
        ),
    )


def _newest_sent(check: PlayingCheck) -> dict[int, int]:
    """Musician to the newest turn they sent. One query."""
    return dict(
        Turn.objects.filter(check_row=check, sent_at__isnull=False)
        .order_by("attempt")
        .values_list("musician_id", "pk")
    )


def _rated(account: Account, check: PlayingCheck, sent: dict[int, int]) -> dict[int, int]:
    """Turn to musician, of the turns ``account`` rated whole, or that were answered."""
    given: dict[int, set[str]] = {}
    rows = GivenLevel.objects.filter(
        turn__in=sent.values(), rater=account, retired_at__isnull=True
    ).values_list("turn_id", "criterion")
    for turn, criterion in rows:
        given.setdefault(turn, set()).add(criterion)
    answered = set(
        Turn.objects.filter(pk__in=sent.values(), answered_at__isnull=False).values_list(
            "pk", flat=True
        )
    )
    asked = set(check.criteria)
    return {
        turn: musician
        for musician, turn in sent.items()
        if turn in answered or asked <= given.get(turn, set())
    }


def _reports(turns: dict[int, int]) -> dict[int, tuple[list, float, list]]:
    """Turn to notes, tuning and spots of its chosen take's newest report that has notes."""
    rows = (
        Report.objects.filter(take__turn__in=list(turns), take__chosen=True, take__state=Take.HEARD)
        .order_by("made_at", "pk")
        .values_list("take__turn_id", "body__notes", "body__tuning_cents", "body__spots")
    )
    return {
        turn: (notes, tuning or 0.0, spots or []) for turn, notes, tuning, spots in rows if notes
    }


def _own_versions(check: PlayingCheck) -> dict[tuple[int, int], OwnVersion]:
    """(passage, musician) to the musician's own version. One query."""
    return {
        (row.passage_id, row.musician_id): row
        for row in OwnVersion.objects.filter(passage__check_row=check)
    }


def _written(digest: str) -> _Written | None:
    """The measures of a notation; None on paper only, and when the file is gone."""
    try:
        return _remembered(digest) if digest else None
    except StandlightError:
        return None


@lru_cache(maxsize=PASSAGES_REMEMBERED)
def _remembered(digest: str) -> _Written:
    """The measures of a notation, which its digest names for ever."""
    passage = read_passage(store.fetch(digest))
    return _Written(
        tuple(note.measure for note in passage.notes),
        tuple(measure.printed for measure in passage.measures),
    )


def _group_take(
    seat: SeatRow,
    passage: CheckPassage,
    lines: _Written,
    kept: tuple[list, float, list],
    skipped: int,
) -> GroupTake:
    """One report as the pure half counts it, its measures counted from the whole passage's."""
    notes, tuning, spots = kept
    instrument = INSTRUMENTS.get(passage.part.instrument if passage.part else "")
    family = instrument.family if instrument else ""
    return GroupTake(
        section=seat.section,
        passage=passage.pk,
        measures=tuple(measure + skipped for measure in lines.measures),
        notes=notes,
        tuning_cents=tuning,
        spots=[
            (row["criterion"], row["first_measure"] + skipped, row["last_measure"] + skipped)
            for row in spots
        ],
        off_ms=entry_limit_ms(family),
    )


def _printed(measure: int, lines: _Written) -> str:
    """The printed number of a measure of the passage, its count from 1 where none is printed."""
    return lines.printed[measure] if measure < len(lines.printed) else str(measure + 1)


def _place_words(place: TroubledPlace, written: dict[int, _Written]) -> str:
    """One troubled place as a sentence."""
    where = _printed(place.measure, written[place.passage])
    name = CRITERIA[place.criterion].name
    return f"{place.section}, measure {where}: {name.lower()} in {place.count.words}."


def _rows(picture: SectionPicture, written: dict[int, _Written]) -> SectionRows:
    """A section's picture in words and cells."""
    lines = written[picture.passage]
    printed = tuple(_printed(measure, lines) for measure in picture.measures)
    rows = []
    for line in picture.lines:
        cells = tuple(
            MeasureCell(count.troubled, count.shade, count.words) for count in line.counts
        )
        said = [
            f"measure {number}: {count.troubled} of {count.takes}"
            for number, count in zip(printed, line.counts, strict=True)
            if count.troubled
        ]
        rows.append(
            CriterionLine(
                CRITERIA[line.criterion].name,
                line.anywhere.words,
                cells,
                ", ".join(said) or "nothing stands out",
            )
        )
    few = (
        f"Too few to say: {picture.takes} take{'s' * (picture.takes > 1)}, "
        f"{FEWEST_TAKES} are needed."
    )
    return SectionRows(picture.section, picture.takes, printed, tuple(rows), "" if rows else few)
