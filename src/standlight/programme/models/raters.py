"""Other ears: guests by an expiring link, anchor takes with agreed levels, calibrations.

Nothing here enters a mark: a guest's levels are rows of their own, and what is given in a
calibration is kept with it.
"""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import Q
from django.utils import timezone

from standlight.programme.models.checks import PlayingCheck, Turn
from standlight.programme.models.people import Account
from standlight.programme.models.sight import SeenModel, Sight


class GuestLink(SeenModel):
    """An address for somebody without an account: some takes of one check, until a moment.

    Who holds the address hears those takes under codes; it can be closed at any time.
    """

    BESIDE, COMPARED = "guest", "director"
    COUNTS_AS = {
        BESIDE: "Beside mine: shown, and compared with nobody",
        COMPARED: "Compared: Raters weighs them like a second director's",
    }
    """How the study takes the levels: the rater classes of the room of ratings."""

    key = models.UUIDField(unique=True, default=uuid.uuid4, help_text="Signed, it is the address.")
    check_row = models.ForeignKey(
        PlayingCheck, on_delete=models.CASCADE, related_name="guest_links"
    )
    label = models.CharField(max_length=60, help_text="Who it is for; directors alone see it.")
    note = models.CharField(max_length=240, blank=True, help_text="A sentence to the guest.")
    counts_as = models.CharField(max_length=10, choices=COUNTS_AS, default=BESIDE)
    seed = models.PositiveIntegerField(help_text="Codes and order are drawn from it.")
    made_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    opened_at = models.DateTimeField(null=True, blank=True, help_text="Opened the first time.")
    closed_at = models.DateTimeField(null=True, blank=True, help_text="Closed by a director.")

    SIGHT = Sight("check_row__ensemble__programme", "check_row__ensemble")

    class Meta(SeenModel.Meta):
        """The newest first."""

        abstract = False
        ordering = ("-made_at", "-pk")


class GuestTake(SeenModel):
    """One take that a guest may hear, as their number ``place``, under ``code``."""

    link = models.ForeignKey(GuestLink, on_delete=models.CASCADE, related_name="takes")
    turn = models.ForeignKey(Turn, on_delete=models.CASCADE, related_name="guest_takes")
    place = models.PositiveSmallIntegerField(help_text="From 1.")
    code = models.CharField(max_length=8)

    SIGHT = Sight("link__check_row__ensemble__programme", "link__check_row__ensemble")

    class Meta(SeenModel.Meta):
        """In the order heard; a turn once a link."""

        abstract = False
        ordering = ("link", "place")
        constraints = [
            models.UniqueConstraint(fields=("link", "turn"), name="guest_hears_once"),
            models.UniqueConstraint(fields=("link", "place"), name="guest_place_once"),
        ]


class GuestLevel(SeenModel):
    """A guest's level for one criterion of one take; a change adds a row and retires the old."""

    take = models.ForeignKey(GuestTake, on_delete=models.CASCADE, related_name="levels")
    criterion = models.CharField(max_length=40)
    value = models.CharField(max_length=10, help_text='"1" to "4", "not_shown" or "not_heard".')
    given_at = models.DateTimeField(default=timezone.now)
    retired_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight(
        "take__link__check_row__ensemble__programme", "take__link__check_row__ensemble"
    )

    class Meta(SeenModel.Meta):
        """One standing level a take and criterion."""

        abstract = False
        constraints = [
            models.UniqueConstraint(
                fields=("take", "criterion"),
                condition=Q(retired_at__isnull=True),
                name="one_standing_guest_level",
            )
        ]


class AnchorTake(SeenModel):
    """A take whose levels are agreed, and why: what ears are tuned to before a sitting."""

    turn = models.OneToOneField(Turn, on_delete=models.CASCADE, related_name="anchor")
    levels = models.JSONField(help_text='Criterion to "1" to "4", as agreed.')
    reason = models.CharField(max_length=400, help_text="What one hears that makes it so.")
    agreed_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    agreed_at = models.DateTimeField(default=timezone.now)

    SIGHT = Sight("turn__check_row__ensemble__programme", "turn__check_row__ensemble")


class Calibration(SeenModel):
    """One rater's anchor takes of one sitting, heard blind; seen by them and the lead.

    ``takes`` holds, in the order heard, {turn, agreed, given}: agreed levels as they were then.
    """

    account = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="+")
    check_row = models.ForeignKey(
        PlayingCheck, on_delete=models.CASCADE, related_name="calibrations"
    )
    takes = models.JSONField(default=list)
    begun_at = models.DateTimeField(default=timezone.now)
    done_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight("check_row__ensemble__programme", "", own="account")

    class Meta(SeenModel.Meta):
        """The newest first."""

        abstract = False
        ordering = ("-begun_at", "-pk")
