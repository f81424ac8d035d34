"""Which line of a divided part is whose, and a musician's own version in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.safestring import SafeString

from standlight.errors import StandlightError
from standlight.programme import store
from standlight.programme.models import (
    Casting,
    CheckPassage,
    OwnVersion,
    PlayingCheck,
    Turn,
)
from standlight.programme.notation import WIDE_MM, svgs_of
from standlight.score import UPPER, has_two_staves, is_divided, shift_words

_LINE_WORDS = {"upper": "upper line", "lower": "lower line", "all": "all notes"}
_YOURS = {"upper": "the upper line", "lower": "the lower line", "all": "all the notes"}


@dataclass(frozen=True, slots=True)
class PlayerLine:
    """One musician and the line they have; ``locked`` once something is sent."""

    musician_pk: int
    name: str
    line: str
    words: str
    locked: bool


@dataclass(frozen=True, slots=True)
class DividedPart:
    """A part whose passage divides, with everyone on it in the order they were cast.

    ``svg`` is ``None`` for a piece whose music is not drawn.
    """

    passage_pk: int
    part_name: str
    printed: str
    players: tuple[PlayerLine, ...]
    svg: SafeString | None

    @property
    def free(self) -> tuple[PlayerLine, ...]:
        """Players who have not sent anything yet."""
        return tuple(one for one in self.players if not one.locked)

    @property
    def n_first_half(self) -> int:
        """How many names have the upper line when the part is halved."""
        return (len(self.players) + 1) // 2

    @property
    def n_second_half(self) -> int:
        """How many names have the lower line when the part is halved."""
        return len(self.players) // 2


@dataclass(frozen=True, slots=True)
class LinesPage:
    """Every part of a check that divides in its passage."""

    check_pk: int
    title: str
    is_singing: bool
    parts: tuple[DividedPart, ...]


def lines_page(check: PlayingCheck) -> LinesPage:
    """The divided parts of ``check`` with their musicians of today. Four queries."""
    passages = divided_passages(
        check.passages.select_related("part").exclude(notation_digest="")
    )
    castings = (
        Casting.objects.filter(
            part__in=[row.part_id for row in passages], seat__left_on__isnull=True
        )
        .select_related("seat__musician")
        .order_by("pk")
    )
    own = {
        (version.passage_id, version.musician_id): version.line
        for version in OwnVersion.objects.filter(passage__in=passages)
    }
    sent = set(
        Turn.objects.filter(check_row=check, sent_at__isnull=False).values_list(
            "musician_id", flat=True
        )
    )
    players: dict[tuple[int, int], str] = {}
    for casting in castings:
        musician = casting.seat.musician
        players.setdefault((casting.part_id, musician.pk), musician.name)
    shown = [row.notation_digest for row in passages]
    drawn = svgs_of(shown, width_mm=WIDE_MM)
    parts = [
        DividedPart(
            row.pk,
            row.part.name,
            row.printed,
            tuple(
                _player_line(pk, name, own.get((row.pk, pk), UPPER), pk in sent)
                for (part_pk, pk), name in players.items()
                if part_pk == row.part_id
            ),
            drawn.get(row.notation_digest),
        )
        for row in passages
    ]
    return LinesPage(
        check.pk, check.title, check.is_singing, tuple(part for part in parts if part.players)
    )


def divided_passages(rows: Iterable[CheckPassage]) -> list[CheckPassage]:
    """Those of the passages of parts whose notation divides."""
    return [row for row in rows if row.part is not None and divides(row.notation_digest)]


def divides(notation_digest: str) -> bool:
    """True when the kept notation divides; false without one, or when its file is lost."""
    notation = _fetched(notation_digest)
    return notation is not None and is_divided(notation)


def version_words(own: OwnVersion | None) -> str:
    """How a musician's own version differs from the passage, empty when it does not.

    A line counts where the passage divides.
    """
    if own is None:
        return ""
    divided = own.line != UPPER and divides(own.notation_digest)
    return ", ".join(
        filter(None, (
            shift_words(own.semitones) if own.semitones else "",
            _LINE_WORDS[own.line] if divided else "",
            f"from the {own.skipped + 1}. measure on" if own.skipped else "",
        ))
    )  # fmt: skip


def your_line(notation: bytes, own: OwnVersion | None) -> str:
    """The line of a divided passage that a musician has ("the lower line"), else empty.

    Nobody on two staves is told to play the upper one alone.
    """
    line = UPPER if own is None else own.line
    if not notation or not is_divided(notation):
        return ""
    return "" if line == UPPER and has_two_staves(notation) else _YOURS[line]


def _player_line(musician_pk: int, name: str, line: str, locked: bool) -> PlayerLine:
    """One musician with their line in words."""
    return PlayerLine(musician_pk, name, line, _LINE_WORDS[line], locked)


def _fetched(notation_digest: str) -> bytes | None:
    """The kept notation, ``None`` when there is none or it is lost."""
    if not notation_digest:
        return None
    try:
        return store.fetch(notation_digest)
    except StandlightError:
        return None
