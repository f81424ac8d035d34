"""A playing check, its passage for every part, and what musicians send for it."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import Q

from standlight.programme.models.folder import Part, Piece
from standlight.programme.models.people import Account, Ensemble, Musician, Section
from standlight.programme.models.sight import SeenModel, Sight
from standlight.score import ALL, LOWER, UPPER


class PlayingCheck(SeenModel):
    """One passage of one piece, a few criteria, a day: asked of every musician of an ensemble."""

    EQUAL, JUST, DRONE = "equal", "just", "drone"
    """What intonation is read against: the kinds of the sound room, which no model loads."""

    LAST, BEST = "last", "best"
    TRY_COUNTS = {LAST: "The last try counts", BEST: "The best try counts"}

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="checks")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="checks")
    title = models.CharField(max_length=120)
    criteria = models.JSONField(help_text="Three to five keys of the criteria table.")
    tempo_qpm = models.FloatField(help_text="Quarter notes a minute.")
    due_on = models.DateField()
    asks_self_rating = models.BooleanField(default=False)
    together = models.BooleanField(
        default=False, help_text="A small group records it together: only the common pulse is read."
    )
    pitch_target = models.CharField(
        max_length=8,
        default=EQUAL,
        help_text="What intonation is read against: a key of pitch_targets.CHOICES.",
    )
    tonic = models.CharField(
        max_length=4,
        blank=True,
        help_text="Concert pitch that just intervals or a drone stand on: a key of TONICS.",
    )
    note = models.CharField(max_length=400, blank=True, help_text="A sentence to the musicians.")
    try_counts = models.CharField(
        max_length=6, default=LAST, choices=TRY_COUNTS, help_text="Which of several tries counts."
    )
    tries_until = models.DateField(
        null=True, blank=True, help_text="Last day of a new try; none is any time."
    )
    model_take_digest = models.CharField(max_length=64, blank=True)
    made_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    published_at = models.DateTimeField(null=True, blank=True)

    TAKES_KEPT = 3

    SIGHT = Sight(
        "ensemble__programme",
        "ensemble",
        lambda account: Q(
            published_at__isnull=False, ensemble__sections__seats__musician__account=account
        ),
    )

    class Meta(SeenModel.Meta):
        """The latest due first."""

        abstract = False
        ordering = ("-due_on", "-pk")

    @property
    def is_singing(self) -> bool:
        """True for a choir: the page then says singing check."""
        return self.ensemble.kind == Ensemble.CHOIR

    def __str__(self) -> str:
        """The title."""
        return self.title


class CheckPassage(SeenModel):
    """The measures one part plays in a check.

    On paper only, ``part`` is empty and ``printed`` says where ("33 to 40", "letter B"),
    for one ``section`` or, with none, for everyone.
    """

    check_row = models.ForeignKey(PlayingCheck, on_delete=models.CASCADE, related_name="passages")
    part = models.ForeignKey(
        Part, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    section = models.ForeignKey(
        Section, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    first_measure = models.PositiveIntegerField(null=True, blank=True, help_text="0-based index.")
    last_measure = models.PositiveIntegerField(null=True, blank=True)
    printed = models.CharField(max_length=80, blank=True)
    reason = models.CharField(max_length=400, blank=True)
    demand = models.FloatField(
        null=True, blank=True, help_text="Mean percentile among the piece's windows, 0 to 1."
    )
    shows = models.JSONField(default=dict, help_text="Criterion to 0..1.")
    alternatives = models.JSONField(
        default=list, help_text="Other places: {first, last, printed, demand, shows, reason}."
    )
    moved_by_hand = models.BooleanField(default=False)
    notation_digest = models.CharField(max_length=64, blank=True, help_text="The cut MusicXML.")

    SIGHT = Sight("check_row__ensemble__programme", "check_row__ensemble")

    class Meta(SeenModel.Meta):
        """One passage a part, or a section, of a check."""

        abstract = False
        ordering = ("check_row", "part__index", "section__order", "pk")
        constraints = [
            models.UniqueConstraint(
                fields=("check_row", "part", "section"), name="one_passage_a_part"
            )
        ]


class Turn(SeenModel):
    """What one musician sends for one check, once; trying again is a next attempt."""

    WEB, STATION, FILE, LIVE = "web", "station", "file", "live"
    WAYS = {WEB: "Own device", STATION: "Station", FILE: "File", LIVE: "Live"}

    check_row = models.ForeignKey(PlayingCheck, on_delete=models.CASCADE, related_name="turns")
    musician = models.ForeignKey(Musician, on_delete=models.CASCADE, related_name="turns")
    attempt = models.PositiveSmallIntegerField(default=1)
    way = models.CharField(max_length=10, choices=WAYS, default=WEB)
    self_levels = models.JSONField(default=dict, help_text="Criterion to 1..4, never in marks.")
    words = models.CharField(
        max_length=600, blank=True, help_text="What the musician wrote with it."
    )
    excused = models.BooleanField(default=False)
    section = models.ForeignKey(
        Section,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="Where the musician sat when it was sent: a seat may move, this stays.",
    )
    sent_at = models.DateTimeField(null=True, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight(
        "check_row__ensemble__programme",
        "check_row__ensemble",
        lambda account: Q(musician__account=account),
    )

    class Meta(SeenModel.Meta):
        """Order of sending; attempts count from 1."""

        abstract = False
        ordering = ("sent_at", "pk")
        constraints = [
            models.UniqueConstraint(
                fields=("check_row", "musician", "attempt"), name="attempt_once"
            )
        ]


class Take(SeenModel):
    """One recording of a turn; its key is made where it is recorded: a repeat is the same take."""

    ARRIVING, WHOLE, HEARD, REFUSED = "arriving", "whole", "heard", "refused"
    REMOVED = "removed"
    STATES = {
        ARRIVING: "Arriving",
        WHOLE: "Waiting to be heard",
        HEARD: "Heard",
        REFUSED: "Could not be decoded",
        REMOVED: "Removed after the time the school has set",
    }
    SOUNDLESS = (REFUSED, REMOVED)
    """States without anything to play."""

    key = models.UUIDField(primary_key=True, default=uuid.uuid4)
    turn = models.ForeignKey(Turn, on_delete=models.CASCADE, related_name="takes")
    number = models.PositiveSmallIntegerField(default=1)
    chosen = models.BooleanField(default=False, help_text="The one the musician sent to be rated.")
    state = models.CharField(max_length=10, choices=STATES, default=ARRIVING)
    media_type = models.CharField(max_length=80, blank=True)
    settings = models.JSONField(default=dict, help_text="The microphone track's real settings.")
    made_by_machine = models.BooleanField(default=False)
    n_pieces = models.PositiveIntegerField(null=True, blank=True)
    digest = models.CharField(max_length=64, blank=True)
    playback_digest = models.CharField(max_length=64, blank=True, help_text="Seekable mono FLAC.")
    seconds = models.FloatField(null=True, blank=True, help_text="Counted samples over the rate.")
    first_note_s = models.FloatField(null=True, blank=True)
    started_at = models.DateTimeField(auto_now_add=True)
    claimed_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight(
        "turn__check_row__ensemble__programme",
        "turn__check_row__ensemble",
        lambda account: Q(turn__musician__account=account),
    )

    class Meta(SeenModel.Meta):
        """In the order recorded."""

        abstract = False
        ordering = ("turn", "number")

    @property
    def has_sound(self) -> bool:
        """True while there is, or may come, something to play."""
        return self.state not in self.SOUNDLESS


class TakePiece(models.Model):
    """One numbered second of a take on its way; a repeat of a number is harmless."""

    take = models.ForeignKey(Take, on_delete=models.CASCADE, related_name="pieces")
    number = models.PositiveIntegerField()
    digest = models.CharField(max_length=64)

    class Meta:
        """A number is one in its take."""

        ordering = ("take", "number")
        constraints = [models.UniqueConstraint(fields=("take", "number"), name="piece_number_once")]


class Report(SeenModel):
    """What one edition of the method heard in a take; a better edition adds a row."""

    take = models.ForeignKey(Take, on_delete=models.CASCADE, related_name="reports")
    method = models.CharField(max_length=40)
    body = models.JSONField(help_text="``listening.report_as_json`` of the report.")
    made_at = models.DateTimeField(auto_now_add=True)

    SIGHT = Sight("take__turn__check_row__ensemble__programme", "take__turn__check_row__ensemble")

    class Meta(SeenModel.Meta):
        """One report a take and edition."""

        abstract = False
        constraints = [
            models.UniqueConstraint(fields=("take", "method"), name="one_report_an_edition")
        ]


class OwnVersion(SeenModel):
    """A musician's own version of a passage: one line of it, an octave away, in another key."""

    LINES = {UPPER: "Upper line", LOWER: "Lower line", ALL: "All notes"}

    passage = models.ForeignKey(
        CheckPassage, on_delete=models.CASCADE, related_name="own_versions"
    )
    musician = models.ForeignKey(Musician, on_delete=models.CASCADE, related_name="own_versions")
    semitones = models.SmallIntegerField(help_text="How far it is moved; below 0 is lower.")
    line = models.CharField(
        max_length=5, choices=LINES, default=UPPER, help_text="Which line, where it divides."
    )
    skipped = models.PositiveSmallIntegerField(
        default=0, help_text="Measures left out before this musician's own start."
    )
    notation_digest = models.CharField(max_length=64, help_text="The moved MusicXML.")
    asked_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now=True)

    SIGHT = Sight(
        "passage__check_row__ensemble__programme",
        "passage__check_row__ensemble",
        lambda account: Q(musician__account=account),
    )

    class Meta(SeenModel.Meta):
        """One version a musician and passage."""

        abstract = False
        ordering = ("passage", "pk")
        constraints = [
            models.UniqueConstraint(fields=("passage", "musician"), name="own_version_once")
        ]
