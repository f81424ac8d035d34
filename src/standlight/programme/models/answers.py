"""Levels a person gives, the answer a musician gets, remarks on measures, marking periods."""

from __future__ import annotations

import uuid

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


class AnswerSound(SeenModel):
    """A few spoken seconds for one turn, kept by digest; a musician hears it once it is sent."""

    LONGEST_S = 15

    key = models.UUIDField(primary_key=True, default=uuid.uuid4)
    turn = models.ForeignKey(Turn, on_delete=models.CASCADE, related_name="answer_sounds")
    digest = models.CharField(max_length=64)
    seconds = models.FloatField()
    made_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    removed_at = models.DateTimeField(
        null=True, blank=True, help_text="Removed after the time the school has set."
    )

    SIGHT = Sight(
        "turn__check_row__ensemble__programme",
        "turn__check_row__ensemble",
        lambda account: Q(
            answers__turn__musician__account=account, answers__turn__answered_at__isnull=False
        ),
    )


class AnsweredWords(SeenModel):
    """What an answer says, sent or not: three lines on their measures, and what was spoken.

    ``first_measure`` and ``last_measure`` belong to the next step; ``places`` holds those of the
    other two lines.
    """

    strength = models.CharField(max_length=400, blank=True)
    next_step = models.CharField(
        max_length=400, blank=True, help_text="Empty only where it is spoken."
    )
    strategy = models.CharField(max_length=400, blank=True)
    first_measure = models.PositiveIntegerField(null=True, blank=True, help_text="0-based index.")
    last_measure = models.PositiveIntegerField(null=True, blank=True)
    places = models.JSONField(
        default=dict, help_text="strength or strategy to [first, last], 0-based indexes."
    )
    caption = models.CharField(
        max_length=400, blank=True, help_text="What the spoken part says, in writing."
    )

    class Meta:
        """Only a base."""

        abstract = True


class Answer(AnsweredWords):
    """What the musician reads: a next step; a strength and a strategy if there was time."""

    turn = models.OneToOneField(Turn, on_delete=models.CASCADE, related_name="answer")
    language = models.CharField(
        max_length=12, blank=True, help_text="Of ``translations``: a key of ``LANGUAGES``."
    )
    translations = models.JSONField(
        default=dict, help_text="strength, next_step or strategy to the bank's own translation."
    )
    voice = models.ForeignKey(
        AnswerSound, on_delete=models.SET_NULL, null=True, blank=True, related_name="answers"
    )
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
