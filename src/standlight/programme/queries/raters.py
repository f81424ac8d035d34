"""The Raters place: what the levels say and cannot say, own steadiness, how alike two rate."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from typing import Any

from django.utils import timezone

from standlight.programme.dates import date_words
from standlight.programme.models import Account, GuestLevel, GuestLink, Turn
from standlight.programme.queries.given_ratings import TAKE, TASK
from standlight.programme.queries.growth_picture import interval_picture
from standlight.programme.queries.rater_figures import linked
from standlight.programme.queries.rater_names import Names, names_for
from standlight.programme.queries.rater_words import (
    LAST_MONTH,
    NEED_WORDS,
    REFUSAL_BECAUSE,
    REFUSAL_CLAIMS,
    REFUSAL_FIGURES,
    REMARK_WORDS,
    STATEMENT_FIGURES,
    STATEMENT_WHY,
    STATEMENT_WORDS,
    begun,
    contrast_words,
    figures_of,
    from_the_reader,
    group_growth_words,
    join_words,
    on_criterion,
)
from standlight.programme.queries.raters_twice import second_rater_exists
from standlight.programme.queries.raters_values import Act, Finding, Pair, RatersPage, Refused
from standlight.programme.queries.steady_words import (
    NOT_HEARD_AGAIN,
    beside_the_reader,
    beside_words,
    steady_sentences,
)
from standlight.programme.queries.studies import StudySeen, study_for
from standlight.programme.queries.study_days import NONE_YET, as_of_words
from standlight.ratings.statements import SAME_PASSAGE, STRICTER

Json = dict[str, Any]

MOST_ACTS = 3
"""Takes offered at once beside a refused claim; the rest follow at the Desk (our choice)."""

SMALLEST_CLAIM_LEVELS = 0.15
"""A difference of averages below which nobody would claim anything, so that nothing is refused
(our choice)."""


def raters_page(account: Account) -> RatersPage:
    """The page for ``account``: own findings and those that involve them; for the lead all."""
    study = study_for(account)
    if study is None:
        return RatersPage(
            "", "", NONE_YET, (), (), (), (), "", None, n_tasks=0, leads=account.is_lead
        )
    names = names_for(account)
    body = study.body
    steadiness = body["steadiness"]
    second = second_rater_exists(account)
    compares = second or _guest_compares(account)
    heard_own = any(row["rater"] == names.me for row in steadiness)
    return RatersPage(
        as_of=as_of_words(study.made_at, study.changed_since),
        rests_on=f"It rests on {study.n_levels:,} levels, musicians' own among them.",
        none_yet="",
        says=tuple(_says(study, names)),
        cannot=tuple(_cannot(account, body, names)),
        remarks=tuple(words for code in body["remarks"] if (words := REMARK_WORDS.get(code))),
        steady=(
            *_steady(steadiness, names), *(_beside(body, names) if compares else ())
        ),
        steady_yet="" if heard_own else NOT_HEARD_AGAIN,
        pairs=_pairs(body, names) if compares else None,
        n_tasks=len(body["tasks"]),
        leads=account.is_lead,
        twice=second,
    )


def _guest_compares(account: Account) -> bool:
    """True when a guest has rated whom a director compares with themself."""
    rows = GuestLevel.objects.visible_to(account).filter(retired_at__isnull=True)
    return rows.filter(take__link__counts_as=GuestLink.COMPARED).exists()


def _says(study: StudySeen, names: Names) -> Iterator[Finding]:
    """Every statement, then how whole groups grew where that can be told."""
    for row in study.body["statements"]:
        if row["code"] not in STATEMENT_WORDS:
            continue  # of an edition to come; the next errand makes the study again
        yield Finding(
            STATEMENT_WORDS[row["code"]](
                {**row, "span": _span(study, row), "since": _since(study, row)}, names
            ),
            (
                STATEMENT_WHY[row["code"]],
                *figures_of(row["points"], row["low"], row["high"]),
                *_late_figures(row),
            ),
            linked(*STATEMENT_FIGURES[row["code"]]),
        )
    for row in study.body["growth"]["groups"]:
        if not row["criterion"] and row["points_a_year"] is not None:
            yield Finding(
                group_growth_words(row, names),
                figures_of(row["points_a_year"], row["low"], row["high"]),
                linked("group_growth", "anchors"),
            )


def _span(study: StudySeen, row: Json) -> str:
    """The days a statement is about, in words; empty where it is about all."""
    start, end = (_day_words(study, row.get(key)) for key in ("first_day", "last_day"))
    return f"from {start} to {end}" if start and end else ""


def _late_figures(row: Json) -> tuple[str, ...]:
    """A section's own growth of late in figures; none where the statement has none."""
    late = row.get("late")
    if not late:
        return ()
    figures = figures_of(late["points_a_year"], late["low"], late["high"])
    return tuple(f"By itself, of late: {each}" for each in figures)


def _since(study: StudySeen, row: Json) -> str:
    """The day from which a section's late growth counts, in words; empty where it has none."""
    return _day_words(study, (row.get("late") or {}).get("since_day"))


def _day_words(study: StudySeen, day: float | None) -> str:
    """A day of the study in words, seen from when it was made; empty for none."""
    if study.first_day is None or day is None:
        return ""
    made_on = timezone.localtime(study.made_at).date()
    return date_words(study.first_day + datetime.timedelta(int(day)), seen_from=made_on)


def _cannot(account: Account, body: Json, names: Names) -> Iterator[Refused]:
    """Claims that the averages invite, with the act that would answer each."""
    for row in body["refusals"]:
        known = row["code"] in REFUSAL_CLAIMS and row["need"] in NEED_WORDS
        if not known or abs(row["averages_say"]) < SMALLEST_CLAIM_LEVELS:
            continue
        yield Refused(
            REFUSAL_CLAIMS[row["code"]](row, names),
            REFUSAL_BECAUSE[row["code"]],
            " ".join((NEED_WORDS[row["need"]](row, names), *_joins(body, row["subjects"], names))),
            tuple(_acts(account, row)),
            linked(*REFUSAL_FIGURES[row["code"]]),
        )


def _acts(account: Account, row: Json) -> Iterator[Act]:
    """What the reader can do about a refused claim: ask a passage again, hear some takes."""
    if row["task"]:
        yield Act("Ask this passage again", int(row["task"].removeprefix(TASK)))
    if row["need"] == SAME_PASSAGE:
        yield Act("Choose a passage in the Folder")
    if row["takes"]:
        numbers = [int(take.removeprefix(TAKE)) for take in row["takes"]]
        turns = (
            Turn.objects.visible_to(account)
            .filter(pk__in=numbers)
            .exclude(levels__rater=account)
            .select_related("musician", "check_row")
        )
        for turn in turns[:MOST_ACTS]:
            yield Act(
                f"Hear {turn.musician.name}, {turn.check_row.title}", turn.check_row_id, turn.pk
            )


def _joins(body: Json, people: Sequence[str], names: Names) -> tuple[str, ...]:
    """What two people should hear of each other's so that they can be compared."""
    return tuple(
        join_words(row, names)
        for row in body["joins"]
        if {row["rater"], row["other"]} == set(people)
    )


def _steady(rows: Sequence[Json], names: Names) -> Iterator[Finding]:
    """Own steadiness first, then others' for the lead."""
    for row in sorted(rows, key=lambda row: row["rater"] != names.me):
        first, *more = steady_sentences(row, names.rater(row["rater"]))
        yield Finding(
            first,
            figures_of(row["stricter_by"], row["low"], row["high"]),
            linked("steadiness", "drift"),
            more=tuple(more),
        )


def _beside(body: Json, names: Names) -> Iterator[Finding]:
    """How the reader moved beside each other rater; for the lead, others beside others too."""
    rows = [beside_the_reader(row, names.me) for row in body.get("drifts", ())]
    for row in sorted(rows, key=lambda row: row["rater"] != names.me):
        drift = row["over_year"]
        words = beside_words(row, names.rater(row["rater"]), names.rater(row["other"]))
        if words:
            figures = figures_of(drift["stricter_by"], drift["low"], drift["high"])
            yield Finding(words, figures, linked("drift"))


def _pairs(body: Json, names: Names) -> tuple[Pair, ...]:
    """Two and two: over all criteria, then one by one; what stands above is not said again."""
    said = {
        (frozenset(row["subjects"]), row["criterion"])
        for row in body["statements"]
        if row["code"] == STRICTER
    }
    found: dict[tuple[str, str], tuple[list[Finding], list[Finding]]] = {}
    month = {
        frozenset((row["rater"], row["other"])): from_the_reader(row, names)
        for row in body.get("month", ())
        if not row["criterion"] and row["stricter_by"] is not None
    }
    for row in (from_the_reader(one, names) for one in body["contrasts"]):
        first, others = found.setdefault((row["rater"], row["other"]), ([], []))
        told = first if row["sure"] or not row["criterion"] else others
        joins = () if row["criterion"] else _joins(body, (row["rater"], row["other"]), names)
        pair = frozenset((row["rater"], row["other"]))
        finding = _contrast(row, names, joins)
        told.append(_as_above(row, finding) if (pair, row["criterion"]) in said else finding)
        lately = month.get(pair)
        if lately and not row["criterion"]:
            told.append(_contrast(lately, names, when=LAST_MONTH))
    return tuple(
        Pair(f"{begun(names.rater(one))} and {names.rater(other)}", tuple(first), tuple(others))
        for (one, other), (first, others) in found.items()
    )


def _as_above(row: Json, finding: Finding) -> Finding:
    """The picture of a comparison whose sentence and ground stand among what the levels say."""
    label = f"{begun(on_criterion(row['criterion']))}: see What the levels say."
    return Finding(label, picture=finding.picture, more=finding.more)


def _contrast(
    row: Json, names: Names, joins: tuple[str, ...] = (), when: str = ""
) -> Finding:
    """One comparison, with its picture where there is a figure, and what would allow it."""
    words = contrast_words(row, names, when)
    points = (row["stricter_by"], row["low"], row["high"])
    told = points[0] is not None
    return Finding(
        words,
        figures_of(*points),
        linked("severity", "comparable"),
        interval_picture(*points, row["sure"], words) if told else None,
        joins,
    )
