"""A marking period of one ensemble: its policy, its closing, posted marks, changes, exports."""

from __future__ import annotations

from django.db import models

from standlight.programme.models.answers import MarkingPeriod
from standlight.programme.models.people import Account, Ensemble, Musician
from standlight.programme.models.sight import SeenModel, Sight


class PeriodMarks(SeenModel):
    """How one ensemble's marks of one period are made, and when they were closed."""

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="marks")
    period = models.ForeignKey(MarkingPeriod, on_delete=models.CASCADE, related_name="marks")
    terms = models.JSONField(default=dict, help_text="As ``marking_terms.terms_of`` reads it.")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        Account, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    columns = models.JSONField(default=list, help_text="The work of the period as it was closed.")
    sentences = models.JSONField(default=list, help_text="The policy's words as it was closed.")

    SIGHT = Sight("ensemble__programme", "ensemble")

    class Meta(SeenModel.Meta):
        """One a period and ensemble."""

        abstract = False
        constraints = [
            models.UniqueConstraint(fields=("ensemble", "period"), name="period_marks_once")
        ]


class PostedMark(SeenModel):
    """One musician's mark as it stands: the copy frozen at closing, and what it says now.

    ``body`` never changes; ``value``, ``word`` and ``percent`` follow the changes, each of
    which is a row of its own.
    """

    marks = models.ForeignKey(PeriodMarks, on_delete=models.CASCADE, related_name="posted")
    musician = models.ForeignKey(Musician, on_delete=models.CASCADE, related_name="posted_marks")
    order = models.PositiveIntegerField(default=0, help_text="Place in roster order at closing.")
    value = models.FloatField(null=True, blank=True, help_text="On levels 1 to 4.")
    word = models.CharField(max_length=60)
    percent = models.FloatField(null=True, blank=True)
    body = models.JSONField(help_text="The row with its reason, as it was closed.")
    posted_at = models.DateTimeField()

    SIGHT = Sight("marks__ensemble__programme", "marks__ensemble")

    class Meta(SeenModel.Meta):
        """Roster order; one mark a musician and period."""

        abstract = False
        ordering = ("marks", "order", "pk")
        constraints = [
            models.UniqueConstraint(fields=("marks", "musician"), name="posted_mark_once")
        ]


class MarkChange(SeenModel):
    """A change after closing: who, when, from, to, and why."""

    posted = models.ForeignKey(PostedMark, on_delete=models.CASCADE, related_name="changes")
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    from_words = models.CharField(max_length=80)
    to_words = models.CharField(max_length=80)
    why = models.CharField(max_length=400)

    SIGHT = Sight("posted__marks__ensemble__programme", "posted__marks__ensemble")

    class Meta(SeenModel.Meta):
        """The latest first."""

        abstract = False
        ordering = ("-changed_at", "-pk")


class MarkExport(SeenModel):
    """What a file told the school's system, so that the next can tell only what is new."""

    marks = models.ForeignKey(PeriodMarks, on_delete=models.CASCADE, related_name="exports")
    form = models.CharField(max_length=20)
    exported_at = models.DateTimeField()
    exported_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    told = models.JSONField(help_text="Musician to the mark told last, in this or an earlier file.")
    n_rows = models.PositiveIntegerField()

    SIGHT = Sight("marks__ensemble__programme", "marks__ensemble")

    class Meta(SeenModel.Meta):
        """The latest first."""

        abstract = False
        ordering = ("-exported_at", "-pk")
