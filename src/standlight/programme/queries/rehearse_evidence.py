"""The strips of an ensemble's pieces: voices gathered, laid on the score, and what may be told.

A section of which fewer than three takes, or three speaking musicians, are known stays silent:
its figures could point at a person.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from standlight.planning import (
    Finding,
    MusicianRemark,
    PieceEvidence,
    SectionVoices,
    Share,
    Strip,
    draw_strip,
)
from standlight.programme.models import Ensemble, Piece
from standlight.programme.queries.rehearse_outline import (
    CLASS_PART,
    CLASS_SECTION,
    PieceOutline,
    outlines_of,
)
from standlight.programme.queries.rehearse_voices import Voices, voices_of

FEWEST_WITNESSES = 3
"""Fewer takes, or speaking musicians, of a section are not told: they could point at a person
(as on the picture of the whole group)."""

NEAR_MEASURES = 2
"""What the group called out so near trouble may be about it (as in the planning room)."""


@dataclass(frozen=True, slots=True)
class PieceStrip:
    """One piece: its outline, the rows that were gathered, the strip that came of them."""

    outlined: PieceOutline
    voices: Voices
    strip: Strip

    @property
    def piece(self) -> Piece:
        """The piece."""
        return self.outlined.piece

    @property
    def evidence(self) -> PieceEvidence:
        """What a plan is made from."""
        return PieceEvidence(str(self.piece.pk), self.strip)


def strips_of(
    ensemble: Ensemble, pieces: Sequence[Piece], *, only_rated: bool = False
) -> dict[int, PieceStrip]:
    """The strip of each piece by key, in the order given; pieces without known measures have none.

    About twenty queries, however many pieces.
    """
    outlines = outlines_of(pieces)
    voices = voices_of(ensemble, outlines, only_rated=only_rated)
    found = {}
    for pk, outlined in outlines.items():
        own = voices[pk]
        strip = draw_strip(outlined.outline, own.takes, own.rated, own.director, own.musicians)
        found[pk] = PieceStrip(outlined, own, _told_in_class(strip, own.musicians))
    return found


def may_tell(share: Share) -> bool:
    """Whether a share of takes or speakers may be told without pointing at a person."""
    return share.count >= FEWEST_WITNESSES


def told_voices(voices: SectionVoices) -> SectionVoices:
    """The voices of a section with what may not be told taken out.

    >>> few = SectionVoices("Tuba", Share(1, 2), Share(0, 0), 1, Share(2, 5))
    >>> told_voices(few).heard, told_voices(few).said
    (Share(hits=0, count=0), Share(hits=2, count=5))
    """
    none = Share(0, 0)
    in_class = voices.section == CLASS_SECTION
    return replace(
        voices,
        heard=voices.heard if may_tell(voices.heard) else none,
        levels=voices.levels if may_tell(voices.levels) else none,
        said=voices.said if in_class or may_tell(voices.said) else none,
    )


def sections_shown(strip: Strip) -> tuple[str, ...]:
    """Sections of the ensemble, in score order: what was called out in class is none."""
    return tuple(name for name in strip.outline.sections if name != CLASS_SECTION)


def _told_in_class(strip: Strip, musicians: Iterable[MusicianRemark]) -> Strip:
    """The strip without blind spots that the group called out, and with worries that may be told.

    What is called out in class belongs to no section, so it may be any section's.
    """
    out = [(row.first, row.last) for row in musicians if row.part == CLASS_PART and row.worry]

    def called(one: Finding) -> bool:
        return any(first - NEAR_MEASURES <= one.last and last + NEAR_MEASURES >= one.first
                   for first, last in out)  # fmt: skip

    return replace(
        strip,
        blind_spots=tuple(one for one in strip.blind_spots if not called(one)),
        false_worries=tuple(
            one for one in strip.false_worries
            if one.voices.section != CLASS_SECTION and may_tell(one.voices.said)
        ),
        silent_sections=tuple(
            name for name in strip.silent_sections if name != CLASS_SECTION
        ),
    )  # fmt: skip
