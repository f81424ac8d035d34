"""What the lead director says of the school: its name, whom to turn to, which adults there are."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions.beginning import new_password
from standlight.programme.models import Account, Ensemble

LONGEST_NAME, LONGEST_CONTACT, LONGEST_SIGN_IN = 120, 240, 60


@transaction.atomic
def keep_school(account: Account, name: str, safety_contact: str) -> None:
    """Keep the school's name and whom musicians can turn to; raises for an empty name."""
    _must_lead(account)
    name, contact = " ".join(name.split()), " ".join(safety_contact.split())
    if not 0 < len(name) <= LONGEST_NAME:
        raise StandlightError(f"the school needs a name of 1 to {LONGEST_NAME} characters")
    if len(contact) > LONGEST_CONTACT:
        raise StandlightError(
            f"the contact has more than {LONGEST_CONTACT} characters",
            slip="a room and a role are enough",
        )
    programme = account.programme
    programme.name, programme.safety_contact = name, contact
    programme.save(update_fields=["name", "safety_contact"])


@transaction.atomic
def add_adult(
    account: Account,
    shown_name: str,
    sign_in: str,
    *,
    ensembles: Collection[int] = (),
    reads_writing: bool = False,
) -> tuple[Account, str]:
    """A director of some ensembles, or a second adult who only reads; with the password.

    The password is shown once and kept only as a hash. Raises `NotAllowed` for who does not lead,
    `StandlightError` for a name that is empty or taken, or an adult with nothing to do.
    """
    _must_lead(account)
    shown_name, sign_in = " ".join(shown_name.split()), sign_in.strip().casefold()
    if not 0 < len(shown_name) <= LONGEST_NAME:
        raise StandlightError(f"the name needs 1 to {LONGEST_NAME} characters")
    if not 0 < len(sign_in) <= LONGEST_SIGN_IN or not sign_in.isascii() or " " in sign_in:
        raise StandlightError(
            "the sign-in needs plain letters and numbers without a space", slip="such as: strings"
        )
    if Account.objects.filter(sign_in__iexact=sign_in).exists():
        raise StandlightError(f"the sign-in {sign_in} is taken", slip="add an initial")
    password = new_password()
    adult = Account.objects.make(
        programme=account.programme,
        sign_in=sign_in,
        role=Account.DIRECTOR,
        secret=password,
        shown_name=shown_name,
    )
    change_adult(account, adult, ensembles=ensembles, reads_writing=reads_writing)
    return adult, password


@transaction.atomic
def change_adult(
    account: Account,
    adult: Account,
    *,
    ensembles: Collection[int] = (),
    reads_writing: bool = False,
    is_active: bool = True,
) -> None:
    """Say which ensembles an adult directs, whether they read all writing, whether they sign in.

    Raises `NotAllowed` for another school's, and for the lead, who always does both.
    """
    _must_lead(account)
    if adult.programme_id != account.programme_id or not adult.is_director:
        raise NotAllowed("this adult is not of your school")
    if adult.is_lead:
        raise NotAllowed("the lead director reads and directs everything")
    known = Ensemble.objects.filter(programme=account.programme_id, pk__in=ensembles)
    if is_active and not known and not reads_writing:
        raise StandlightError("this adult would see nothing", slip="tick an ensemble, or reading")
    adult.reads_writing, adult.is_active = reads_writing, is_active
    adult.save(update_fields=["reads_writing", "is_active"])
    adult.ensembles.set(known)


def _must_lead(account: Account) -> None:
    """Refuse everyone but the lead director."""
    if not (account.is_director and account.is_lead):
        raise NotAllowed("only the lead director changes the school and its adults")
