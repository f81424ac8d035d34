"""The folder: concert cycles, pieces, their parts, and who plays which."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from standlight.programme.models.people import Ensemble, Seat
from standlight.programme.models.sight import SeenModel, Sight


class ConcertCycle(SeenModel):
    """From the first rehearsal of a programme of pieces to its concert."""

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="cycles")
    name = models.CharField(max_length=80)
    starts_on = models.DateField()
    concert_on = models.DateField()

    SIGHT = Sight(
        "ensemble__programme",
        "ensemble",
        lambda account: Q(ensemble__sections__seats__musician__account=account),
    )

    class Meta(SeenModel.Meta):
        """By concert date."""

        abstract = False
        ordering = ("concert_on", "pk")


class Piece(SeenModel):
    """A piece in the folder; without ``score_digest`` it exists on paper only."""

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="pieces")
    cycle = models.ForeignKey(
        ConcertCycle, on_delete=models.SET_NULL, null=True, blank=True, related_name="pieces"
    )
    title = models.CharField(max_length=160)
    composer = models.CharField(max_length=160, blank=True)
    credit = models.CharField(max_length=240, blank=True, help_text="Edition and licence.")
    score_digest = models.CharField(max_length=64, blank=True)
    typed_line = models.TextField(
        blank=True, help_text="The plain form it was typed in, if it was."
    )
    measures = models.JSONField(
        default=list, help_text="List of {index, printed, movement, rehearsal, beats, beat_unit}."
    )
    remarks = models.JSONField(
        default=list, help_text="The reader's {code, sentence, part, measure}."
    )
    tempo_qpm = models.FloatField(null=True, blank=True)
    from_midi = models.BooleanField(
        default=False, help_text="Notes without an engraving: listened to, never drawn."
    )
    added_at = models.DateTimeField(auto_now_add=True)

    SIGHT = Sight("ensemble__programme", "ensemble")

    class Meta(SeenModel.Meta):
        """By title."""

        abstract = False
        ordering = ("title", "pk")

    @property
    def on_paper_only(self) -> bool:
        """True when there is no notation to show or to listen against."""
        return not self.score_digest

    def __str__(self) -> str:
        """The title."""
        return self.title


class Part(SeenModel):
    """A written line of a piece, shared by everyone who plays or sings it."""

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="parts")
    index = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=120)
    instrument = models.CharField(max_length=60, blank=True)
    transposition_semitones = models.SmallIntegerField(default=0)
    lowest_midi = models.PositiveSmallIntegerField(null=True, blank=True)
    highest_midi = models.PositiveSmallIntegerField(null=True, blank=True)
    n_notes = models.PositiveIntegerField(default=0)
    unpitched = models.BooleanField(default=False)
    octaves_moved = models.SmallIntegerField(
        default=0, help_text="Octaves by which the director corrects how the part is written."
    )

    SIGHT = Sight("piece__ensemble__programme", "piece__ensemble")

    class Meta(SeenModel.Meta):
        """Score order."""

        abstract = False
        ordering = ("piece", "index")
        constraints = [models.UniqueConstraint(fields=("piece", "index"), name="part_index_once")]

    def __str__(self) -> str:
        """The part's printed name."""
        return self.name


class Casting(SeenModel):
    """Which part a musician has in a piece; percussion rotates, divisi and sharing are normal."""

    seat = models.ForeignKey(Seat, on_delete=models.CASCADE, related_name="castings")
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="castings")
    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="castings")
    by_hand = models.BooleanField(default=False)

    SIGHT = Sight("piece__ensemble__programme", "piece__ensemble")

    class Meta(SeenModel.Meta):
        """One part a seat and piece."""

        abstract = False
        constraints = [models.UniqueConstraint(fields=("seat", "piece"), name="one_part_a_piece")]
