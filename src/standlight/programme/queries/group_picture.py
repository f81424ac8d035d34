"""The whole group's picture of one check: every take that this director has given levels for.

A take counts only when its levels are whole (or it was answered): what the machine heard must
not stand before the director's ear has spoken.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import prefetch_related_objects
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.criteria.limits import ENTRY_MS, NOTE_CENTS, USUAL_ENTRY_MS
from standlight.programme.models import (
    Account,
    CheckPassage,
    GivenLevel,
    OwnVersion,
    PlayingCheck,
    Turn,
)
from standlight.programme.pitch_targets import DRONE, EQUAL, JUST
from standlight.programme.queries.gathered import (
    FEWEST_TAKES,
    GroupTake,
    SectionPicture,
    TroubledPlace,
    most_troubled,
    section_pictures,
)
from standlight.programme.queries.hearing import notation_digest_of, terms_heard_on
from standlight.programme.queries.kept_places import (
    newest_reports,
    troubled_measures,
    written_passage,
)
from standlight.programme.queries.passages import passages_by_musician
from standlight.programme.queries.standing import SeatRow, one_seat_each, seats_of
from standlight.score import Passage

WHAT_COUNTS = {
    "intonation": f"a note surely {NOTE_CENTS:.0f} cents or more from {{target}}",
    "notes": "a note that is another pitch, missing, or longer than written; the notes of a "
    "repeat that was left out do not count",
    "rhythm": f"an entry {USUAL_ENTRY_MS:.0f} ms or more from the player's own beat "
    f"({ENTRY_MS['strings']:.0f} for strings, {ENTRY_MS['voice']:.0f} for voices)",
    "pulse": "a start after a stop, or a note that went on longer than written",
}
"""What makes a measure count, for each criterion that names places; ``target`` is one of
`COUNTED_FROM`."""

COUNTED_FROM = {
    EQUAL: "the take's own tuning (where a singer drifts, from the moving pitch of the voice)",
    JUST: "its just interval, at the take's own height",
    DRONE: "the drone",
}
"""What cents are counted from, by the check's pitch target."""


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
    """A section with its measures as printed; ``too_few`` says why there are no lines.

    ``unread`` names criteria that too few of its takes could be read for.
    """

    name: str
    takes: int
    measures: tuple[str, ...]
    lines: tuple[CriterionLine, ...]
    too_few: str
    unread: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GroupPage:
    """Everything the page of the whole group shows.

    ``counts`` pairs each criterion that is counted by measure with what counts. ``by_take``
    names those that are read as a whole and name no places, ``by_ear`` those that are not read.
    """

    check_pk: int
    title: str
    ensemble: str
    piece: str
    counted: int
    waiting: int
    unread: int
    places: tuple[str, ...]
    sections: tuple[SectionRows, ...]
    counts: tuple[tuple[str, str], ...]
    by_take: tuple[str, ...]
    by_ear: tuple[str, ...]

    @property
    def asks_for_levels(self) -> bool:
        """True when nothing is counted, and levels would change that."""
        return not self.counted and bool(self.waiting or not self.unread)

    @property
    def compared(self) -> bool:
        """True when at least one section has takes enough to count."""
        return any(section.lines for section in self.sections)

    @property
    def fewest(self) -> int:
        """So many takes of a section are needed."""
        return FEWEST_TAKES

    @property
    def too_few(self) -> str:
        """The sections with too few takes and how many each has, a number for each passage.

        Empty where every section has enough.
        """
        by_name: dict[str, list[str]] = {}
        for section in self.sections:
            if section.too_few:
                by_name.setdefault(section.name, []).append(_takes(section.takes))
        return ", ".join(f"{name} ({', '.join(takes)})" for name, takes in by_name.items())


def group_page(account: Account, check: PlayingCheck) -> GroupPage:
    """The picture of ``check`` (with its ensemble and piece) for ``account``. Ten queries."""
    sent = _newest_sent(check)
    rated = _rated(account, check, sent)
    seats = {
        seat.musician_pk: seat
        for seat in one_seat_each(seats_of(check.ensemble), timezone.localdate())
    }
    kept = newest_reports(list(rated))
    passages = passages_by_musician([check], list(seats.values()))
    prefetch_related_objects(list(passages.values()), "part")
    own = _own_versions(check)
    takes, written = [], {}
    for turn, musician in rated.items():
        seat, passage = seats.get(musician), passages.get((check.pk, musician))
        if turn not in kept or seat is None or passage is None:
            continue
        version = own.get((passage.pk, musician))
        take = _group_take(check, seat, passage, version, kept[turn])
        if take is None:
            continue
        whole = written_passage(passage.notation_digest)
        written.setdefault(passage.pk, _printed_numbers(whole))
        takes.append((seat.section_order, take))
    takes.sort(key=lambda pair: pair[0])
    countable = [key for key in check.criteria if CRITERIA[key].find is not None]
    pictures = section_pictures([take for _, take in takes], countable)
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
        counts=tuple((CRITERIA[key].name, _what_counts(key, check)) for key in countable),
        by_take=tuple(
            CRITERIA[key].name
            for key in check.criteria
            if key not in countable and CRITERIA[key].has_readings
        ),
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


def _own_versions(check: PlayingCheck) -> dict[tuple[int, int], OwnVersion]:
    """(passage, musician) to the musician's own version. One query."""
    return {
        (row.passage_id, row.musician_id): row
        for row in OwnVersion.objects.filter(passage__check_row=check)
    }


def _group_take(
    check: PlayingCheck,
    seat: SeatRow,
    passage: CheckPassage,
    own: OwnVersion | None,
    body: Mapping[str, Any],
) -> GroupTake | None:
    """One report as the pure half counts it, its measures counted from the whole passage's.

    ``None`` where nothing can be counted: on paper only, and when the passage has other notes
    by now than the take was read against.
    """
    written = written_passage(notation_digest_of(passage, own))
    if written is None:
        return None
    terms = terms_heard_on(check, passage, own, seat.instrument)
    found = troubled_measures(body, written, terms, check.criteria)
    if found is None:
        return None
    skipped = own.skipped if own is not None else 0
    return GroupTake(
        section=seat.section,
        passage=passage.pk,
        measures=frozenset(note.measure + skipped for note in written.notes),
        troubles={
            key: frozenset(measure + skipped for measure in places)
            for key, places in found.items()
        },
    )


def _printed_numbers(written: Passage | None) -> tuple[str, ...]:
    """The printed numbers of a passage's measures; none when its file is gone."""
    return tuple(measure.printed for measure in written.measures) if written is not None else ()


def _printed(measure: int, numbers: Sequence[str]) -> str:
    """The printed number of a measure of the passage, its count from 1 where none is printed."""
    return numbers[measure] if measure < len(numbers) else str(measure + 1)


def _what_counts(criterion: str, check: PlayingCheck) -> str:
    """What makes a measure count for a criterion of the check."""
    return WHAT_COUNTS[criterion].format(target=COUNTED_FROM[check.pitch_target])


def _place_words(place: TroubledPlace, written: Mapping[int, Sequence[str]]) -> str:
    """One troubled place as a sentence."""
    where = _printed(place.measure, written[place.passage])
    name = CRITERIA[place.criterion].name
    return f"{place.section}, measure {where}: {name.lower()} in {place.count.words}."


def _takes(number: int) -> str:
    """A number of takes, 1 or more, in words."""
    return f"{number} take{'s' * (number > 1)}"


def _rows(picture: SectionPicture, written: Mapping[int, Sequence[str]]) -> SectionRows:
    """A section's picture in words and cells."""
    numbers = written[picture.passage]
    printed = tuple(_printed(measure, numbers) for measure in picture.measures)
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
    few = ""
    if picture.takes < FEWEST_TAKES:
        few = f"Too few to say: {_takes(picture.takes)}, {FEWEST_TAKES} are needed."
    unread = tuple(CRITERIA[key].name for key in picture.unread)
    return SectionRows(picture.section, picture.takes, printed, tuple(rows), few, unread)
