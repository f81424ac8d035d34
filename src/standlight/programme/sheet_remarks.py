"""Remarks on measures of a piece, made of the spots and places that a sheet pins down."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from standlight.kinds import Field, Step, is_blank, text_of
from standlight.kinds.field_types import columns_of, spot_words
from standlight.programme.models import Account, Casting, Piece, Remark, Sheet

WORDS_LENGTH = 400

PartOf = Callable[[Piece, Account], int | None]
"""The key of the part that somebody has in a piece, None for none."""


@dataclass(frozen=True, slots=True)
class Pinned:
    """A place that an answer names: printed measures, a piece's title where one is named, words."""

    first: int
    last: int
    words: str
    title: str = ""


def keep_remarks(sheet: Sheet, step: Step) -> int:
    """Make a remark of every spot and place in the sheet; how many. What has no piece is none."""
    forget_remarks(sheet)
    return len(Remark.objects.bulk_create(remarks_of(sheet, step)))


def remarks_of(sheet: Sheet, step: Step, part_of: PartOf | None = None) -> list[Remark]:
    """A remark, not yet kept, of every spot and place in the sheet that a piece of the folder has.

    ``part_of`` tells the part that the author has in a piece; None looks it up in the casting.
    """
    return [
        remark
        for field in step.fields
        for pinned in _pinned(field, sheet.answers.get(field.key))
        if (remark := _remark(sheet, pinned, part_of or _cast_part)) is not None
    ]


def forget_remarks(sheet: Sheet) -> None:
    """Take the remarks of a sheet away, when it is taken up again."""
    Remark.objects.filter(sheet=sheet).delete()


def _pinned(field: Field, answer: object) -> Iterator[Pinned]:
    """Every place in one answer, in lists of rows too."""
    if is_blank(answer):
        return
    if field.type in _PLACES:
        pinned = _PLACES[field.type](field, answer)
        if pinned is not None:
            yield pinned
    for row in answer if isinstance(answer, list) else ():
        said = _said_beside(field, row)
        for column in columns_of(field):
            for pinned in _pinned(column, row.get(column.key)):
                bare = bool(said) and pinned.words == column.prompt
                yield replace(pinned, words=said) if bare else pinned


def _said_beside(field: Field, row: dict) -> str:
    """What a row says of its place: a bare “Where?” would tell nobody anything."""
    others = (one for one in columns_of(field) if one.type not in _PLACES)
    return ", ".join(filter(None, (text_of(one, row.get(one.key)) for one in others)))


def _of_spot(field: Field, answer: object) -> Pinned | None:
    """A spot: measures, what happened and what the musician will try."""
    if not isinstance(answer, dict) or not isinstance(answer.get("from_measure"), int):
        return None
    first = answer["from_measure"]
    last = answer.get("to_measure")
    title = str(answer.get("piece") or "")
    return Pinned(first, last if isinstance(last, int) else first, spot_words(field, answer), title)


def _of_measure(field: Field, answer: object) -> Pinned | None:
    """A place: one measure and a word about it."""
    if not isinstance(answer, dict) or not isinstance(answer.get("measure"), int):
        return None
    words = str(answer.get("words") or "").strip() or field.prompt
    return Pinned(answer["measure"], answer["measure"], words)


_PLACES: dict[str, Callable[[Field, object], Pinned | None]] = {
    "spot": _of_spot,
    "measure": _of_measure,
}
"""Question type to the place that its answer names."""


def _cast_part(piece: Piece, author: Account) -> int | None:
    """The key of the part that ``author`` has in ``piece``."""
    casting = Casting.objects.filter(piece=piece, seat__musician__account=author)
    return casting.values_list("part_id", flat=True).first()


def _remark(sheet: Sheet, pinned: Pinned, part_of: PartOf) -> Remark | None:
    """The remark, not yet kept; None where no piece of the folder has this place."""
    piece = _piece(sheet, pinned.title)
    if piece is None:
        return None
    indexes = [index_of(piece, printed) for printed in (pinned.first, pinned.last)]
    if None in indexes:
        return None
    return Remark(
        piece=piece,
        part_id=part_of(piece, sheet.author),
        sheet=sheet,
        author=sheet.author,
        first_measure=min(indexes),
        last_measure=max(indexes),
        words=pinned.words[:WORDS_LENGTH],
    )


def index_of(piece: Piece, printed: int) -> int | None:
    """0-based measure of a printed number; None where the piece prints no such number.

    A piece on paper only has no list of measures: there printed numbers count from 1.
    """
    if not piece.measures:
        return printed - 1 if printed >= 1 else None
    wanted = str(printed)
    return next((row["index"] for row in piece.measures if str(row["printed"]) == wanted), None)


def _piece(sheet: Sheet, title: str) -> Piece | None:
    """The piece that an answer names, else the one the work is given out for."""
    given = sheet.assignment.piece
    if title and (given is None or given.title != title):
        named = Piece.objects.filter(ensemble=sheet.assignment.ensemble_id, title=title).first()
        if named is not None:
            return named
    return given
