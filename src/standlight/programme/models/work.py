"""Work of every kind: a kind's editions, what is given out, and the sheets that come of it.

One sheet is one sitting at one step of a kind: its answers as the pure room ``kinds`` reads
them. A director's own sheet has the same form, so that both can be laid side by side.
"""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import Q
from django.utils import timezone

from standlight.programme.models.folder import Piece
from standlight.programme.models.people import Account, Ensemble, Musician, Programme, Section
from standlight.programme.models.sight import SeenModel, Sight


class KindEdition(SeenModel):
    """One edition of a kind's definition; a change adds a row, and answers keep theirs."""

    programme = models.ForeignKey(Programme, on_delete=models.CASCADE, related_name="kinds")
    key = models.CharField(max_length=60)
    edition = models.PositiveIntegerField()
    body = models.JSONField(help_text="The definition as ``kinds.kind_of`` reads it.")
    made_by = models.ForeignKey(
        Account, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    made_at = models.DateTimeField(auto_now_add=True)
    put_away_at = models.DateTimeField(
        null=True, blank=True, help_text="No longer offered; what was given out stays."
    )

    SIGHT = Sight("programme", "programme__ensembles")

    class Meta(SeenModel.Meta):
        """An edition is one in its programme."""

        abstract = False
        ordering = ("key", "-edition")
        constraints = [
            models.UniqueConstraint(
                fields=("programme", "key", "edition"), name="kind_edition_once"
            )
        ]

    def __str__(self) -> str:
        """Key and edition."""
        return f"{self.key}, edition {self.edition}"


class Assignment(SeenModel):
    """One kind of work asked of an ensemble, or of some of its sections."""

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="assignments")
    kind = models.ForeignKey(KindEdition, on_delete=models.PROTECT, related_name="assignments")
    title = models.CharField(max_length=120)
    note = models.CharField(max_length=400, blank=True, help_text="A sentence to the musicians.")
    piece = models.ForeignKey(
        Piece, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    sections = models.ManyToManyField(
        Section, blank=True, related_name="+", help_text="Whose turn it is; none is everyone."
    )
    rules = models.JSONField(
        default=dict, help_text="Step key to what this assignment asks (``kinds.rules_of``)."
    )
    sound_digest = models.CharField(max_length=64, blank=True, help_text="What is listened to.")
    sound_name = models.CharField(max_length=120, blank=True)
    starts_on = models.DateField()
    due_on = models.DateField(null=True, blank=True, help_text="None: any time this year.")
    made_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    published_at = models.DateTimeField(null=True, blank=True)
    laid_open_at = models.DateTimeField(
        null=True, blank=True, help_text="When the director showed the group how others answered."
    )

    SIGHT = Sight(
        "ensemble__programme",
        "ensemble",
        lambda account: (
            Q(published_at__isnull=False, ensemble__sections__seats__musician__account=account)
            & (
                Q(sections__isnull=True)
                | Q(sections__seats__musician__account=account)
                | Q(sheets__author=account)
            )
        ),
    )

    class Meta(SeenModel.Meta):
        """The latest due first, what has no day before."""

        abstract = False
        ordering = ("-due_on", "-pk")

    def __str__(self) -> str:
        """The title."""
        return self.title


class Sheet(SeenModel):
    """One sitting of one author at one step; ``number`` counts from 1 where a step comes again.

    A musician's sheet is about the musician; a director's own is about nobody (laid over the
    group's) or, for an observation, about the one observed.
    """

    key = models.UUIDField(primary_key=True, default=uuid.uuid4)
    assignment = models.ForeignKey(Assignment, on_delete=models.CASCADE, related_name="sheets")
    author = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="sheets")
    about = models.ForeignKey(
        Musician, on_delete=models.CASCADE, null=True, blank=True, related_name="sheets"
    )
    step = models.CharField(max_length=60)
    number = models.PositiveSmallIntegerField(default=1)
    answers = models.JSONField(default=dict, help_text="Question key to plain data.")
    stamps = models.JSONField(
        default=dict, help_text="Question key to the mark of its latest save."
    )
    started_at = models.DateTimeField(auto_now_add=True)
    saved_at = models.DateTimeField(default=timezone.now)
    sent_at = models.DateTimeField(null=True, blank=True)
    opened_at = models.DateTimeField(null=True, blank=True, help_text="First read by a director.")
    opened_by = models.ForeignKey(
        Account, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    on_wall = models.BooleanField(
        default=False, help_text="A director put it on the group's wall; the owner agreed."
    )

    SIGHT = Sight(
        "assignment__ensemble__programme",
        "assignment__ensemble",
        lambda account: Q(author=account)
        | Q(
            about__account=account,
            sent_at__isnull=False,
            assignment__published_at__isnull=False,
        ),
    )

    class Meta(SeenModel.Meta):
        """In the order begun; a step's number is one for its author and whom it is about."""

        abstract = False
        ordering = ("assignment", "started_at", "key")
        constraints = [
            models.UniqueConstraint(
                fields=("assignment", "author", "about", "step", "number"),
                condition=Q(about__isnull=False),
                name="sheet_number_once",
            ),
            models.UniqueConstraint(
                fields=("assignment", "author", "step", "number"),
                condition=Q(about__isnull=True),
                name="own_sheet_number_once",
            ),
        ]


class OlderAnswer(SeenModel):
    """What an answer said before another window overwrote it; nothing typed is lost."""

    sheet = models.ForeignKey(Sheet, on_delete=models.CASCADE, related_name="older_answers")
    question = models.CharField(max_length=60)
    answer = models.JSONField()
    replaced_at = models.DateTimeField(auto_now_add=True)

    SIGHT = Sight(
        "sheet__assignment__ensemble__programme",
        "sheet__assignment__ensemble",
        lambda account: Q(sheet__author=account),
    )

    class Meta(SeenModel.Meta):
        """The latest first."""

        abstract = False
        ordering = ("-replaced_at", "-pk")


class SheetSound(SeenModel):
    """A recording inside a sheet: evidence, or an answer that is spoken."""

    key = models.UUIDField(primary_key=True, default=uuid.uuid4)
    sheet = models.ForeignKey(Sheet, on_delete=models.CASCADE, related_name="sounds")
    question = models.CharField(max_length=60)
    digest = models.CharField(max_length=64)
    media_type = models.CharField(max_length=80, blank=True)
    seconds = models.FloatField(null=True, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)
    removed_at = models.DateTimeField(
        null=True, blank=True, help_text="Removed after the time the school has set."
    )

    SIGHT = Sight(
        "sheet__assignment__ensemble__programme",
        "sheet__assignment__ensemble",
        lambda account: Q(sheet__author=account),
        second_adult=True,
    )


class Reply(SeenModel):
    """A director's two lines on a sheet."""

    sheet = models.OneToOneField(Sheet, on_delete=models.CASCADE, related_name="reply")
    words = models.CharField(max_length=400, blank=True)
    next_step = models.CharField(max_length=400, blank=True)
    written_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField(auto_now=True)
    seen_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight(
        "sheet__assignment__ensemble__programme",
        "sheet__assignment__ensemble",
        lambda account: Q(sheet__author=account),
    )


class SheetLevel(SeenModel):
    """One rater's level for one row of the rubric of a sheet; a change retires the old."""

    sheet = models.ForeignKey(Sheet, on_delete=models.CASCADE, related_name="levels")
    criterion = models.CharField(max_length=40)
    value = models.CharField(max_length=10, help_text='"1" to "4" or "not_shown".')
    rater = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    given_at = models.DateTimeField(auto_now_add=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight(
        "sheet__assignment__ensemble__programme",
        "sheet__assignment__ensemble",
        lambda account: Q(sheet__author=account, sheet__reply__isnull=False),
    )

    class Meta(SeenModel.Meta):
        """One standing level a rater, row and sheet."""

        abstract = False
        constraints = [
            models.UniqueConstraint(
                fields=("sheet", "criterion", "rater"),
                condition=Q(retired_at__isnull=True),
                name="one_standing_sheet_level",
            )
        ]


class WorkExcuse(SeenModel):
    """Why a musician's work is not asked for: each reason is another state than missing."""

    EXCUSED, ABSENT, NOT_ASSESSED = "excused", "absent", "not_assessed"
    REASONS = {EXCUSED: "Excused", ABSENT: "Absent", NOT_ASSESSED: "Not assessed"}

    assignment = models.ForeignKey(Assignment, on_delete=models.CASCADE, related_name="excuses")
    musician = models.ForeignKey(Musician, on_delete=models.CASCADE, related_name="work_excuses")
    reason = models.CharField(max_length=14, choices=REASONS)
    until = models.DateField(
        null=True, blank=True, help_text="A later day to hand in: extra time, or after an absence."
    )
    given_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    given_at = models.DateTimeField(auto_now_add=True)

    SIGHT = Sight(
        "assignment__ensemble__programme",
        "assignment__ensemble",
        lambda account: Q(musician__account=account),
    )

    class Meta(SeenModel.Meta):
        """One standing reason a musician and assignment."""

        abstract = False
        constraints = [
            models.UniqueConstraint(fields=("assignment", "musician"), name="one_excuse")
        ]
