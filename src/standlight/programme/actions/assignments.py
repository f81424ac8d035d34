"""Work given out: written as a draft, published, taken back, moved, excused, laid open.

An assignment handed to an action comes through ``visible_to``: the page has asked who may.
"""

from __future__ import annotations

import datetime
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from django.db import transaction
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.kinds import Kind, rules_of
from standlight.programme import store
from standlight.programme.actions.checks import may_direct
from standlight.programme.actions.kinds import latest_edition
from standlight.programme.models import (
    Account,
    Assignment,
    Ensemble,
    Musician,
    Piece,
    Section,
    WorkExcuse,
)
from standlight.programme.queries.kinds import kind_in
from standlight.workshop import playback_copy

LONGEST_TITLE, LONGEST_NOTE, LONGEST_SOUND_NAME = 120, 400, 120


@dataclass(frozen=True, slots=True)
class Giving:
    """What a director fills in to give work out; checked by `give_out`.

    ``rules`` maps a step's key to what `rules_of` reads; no ``section_pks`` is everyone; without
    ``due_on`` any time will do; a kind that needs sound is heard live when ``sound`` is None.
    """

    ensemble_pk: int
    kind_key: str
    title: str
    starts_on: datetime.date
    note: str = ""
    piece_pk: int | None = None
    section_pks: Collection[int] = ()
    rules: Mapping[str, object] = field(default_factory=dict)
    due_on: datetime.date | None = None
    sound: bytes | None = None
    sound_name: str = ""


def give_out(account: Account, giving: Giving) -> Assignment:
    """A draft: musicians see it once it is published.

    Raises `NotAllowed` for another's ensemble, `StandlightError` for what does not fit.
    """
    may_direct(account, giving.ensemble_pk)
    ensemble = Ensemble.objects.select_related("programme").get(pk=giving.ensemble_pk)
    with transaction.atomic():
        edition = latest_edition(ensemble.programme, giving.kind_key)
    if edition.put_away_at is not None:
        raise StandlightError("this kind of work is put away", slip="bring it back first")
    kind = kind_in(edition)
    made = Assignment(
        ensemble=ensemble,
        kind=edition,
        title=_line(giving.title, "title", 1, LONGEST_TITLE),
        note=_line(giving.note, "sentence to the musicians", 0, LONGEST_NOTE),
        piece=_piece(kind, ensemble, giving.piece_pk),
        rules=_rules(kind, giving.rules),
        sound_name=_line(giving.sound_name, "name of the recording", 0, LONGEST_SOUND_NAME),
        starts_on=giving.starts_on,
        due_on=_day_after(giving.starts_on, giving.due_on),
        made_by=account,
    )
    sections = _sections(ensemble, giving.section_pks)
    if giving.sound is not None:
        if "sound" not in kind.needs:
            raise StandlightError(f"“{kind.name}” takes no recording of yours")
        # The copy is made before the transaction: decoding may take seconds.
        made.sound_digest = store.keep(playback_copy(giving.sound))
    with transaction.atomic():
        made.save()
        made.sections.set(sections)
    return made


@transaction.atomic
def publish(assignment: Assignment) -> None:
    """Let the musicians see it; a second time changes nothing."""
    if assignment.published_at is None:
        assignment.published_at = timezone.now()
        assignment.save(update_fields=["published_at"])


@transaction.atomic
def take_back(assignment: Assignment) -> None:
    """Let no musician see it any longer; raises `NotAllowed` once a sheet is sent."""
    if assignment.sheets.filter(sent_at__isnull=False, author__musician__isnull=False).exists():
        raise NotAllowed(
            "musicians have already sent something, so this stays",
            slip="move the day, or excuse who should not do it",
        )
    assignment.published_at = None
    assignment.save(update_fields=["published_at"])


@transaction.atomic
def throw_away(assignment: Assignment) -> None:
    """Remove a draft; raises `NotAllowed` when it is published or anybody has begun."""
    if assignment.published_at is not None or assignment.sheets.exists():
        raise NotAllowed("somebody has begun this or can see it, so it stays")
    assignment.delete()


@transaction.atomic
def lay_open(assignment: Assignment) -> None:
    """Show the group how others answered, from now on; a second time changes nothing.

    Raises `NotAllowed` for a draft.
    """
    if assignment.published_at is None:
        raise NotAllowed("nobody has seen this yet", slip="publish it first")
    if assignment.laid_open_at is None:
        assignment.laid_open_at = timezone.now()
        assignment.save(update_fields=["laid_open_at"])


@transaction.atomic
def excuse(
    account: Account,
    assignment: Assignment,
    musician: Musician,
    reason: str,
    until: datetime.date | None = None,
) -> WorkExcuse:
    """Say why a musician's work is not asked for, or (``until``) not before a later day.

    Another reason replaces the one that stands. Raises `StandlightError` for an unknown
    reason or a day that is not later, `NotAllowed` for a musician of another ensemble.
    """
    may_direct(account, assignment.ensemble_id)
    if not musician.seats.filter(section__ensemble=assignment.ensemble_id).exists():
        raise NotAllowed("this musician is not in the ensemble")
    if reason not in WorkExcuse.REASONS:
        raise StandlightError(
            f"{reason[:40]!r} is no reason", slip=", ".join(WorkExcuse.REASONS.values())
        )
    if until is not None and (assignment.due_on is None or until <= assignment.due_on):
        due = "has no due day" if assignment.due_on is None else f"is due {assignment.due_on}"
        raise StandlightError(f"this work {due}, so {until} is no later day")
    row, _ = WorkExcuse.objects.update_or_create(
        assignment=assignment,
        musician=musician,
        defaults={
            "reason": reason,
            "until": until,
            "given_by": account,
            "given_at": timezone.now(),
        },
    )
    return row


@transaction.atomic
def ask_again(account: Account, assignment: Assignment, musician: Musician) -> None:
    """Ask a musician like everybody else: the excuse and the later day are gone."""
    may_direct(account, assignment.ensemble_id)
    WorkExcuse.objects.filter(assignment=assignment, musician=musician).delete()


@transaction.atomic
def move_due(assignment: Assignment, day: datetime.date | None) -> None:
    """Move the day for everybody, None for any time; a musician's own later day stays."""
    assignment.due_on = _day_after(assignment.starts_on, day)
    assignment.save(update_fields=["due_on"])


@transaction.atomic
def next_sections(assignment: Assignment) -> Assignment:
    """The same work for the next sections, in concert order, as a draft with its own days.

    It begins the day after this one is due (no earlier than today) and lasts as long. Asked
    twice, it gives the draft or assignment that follows already. Raises `StandlightError`
    where everyone was asked.
    """
    order = list(assignment.ensemble.sections.values_list("pk", flat=True))
    now = set(assignment.sections.values_list("pk", flat=True))
    if not now or len(now) >= len(order):
        raise StandlightError(
            "everyone was asked at once, so there is no next section",
            slip="give it out to one section first",
        )
    turn = _next_turn(order, now)
    following = Assignment.objects.filter(
        ensemble=assignment.ensemble_id,
        kind__key=assignment.kind.key,
        title=assignment.title,
        pk__gt=assignment.pk,
        starts_on__gt=assignment.starts_on,
    )
    for other in following.prefetch_related("sections").order_by("pk"):
        if {section.pk for section in other.sections.all()} == turn:
            return other
    starts_on, due_on = _next_days(assignment)
    copy = Assignment.objects.create(
        ensemble=assignment.ensemble,
        kind=assignment.kind,
        title=assignment.title,
        note=assignment.note,
        piece=assignment.piece,
        rules=assignment.rules,
        sound_digest=assignment.sound_digest,
        sound_name=assignment.sound_name,
        starts_on=starts_on,
        due_on=due_on,
        made_by=assignment.made_by,
    )
    copy.sections.set(turn)
    return copy


def _next_turn(order: list[int], now: set[int]) -> set[int]:
    """As many sections as now, from the one after the last, round the ensemble."""
    last = max(place for place, pk in enumerate(order) if pk in now)
    round_about = [pk for pk in order[last + 1 :] + order[: last + 1] if pk not in now]
    return set(round_about[: len(now)])


def _next_days(assignment: Assignment) -> tuple[datetime.date, datetime.date | None]:
    """First day and due day of the next turn."""
    today = timezone.localdate()
    if assignment.due_on is None:
        # The day after, so that two turns never begin on one day.
        return max(today, assignment.starts_on + datetime.timedelta(1)), None
    starts_on = max(today, assignment.due_on + datetime.timedelta(1))
    return starts_on, starts_on + (assignment.due_on - assignment.starts_on)


def _line(text: str, what: str, least: int, most: int) -> str:
    """One line of text within its length."""
    line = " ".join(text.split())
    if len(line) < least:
        raise StandlightError(f"the {what} is empty")
    if len(line) > most:
        raise StandlightError(f"the {what} has {len(line):,} characters; {most} fit")
    return line


def _piece(kind: Kind, ensemble: Ensemble, pk: int | None) -> Piece | None:
    """The piece that the work is about, of this ensemble; needed where the kind needs one."""
    if pk is None:
        if "piece" in kind.needs:
            raise StandlightError(f"“{kind.name}” needs a piece", slip="choose one of the folder")
        return None
    piece = Piece.objects.filter(pk=pk, ensemble=ensemble).first()
    if piece is None:
        raise StandlightError("this piece is not in the folder of the ensemble")
    return piece


def _sections(ensemble: Ensemble, pks: Collection[int]) -> list[Section]:
    """Sections of the ensemble."""
    found = list(Section.objects.filter(ensemble=ensemble, pk__in=pks))
    if len(found) != len(set(pks)):
        raise StandlightError("a section that was chosen is not in this ensemble")
    return found


def _rules(kind: Kind, rules: Mapping[str, object]) -> dict:
    """Rules by step, checked; raises `UnreadableRules`."""
    steps = {step.key: step for step in kind.steps}
    for key, data in rules.items():
        if key not in steps:
            raise StandlightError(f"“{kind.name}” has no step {key[:60]!r}")
        rules_of(data, steps[key])
    return dict(rules)


def _day_after(
    starts_on: datetime.date, due_on: datetime.date | None
) -> datetime.date | None:
    """The due day, which cannot come before the first."""
    if due_on is not None and due_on < starts_on:
        raise StandlightError(f"it would be due on {due_on}, before it opens on {starts_on}")
    return due_on
