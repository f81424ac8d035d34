"""What a director brings in for a check: files and long recordings that are nobody's take yet.

An arrival becomes a take when its director says whose it is; what nobody claims goes by itself
after ``actions.retention.UNCLAIMED_DAYS``.
"""

from __future__ import annotations

from django.db import models

from standlight.programme.models.checks import PlayingCheck
from standlight.programme.models.people import Account, Musician, Section
from standlight.programme.models.sight import SeenModel, Sight


class LongRecording(SeenModel):
    """One recording of several musicians in a row, from a device of the class.

    Only its seekable mono copy is kept: it is played from and cut from.
    """

    check_row = models.ForeignKey(
        PlayingCheck, on_delete=models.CASCADE, related_name="long_recordings"
    )
    brought_by = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="+")
    brought_at = models.DateTimeField(auto_now_add=True)
    section = models.ForeignKey(
        Section,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="Whose roster the takes follow; none is the whole ensemble.",
    )
    file_name = models.CharField(max_length=200)
    digest = models.CharField(max_length=64, help_text="Of the file as it came.")
    copy_digest = models.CharField(max_length=64, help_text="Seekable mono FLAC.")
    seconds = models.FloatField()

    SIGHT = Sight("check_row__ensemble__programme", "check_row__ensemble")

    class Meta(SeenModel.Meta):
        """The latest first."""

        abstract = False
        ordering = ("-brought_at", "-pk")


class Arrival(SeenModel):
    """One file, or one span of a long recording, that waits to be somebody's take.

    ``chosen`` says that a director has settled the row by hand: ``musician`` is then who it is,
    or nobody when it is left out. Until then the page proposes.
    """

    check_row = models.ForeignKey(PlayingCheck, on_delete=models.CASCADE, related_name="arrivals")
    brought_by = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="+")
    brought_at = models.DateTimeField(auto_now_add=True)
    file_name = models.CharField(max_length=200, blank=True)
    file_time = models.DateTimeField(null=True, blank=True, help_text="As the browser tells it.")
    digest = models.CharField(max_length=64, blank=True, help_text="Empty for a span.")
    playback_digest = models.CharField(max_length=64, blank=True, help_text="Seekable mono FLAC.")
    media_type = models.CharField(max_length=80, blank=True)
    seconds = models.FloatField()
    recording = models.ForeignKey(
        LongRecording, on_delete=models.CASCADE, null=True, blank=True, related_name="spans"
    )
    start_s = models.FloatField(null=True, blank=True, help_text="In its long recording.")
    end_s = models.FloatField(null=True, blank=True)
    short = models.BooleanField(default=False, help_text="Far shorter than the others: words.")
    musician = models.ForeignKey(
        Musician, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    chosen = models.BooleanField(default=False)
    told = models.CharField(max_length=240, blank=True, help_text="Why it was not kept last time.")

    SIGHT = Sight("check_row__ensemble__programme", "check_row__ensemble")

    class Meta(SeenModel.Meta):
        """In the order of a recording; the same file waits once for a check."""

        abstract = False
        ordering = ("recording", "start_s", "pk")
        constraints = [
            models.UniqueConstraint(
                fields=("check_row", "digest"),
                condition=~models.Q(digest=""),
                name="arrival_once",
            )
        ]
