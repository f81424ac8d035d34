"""The demo's groups and talks: a few wishes, kept groups, requests, notes with agreed steps.

All people and words are invented.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta

from django.utils import timezone

from standlight.demo.cast import SHOWN_MUSICIAN
from standlight.demo.loading import Loading
from standlight.programme.actions import groups, talks
from standlight.programme.models import (
    Account,
    Answer,
    Grouping,
    Musician,
    Reply,
    Talk,
    TalkAsked,
)

ASKED = (
    ("band", "Clarinet", 1, 3, "i do not want to play the solo at the concert. can we talk about "
     "it before you hand out the parts"),
    ("choir", "Alto", 2, 1, ""),
)  # fmt: skip
"""Group, section, place in it, days ago, words."""

NOTED = (
    ("band", "Horn", 0, 24, "The bus comes late on Tuesdays, so warming up falls away. We look for "
     "another way.", (("Warm up in the practice room at lunch on Tuesdays", 10, True),
                      ("Tell me how the high entry at letter C goes then", 22, False))),
    ("choir", "Soprano", 3, 15, "", (("Sit beside somebody who knows the German", 14, True),)),
)  # fmt: skip
"""Group, section, place, days ago, the note, and steps: words, due so many days after, done."""

SHOWN_NOTE = (
    "You want to lead an entry once. We try it in the easy piece first.",
    (("Watch the bow of the first stand for the start of Ferry", 12, True),
     ("Lead the entry at letter B in Friday's rehearsal", 19, False)),
)  # fmt: skip
"""The note of the musician whose sign-in a start prints."""

APART = (("band", ("Trumpet", 0), ("Trumpet", 1)), ("band", ("Percussion", 0), ("Flute", 2)))
TOGETHER = (("band", ("Oboe", 0), ("Bassoon", 0)),)
"""Wishes: group, and two places."""

UNOPENED_SHARE = 9
"""Of so many musicians one leaves answers unopened for weeks; the others opened what is old."""

OLD_DAYS = 10
"""What was answered this long ago has been opened by the others."""

GROUPS_AGO = 9
"""Days since groups were made and shared in the band, and in the shown musician's group."""


def write_talks(loading: Loading) -> None:
    """Write wishes, two kept groupings, requests and noted talks of the demo being loaded."""
    for ways, apart in ((APART, True), (TOGETHER, False)):
        for group, one, other in ways:
            pair = [_who(loading, group, *place) for place in (one, other)]
            groups.add_wish(
                _director(loading, group), loading.ensembles[group], *(m.pk for m in pair), apart
            )
    _grouping(loading, "band", "The march: who has the tune?")
    _grouping(loading, SHOWN_MUSICIAN[0], "Ferry: our maps")
    for group, section, place, ago, words in ASKED:
        asked = talks.ask(_who(loading, group, section, place), loading.ensembles[group], words)
        TalkAsked.objects.filter(pk=asked.pk).update(asked_at=_noon(loading, ago))
    for group, section, place, ago, words, steps in NOTED:
        _note(loading, group, _who(loading, group, section, place), ago, words, steps)
    _open_what_is_old(loading)
    group, section, place = SHOWN_MUSICIAN
    _note(loading, group, _who(loading, group, section, place), 13, *SHOWN_NOTE)


def _open_what_is_old(loading: Loading) -> None:
    """Let most musicians have opened the answers and replies of some weeks ago."""
    people = sorted(loading.musicians.values(), key=lambda one: one.roster_id)
    opened = [one.pk for n, one in enumerate(people) if n % UNOPENED_SHARE]
    before = _noon(loading, OLD_DAYS)
    Answer.objects.filter(
        turn__musician__in=opened, turn__answered_at__lt=before, seen_at__isnull=True
    ).update(seen_at=before)
    Reply.objects.filter(
        sheet__author__musician__in=opened, written_at__lt=before, seen_at__isnull=True
    ).update(seen_at=before)


def _grouping(loading: Loading, group: str, title: str) -> None:
    """Groups of four of everybody, kept and shared a while ago."""
    row = Grouping(ensemble=loading.ensembles[group], title=title, size=4, parts="mixed")
    people = [loading.musicians[plan.roster_id].pk for plan, _ in loading.plan.members(group)]
    made = groups.make(_director(loading, group), row, people)
    groups.keep(made, title)
    groups.share(made, True)
    then = _noon(loading, GROUPS_AGO)
    Grouping.objects.filter(pk=made.pk).update(made_at=then, kept_at=then, shared_at=then)


def _note(
    loading: Loading,
    group: str,
    musician: Musician,
    ago: int,
    words: str,
    steps: tuple[tuple[str, int, bool], ...],
) -> None:
    """A talk that was held ``ago`` days ago."""
    held_on = loading.plan.today - timedelta(ago)
    director = _director(loading, group)
    days = [(said, held_on + timedelta(due)) for said, due, _ in steps]
    talk = talks.note(director, loading.ensembles[group], musician, held_on, words, days)
    Talk.objects.filter(pk=talk.pk).update(noted_at=_noon(loading, ago))
    done = {said for said, _, is_done in steps if is_done}
    for step in talk.steps.filter(words__in=done):
        talks.say_done(musician.account, step, True)


def _who(loading: Loading, group: str, section: str, place: int) -> Musician:
    """A musician by their place in a section; the last one where it has fewer."""
    there = [plan for plan, seat in loading.plan.members(group) if seat.section == section]
    return loading.musicians[there[min(place, len(there) - 1)].roster_id]


def _director(loading: Loading, group: str) -> Account:
    """The account that directs a group."""
    plan = next(one for one in loading.plan.groups if one.key == group)
    return loading.directors[plan.director]


def _noon(loading: Loading, ago: int) -> datetime:
    """Noon of a day so many days ago."""
    return timezone.make_aware(datetime.combine(loading.plan.today - timedelta(ago), time(12)))
