"""Live at the stand: who was drawn on which day, and what was heard again."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from standlight.programme.models.checks import PlayingCheck, Turn
from standlight.programme.models.people import Account, Ensemble, Musician
from standlight.programme.models.sight import SeenModel, Sight


class Draw(SeenModel):
    """A musician drawn to be heard on a day; a round ends when everyone was heard in it once.

    It counts once they were heard. Who was absent, or whose turn never came, is back in the pot
    on the next day.
    """

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="draws")
    check_row = models.ForeignKey(PlayingCheck, on_delete=models.CASCADE, related_name="draws")
    musician = models.ForeignKey(Musician, on_delete=models.CASCADE, related_name="draws")
    round = models.PositiveIntegerField(default=1)
    day = models.DateField()
    order = models.PositiveSmallIntegerField(default=0)
    absent = models.BooleanField(default=False)
    heard_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight("ensemble__programme", "ensemble")

    class Meta(SeenModel.Meta):
        """In the order drawn; a musician is drawn once a day for a check."""

        abstract = False
        ordering = ("day", "order", "pk")
        constraints = [
            models.UniqueConstraint(
                fields=("check_row", "musician", "day"), name="drawn_once_a_day"
            )
        ]


class HeardAgain(SeenModel):
    """A live turn that was heard again: the levels before, which no longer count, and since."""

    turn = models.ForeignKey(Turn, on_delete=models.CASCADE, related_name="heard_again")
    heard_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    heard_at = models.DateTimeField(default=timezone.now)
    earlier = models.JSONField(help_text="Criterion to the level that stood before.")
    earlier_at = models.DateTimeField(help_text="When the hearing before this was.")
    levels = models.JSONField(help_text="Criterion to the level given now.")

    SIGHT = Sight(
        "turn__check_row__ensemble__programme",
        "turn__check_row__ensemble",
        lambda account: models.Q(turn__musician__account=account),
    )

    class Meta(SeenModel.Meta):
        """In the order heard."""

        abstract = False
        ordering = ("heard_at", "pk")
