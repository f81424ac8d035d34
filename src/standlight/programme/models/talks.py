"""Talks: who asked for one, what was agreed, and which rules are switched off.

Nothing here is read by Marks. Whatever is written down after a talk, the musician reads too.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone

from standlight.programme.models.people import Account, Ensemble, Musician, Programme
from standlight.programme.models.sight import SeenModel, Sight


class TalkRuleOff(SeenModel):
    """A rule that names nobody in this school, by its code, until it is switched on again."""

    programme = models.ForeignKey(Programme, on_delete=models.CASCADE, related_name="+")
    code = models.CharField(max_length=24)
    set_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField(default=timezone.now)

    SIGHT = Sight("programme", "programme__ensembles")

    class Meta(SeenModel.Meta):
        """One row a rule."""

        abstract = False
        constraints = [
            models.UniqueConstraint(fields=("programme", "code"), name="talk_rule_off_once")
        ]


class TalkRuleRest(SeenModel):
    """A rule that does not name one musician in one ensemble before a day."""

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="+")
    musician = models.ForeignKey(Musician, on_delete=models.CASCADE, related_name="+")
    code = models.CharField(max_length=24)
    until = models.DateField(help_text="The first day on which it may name them again.")
    set_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField(default=timezone.now)

    SIGHT = Sight("ensemble__programme", "ensemble")

    class Meta(SeenModel.Meta):
        """One row a musician, ensemble and rule."""

        abstract = False
        constraints = [
            models.UniqueConstraint(
                fields=("ensemble", "musician", "code"), name="talk_rule_rest_once"
            )
        ]


class TalkAsked(SeenModel):
    """That a musician would like to talk, with or without words; later words stand under them.

    Words are never replaced or shortened.
    """

    LONGEST = 600
    """Characters written at one time; ``words`` may hold several such."""

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="talks_asked")
    musician = models.ForeignKey(Musician, on_delete=models.CASCADE, related_name="talks_asked")
    words = models.TextField(blank=True)
    asked_at = models.DateTimeField(default=timezone.now)
    first_read_at = models.DateTimeField(
        null=True, blank=True, help_text="A director read any of it first: it stays from then on."
    )
    read_at = models.DateTimeField(
        null=True, blank=True, help_text="A director read all of it; none while words are unread."
    )
    talked_at = models.DateTimeField(
        null=True, blank=True, help_text="A talk was noted after it, or somebody said it is over."
    )

    SIGHT = Sight(
        "ensemble__programme",
        "ensemble",
        lambda account: Q(musician__account=account),
        second_adult=True,
    )

    class Meta(SeenModel.Meta):
        """The oldest first; one waits at a time for a musician and ensemble."""

        abstract = False
        ordering = ("asked_at", "pk")
        constraints = [
            models.UniqueConstraint(
                fields=("ensemble", "musician"),
                condition=Q(talked_at__isnull=True),
                name="one_talk_asked_at_a_time",
            )
        ]

    @property
    def stamp(self) -> str:
        """What tells these words from the same request with more of them.

        >>> TalkAsked(pk=7, words="hello").stamp
        '7.5'
        """
        return f"{self.pk}.{len(self.words)}"


class Talk(SeenModel):
    """A talk that was held: what it was about, and the steps agreed on (``steps``)."""

    LONGEST = 1000

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="talks")
    musician = models.ForeignKey(Musician, on_delete=models.CASCADE, related_name="talks")
    held_on = models.DateField()
    words = models.CharField(max_length=LONGEST, blank=True, help_text="The musician reads it.")
    held_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    noted_at = models.DateTimeField(default=timezone.now)

    SIGHT = Sight(
        "ensemble__programme",
        "ensemble",
        lambda account: Q(musician__account=account),
        second_adult=True,
    )

    class Meta(SeenModel.Meta):
        """The newest first."""

        abstract = False
        ordering = ("-held_on", "-pk")


class TalkStep(SeenModel):
    """One agreed step and its day; it is done when either of the two says so."""

    LONGEST = 240

    talk = models.ForeignKey(Talk, on_delete=models.CASCADE, related_name="steps")
    words = models.CharField(max_length=LONGEST)
    due_on = models.DateField()
    done_at = models.DateTimeField(null=True, blank=True)
    done_said_by = models.ForeignKey(
        Account, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    SIGHT = Sight(
        "talk__ensemble__programme",
        "talk__ensemble",
        lambda account: Q(talk__musician__account=account),
        second_adult=True,
    )

    class Meta(SeenModel.Meta):
        """What is due first comes first."""

        abstract = False
        ordering = ("due_on", "pk")
