"""One measure of a musician's own part, cut once and kept, to show where a pin points."""

from __future__ import annotations

from django.core.cache import cache

from standlight.errors import StandlightError
from standlight.programme import store
from standlight.programme.models import Account, Assignment, Casting
from standlight.programme.sheet_remarks import index_of
from standlight.score import cut_passage

KEPT_SECONDS = 24 * 3600


def own_measure(account: Account, assignment: Assignment, printed: int, title: str = "") -> str:
    """The digest of the notation of the printed measure in the musician's part; "" for none.

    ``title`` names a piece of the group, else the piece of the work is meant. Asked again within
    a day, the cut is remembered.
    """
    castings = Casting.objects.filter(
        seat__musician__account=account, piece__ensemble=assignment.ensemble_id
    ).select_related("piece", "part")
    named = castings.filter(piece__title=title) if title else castings.none()
    casting = named.first() or castings.filter(piece=assignment.piece_id).first()
    if casting is None or casting.piece.on_paper_only:
        return ""
    index = index_of(casting.piece, printed)
    if index is None:
        return ""
    key = f"measure-{casting.piece.score_digest}-{casting.part.index}-{index}"
    digest = cache.get(key)
    if digest is None:
        digest = _cut(casting, index)
        cache.set(key, digest, KEPT_SECONDS)
    return digest


def _cut(casting: Casting, index: int) -> str:
    """Cut the measure and keep it; "" where it cannot be cut."""
    try:
        score = store.fetch(casting.piece.score_digest)
        return store.keep(cut_passage(score, casting.part.index, index, index))
    except StandlightError:
        return ""
