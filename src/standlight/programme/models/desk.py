"""How a director sits at the Desk: the order chosen, where they were, where a take begins."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from standlight.programme.models.checks import PlayingCheck, Take
from standlight.programme.models.people import Account
from standlight.programme.models.sight import SeenModel, Sight


class DeskSitting(SeenModel):
    """One director's way through the takes of one check; it can be left and taken up anywhere.

    The order is drawn from ``seed`` alone, so it is the same after a night's sleep, and a take
    that comes or goes moves no other.
    """

    SECTION, SHUFFLED, CRITERION = "section", "shuffled", "criterion"
    ORDERS = {
        SECTION: "By section",
        SHUFFLED: "Shuffled",
        CRITERION: "One criterion at a time, takes shuffled",
    }

    account = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="+")
    check_row = models.ForeignKey(PlayingCheck, on_delete=models.CASCADE, related_name="sittings")
    order = models.CharField(max_length=10, choices=ORDERS, default=SECTION)
    blind = models.BooleanField(default=False, help_text="Codes stand in the place of names.")
    seed = models.PositiveIntegerField(default=0)
    started_at = models.DateTimeField(default=timezone.now)
    last_at = models.DateTimeField(default=timezone.now, help_text="The latest levels or answer.")
    rested_at = models.DateTimeField(
        default=timezone.now, help_text="The start, or the end of the latest pause."
    )
    done = models.PositiveIntegerField(default=0, help_text="Takes rated whole since the start.")
    again = models.JSONField(
        default=list, help_text="Takes to be heard again: [turn, after how many takes]."
    )

    SIGHT = Sight("check_row__ensemble__programme", "", own="account")

    class Meta(SeenModel.Meta):
        """One sitting a director and check; it is taken up again, not made anew."""

        abstract = False
        constraints = [
            models.UniqueConstraint(fields=("account", "check_row"), name="one_sitting_a_check")
        ]


class TakeStart(SeenModel):
    """Where a take's sound begins, set by a director's hand; it wins over the first note heard."""

    take = models.OneToOneField(Take, on_delete=models.CASCADE, related_name="start_by_hand")
    seconds = models.FloatField(help_text="From the start of the recording.")
    set_by = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="+")
    set_at = models.DateTimeField(auto_now=True)

    SIGHT = Sight(
        "take__turn__check_row__ensemble__programme", "take__turn__check_row__ensemble"
    )
