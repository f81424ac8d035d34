"""People and where they sit: programme, accounts, ensembles, sections, musicians, seats."""

from __future__ import annotations

from collections.abc import Sequence

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q

from standlight.music import STANDARD_A4_HZ
from standlight.programme.accommodations import ACCOMMODATIONS, told_of
from standlight.programme.models.sight import SeenModel, Sight


class Programme(models.Model):
    """One school's ensemble programme: the root every row hangs from."""

    name = models.CharField(max_length=120)
    safety_contact = models.CharField(
        max_length=240,
        blank=True,
        help_text="Whom a musician can turn to, shown beside every place to write.",
    )
    owns_music = models.BooleanField(
        default=False, help_text="The school confirms that it owns the music it loads."
    )
    is_demo = models.BooleanField(default=False)

    def __str__(self) -> str:
        """The programme's name."""
        return self.name


class SchoolYear(models.Model):
    """From the first day to the last."""

    programme = models.ForeignKey(Programme, on_delete=models.CASCADE, related_name="years")
    name = models.CharField(max_length=40)
    starts_on = models.DateField()
    ends_on = models.DateField()


class AccountManager(BaseUserManager):
    """Makes accounts; ``sign_in`` is a director's name or a musician's card code."""

    def make(
        self, *, programme: Programme, sign_in: str, role: str, secret: str | None, **more: object
    ) -> Account:
        """A saved account; ``secret`` is a password or PIN, kept only as an argon2 hash."""
        account = self.model(programme=programme, sign_in=sign_in, role=role, **more)
        account.set_password(secret)
        account.save()
        return account

    def get_by_natural_key(self, username: str | None) -> Account:
        """Look an account up by what is typed, in any case."""
        return self.get(sign_in__iexact=username)


class Account(AbstractBaseUser):
    """Somebody who can sign in. No e-mail address is needed."""

    DIRECTOR, MUSICIAN = "director", "musician"
    ROLES = {DIRECTOR: "Director", MUSICIAN: "Musician"}

    programme = models.ForeignKey(Programme, on_delete=models.CASCADE, related_name="accounts")
    sign_in = models.CharField(max_length=60, unique=True)
    role = models.CharField(max_length=12, choices=ROLES)
    shown_name = models.CharField(max_length=120)
    is_lead = models.BooleanField(default=False)
    is_active = models.BooleanField(default=True)
    reads_writing = models.BooleanField(
        default=False, help_text="A second adult: reads what musicians and directors write."
    )
    readings_before_rating = models.BooleanField(
        default=False, help_text="Show readings before the levels are saved."
    )

    USERNAME_FIELD = "sign_in"
    REQUIRED_FIELDS = ()
    objects = AccountManager()

    @property
    def is_director(self) -> bool:
        """True for the lead and for every other director."""
        return self.role == self.DIRECTOR

    @property
    def is_musician(self) -> bool:
        """True for a musician's account."""
        return self.role == self.MUSICIAN

    def get_short_name(self) -> str:
        """The name the page greets with."""
        return self.shown_name

    def __str__(self) -> str:
        """The shown name, never the sign-in."""
        return self.shown_name


class Ensemble(SeenModel):
    """A group that rehearses and performs together."""

    BAND, CHOIR, STRINGS = "band", "choir", "strings"
    KINDS = {BAND: "Band", CHOIR: "Choir", STRINGS: "Strings"}

    programme = models.ForeignKey(Programme, on_delete=models.CASCADE, related_name="ensembles")
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=10, choices=KINDS)
    period_number = models.PositiveSmallIntegerField(help_text="Order in the school day.")
    period_minutes = models.PositiveSmallIntegerField(default=42)
    a4_hz = models.FloatField(default=STANDARD_A4_HZ)
    music_grade = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Grade of the music it plays, a row of the grades table."
    )
    directors = models.ManyToManyField(Account, related_name="ensembles", blank=True)

    SIGHT = Sight("programme", "", lambda account: Q(sections__seats__musician__account=account))

    class Meta(SeenModel.Meta):
        """In the order of the day."""

        abstract = False
        ordering = ("period_number", "pk")

    def __str__(self) -> str:
        """The ensemble's name."""
        return self.name


class Section(SeenModel):
    """Those on one instrument or voice part, in concert order."""

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="sections")
    name = models.CharField(max_length=60)
    instrument = models.CharField(max_length=60, help_text="A name of the instruments table.")
    order = models.PositiveSmallIntegerField(default=0)

    SIGHT = Sight(
        "ensemble__programme", "ensemble", lambda account: Q(seats__musician__account=account)
    )

    class Meta(SeenModel.Meta):
        """Concert order; a section's name is one in its ensemble."""

        abstract = False
        ordering = ("ensemble", "order", "pk")
        constraints = [
            models.UniqueConstraint(fields=("ensemble", "name"), name="section_named_once")
        ]

    def __str__(self) -> str:
        """The section's name."""
        return self.name


class Musician(SeenModel):
    """One musician of the programme, whatever groups they sit in."""

    RECORD, LIVE_ONLY, NEITHER = "record", "live_only", "neither"
    WAYS = {RECORD: "Records", LIVE_ONLY: "Live only", NEITHER: "Neither"}

    programme = models.ForeignKey(Programme, on_delete=models.CASCADE, related_name="musicians")
    account = models.OneToOneField(Account, on_delete=models.CASCADE, related_name="musician")
    roster_id = models.CharField(max_length=40)
    given_name = models.CharField(max_length=60)
    family_name = models.CharField(max_length=60)
    grade = models.PositiveSmallIntegerField()
    way = models.CharField(max_length=10, choices=WAYS, default=RECORD)
    accommodation = models.CharField(
        max_length=240, blank=True, help_text="What to do (same goal); never why."
    )
    accommodations = models.JSONField(
        default=list, help_text="Keys of ``accommodations.ACCOMMODATIONS`` that apply."
    )
    extra_days = models.PositiveSmallIntegerField(
        default=0, help_text="More days for everything that is due."
    )
    changed_goal = models.CharField(max_length=240, blank=True, help_text="A goal of their own.")
    first_language = models.CharField(
        max_length=12, blank=True, help_text="A key of ``languages.LANGUAGES``, where it helps."
    )

    SIGHT = Sight("programme", "seats__section__ensemble", lambda account: Q(account=account))

    class Meta(SeenModel.Meta):
        """Roster order; a roster id is one in the programme."""

        abstract = False
        ordering = ("family_name", "given_name", "roster_id")
        constraints = [
            models.UniqueConstraint(fields=("programme", "roster_id"), name="roster_id_once")
        ]

    @property
    def name(self) -> str:
        """Given name, then family name."""
        return f"{self.given_name} {self.family_name}"

    @property
    def agreed_words(self) -> str:
        """What is agreed, as the musician reads it; empty where nothing is."""
        told = told_of(self.accommodations, self.extra_days)
        return _in_a_row((self.accommodation, *told))

    @property
    def agreed_labels(self) -> str:
        """What is agreed, as a director reads it; empty where nothing is."""
        labels = [one.label for key, one in ACCOMMODATIONS.items() if key in self.accommodations]
        days = [f"{self.extra_days} more days for everything"] if self.extra_days else []
        return _in_a_row((self.accommodation, *days, *labels))

    def __str__(self) -> str:
        """Given name, then family name."""
        return self.name


def _in_a_row(sentences: Sequence[str]) -> str:
    """Sentences one after the other, each with its full stop; a single one as it is."""
    given = [one for one in sentences if one]
    return given[0] if len(given) == 1 else " ".join(f"{one.rstrip('.')}." for one in given)


class Seat(SeenModel):
    """A musician's place in a section, from one day to another."""

    musician = models.ForeignKey(Musician, on_delete=models.CASCADE, related_name="seats")
    section = models.ForeignKey(Section, on_delete=models.CASCADE, related_name="seats")
    joined_on = models.DateField(null=True, blank=True)
    left_on = models.DateField(null=True, blank=True)
    voice_changing = models.BooleanField(default=False)
    comfort_low_midi = models.PositiveSmallIntegerField(null=True, blank=True)
    comfort_high_midi = models.PositiveSmallIntegerField(null=True, blank=True)

    SIGHT = Sight(
        "musician__programme", "section__ensemble", lambda account: Q(musician__account=account)
    )

    class Meta(SeenModel.Meta):
        """One seat a musician and section."""

        abstract = False
        ordering = ("section", "musician__family_name", "musician__given_name")
        constraints = [models.UniqueConstraint(fields=("musician", "section"), name="seat_once")]
