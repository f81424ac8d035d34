"""The Folder: pieces by ensemble and cycle, and one piece with its parts and who plays them."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date

from django.db.models import Count
from django.utils import timezone

from standlight.music import pitch_name
from standlight.programme.actions.octaves import QUESTION
from standlight.programme.models import (
    Account,
    Casting,
    CheckPassage,
    ConcertCycle,
    Ensemble,
    Part,
    Piece,
    Seat,
)
from standlight.programme.queries.years import year_begins


@dataclass(frozen=True, slots=True)
class PieceLine:
    """A piece in the list."""

    pk: int
    title: str
    composer: str
    n_parts: int
    n_checks: int
    on_paper_only: bool
    typed: bool
    from_midi: bool


@dataclass(frozen=True, slots=True)
class CyclePieces:
    """A concert cycle with its pieces; ``name`` is empty for pieces of no cycle."""

    name: str
    concert_on: date | None
    pieces: tuple[PieceLine, ...]


@dataclass(frozen=True, slots=True)
class EnsembleFolder:
    """An ensemble's folder; ``earlier`` are cycles whose concert was in a year that is over."""

    pk: int
    name: str
    cycles: tuple[CyclePieces, ...]
    earlier: tuple[CyclePieces, ...] = ()


@dataclass(frozen=True, slots=True)
class FolderPage:
    """The Folder of one director."""

    ensembles: tuple[EnsembleFolder, ...]


@dataclass(frozen=True, slots=True)
class PartLine:
    """A part in the table: what it sounds, how much it plays, how many have it."""

    pk: int
    name: str
    instrument: str
    range_words: str
    n_notes: int
    n_musicians: int


@dataclass(frozen=True, slots=True)
class OctaveLine:
    """A voice part asked about, or answered for ("lower", "right", "" while it is open)."""

    part_pk: int
    part_name: str
    sentence: str
    answer: str


@dataclass(frozen=True, slots=True)
class RemarkLine:
    """One kind of remark of the score's reader, with where it was made, in words."""

    sentence: str
    where: str


@dataclass(frozen=True, slots=True)
class CastLine:
    """A musician and the part they have; ``part_pk`` is ``None`` for no part yet."""

    seat_pk: int
    name: str
    part_pk: int | None
    by_hand: bool


@dataclass(frozen=True, slots=True)
class CastSection:
    """A section with who plays what."""

    name: str
    rows: tuple[CastLine, ...]


@dataclass(frozen=True, slots=True)
class CheckLine:
    """A check made of a piece."""

    pk: int
    title: str
    due_on: date
    published: bool


@dataclass(frozen=True, slots=True)
class PiecePage:
    """A piece with everything the folder knows of it."""

    pk: int
    title: str
    composer: str
    credit: str
    ensemble_pk: int
    ensemble_name: str
    cycle_pk: int | None
    cycles: tuple[tuple[int, str], ...]
    on_paper_only: bool
    from_midi: bool
    typed_line: str
    n_measures: int
    measures_words: str
    share_words: str
    parts: tuple[PartLine, ...]
    octaves: tuple[OctaveLine, ...]
    remarks: tuple[RemarkLine, ...]
    sections: tuple[CastSection, ...]
    checks: tuple[CheckLine, ...]

    @property
    def n_without_part(self) -> int:
        """Musicians who have no part yet."""
        return sum(row.part_pk is None for section in self.sections for row in section.rows)


def folder_page(account: Account) -> FolderPage:
    """Every ensemble's pieces, by concert cycle; the next concert first. Four queries."""
    pieces: dict[tuple[int, int | None], list[PieceLine]] = {}
    rows = (
        Piece.objects.visible_to(account)
        .defer("measures", "remarks")
        .annotate(n_parts=Count("parts", distinct=True), n_checks=Count("checks", distinct=True))
    )
    for piece in rows:
        line = PieceLine(
            piece.pk,
            piece.title,
            piece.composer,
            piece.n_parts,
            piece.n_checks,
            piece.on_paper_only,
            bool(piece.typed_line),
            piece.from_midi,
        )
        pieces.setdefault((piece.ensemble_id, piece.cycle_id), []).append(line)
    ensembles = Ensemble.objects.visible_to(account).prefetch_related("cycles")
    begins = year_begins(account.programme_id, timezone.localdate())
    return FolderPage(tuple(_ensemble_folder(one, pieces, begins) for one in ensembles))


def _ensemble_folder(
    ensemble: Ensemble, pieces: dict[tuple[int, int | None], list[PieceLine]], begins: date | None
) -> EnsembleFolder:
    """One ensemble's cycles; those before ``begins``, the school year's first day, apart."""
    cycles = [
        CyclePieces(name, concert_on, tuple(pieces.get((ensemble.pk, pk), ())))
        for pk, name, concert_on in [
            *((one.pk, one.name, one.concert_on) for one in ensemble.cycles.all()),
            (None, "", None),
        ]
        if pk is not None or (ensemble.pk, None) in pieces
    ]
    over = [
        begins is not None and one.concert_on is not None and one.concert_on < begins
        for one in cycles
    ]
    return EnsembleFolder(
        ensemble.pk,
        ensemble.name,
        tuple(one for one, is_over in zip(cycles, over, strict=True) if not is_over),
        tuple(one for one, is_over in zip(cycles, over, strict=True) if is_over),
    )


def piece_page(account: Account, piece: Piece) -> PiecePage:
    """One piece; ``account`` is known to see it."""
    castings = dict(Casting.objects.filter(piece=piece).values_list("seat_id", "part_id"))
    by_hand = set(Casting.objects.filter(piece=piece, by_hand=True).values_list("seat", flat=True))
    parts = list(piece.parts.all())
    sections = _sections(piece, castings, by_hand)
    counts = Counter(row.part_pk for section in sections for row in section.rows)
    return PiecePage(
        pk=piece.pk,
        title=piece.title,
        composer=piece.composer,
        credit=piece.credit,
        ensemble_pk=piece.ensemble_id,
        ensemble_name=piece.ensemble.name,
        cycle_pk=piece.cycle_id,
        cycles=tuple(
            ConcertCycle.objects.filter(ensemble=piece.ensemble_id).values_list("pk", "name")
        ),
        on_paper_only=piece.on_paper_only,
        from_midi=piece.from_midi,
        typed_line=piece.typed_line,
        n_measures=len(piece.measures),
        measures_words=measures_words(piece),
        share_words=share_words(piece),
        parts=tuple(
            PartLine(
                part.pk,
                part.name,
                part.instrument or "not known",
                range_words(part),
                part.n_notes,
                counts[part.pk],
            )
            for part in parts
        ),
        octaves=octave_lines(piece, parts),
        remarks=remark_lines(piece, parts),
        sections=sections,
        checks=tuple(
            CheckLine(check.pk, check.title, check.due_on, check.published_at is not None)
            for check in piece.checks.all()
        ),
    )


def cast_line(piece: Piece, seat: Seat) -> CastLine:
    """One musician's line, as it stands now."""
    casting = Casting.objects.filter(piece=piece, seat=seat).first()
    return CastLine(
        seat.pk,
        seat.musician.name,
        casting.part_id if casting else None,
        bool(casting and casting.by_hand),
    )


def range_words(part: Part) -> str:
    """The sounding range as pitch names, in the octave put right, or why there is none."""
    if not part.n_notes:
        return "no notes"
    if part.lowest_midi is None or part.highest_midi is None:
        return "strokes without pitch"
    low, high = (
        pitch_name(midi + 12 * part.octaves_moved) for midi in (part.lowest_midi, part.highest_midi)
    )
    return low if low == high else f"{low} to {high}"


def measures_words(piece: Piece) -> str:
    """Such as "585 measures in 4 movements"; empty on paper only."""
    if not piece.measures:
        return ""
    movements = len({measure["movement"] for measure in piece.measures})
    words = f"{len(piece.measures)} measure{'s' * (len(piece.measures) != 1)}"
    return f"{words} in {movements} movements" if movements > 1 else words


def share_words(piece: Piece) -> str:
    """How much of the work its checks hand out, counting each measure once; empty for none."""
    if not piece.measures:
        return ""
    ranges = CheckPassage.objects.filter(
        check_row__piece=piece, first_measure__isnull=False
    ).values_list("first_measure", "last_measure")
    used = {measure for first, last in ranges for measure in range(first, last + 1)}
    if not used:
        return "No passage of this piece has been handed out yet."
    percent = round(100 * len(used) / len(piece.measures))
    return (
        f"Passages of this piece use {len(used)} of its {len(piece.measures)} measures "
        f"({percent} percent)."
    )


def octave_lines(piece: Piece, parts: list[Part]) -> tuple[OctaveLine, ...]:
    """The voice parts that are, or were, asked about: written an octave too high?"""
    by_index = {part.index: part for part in parts}
    return tuple(
        OctaveLine(by_index[asked["part"]].pk, by_index[asked["part"]].name, asked["sentence"],
                   asked["answer"])
        for asked in piece.remarks
        if asked["code"] == QUESTION and asked["part"] in by_index
    )  # fmt: skip


def remark_lines(piece: Piece, parts: list[Part]) -> tuple[RemarkLine, ...]:
    """The reader's remarks, equal sentences gathered, each with its places in words."""
    names = {part.index: part.name for part in parts}
    places: dict[str, list[str]] = {}
    for remark in piece.remarks:
        if remark["code"] == QUESTION:
            continue
        place = []
        if remark.get("part") is not None:
            place.append(names.get(remark["part"], f"part {remark['part'] + 1}"))
        index = remark.get("measure")
        if index is not None and index < len(piece.measures):
            place.append(f"measure {piece.measures[index]['printed'] or index + 1}")
        places.setdefault(remark["sentence"], []).append(", ".join(place))
    return tuple(RemarkLine(sentence, _where(found)) for sentence, found in places.items())


def _where(places: list[str], most: int = 3) -> str:
    """The first places in words, and how many more."""
    named = list(dict.fromkeys(filter(None, places)))
    words = "; ".join(named[:most])
    return f"{words}; and {len(named) - most} more places" if len(named) > most else words


def _sections(piece: Piece, castings: dict[int, int], by_hand: set[int]) -> tuple[CastSection, ...]:
    """Who plays what, by section in concert order. Two queries."""
    rows: dict[int, list[CastLine]] = {}
    seats = (
        Seat.objects.filter(section__ensemble=piece.ensemble_id, left_on__isnull=True)
        .select_related("musician")
        .order_by("musician__family_name", "musician__given_name", "pk")
    )
    for seat in seats:
        rows.setdefault(seat.section_id, []).append(
            CastLine(seat.pk, seat.musician.name, castings.get(seat.pk), seat.pk in by_hand)
        )
    return tuple(
        CastSection(section.name, tuple(rows[section.pk]))
        for section in piece.ensemble.sections.all()
        if section.pk in rows
    )
