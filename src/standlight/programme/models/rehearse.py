"""A rehearsal as it is planned and as it went: blocks, what was tapped, remarks from the podium.

Nothing here names a musician; only directors see any of it.
"""

from __future__ import annotations

import uuid

from django.db import models

from standlight.programme.models.answers import Remark
from standlight.programme.models.folder import Piece
from standlight.programme.models.people import Account, Ensemble, Section
from standlight.programme.models.sight import SeenModel, Sight


class PlannedRehearsal(SeenModel):
    """The plan of one ensemble for one day: pieces, minutes, and what the director wishes.

    ``wishes`` holds ``pins`` (list of {piece, first, last, minutes, aim}), ``dropped`` (keys of
    blocks) and ``stretched`` (key to minutes); ``order`` the keys of blocks as moved by hand.
    """

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="rehearsals")
    day = models.DateField()
    minutes = models.PositiveSmallIntegerField()
    pieces = models.ManyToManyField(Piece, related_name="+")
    wishes = models.JSONField(default=dict)
    order = models.JSONField(default=list)
    told = models.JSONField(default=list, help_text="What is told beside the plan: [code, n].")
    made_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    drawn_at = models.DateTimeField(auto_now=True)

    SIGHT = Sight("ensemble__programme", "ensemble")

    class Meta(SeenModel.Meta):
        """The latest day first; one plan a rehearsal."""

        abstract = False
        ordering = ("-day", "pk")
        constraints = [
            models.UniqueConstraint(fields=("ensemble", "day"), name="one_plan_a_rehearsal")
        ]


class PlannedBlock(SeenModel):
    """One block of a plan, its reasons as codes; texts that a director changed stand beside.

    ``title``, ``how`` and ``done_when`` are empty where the words of the codes stand.
    """

    OPEN, DONE, NOT_DONE = "open", "done", "not_done"
    STATES = {OPEN: "Open", DONE: "Done", NOT_DONE: "Not done"}
    TAPPED = (DONE, NOT_DONE)
    OWN = "own"
    """Kind of a block that the director added; the other kinds are those of the planning room."""

    plan = models.ForeignKey(PlannedRehearsal, on_delete=models.CASCADE, related_name="blocks")
    key = models.CharField(max_length=80)
    place = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=12)
    minutes = models.PositiveSmallIntegerField()
    piece = models.ForeignKey(
        Piece, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    first_measure = models.PositiveIntegerField(null=True, blank=True, help_text="0-based index.")
    last_measure = models.PositiveIntegerField(null=True, blank=True)
    aim = models.CharField(max_length=40, blank=True, help_text="Key of a criterion.")
    strategy = models.CharField(max_length=40, blank=True)
    finish = models.CharField(max_length=40, blank=True, help_text="Code of what tells it is done.")
    why = models.JSONField(default=list, help_text="Reasons: [code, n, of].")
    idle = models.JSONField(
        default=list, help_text="{names, task, piece, first, last} of parts that wait."
    )
    title = models.CharField(max_length=120, blank=True)
    how = models.CharField(max_length=240, blank=True)
    done_when = models.CharField(max_length=240, blank=True)
    state = models.CharField(max_length=8, choices=STATES, default=OPEN)
    tapped_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight("plan__ensemble__programme", "plan__ensemble")

    class Meta(SeenModel.Meta):
        """In the order of the rehearsal; a key is one in its plan."""

        abstract = False
        ordering = ("plan", "place", "pk")
        constraints = [models.UniqueConstraint(fields=("plan", "key"), name="block_key_once")]

    @property
    def was_tapped(self) -> bool:
        """True once it was done or not done; a tap that was taken back is none."""
        return self.state in self.TAPPED


class PodiumRemark(SeenModel):
    """What a director tapped at the podium: a remark, whom it is for, and what it is about.

    The key is made on the tablet, so that a tap that is sent twice is one remark.
    """

    key = models.UUIDField(primary_key=True, default=uuid.uuid4)
    remark = models.OneToOneField(Remark, on_delete=models.CASCADE, related_name="podium")
    plan = models.ForeignKey(
        PlannedRehearsal, on_delete=models.SET_NULL, null=True, related_name="remarks"
    )
    section = models.ForeignKey(
        Section,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="None is everybody.",
    )
    aim = models.CharField(max_length=40, blank=True)
    strategy = models.CharField(max_length=40, blank=True)

    SIGHT = Sight("remark__piece__ensemble__programme", "remark__piece__ensemble")


class PaperLength(SeenModel):
    """How many measures a piece has of which there is no score: who has the paper says so."""

    piece = models.OneToOneField(Piece, on_delete=models.CASCADE, related_name="paper_length")
    measures = models.PositiveSmallIntegerField()

    SIGHT = Sight("piece__ensemble__programme", "piece__ensemble")
