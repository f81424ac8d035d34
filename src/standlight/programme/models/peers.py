"""Musicians who hear each other: who may be heard, who heard whom, levels and words.

Nothing here enters a mark, growth or a comparison of directors: levels of musicians are rows of
their own, and no row counts how well anybody listens.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone

from standlight.programme.models.checks import PlayingCheck, Turn
from standlight.programme.models.people import Account, Musician
from standlight.programme.models.sight import SeenModel, Sight


class PeerRound(SeenModel):
    """One check whose musicians hear each other: first they are asked, then it is opened."""

    FEWEST, USUAL, MOST = 1, 2, 4
    """How many takes one musician may be asked to hear."""

    check_row = models.OneToOneField(
        PlayingCheck, on_delete=models.CASCADE, related_name="peer_round"
    )
    criteria = models.JSONField(help_text="Keys of the check's own criteria.")
    takes_each = models.PositiveSmallIntegerField(default=USUAL)
    until = models.DateField(help_text="The last day, in the school's own time.")
    shows_levels = models.BooleanField(
        default=False, help_text="Who heard a take sees a director's level for it afterwards."
    )
    asked_by = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now)
    opened_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True, help_text="Closed by a director.")

    SIGHT = Sight(
        "check_row__ensemble__programme",
        "check_row__ensemble",
        lambda account: Q(
            check_row__published_at__isnull=False,
            check_row__ensemble__sections__seats__musician__account=account,
        ),
    )

    class Meta(SeenModel.Meta):
        """The newest first."""

        abstract = False
        ordering = ("-asked_at", "-pk")


class PeerConsent(SeenModel):
    """A musician's yes or no to others hearing the take of ``turn`` without their name."""

    round = models.ForeignKey(PeerRound, on_delete=models.CASCADE, related_name="consents")
    musician = models.ForeignKey(
        Musician, on_delete=models.CASCADE, related_name="peer_consents"
    )
    turn = models.ForeignKey(Turn, on_delete=models.CASCADE, related_name="peer_consents")
    said_yes = models.BooleanField()
    said_at = models.DateTimeField(default=timezone.now)

    SIGHT = Sight(
        "round__check_row__ensemble__programme",
        "round__check_row__ensemble",
        lambda account: Q(musician__account=account),
    )

    class Meta(SeenModel.Meta):
        """One answer a musician."""

        abstract = False
        constraints = [
            models.UniqueConstraint(fields=("round", "musician"), name="one_consent_a_round")
        ]


class PeerHearing(SeenModel):
    """One take that ``listener`` hears without its owner's name, as their number ``place``."""

    round = models.ForeignKey(PeerRound, on_delete=models.CASCADE, related_name="hearings")
    listener = models.ForeignKey(
        Musician, on_delete=models.CASCADE, related_name="peer_hearings"
    )
    turn = models.ForeignKey(Turn, on_delete=models.CASCADE, related_name="peer_hearings")
    place = models.PositiveSmallIntegerField(help_text="From 1.")
    handed_at = models.DateTimeField(default=timezone.now)
    heard_at = models.DateTimeField(null=True, blank=True, help_text="Its sound first went out.")
    sent_at = models.DateTimeField(null=True, blank=True, help_text="Of what stands now.")

    SIGHT = Sight(
        "round__check_row__ensemble__programme",
        "round__check_row__ensemble",
        lambda account: Q(listener__account=account),
    )

    class Meta(SeenModel.Meta):
        """In the order handed out; a take once a listener."""

        abstract = False
        ordering = ("round", "listener", "place")
        constraints = [
            models.UniqueConstraint(
                fields=("round", "listener", "turn"), name="peer_hears_once"
            ),
            models.UniqueConstraint(
                fields=("round", "listener", "place"), name="peer_place_once"
            ),
        ]


class PeerLevel(SeenModel):
    """A musician's level for a take they heard; a change adds a row and retires the old one."""

    hearing = models.ForeignKey(PeerHearing, on_delete=models.CASCADE, related_name="levels")
    criterion = models.CharField(max_length=40)
    value = models.CharField(max_length=10, help_text='"1" to "4", "not_shown" or "not_heard".')
    given_at = models.DateTimeField(default=timezone.now)
    retired_at = models.DateTimeField(null=True, blank=True)

    SIGHT = Sight(
        "hearing__round__check_row__ensemble__programme",
        "hearing__round__check_row__ensemble",
        lambda account: Q(hearing__listener__account=account),
    )

    class Meta(SeenModel.Meta):
        """One standing level a hearing and criterion."""

        abstract = False
        constraints = [
            models.UniqueConstraint(
                fields=("hearing", "criterion"),
                condition=Q(retired_at__isnull=True),
                name="one_standing_peer_level",
            )
        ]


class PeerLine(SeenModel):
    """What a listener wrote about a take; its owner reads it once a director has passed it on.

    Other words are another row, so that a director passes on only what they have read.
    """

    WELL, TRY = "well", "try"
    PLACES = {WELL: "What went well", TRY: "One thing to try"}

    hearing = models.ForeignKey(PeerHearing, on_delete=models.CASCADE, related_name="lines")
    place = models.CharField(max_length=4, choices=PLACES)
    words = models.CharField(max_length=400)
    first_measure = models.PositiveIntegerField(null=True, blank=True, help_text="0-based index.")
    last_measure = models.PositiveIntegerField(null=True, blank=True)
    printed = models.CharField(max_length=60, blank=True, help_text="Where, on paper alone.")
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by = models.ForeignKey(
        Account, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    passed = models.BooleanField(default=False)
    seen_at = models.DateTimeField(null=True, blank=True, help_text="First read by the owner.")

    SIGHT = Sight(
        "hearing__round__check_row__ensemble__programme",
        "hearing__round__check_row__ensemble",
        lambda account: Q(hearing__listener__account=account)
        | Q(passed=True, hearing__turn__musician__account=account),
    )

    class Meta(SeenModel.Meta):
        """What went well before what to try."""

        abstract = False
        ordering = ("hearing", "-place", "pk")
        constraints = [
            models.UniqueConstraint(fields=("hearing", "place"), name="one_peer_line_a_place")
        ]
