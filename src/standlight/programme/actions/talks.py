"""Talks: asking for one, noting what was agreed, doing it; rules switched off or at rest."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from django.conf import settings
from django.db import transaction
from django.db.models.functions import Coalesce
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.models import (
    Account,
    Ensemble,
    Musician,
    Talk,
    TalkAsked,
    TalkRuleOff,
    TalkRuleRest,
    TalkStep,
)
from standlight.programme.queries.talks_rules import ASKED, RESTING, RULE_NAMES, rules_off

MOST_STEPS = 5
"""Agreed steps of one talk: more are not kept by anybody (our choice)."""

LONGEST_REST_DAYS = 366
"""A rule rests for one musician for a year at most; then it is looked at again (our choice)."""

A_YEAR_DAYS = 366
"""A talk lies no further back, and an agreed step no further ahead: a slip in the year is caught by
it (our choice)."""

SAME_NOTE = datetime.timedelta(minutes=10)
"""The same note again within this time is a second tap, or a page sent twice (our choice)."""


@transaction.atomic
def ask(musician: Musician, ensemble: Ensemble, words: str) -> TalkAsked:
    """Ask for a talk in one ensemble; what waits there already gets the new words under its own.

    Words that stand at its end already are not written twice. Raises ``StandlightError`` for
    words that are too long, and where the school takes none.
    """
    if ASKED in set(rules_off(musician.programme_id)):
        raise StandlightError(
            "your school does not take this here", slip="ask your director when you see them"
        )
    words = words.strip()
    if len(words) > TalkAsked.LONGEST:
        raise StandlightError(
            f"this is longer than {TalkAsked.LONGEST} characters",
            slip="a few words are enough; you can say the rest when you talk",
        )
    row, new = TalkAsked.objects.select_for_update().get_or_create(
        musician=musician, ensemble=ensemble, talked_at=None, defaults={"words": words}
    )
    if words and not new and not f"\n{row.words}".endswith(f"\n{words}"):
        row.words, row.read_at = f"{row.words}\n{words}".strip(), None
        row.save(update_fields=["words", "read_at"])
    return row


@transaction.atomic
def take_back(asked: TalkAsked) -> None:
    """Take a request back, as long as nobody has read any of it; a repeat changes nothing.

    Raises ``StandlightError`` for one that was read: it is asked as the row goes, because a
    director may have opened it since ``asked`` was looked up.
    """
    mine = TalkAsked.objects.filter(pk=asked.pk, talked_at__isnull=True)
    unread = mine.filter(first_read_at__isnull=True, read_at__isnull=True)
    if not unread.delete()[0] and mine.exists():
        raise StandlightError(
            "your director has read it already", slip="tell them that you no longer need it"
        )


@transaction.atomic
def read_asked(ensemble: Ensemble, musician: Musician) -> None:
    """Note that a director has opened a musician's request; a repeat changes nothing."""
    now = timezone.now()
    TalkAsked.objects.filter(
        ensemble=ensemble, musician=musician, talked_at__isnull=True, read_at__isnull=True
    ).update(read_at=now, first_read_at=Coalesce("first_read_at", now))


@transaction.atomic
def close_asked(ensemble: Ensemble, musician: Musician, seen: str) -> None:
    """Say that what a musician asked for is over, with nothing to write down.

    ``seen`` is the stamp of the words that the director's page showed. Raises ``StandlightError``
    where other words stand there now: nobody has read those. A repeat changes nothing.
    """
    if not _close(ensemble, musician, seen):
        raise StandlightError("They wrote something since; read it first")


def _close(ensemble: Ensemble, musician: Musician, seen: str) -> bool:
    """Close what was read; false where words stand there that ``seen`` does not hold."""
    rows = TalkAsked.objects.select_for_update()
    row = rows.filter(ensemble=ensemble, musician=musician, talked_at__isnull=True).first()
    if row is None:
        return True
    if row.stamp != seen:
        return False
    row.talked_at = timezone.now()
    row.save(update_fields=["talked_at"])
    return True


@transaction.atomic
def note(
    account: Account,
    ensemble: Ensemble,
    musician: Musician,
    held_on: datetime.date,
    words: str,
    steps: Sequence[tuple[str, datetime.date]],
    *,
    seen: str = "",
) -> Talk:
    """Note a talk that was held on ``held_on``, and steps with their days.

    A request is over then if ``seen`` is the stamp of its words; with words that came later it
    stays open. The same note again within minutes is the one that is there. The musician reads
    all of it. Raises ``StandlightError`` for an empty note, a day to come or more than a year
    ago, a step before the talk or more than a year away, or too much.
    """
    words = words.strip()
    steps = [(" ".join(said.split()), due_on) for said, due_on in steps]
    if not words and not steps:
        raise StandlightError("nothing was written", slip="a line, or one step with its day")
    if held_on > timezone.localdate():
        raise StandlightError("the talk is on a day to come", slip="note it when it was held")
    if (timezone.localdate() - held_on).days > A_YEAR_DAYS:
        raise StandlightError("the talk is more than a year ago", slip="look at the year")
    if len(words) > Talk.LONGEST:
        raise StandlightError(f"the note has more than {Talk.LONGEST} characters")
    if len(steps) > MOST_STEPS:
        raise StandlightError(f"{MOST_STEPS} steps are the most for one talk")
    for said, due_on in steps:
        if not said:
            raise StandlightError("a day stands without a step", slip="write the step beside it")
        if len(said) > TalkStep.LONGEST:
            raise StandlightError(f"a step has more than {TalkStep.LONGEST} characters")
        if due_on < held_on:
            raise StandlightError(
                f"the step “{said}” lies before the talk", slip="a day of last year?"
            )
        if (due_on - timezone.localdate()).days > A_YEAR_DAYS:
            raise StandlightError(
                f"the step “{said}” is more than a year away", slip="look at the year"
            )
    _close(ensemble, musician, seen)
    earlier = _noted_just_now(account, ensemble, musician, held_on, words, steps)
    if earlier is not None:
        return earlier
    talk = Talk.objects.create(
        ensemble=ensemble, musician=musician, held_on=held_on, words=words, held_by=account
    )
    TalkStep.objects.bulk_create(
        TalkStep(talk=talk, words=said, due_on=due_on) for said, due_on in steps
    )
    return talk


def _noted_just_now(
    account: Account,
    ensemble: Ensemble,
    musician: Musician,
    held_on: datetime.date,
    words: str,
    steps: Sequence[tuple[str, datetime.date]],
) -> Talk | None:
    """The same note by the same account, kept some minutes ago; ``None`` where there is none."""
    rows = Talk.objects.filter(
        held_by=account, ensemble=ensemble, musician=musician, held_on=held_on, words=words,
        noted_at__gt=timezone.now() - SAME_NOTE,
    )  # fmt: skip
    for talk in rows.prefetch_related("steps"):
        if sorted(steps) == sorted((one.words, one.due_on) for one in talk.steps.all()):
            return talk
    return None


@transaction.atomic
def say_done(account: Account, step: TalkStep, done: bool) -> None:
    """Say that an agreed step is done, or that it is not after all."""
    step.done_at = timezone.now() if done else None
    step.done_said_by = account if done else None
    step.save(update_fields=["done_at", "done_said_by"])


@transaction.atomic
def switch_rule(account: Account, code: str, on: bool) -> None:
    """Switch a rule on or off for the school; raises `NotAllowed` for who does not lead it."""
    if not (account.is_director and account.is_lead):
        raise NotAllowed("only the lead director switches a rule for the whole school")
    _known(code)
    if on:
        TalkRuleOff.objects.filter(programme=account.programme_id, code=code).delete()
    else:
        TalkRuleOff.objects.get_or_create(
            programme_id=account.programme_id, code=code, defaults={"set_by": account}
        )


@transaction.atomic
def rest_rule(
    account: Account, ensemble: Ensemble, musician: Musician, code: str, until: datetime.date
) -> None:
    """Let a rule be silent about one musician before ``until``; today or before ends the rest.

    Raises ``StandlightError`` for a day more than a year away, and for a rule that never rests:
    who asked for a talk is not passed over.
    """
    _known(code)
    if code not in RESTING:
        raise StandlightError(
            f"“{RULE_NAMES[code]}” is never silent about one musician", slip="have the talk first"
        )
    today = timezone.localdate()
    row = {"ensemble": ensemble, "musician": musician, "code": code}
    if until <= today:
        TalkRuleRest.objects.filter(**row).delete()
        return
    if (until - today).days > LONGEST_REST_DAYS:
        raise StandlightError(
            "that day is more than a year away", slip="choose a day of this school year"
        )
    TalkRuleRest.objects.update_or_create(**row, defaults={"until": until, "set_by": account})


def _known(code: str) -> None:
    """Refuse a rule that there is not."""
    if code not in RULE_NAMES:
        raise StandlightError("there is no such rule", slip="an old page? Load it again")


@transaction.atomic
def remove_old_talks(now: datetime.datetime) -> int:
    """Remove notes and requests older than the school keeps takes; how many. Safe to repeat.

    A note goes by when it was written, whatever day its talk is said to have been on. One with a
    step whose day is still to come stays, and so does a request that nobody has read.
    """
    last_kept = now - datetime.timedelta(days=settings.STANDLIGHT_KEEP_TAKES_DAYS)
    talks = Talk.objects.filter(noted_at__lt=last_kept).exclude(
        steps__due_on__gte=timezone.localdate(now)
    )
    asked = TalkAsked.objects.filter(asked_at__lt=last_kept).exclude(read_at=None, talked_at=None)
    over = TalkRuleRest.objects.filter(until__lt=timezone.localdate(last_kept))
    count = talks.count() + asked.count()
    for rows in (talks, asked, over):
        rows.delete()
    return count
