"""What was found in the levels: hidden repeats, a programme's study, a musician's growth.

A study is drawn from levels that stand elsewhere, so it may be thrown away and made again.
Nothing here enters a mark.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone

from standlight.programme.models.checks import Turn
from standlight.programme.models.people import Account, Ensemble, Musician, Programme
from standlight.programme.models.sight import SeenModel, Sight


class SecondHearing(SeenModel):
    """A take its rater heard a second time among others, not knowing; seen by them and the lead.

    The levels of both hearings are kept here: ``GivenLevel`` rows may change afterwards.
    Minutes count from the start of the session in which each was given.
    """

    turn = models.ForeignKey(Turn, on_delete=models.CASCADE, related_name="second_hearings")
    rater = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="+")
    levels = models.JSONField(
        default=dict, help_text='Criterion to "1" to "4", "not_shown" or "not_heard".'
    )
    first_levels = models.JSONField(default=dict, help_text="What was given the first time.")
    first_at = models.DateTimeField(help_text="When the first levels were given.")
    asked_at = models.DateTimeField(default=timezone.now)
    done_at = models.DateTimeField(null=True, blank=True)
    first_minute = models.FloatField(default=0.0)
    again_minute = models.FloatField(default=0.0)

    SIGHT = Sight("turn__check_row__ensemble__programme", "", own="rater")

    class Meta(SeenModel.Meta):
        """In the order they were asked; a rater hears a turn again once."""

        abstract = False
        ordering = ("asked_at", "pk")
        constraints = [
            models.UniqueConstraint(fields=("turn", "rater"), name="heard_again_once")
        ]


class RatingsStudy(SeenModel):
    """What one edition of the method found in a programme's levels, as of ``made_at``.

    Every director of the programme may know that there is one; which of its findings they read,
    ``queries.studies`` says: a finding about a rater is that rater's and the lead's.
    """

    programme = models.ForeignKey(Programme, on_delete=models.CASCADE, related_name="studies")
    method = models.CharField(max_length=40, help_text="Edition of the method.")
    made_at = models.DateTimeField(default=timezone.now)
    n_levels = models.PositiveIntegerField(help_text="Levels it rests on.")
    first_day = models.DateField(null=True, blank=True, help_text="Day 0 of its days.")
    state = models.CharField(max_length=64, help_text="Digest of the levels it was made from.")
    body = models.JSONField(help_text="``studies.review_as_json`` without the musicians' growth.")

    SIGHT = Sight("programme", "programme__ensembles")

    class Meta(SeenModel.Meta):
        """The newest first."""

        abstract = False
        ordering = ("-made_at", "-pk")


class MusicianGrowth(SeenModel):
    """The lines of growth of one musician in one ensemble, out of one study."""

    study = models.ForeignKey(RatingsStudy, on_delete=models.CASCADE, related_name="growth")
    musician = models.ForeignKey(Musician, on_delete=models.CASCADE, related_name="growth")
    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="growth")
    body = models.JSONField(help_text="{lines: [...], self_views: [...]}")

    SIGHT = Sight(
        "ensemble__programme", "ensemble", lambda account: Q(musician__account=account)
    )

    class Meta(SeenModel.Meta):
        """One row a study, musician and ensemble."""

        abstract = False
        ordering = ("study", "ensemble", "musician")
        constraints = [
            models.UniqueConstraint(
                fields=("study", "musician", "ensemble"), name="growth_once_a_study"
            )
        ]


class StudyErrand(SeenModel):
    """That a programme's levels have changed since they were studied, and who holds the errand.

    A row of its own, so that nothing else which saves the programme can undo it.
    """

    programme = models.OneToOneField(
        Programme, on_delete=models.CASCADE, related_name="study_errand"
    )
    asked_at = models.DateTimeField(
        null=True, blank=True, help_text="The latest change; empty when all is studied."
    )
    claimed_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight("programme", "programme__ensembles")
