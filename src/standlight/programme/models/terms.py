"""On what terms a check is recorded, where a director asks for more than the passage and a day."""

from __future__ import annotations

from django.db import models

from standlight.programme.models.checks import PlayingCheck
from standlight.programme.models.sight import SeenModel, Sight


class CheckTerms(SeenModel):
    """What keeps a check's takes alike: one take, one place, a window, an own start. All optional.

    Without a row a check has none of them.
    """

    check_row = models.OneToOneField(PlayingCheck, on_delete=models.CASCADE, related_name="terms")
    one_take = models.BooleanField(default=False, help_text="The first take is the one that stays.")
    at_station = models.BooleanField(
        default=False, help_text="Recorded at a station or heard live, never at home."
    )
    own_start = models.BooleanField(
        default=False, help_text="Each musician starts at a measure drawn for them."
    )
    seed = models.PositiveIntegerField(default=0, help_text="What the starts are drawn with.")
    opens_at = models.DateTimeField(null=True, blank=True)
    closes_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight("check_row__ensemble__programme", "check_row__ensemble")

    class Meta(SeenModel.Meta):
        """One row a check."""

        abstract = False
