"""Levels a person gives, the answer a musician gets, remarks on measures, marking periods."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from standlight.programme.models.checks import Turn
from standlight.programme.models.folder import Part, Piece
from standlight.programme.models.people import Account, Programme
from standlight.programme.models.sight import SeenModel, Sight
from standlight.programme.models.work import Sheet


class GivenLevel(SeenModel):
    """One rater's level for one criterion of one turn; a change adds a row and retires the old."""

    turn = models.ForeignKey(Turn, on_delete=models.CASCADE, related_name="levels")
    criterion = models.CharField(max_length=40)
    value = models.CharField(max_length=10, help_text='"1" to "4", "not_shown" or "not_heard".')
    rater = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    given_at = models.DateTimeField(auto_now_add=True)
    after_readings = models.BooleanField(
        default=False, help_text="Given with the readings in view."
    )
    retired_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight(
        "turn__check_row__ensemble__programme",
        "turn__check_row__ensemble",
        lambda account: Q(turn__musician__account=account, turn__answered_at__isnull=False),
    )

    class Meta(SeenModel.Meta):
        """One standing level a rater, criterion and turn."""

        abstract = False
        constraints = [
            models.UniqueConstraint(
                fields=("turn", "criterion", "rater"),
                condition=Q(retired_at__isnull=True),
                name="one_standing_level",
            )
        ]


class Answer(SeenModel):
    """What the musician reads: a next step; a strength and a strategy if there was time."""

    turn = models.OneToOneField(Turn, on_delete=models.CASCADE, related_name="answer")
    strength = models.CharField(max_length=400, blank=True)
    next_step = models.CharField(max_length=400)
    strategy = models.CharField(max_length=400, blank=True)
    first_measure = models.PositiveIntegerField(null=True, blank=True, help_text="0-based index.")
    last_measure = models.PositiveIntegerField(null=True, blank=True)
    written_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField(auto_now=True)
    seen_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight(
        "turn__check_row__ensemble__programme",
        "turn__check_row__ensemble",
        lambda account: Q(turn__musician__account=account, turn__answered_at__isnull=False),
    )


class CommentLine(SeenModel):
    """A line of the director's comment bank."""

    STRENGTH, NEXT_STEP, STRATEGY = "strength", "next_step", "strategy"
    PLACES = {STRENGTH: "Strength", NEXT_STEP: "Next step", STRATEGY: "Strategy"}

    programme = models.ForeignKey(Programme, on_delete=models.CASCADE, related_name="comment_lines")
    criterion = models.CharField(max_length=40)
    place = models.CharField(max_length=10, choices=PLACES)
    level = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Offered at this level."
    )
    text = models.CharField(max_length=400)

    SIGHT = Sight("programme", "programme__ensembles")


class Remark(SeenModel):
    """Words about measures of a piece, by a musician or a director."""

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="spoken_remarks")
    part = models.ForeignKey(
        Part, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    turn = models.ForeignKey(
        Turn, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    sheet = models.ForeignKey(
        Sheet, on_delete=models.CASCADE, null=True, blank=True, related_name="remarks"
    )
    author = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="+")
    first_measure = models.PositiveIntegerField(help_text="0-based index in the piece.")
    last_measure = models.PositiveIntegerField()
    words = models.CharField(max_length=400)
    said_in_class = models.BooleanField(
        default=False, help_text="Called out by the group; its author only typed it."
    )
    made_at = models.DateTimeField(auto_now_add=True)

    SIGHT = Sight(
        "piece__ensemble__programme", "piece__ensemble", lambda account: Q(author=account)
    )


class MarkingPeriod(SeenModel):
    """A span of the school year that ends in one mark a musician."""

    programme = models.ForeignKey(Programme, on_delete=models.CASCADE, related_name="periods")
    name = models.CharField(max_length=60)
    starts_on = models.DateField()
    ends_on = models.DateField()

    SIGHT = Sight("programme", "programme__ensembles")

    class Meta(SeenModel.Meta):
        """By date."""

        abstract = False
        ordering = ("starts_on", "pk")
