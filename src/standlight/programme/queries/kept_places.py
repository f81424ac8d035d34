"""Kept reports of many takes, opened again: where each take's own page names something.

The picture of the whole group and the strip of a piece count what is found here, by the very
finders that the page of a take counts with, so that neither can say other than the page.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import lru_cache
from typing import Any

from standlight.criteria import CRITERIA
from standlight.criteria.kept import HeardOn, KeptReport, kept_report
from standlight.errors import StandlightError
from standlight.programme import store
from standlight.programme.models import Report, Take
from standlight.score import Passage, read_passage

PASSAGES_REMEMBERED = 512
"""Passages kept in mind: those of the checks of a large group in one concert cycle."""

OPENED = (
    "notes", "added", "restarts", "tuning_cents", "tempo_qpm", "seconds", "together", "prolonged",
    "left_out", "seams", "readings", "verdicts", "spots",
)  # fmt: skip
"""What is read of a report. Its curves, which are most of it, say nothing of places."""


def newest_reports(turns: Collection[int]) -> dict[int, dict[str, Any]]:
    """Turn to what is `OPENED` of its chosen take's newest report. One query."""
    rows = (
        Report.objects.filter(take__turn__in=turns, take__chosen=True, take__state=Take.HEARD)
        .order_by("made_at", "pk")
        .values_list("take__turn_id", *(f"body__{name}" for name in OPENED))
    )
    return {
        turn: {
            name: value for name, value in zip(OPENED, values, strict=True) if value is not None
        }
        for turn, *values in rows
    }


def written_passage(digest: str) -> Passage | None:
    """The passage of a notation; ``None`` on paper only (no digest), and when the file is gone."""
    try:
        return _remembered(digest) if digest else None
    except StandlightError:
        return None


@lru_cache(maxsize=PASSAGES_REMEMBERED)
def _remembered(digest: str) -> Passage:
    """The passage of a notation, which its digest names for ever."""
    return read_passage(store.fetch(digest))


def troubled_measures(
    body: Mapping[str, Any], written: Passage, terms: HeardOn, criteria: Sequence[str]
) -> dict[str, frozenset[int]] | None:
    """Of each criterion that names places: the measures (0-based) with something to hear again.

    A criterion is absent where it names no places, or the report says that it could not be read:
    nothing was counted then. ``None`` for a group's take, and when ``written`` has other notes
    by now than the take was read against.
    """
    kept = kept_report(body, written, terms)
    if kept is None or kept.together:
        return None
    found = {}
    for key in criteria:
        finder = CRITERIA[key].find
        if finder is None:
            continue
        places = frozenset(written.notes[one.index].measure for one in finder(kept.performance))
        if places or _was_read(kept, key):
            found[key] = places
    return found


def _was_read(kept: KeptReport, criterion: str) -> bool:
    """False when the report says why a criterion has no figure.

    Its first reading is what it is about; what follows may count even what could not be read.
    """
    first = next((one for one in kept.readings if one.criterion == criterion), None)
    return first is None or first.value is not None
