"""A piece as planning sees it: measures, parts with their sections, and where each part plays."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from django.db.models import Max

from standlight.errors import StandlightError
from standlight.planning import Outline, OutlinePart
from standlight.programme import store
from standlight.programme.models import (
    Casting,
    CheckPassage,
    PaperLength,
    Part,
    Piece,
    Remark,
    Section,
)
from standlight.programme.queries.standing import SeatRow
from standlight.programme.queries.trouble import MOST_MEASURES
from standlight.score import read_score

CLASS_PART, CLASS_SECTION = "class", "Called out in class"
"""Part and section that stand for what the group called out: it names nobody's instrument."""

USUAL_QPM = 96.0
"""Quarters a minute where neither score nor check gives a tempo (a moderate march)."""

SCORES_REMEMBERED = 32
"""Small facts of so many scores are kept in mind."""


@dataclass(frozen=True, slots=True)
class PieceOutline:
    """The outline of ``piece``; ``part_keys`` maps a row's key to its key in the outline.

    ``sections`` maps a section's row to the first part key that it plays, ``seats`` a seat's row
    to the part that it is cast for; ``names`` a part key to the part's printed name.
    """

    piece: Piece
    outline: Outline
    part_keys: dict[int, str]
    sections: dict[int, str]
    seats: dict[int, str]
    names: dict[str, str]

    def waiting_names(self, keys: Collection[str]) -> tuple[str, ...]:
        """Who waits when the parts ``keys`` do: a section where all of it waits, else the part."""
        of_section: dict[str, set[str]] = {}
        for part in self.outline.parts:
            of_section.setdefault(part.section, set()).add(part.key)
        named = []
        for part in self.outline.parts:
            if part.key in keys:
                whole = of_section[part.section] <= set(keys)
                named.append(part.section if whole else self.names[part.key])
        return tuple(dict.fromkeys(named))

    def of_seat(self, seat: SeatRow) -> str:
        """The part that somebody in a seat plays, "" where the piece has none for them."""
        return self.seats.get(seat.seat_pk) or self.sections.get(seat.section_pk, "")


@dataclass(frozen=True, slots=True)
class _Facts:
    """What a score says: measures in which each part sounds, seconds of each measure."""

    plays: tuple[frozenset[int], ...]
    quarters: tuple[float, ...]
    tempos: tuple[float | None, ...]


def outlines_of(pieces: Sequence[Piece]) -> dict[int, PieceOutline]:
    """The outline of each piece by key; one of which nobody knows any measure is left out.

    Seven queries, however many pieces.
    """
    keys = [piece.pk for piece in pieces]
    parts = _grouped(Part.objects.filter(piece__in=keys).order_by("index"))
    castings: dict[int, list[tuple[int, int, int, str]]] = {}
    cast = Casting.objects.filter(piece__in=keys).order_by("seat__section__order", "pk")
    for piece_pk, part, seat, section, name in cast.values_list(
        "piece_id", "part_id", "seat_id", "seat__section_id", "seat__section__name"
    ):
        castings.setdefault(piece_pk, []).append((part, seat, section, name))
    sections: dict[int, list[Section]] = {}
    for row in Section.objects.filter(ensemble__in={piece.ensemble_id for piece in pieces}):
        sections.setdefault(row.ensemble_id, []).append(row)
    lengths = dict(
        PaperLength.objects.filter(piece__in=keys).values_list("piece_id", "measures")
    )
    named = _named_on_paper([piece.pk for piece in pieces if not piece.measures])
    found = {}
    for piece in pieces:
        own = (
            _of_score(piece, parts.get(piece.pk, []), castings.get(piece.pk, []))
            if piece.measures and parts.get(piece.pk)
            else _on_paper(
                piece,
                sections.get(piece.ensemble_id, []),
                len(piece.measures) or lengths.get(piece.pk) or named.get(piece.pk, 0),
            )
        )
        if own is not None:
            found[piece.pk] = own
    return found


def measures_named(printed: str) -> tuple[int, int] | None:
    """First and last number of a place on paper; None for letters and other words.

    >>> measures_named("33 to 40"), measures_named("measure 7"), measures_named("letter B")
    ((33, 40), (7, 7), None)
    """
    numbers = [int(one) for one in re.findall(r"\d{1,4}", printed)]
    return (min(numbers), max(numbers)) if numbers and min(numbers) else None


def _grouped(rows: Iterable[Part]) -> dict[int, list[Part]]:
    """Parts by piece."""
    found: dict[int, list[Part]] = {}
    for row in rows:
        found.setdefault(row.piece_id, []).append(row)
    return found


def _named_on_paper(pieces: Sequence[int]) -> dict[int, int]:
    """Piece to the last measure that a passage on paper, or a remark, names. Two queries."""
    found: dict[int, int] = {}
    if pieces:
        said = Remark.objects.filter(piece__in=pieces, last_measure__lt=MOST_MEASURES)
        furthest = said.values("piece_id").annotate(last=Max("last_measure"))
        found = {row["piece_id"]: row["last"] + 1 for row in furthest}
        rows = CheckPassage.objects.filter(check_row__piece__in=pieces)
        for piece_pk, printed in rows.values_list("check_row__piece_id", "printed"):
            named = measures_named(printed)
            if named and named[1] <= MOST_MEASURES:
                found[piece_pk] = max(found.get(piece_pk, 0), named[1])
    return found


def _of_score(
    piece: Piece, parts: Sequence[Part], cast: Sequence[tuple[int, int, int, str]]
) -> PieceOutline:
    """A piece with a score: the parts that somebody plays, all of them where nobody is cast."""
    names: dict[int, Counter[str]] = {}
    sections: dict[int, int] = {}
    for part, _seat, section, name in cast:
        names.setdefault(part, Counter())[name] += 1
        sections.setdefault(section, part)
    played = [part for part in parts if part.pk in names] or list(parts)
    facts = _facts_or_none(piece)
    n_measures = len(piece.measures)
    whole = frozenset(range(n_measures))
    outline_parts = tuple(
        OutlinePart(
            f"p{part.pk}",
            names[part.pk].most_common(1)[0][0] if part.pk in names else part.name,
            facts.plays[part.index] & whole if facts and part.index < len(facts.plays) else whole,
        )
        for part in played
    )
    return PieceOutline(
        piece,
        Outline(
            tuple(str(row["printed"]) for row in piece.measures),
            (*outline_parts, OutlinePart(CLASS_PART, CLASS_SECTION, whole)),
            _movement_starts(piece),
            _seconds(piece, facts),
        ),
        {part.pk: f"p{part.pk}" for part in played},
        {section: f"p{part}" for section, part in sections.items()},
        {seat: f"p{part}" for part, seat, _, _ in cast},
        {f"p{part.pk}": part.name for part in played},
    )


def _on_paper(piece: Piece, sections: Sequence[Section], measures: int) -> PieceOutline | None:
    """A piece without a score: every section plays everywhere, as far as anybody knows."""
    if not measures or not sections:
        return None
    whole = frozenset(range(measures))
    parts = tuple(OutlinePart(f"s{row.pk}", row.name, whole) for row in sections)
    printed = tuple(str(row["printed"]) for row in piece.measures) or tuple(
        str(number + 1) for number in range(measures)
    )
    return PieceOutline(
        piece,
        Outline(printed, (*parts, OutlinePart(CLASS_PART, CLASS_SECTION, whole))),
        {},
        {row.pk: f"s{row.pk}" for row in sections},
        {},
        {f"s{row.pk}": row.name for row in sections},
    )


def _movement_starts(piece: Piece) -> tuple[int, ...]:
    """First measures of later movements."""
    movements = [row["movement"] for row in piece.measures]
    return tuple(
        index for index in range(1, len(movements)) if movements[index] != movements[index - 1]
    )


def _seconds(piece: Piece, facts: _Facts | None) -> tuple[float, ...]:
    """The length of each measure at the score's own tempos; from the meter without a score."""
    tempo = piece.tempo_qpm or USUAL_QPM
    seconds = []
    for place, row in enumerate(piece.measures):
        quarters = 4.0 * row["beats"] / row["beat_unit"]
        if facts and place < len(facts.quarters):
            quarters = facts.quarters[place]
            tempo = facts.tempos[place] or tempo
        seconds.append(quarters * 60.0 / tempo)
    return tuple(seconds)


def _facts_or_none(piece: Piece) -> _Facts | None:
    """What the score says; None on paper only, and when the file is gone."""
    try:
        return _facts(piece.score_digest) if piece.score_digest else None
    except StandlightError:
        return None


@lru_cache(maxsize=SCORES_REMEMBERED)
def _facts(digest: str) -> _Facts:
    """The facts of a score, which its digest names for ever."""
    read = read_score(store.fetch(digest))
    return _Facts(
        tuple(frozenset(note.measure for note in part.notes) for part in read.parts),
        tuple(float(measure.length_quarters) for measure in read.measures),
        tuple(measure.tempo_qpm for measure in read.measures),
    )
