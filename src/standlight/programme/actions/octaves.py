"""A voice part that may be written an octave too high: asked when it is read, answered once.

The question is kept as one of the piece's remarks, with the answer beside it.
"""

from __future__ import annotations

from django.db import transaction

from standlight import score
from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.shifting import keep_part_cut, part_cut_again
from standlight.programme.models import Account, Ensemble, Part
from standlight.score import written_octave_too_high

QUESTION = "octave_question"
"""The code of the remark that asks."""

OCTAVES_OF_ANSWER = {"lower": -1, "right": 0}
"""What each answer says of where the part sounds."""


def octave_questions(read: score.Score) -> list[dict[str, object]]:
    """One question for every part that is probably written an octave too high."""
    return [
        {
            "code": QUESTION,
            "sentence": f"{part.name} lies above every voice that its name says. "
            "Is it written an octave too high?",
            "part": part.index,
            "measure": None,
            "answer": "",
        }
        for part in read.parts
        if written_octave_too_high(part)
    ]


def answer_octave(account: Account, part: Part, answer: str) -> int:
    """Keep the director's answer ("lower" or "right"); how many passages were cut anew.

    Every later cut of the part sounds there, and so do the passages of checks that nobody
    has sent anything for. Raises `NotAllowed` for another's ensemble, `StandlightError` for
    a part that was not asked about.
    """
    piece = part.piece
    if not (account.is_director and Ensemble.objects.visible_to(account).filter(
        pk=piece.ensemble_id
    ).exists()):  # fmt: skip
        raise NotAllowed("this ensemble is not yours")
    asked = [
        remark
        for remark in piece.remarks
        if remark["code"] == QUESTION and remark["part"] == part.index
    ]
    if not asked or answer not in OCTAVES_OF_ANSWER:
        raise StandlightError(f"nothing was asked about the octave of {part.name}")
    asked[0]["answer"] = answer
    moves = part.octaves_moved != OCTAVES_OF_ANSWER[answer]
    part.octaves_moved = OCTAVES_OF_ANSWER[answer]
    rows = part_cut_again(part) if moves else []
    with transaction.atomic():
        piece.save(update_fields=["remarks"])
        part.save(update_fields=["octaves_moved"])
        return keep_part_cut(part, rows)
