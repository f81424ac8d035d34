"""Tables of the trade that a director edits: ranges by grade, descriptors, weights."""

from __future__ import annotations

from django.db import models

from standlight.programme.models.people import Programme
from standlight.programme.models.sight import SeenModel, Sight


class EditedTable(SeenModel):
    """One table as this programme has changed it; without a row the table ships as it is."""

    programme = models.ForeignKey(Programme, on_delete=models.CASCADE, related_name="tables")
    name = models.CharField(max_length=40)
    rows = models.JSONField(default=dict, help_text="Row key to the cells that differ.")
    changed_at = models.DateTimeField(auto_now=True)

    SIGHT = Sight("programme", "programme__ensembles")

    class Meta(SeenModel.Meta):
        """A table is changed once in a programme."""

        abstract = False
        constraints = [
            models.UniqueConstraint(fields=("programme", "name"), name="table_edited_once")
        ]
