"""Rows that the rules of talks look for, made for the cast's band in one line each."""

import datetime

from django.utils import timezone

from standlight.programme.models import Reply, Sheet
from tests.programme.sheet_scene import give

PROJECT_GOAL = {
    "skill": "even sixteenth notes", "spot": {"measure": 12, "words": "the run"},
    "know": "a friend can tap along", "ways": ["slow"],
}  # fmt: skip


def ago(days):
    """A moment so many days ago."""
    return timezone.now() - datetime.timedelta(days)


def sheet(work, author, step, answers, *, about=None, number=1, days_ago=1):
    """A sheet that was sent so many days ago."""
    return Sheet.objects.create(
        assignment=work, author=author, about=about, step=step, number=number, answers=answers,
        sent_at=ago(days_ago), saved_at=ago(days_ago),
    )  # fmt: skip


def acts_sheets(cast, said, seen, *, musician=None, days_ago=2):
    """What the musician says of the acts and what the director saw: act to how often."""
    musician = musician or cast.musician
    work = give(cast, "ensemble_acts", title="How we work")
    sheet(work, musician.account, "acts", said, days_ago=days_ago)
    sheet(work, cast.director, "acts", seen, about=musician, days_ago=days_ago)
    return work


def project(cast, values, *, musician=None, goal=None):
    """A skill project with a goal and a check-in for each of ``values``, a fortnight apart."""
    musician = musician or cast.musician
    work = give(cast, "skill_project", title="One skill")
    sheet(work, musician.account, "goal", goal or PROJECT_GOAL, days_ago=60)
    for number, value in enumerate(values, start=1):
        answers = {"closer": value, "helped": "slow work with the light on"}
        sheet(work, musician.account, "check_in", answers, number=number,
              days_ago=57 - 14 * number)  # fmt: skip
    return work


def replied(row, director, *, days_ago, words="I see it too"):
    """A reply that was written so many days ago and is not opened."""
    made = Reply.objects.create(sheet=row, words=words, written_by=director)
    Reply.objects.filter(pk=made.pk).update(written_at=ago(days_ago))
    return made
