"""Groups made of an ensemble, and a director's wishes about who sits with whom.

A wish holds no reason, and no page of a musician ever tells of one. What speaks for a group is
not kept either: it is worked out anew when the page is opened.
"""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from standlight.programme.models.people import Account, Ensemble, Musician
from standlight.programme.models.sight import SeenModel, Sight
from standlight.programme.models.work import Assignment


class GroupWish(SeenModel):
    """Two musicians of an ensemble to be kept apart, or together, whenever groups are made.

    Several wishes to keep together that share somebody are one larger wish.
    """

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="group_wishes")
    first = models.ForeignKey(Musician, on_delete=models.CASCADE, related_name="+")
    second = models.ForeignKey(Musician, on_delete=models.CASCADE, related_name="+")
    apart = models.BooleanField(help_text="To be kept apart; otherwise to be kept together.")
    made_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    SIGHT = Sight("ensemble__programme", "ensemble")

    class Meta(SeenModel.Meta):
        """One wish a pair; ``first`` is the lower number, so that a pair has one order."""

        abstract = False
        ordering = ("ensemble", "-apart", "first__family_name", "first__given_name", "pk")
        constraints = [
            models.UniqueConstraint(
                fields=("ensemble", "first", "second"), name="group_wish_once"
            ),
            models.CheckConstraint(
                condition=Q(first__lt=F("second")), name="group_wish_of_two_in_order"
            ),
        ]


class Grouping(SeenModel):
    """One way to sit in groups: a draft until it is kept, a director's alone until it is shared."""

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="groupings")
    title = models.CharField(max_length=80)
    size = models.PositiveSmallIntegerField(help_text="No group has more musicians.")
    parts = models.CharField(max_length=8, help_text="A key of ``planning.PARTS``.")
    seed = models.PositiveIntegerField(default=0)
    by_levels = models.BooleanField(default=True, help_text="Levels are balanced.")
    by_earlier = models.BooleanField(default=True, help_text="Earlier groups are not repeated.")
    with_roles = models.BooleanField(default=True)
    assignment = models.ForeignKey(
        Assignment, on_delete=models.SET_NULL, null=True, blank=True, related_name="+",
        help_text="Whose answers are to differ.",
    )  # fmt: skip
    step = models.CharField(max_length=60, blank=True)
    question = models.CharField(max_length=60, blank=True)
    made_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    kept_at = models.DateTimeField(null=True, blank=True)
    shared_at = models.DateTimeField(
        null=True, blank=True, help_text="Since when each musician reads the names of their group."
    )

    SIGHT = Sight(
        "ensemble__programme",
        "ensemble",
        lambda account: Q(shared_at__isnull=False, seats__musician__account=account),
    )

    class Meta(SeenModel.Meta):
        """The newest first."""

        abstract = False
        ordering = ("-made_at", "-pk")

    def __str__(self) -> str:
        """The title."""
        return self.title


class GroupSeat(SeenModel):
    """Who sits in which group of a grouping (from 1), and with what role, if any."""

    grouping = models.ForeignKey(Grouping, on_delete=models.CASCADE, related_name="seats")
    number = models.PositiveSmallIntegerField()
    musician = models.ForeignKey(Musician, on_delete=models.CASCADE, related_name="group_seats")
    role = models.CharField(max_length=12, blank=True, help_text="A key of ``planning.ROLES``.")

    SIGHT = Sight(
        "grouping__ensemble__programme",
        "grouping__ensemble",
        lambda account: Q(
            grouping__shared_at__isnull=False,
            grouping__seats__musician__account=account,
            grouping__seats__number=F("number"),
        ),
    )

    class Meta(SeenModel.Meta):
        """Group by group, by name; a musician sits once in a grouping."""

        abstract = False
        ordering = ("grouping", "number", "musician__family_name", "musician__given_name", "pk")
        constraints = [
            models.UniqueConstraint(fields=("grouping", "musician"), name="grouped_once")
        ]
