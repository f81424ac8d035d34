"""Which checks ask the same music: one task, asked again. Such a task is what growth hangs on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Q

from standlight.programme.models import CheckPassage, PlayingCheck

Place = tuple[int | None, int | None]
"""A part and a section (their numbers), one of which or neither is set: who plays a passage."""


@dataclass(frozen=True, slots=True)
class AskedCheck:
    """What a check shares with another that asks the same again; ``tempo_qpm`` to a tenth."""

    pk: int
    ensemble_pk: int
    piece_pk: int
    tempo_qpm: float


def tasks_of(scope: Q) -> tuple[tuple[AskedCheck, ...], dict[int, int]]:
    """The checks in ``scope`` (a filter on checks), and the first check of each one's task.

    Two checks are the same task when ensemble, piece and tempo are, and everybody who has a
    passage in both has the same: its measures, its notation where that is not the piece's own,
    or the printed words on paper. Two queries.
    """
    checks = tuple(
        AskedCheck(pk, ensemble, piece, round(tempo, 1))
        for pk, ensemble, piece, tempo in PlayingCheck.objects.filter(scope)
        .order_by("pk")
        .values_list("pk", "ensemble_id", "piece_id", "tempo_qpm")
    )
    passages = _passages(scope)
    firsts: dict[tuple[int, int, float], list[int]] = defaultdict(list)
    tasks: dict[int, int] = {}
    for check in checks:
        alike = firsts[check.ensemble_pk, check.piece_pk, check.tempo_qpm]
        same = [one for one in alike if _same_music(passages[one], passages[check.pk])]
        if not same:
            alike.append(check.pk)
        tasks[check.pk] = same[0] if same else check.pk
    return checks, tasks


def _passages(scope: Q) -> dict[int, dict[Place, object]]:
    """What everybody plays, by check; who has nothing to play is left out."""
    passages: dict[int, dict[Place, object]] = defaultdict(dict)
    rows = CheckPassage.objects.filter(
        check_row__in=PlayingCheck.objects.filter(scope).order_by().values("pk")
    ).values_list(
        "check_row_id",
        "part_id",
        "section_id",
        "first_measure",
        "last_measure",
        "printed",
        "notation_digest",
    )
    for check, part, section, first, last, printed, digest in rows:
        if first is not None:
            passages[check][part, section] = (first, last)
        elif printed or digest:
            passages[check][part, section] = (" ".join(printed.split()).casefold(), digest)
    return passages


def _same_music(one: Mapping[Place, object], other: Mapping[Place, object]) -> bool:
    """True when somebody plays in both and everybody who does plays the same."""
    both = one.keys() & other.keys()
    return bool(both) and all(one[place] == other[place] for place in both)
