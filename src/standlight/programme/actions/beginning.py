"""The first day: an empty programme with one lead director."""

from __future__ import annotations

import secrets

from django.db import transaction

from standlight.programme.models import Account, Programme

PASSWORD_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""No letters that look alike in print."""


def new_password() -> str:
    """Twelve letters in three groups, about 59 random bits: easy to read out once."""
    return "-".join(
        "".join(secrets.choice(PASSWORD_LETTERS) for _ in range(4)) for _ in range(3)
    )


@transaction.atomic
def begin_programme(name: str = "Our school") -> str:
    """Make the programme and its lead director ``director``; gives the password, shown once."""
    programme = Programme.objects.create(name=name)
    password = new_password()
    Account.objects.make(
        programme=programme,
        sign_in="director",
        role=Account.DIRECTOR,
        secret=password,
        shown_name="Director",
        is_lead=True,
    )
    return password
