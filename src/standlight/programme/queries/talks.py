"""Talks: who may need one, what stands on the page of one, and what a musician and an adult read.

Nothing here is asked by Marks, and nothing here changes a mark.
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterable, Sequence

from django.db.models import Q, QuerySet
from django.utils import timezone

from standlight.programme.models import (
    Account,
    Ensemble,
    Musician,
    Talk,
    TalkAsked,
    TalkRuleRest,
    TalkStep,
)
from standlight.programme.queries.school import adults_who_read
from standlight.programme.queries.second_adult import may_read_all
from standlight.programme.queries.standing import one_seat_each, seats_of
from standlight.programme.queries.talks_folded import folded, narrowed
from standlight.programme.queries.talks_rules import (
    ASKED,
    RULE_NAMES,
    TALK_RULES,
    reasons_in,
    room_of,
    rules_off,
)
from standlight.programme.queries.talks_sides import both_sides
from standlight.programme.queries.talks_values import (
    AskedLine,
    MyTalkGroup,
    MyTalks,
    NotesPage,
    RestLine,
    RuleLine,
    ShownRule,
    StepLine,
    TalkGroup,
    TalkLine,
    TalkPage,
    TalkRow,
    TalksPage,
)

NOTES_A_PAGE = 30
"""Notes on one page of the second adult's reading."""

GONE = "Not in the group any more"
"""Heading, after the sections, of those who asked and left before anybody talked with them."""


def talks_page(account: Account, only: str = "") -> TalksPage:
    """Every ensemble of ``account``: by section, then by name, never by how much was found.

    ``only`` is the code of one rule to look at alone; any other word shows all.
    """
    today = timezone.localdate()
    off = set(rules_off(account.programme_id))
    groups = tuple(_group(account, one, today) for one in Ensemble.objects.visible_to(account))
    only = only if only in RULE_NAMES else ""
    return TalksPage(
        tuple(
            narrowed(group, only) if only else folded(group, RULE_NAMES) for group in groups
        ),
        _shown_rules(groups, only),
        tuple(rule.name for rule in TALK_RULES if rule.code in off),
        may_read_all(account),
    )


def _shown_rules(groups: Sequence[TalkGroup], only: str) -> tuple[ShownRule, ...]:
    """Every rule that names somebody, in the order of the table, with all of them first."""
    rows = [row for group in groups for _, people in group.sections for row in people]
    counts = Counter(reason.code for row in rows for reason in row.reasons)
    if not rows:
        return ()
    everything = ShownRule("All reasons", "?", len({row.musician_pk for row in rows}), not only)
    each = (
        ShownRule(name, f"?rule={code}", counts[code], code == only)
        for code, name in RULE_NAMES.items()
        if counts[code] or code == only
    )
    return (everything, *each)


def _group(account: Account, ensemble: Ensemble, today: datetime.date) -> TalkGroup:
    """One ensemble."""
    room = room_of(account, ensemble, today)
    found = reasons_in(room)
    sections: dict[str, list[TalkRow]] = {}
    people: dict[str, list[tuple[int, str]]] = {}
    for seat in room.seats:
        people.setdefault(seat.section, []).append((seat.musician_pk, seat.name))
        if seat.musician_pk in found:
            row = TalkRow(seat.musician_pk, seat.name, found[seat.musician_pk])
            sections.setdefault(seat.section, []).append(row)
    here = {seat.musician_pk for seat in room.seats}
    for one in Musician.objects.filter(pk__in=found.keys() - here):
        sections.setdefault(GONE, []).append(TalkRow(one.pk, one.name, found[one.pk]))
    steps = TalkStep.objects.filter(
        talk__ensemble=ensemble, done_at__isnull=True, due_on__lte=today
    ).select_related("talk__musician")
    return TalkGroup(
        ensemble.pk,
        ensemble.name,
        tuple((name, tuple(rows)) for name, rows in sections.items()),
        tuple(_step(one, today, named=True) for one in steps),
        tuple((name, tuple(rows)) for name, rows in people.items()),
    )


def rules_page(account: Account) -> tuple[RuleLine, ...]:
    """Every rule, and whether it is on in the school of ``account``."""
    off = set(rules_off(account.programme_id))
    return tuple(
        RuleLine(rule.code, rule.name, rule.sentence, rule.code not in off) for rule in TALK_RULES
    )


def sits_in(musician: Musician, ensemble: Ensemble) -> bool:
    """True for who has or had a seat in the ensemble."""
    return musician.seats.filter(section__ensemble=ensemble).exists()


def talk_page(account: Account, ensemble: Ensemble, musician: Musician) -> TalkPage:
    """One conversation: the reasons, both sides, what was agreed before."""
    room = room_of(account, ensemble)
    seat = next(
        one for one in one_seat_each(seats_of(ensemble), room.today)
        if one.musician_pk == musician.pk
    )  # fmt: skip
    asked = TalkAsked.objects.filter(
        ensemble=ensemble, musician=musician, talked_at__isnull=True
    ).first()
    rests = TalkRuleRest.objects.filter(
        ensemble=ensemble, musician=musician, until__gt=room.today, code__in=list(RULE_NAMES)
    ).order_by("until")
    return TalkPage(
        ensemble.pk,
        ensemble.name,
        musician.pk,
        musician.name,
        seat.section,
        musician.agreed_labels,
        room.today,
        reasons_in(room).get(musician.pk, ()),
        None if asked is None else _asked(asked),
        both_sides(room, musician),
        _talks(Talk.objects.filter(ensemble=ensemble, musician=musician), room.today),
        tuple(RestLine(one.code, RULE_NAMES[one.code], one.until) for one in rests),
        ensemble.programme.safety_contact,
        tuple(one.shown_name for one in adults_who_read(ensemble)),
    )


def still_asks(ensemble: Ensemble, musician: Musician) -> bool:
    """True while a musician waits for a talk in the ensemble. One query."""
    return TalkAsked.objects.filter(
        ensemble=ensemble, musician=musician, talked_at__isnull=True
    ).exists()


def notes_page(account: Account, page: int) -> NotesPage:
    """What was asked with words and noted in the whole school, a page at a time (from 1)."""
    today = timezone.localdate()
    rows = Talk.objects.visible_to(account).order_by("-held_on", "-pk")
    first = (page - 1) * NOTES_A_PAGE
    talks = _talks(rows[first : first + NOTES_A_PAGE + 1], today, named=True)
    asked = (
        TalkAsked.objects.visible_to(account)
        .filter(talked_at__isnull=True)
        .select_related("musician", "ensemble")
    )
    return NotesPage(
        talks[:NOTES_A_PAGE],
        tuple((one.musician.name, one.ensemble.name, _asked(one)) for one in asked),
        page + 1 if len(talks) > NOTES_A_PAGE else 0,
    )


def my_talks(account: Account) -> MyTalks:
    """What was agreed with the musician ``account``, and where they can ask for a talk."""
    today = timezone.localdate()
    musician = Musician.objects.select_related("programme").get(account=account)
    open_asked = {
        one.ensemble_id: one
        for one in TalkAsked.objects.visible_to(account).filter(talked_at__isnull=True)
    }
    seats = musician.seats.filter(Q(joined_on__isnull=True) | Q(joined_on__lte=today)).filter(
        Q(left_on__isnull=True) | Q(left_on__gt=today)
    )
    here = set(seats.values_list("section__ensemble_id", flat=True))
    groups = []
    for ensemble in Ensemble.objects.visible_to(account).distinct():
        if ensemble.pk not in here:
            continue
        asked = open_asked.get(ensemble.pk)
        groups.append(
            MyTalkGroup(
                ensemble.pk,
                ensemble.name,
                tuple(one.shown_name for one in adults_who_read(ensemble)),
                None if asked is None else _asked(asked),
            )
        )
    talks = _talks(Talk.objects.visible_to(account), today)
    return MyTalks(
        tuple(groups),
        talks,
        musician.programme.safety_contact,
        ASKED not in set(rules_off(account.programme_id)),
    )


def _asked(row: TalkAsked) -> AskedLine:
    """A request as a line."""
    return AskedLine(
        row.pk,
        row.asked_at,
        row.words,
        row.read_at is not None,
        row.read_at is None and row.first_read_at is None,
        row.stamp,
    )


def _talks(
    rows: QuerySet[Talk] | Iterable[Talk], today: datetime.date, *, named: bool = False
) -> tuple[TalkLine, ...]:
    """Talks with their steps. Two queries."""
    found = rows.select_related("held_by", "musician", "ensemble").prefetch_related("steps")
    return tuple(
        TalkLine(
            row.pk,
            row.held_on,
            row.held_by.shown_name,
            row.words,
            tuple(_step(one, today) for one in row.steps.all()),
            row.musician.name if named else "",
            row.ensemble.name,
        )
        for row in found
    )


def _step(row: TalkStep, today: datetime.date, *, named: bool = False) -> StepLine:
    """An agreed step as a line."""
    whose = row.talk.musician if named else None
    return StepLine(
        row.pk,
        row.words,
        row.due_on,
        row.done_at,
        row.done_at is None and row.due_on <= today,
        whose.pk if whose else 0,
        whose.name if whose else "",
    )
