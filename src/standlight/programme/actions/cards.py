"""Sign-in cards: a random code that is printed, and a PIN that is shown once."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass

from django.contrib.auth.hashers import make_password
from django.db import transaction

from standlight.errors import NotAllowed
from standlight.programme.models import Account, Musician, Seat

CARD_SYMBOLS = "cdefghjkmnpqrtwxy34679"
"""No pair that looks alike in print (0/o, 1/i/l, 2/z, 5/s, 8/b, u/v) and few words."""

CARD_LENGTH = 9
"""22 symbols to the 9th power is a little over 2 to the 40th."""

PIN_DIGITS = 4


@dataclass(frozen=True, slots=True)
class Card:
    """What is printed for one musician; ``pin`` is known only now, afterwards just its hash."""

    musician_pk: int
    name: str
    place: str
    code: str
    pin: str

    @property
    def shown_code(self) -> str:
        """The code in groups of three, as it is printed; spaces do not matter when typed."""
        return " ".join(self.code[at : at + 3] for at in range(0, len(self.code), 3))


def new_code() -> str:
    """A card code nobody has: 9 symbols, more than 40 random bits.

    >>> import re; bool(re.fullmatch("[cdefghjkmnpqrtwxy34679]{9}", "".join(
    ...     secrets.choice(CARD_SYMBOLS) for _ in range(CARD_LENGTH))))
    True
    """
    while True:
        code = "".join(secrets.choice(CARD_SYMBOLS) for _ in range(CARD_LENGTH))
        if not Account.objects.filter(sign_in=code).exists():
            return code


def new_pin(code: str = "") -> str:
    """Four random digits that are no first guess, and not part of ``code``.

    >>> pin = new_pin()
    >>> len(pin), pin.isdigit(), is_first_guess(pin)
    (4, True, False)
    """
    while True:
        pin = f"{secrets.randbelow(10**PIN_DIGITS):0{PIN_DIGITS}d}"
        if not is_first_guess(pin) and pin not in code:
            return pin


def is_first_guess(pin: str) -> bool:
    """True for what people try first: one digit, pairs, runs up or down, years.

    >>> [is_first_guess(pin) for pin in ("7777", "1212", "3456", "9876", "2013", "5209")]
    [True, True, True, True, True, False]
    """
    steps = {int(second) - int(first) for first, second in zip(pin, pin[1:], strict=False)}
    return pin[:2] == pin[2:] or steps in ({1}, {-1}, {0}) or pin[:2] in ("19", "20")


def issue_cards(
    account: Account, musicians: Sequence[Musician], *, new_codes: bool = False
) -> tuple[Card, ...]:
    """Give each musician a new PIN (and a new code if asked) and return the cards to print.

    In concert order: by ensemble, section and name. An older PIN stops working, and
    whoever is signed in with it is signed out. Raises `NotAllowed` for a musician whom
    ``account`` does not see.
    """
    wanted = {musician.pk for musician in musicians}
    seen = set(
        Musician.objects.visible_to(account).filter(pk__in=wanted).values_list("pk", flat=True)
    )
    if not account.is_director or wanted - seen:
        raise NotAllowed("a card can be printed only for your own musicians")
    cards = [_card(seat, new_codes) for seat in _first_seats(account, wanted)]
    # Hashing takes a moment a PIN and stays outside the transaction: nobody waits for it.
    hashes = {card.musician_pk: make_password(card.pin) for card in cards}
    with transaction.atomic():
        accounts = {one.musician.pk: one for one in _accounts(wanted)}
        for card in cards:
            owner = accounts[card.musician_pk]
            owner.sign_in, owner.password = card.code, hashes[card.musician_pk]
        Account.objects.bulk_update(accounts.values(), ["sign_in", "password"])
    return tuple(cards)


def _accounts(musician_pks: set[int]) -> list[Account]:
    """The accounts of these musicians."""
    return list(Account.objects.filter(musician__in=musician_pks).select_related("musician"))


def _first_seats(account: Account, musician_pks: set[int]) -> list[Seat]:
    """One seat a musician, the first in the order of the day."""
    seats = (
        Seat.objects.visible_to(account)
        .filter(musician__in=musician_pks, left_on__isnull=True)
        .select_related("musician__account", "section__ensemble")
        .order_by(
            "section__ensemble__period_number",
            "section__ensemble_id",
            "section__order",
            "section_id",
            "musician__family_name",
            "musician__given_name",
            "musician__roster_id",
        )
    )
    first: dict[int, Seat] = {}
    for seat in seats:
        first.setdefault(seat.musician_id, seat)
    return list(first.values())


def _card(seat: Seat, new_codes: bool) -> Card:
    """The card of one musician, code kept unless a new one is asked for."""
    code = new_code() if new_codes else seat.musician.account.sign_in
    return Card(
        seat.musician_id,
        seat.musician.name,
        f"{seat.section.ensemble.name}, {seat.section.name}",
        code,
        new_pin(code),
    )
