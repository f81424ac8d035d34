"""Around an answer: one kept until it is sent, a spoken one, what it replaced, the musician's plan.

The answer itself is ``answers.Answer``; nothing here is shown to a musician before it is sent.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from standlight.programme.languages import LANGUAGES
from standlight.programme.models.answers import AnsweredWords, AnswerSound, CommentLine
from standlight.programme.models.checks import Turn
from standlight.programme.models.people import Account
from standlight.programme.models.sight import SeenModel, Sight


class KeptAnswer(AnsweredWords):
    """An answer that its director keeps until all are sent; one a turn, seen by directors only."""

    turn = models.OneToOneField(Turn, on_delete=models.CASCADE, related_name="kept_answer")
    written_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField(auto_now=True)
    voice = models.ForeignKey(
        AnswerSound, on_delete=models.SET_NULL, null=True, blank=True, related_name="kept_answers"
    )

    SIGHT = Sight("turn__check_row__ensemble__programme", "turn__check_row__ensemble")


class EarlierAnswer(AnsweredWords):
    """What stood in an answer, kept or sent, before somebody wrote over it."""

    turn = models.ForeignKey(Turn, on_delete=models.CASCADE, related_name="earlier_answers")
    written_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField()
    was_sent = models.BooleanField(help_text="The musician could read it.")
    replaced_at = models.DateTimeField(auto_now_add=True)
    voice = models.ForeignKey(
        AnswerSound,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="earlier_answers",
    )

    SIGHT = Sight("turn__check_row__ensemble__programme", "turn__check_row__ensemble")

    class Meta(SeenModel.Meta):
        """The latest first."""

        abstract = False
        ordering = ("-replaced_at", "-pk")


class MusicianPlan(SeenModel):
    """What a musician will do about an answer, in lines of their own."""

    turn = models.OneToOneField(Turn, on_delete=models.CASCADE, related_name="plan")
    lines = models.JSONField(default=list, help_text="One to three lines.")
    written_at = models.DateTimeField(auto_now=True)

    SIGHT = Sight(
        "turn__check_row__ensemble__programme",
        "turn__check_row__ensemble",
        lambda account: Q(turn__musician__account=account),
    )


class LineTranslation(SeenModel):
    """A bank line in another language, in its director's own words; fill-ins as in the line."""

    line = models.ForeignKey(CommentLine, on_delete=models.CASCADE, related_name="translations")
    language = models.CharField(max_length=12, choices=[(k, v.name) for k, v in LANGUAGES.items()])
    text = models.CharField(max_length=400)

    SIGHT = Sight("line__programme", "line__programme__ensembles")

    class Meta(SeenModel.Meta):
        """One text a line and language."""

        abstract = False
        ordering = ("line", "language")
        constraints = [
            models.UniqueConstraint(fields=("line", "language"), name="translated_once")
        ]
