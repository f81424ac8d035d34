"""A director's planned year: its frame, its special days, and the week of every piece of work.

Cycles and marking periods are rows of their own (``ConcertCycle``, ``MarkingPeriod``); what a week
holds and what gives way is worked out by the room of planning at every look.
"""

from __future__ import annotations

import uuid

from django.db import models

from standlight.programme.models.checks import PlayingCheck
from standlight.programme.models.people import Account, Ensemble, Programme
from standlight.programme.models.sight import SeenModel, Sight
from standlight.programme.models.work import Assignment


class SeasonPlan(SeenModel):
    """One school year of one director: first and last day, minutes a week, what a cycle holds."""

    programme = models.ForeignKey(Programme, on_delete=models.CASCADE, related_name="season_plans")
    owner = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="season_plans")
    calendar_key = models.UUIDField(
        default=uuid.uuid4, editable=False, help_text="In the names of its events in calendars."
    )
    starts_on = models.DateField()
    ends_on = models.DateField()
    review_minutes = models.PositiveSmallIntegerField(
        default=300, help_text="The director's minutes a week for hearing and reading."
    )
    musician_minutes = models.PositiveSmallIntegerField(
        default=45, help_text="What one group's work may ask of one musician in a week."
    )
    terms = models.JSONField(
        default=dict, help_text="As ``season_terms.SeasonTerms`` reads it: how often, how long."
    )
    drawn_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight("programme", "", own="owner")

    class Meta(SeenModel.Meta):
        """The latest year first; one plan a director and year."""

        abstract = False
        ordering = ("-starts_on", "-pk")
        constraints = [
            models.UniqueConstraint(fields=("owner", "starts_on"), name="season_plan_once")
        ]


class SeasonDays(SeenModel):
    """Days that are not like others; a festival belongs to an ensemble."""

    CLOSED, DEAD, LOST, FESTIVAL = "closed", "dead", "lost", "festival"
    SORTS = {
        CLOSED: "No school",
        DEAD: "No work due",
        LOST: "Lost week",
        FESTIVAL: "Festival",
    }

    plan = models.ForeignKey(SeasonPlan, on_delete=models.CASCADE, related_name="days")
    sort = models.CharField(max_length=10, choices=SORTS)
    first = models.DateField()
    last = models.DateField()
    name = models.CharField(max_length=60, blank=True)
    ensemble = models.ForeignKey(
        Ensemble, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )

    SIGHT = Sight("plan__programme", "", own="plan__owner")

    class Meta(SeenModel.Meta):
        """By date."""

        abstract = False
        ordering = ("first", "last", "pk")


class SeasonItem(SeenModel):
    """The week of one piece of work, and what was changed about it; ``key`` is planning's own."""

    plan = models.ForeignKey(SeasonPlan, on_delete=models.CASCADE, related_name="items")
    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=80)
    monday = models.DateField(null=True, blank=True)
    pinned = models.BooleanField(default=False)
    moves = models.PositiveSmallIntegerField(
        default=0, help_text="How often its week changed: a calendar file counts it."
    )
    share = models.FloatField(null=True, blank=True, help_text="Of the musicians, drawn by lot.")
    review_minutes = models.FloatField(null=True, blank=True, help_text="For one musician.")
    assignment = models.ForeignKey(
        Assignment, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    check_row = models.ForeignKey(
        PlayingCheck, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    SIGHT = Sight("plan__programme", "", own="plan__owner")

    class Meta(SeenModel.Meta):
        """By week; a key is one in its plan."""

        abstract = False
        ordering = ("monday", "pk")
        constraints = [
            models.UniqueConstraint(fields=("plan", "key"), name="season_item_once")
        ]
