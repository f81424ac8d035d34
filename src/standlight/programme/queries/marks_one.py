"""One mark on one page that a parent can follow, for one musician or for all, to print."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from standlight.kinds import Field
from standlight.programme.models import Assignment, Ensemble, MarkingPeriod, Sheet
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.marks import period_page
from standlight.programme.queries.marks_values import MarkRow, PeriodPage, ShownChange


@dataclass(frozen=True, slots=True)
class ActsLine:
    """What was seen of a musician that never enters a mark: a kind's name, and sentences."""

    name: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OneMark:
    """A musician's mark with everything it rests on; ``acts`` stand on their own line."""

    row: MarkRow
    acts: tuple[ActsLine, ...]
    changes: tuple[ShownChange, ...]


@dataclass(frozen=True, slots=True)
class OneMarkPage:
    """The period's page and the marks to explain: one, or all for printing."""

    page: PeriodPage
    marks: tuple[OneMark, ...]


def one_mark_page(
    ensemble: Ensemble, period: MarkingPeriod, musician_pk: int | None = None
) -> OneMarkPage | None:
    """One musician's page, or everybody's; ``None`` when the musician is not in the period."""
    page = period_page(ensemble, period)
    rows = [row for row in page.rows if musician_pk in (None, row.musician_pk)]
    if musician_pk is not None and not rows:
        return None
    acts = acts_seen(ensemble, period)
    return OneMarkPage(
        page,
        tuple(
            OneMark(
                row,
                tuple(acts.get(row.musician_pk, ())),
                tuple(one for one in page.changes if one.musician_pk == row.musician_pk),
            )
            for row in rows
        ),
    )


def acts_seen(ensemble: Ensemble, period: MarkingPeriod) -> dict[int, list[ActsLine]]:
    """What directors saw and musicians said, by musician, in kinds that never enter a mark.

    Only kinds in which a director fills the form about each musician; three queries.
    """
    given = [
        row
        for row in Assignment.objects.filter(
            ensemble=ensemble, published_at__isnull=False, starts_on__lte=period.ends_on
        ).select_related("kind")
        if not kind_in(row.kind).marked and kind_in(row.kind).director_side == "each"
    ]
    sheets = Sheet.objects.filter(
        assignment__in=given,
        sent_at__isnull=False,
        sent_at__date__range=(period.starts_on, period.ends_on),
    ).values_list("assignment_id", "about_id", "author__musician__pk", "step", "answers")
    kinds = {row.pk: kind_in(row.kind) for row in given}
    seen: dict[tuple[int, str, str], Counter[str]] = {}
    times: Counter[tuple[int, str, str]] = Counter()
    for assignment_pk, about, author, step_key, answers in sheets:
        kind = kinds[assignment_pk]
        step = next((one for one in kind.steps if one.key == step_key), None)
        if step is None or (about is None and author is None):
            continue
        # A director's sheet is about the musician; a musician's own has its author.
        side = "said" if author is not None else "seen"
        key = (author if author is not None else about, kind.name, side)
        times[key] += 1
        seen.setdefault(key, Counter()).update(_labels(step.fields, answers))
    found: dict[int, list[ActsLine]] = {}
    for musician_pk, name in dict.fromkeys((pk, name) for pk, name, _ in seen):
        sentences = tuple(
            _sentence(words, times[musician_pk, name, side], seen[musician_pk, name, side])
            for side, words in (("seen", "Seen by the director"), ("said", "Said by the musician"))
            if times[musician_pk, name, side]
        )
        found.setdefault(musician_pk, []).append(ActsLine(name, sentences))
    return found


def _labels(fields: Iterable[Field], answers: Mapping[str, object]) -> list[str]:
    """The chosen words of every row of levels."""
    return [
        option.label
        for field in fields
        if field.type == "levels"
        for option in field.options
        if answers.get(field.key) == option.key
    ]


def _sentence(words: str, times: int, counts: Counter[str]) -> str:
    """How often each word was chosen."""
    often = ", ".join(f"{label.lower()} {count}" for label, count in counts.most_common())
    when = "once" if times == 1 else f"{times} times"
    return f"{words} {when}: {often or 'no row chosen'}."
