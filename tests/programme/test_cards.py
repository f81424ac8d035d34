"""Cards: random codes, PINs that are shown once and are no first guess."""

import math

import pytest

from standlight.errors import NotAllowed
from standlight.programme.actions.cards import (
    CARD_LENGTH,
    CARD_SYMBOLS,
    is_first_guess,
    issue_cards,
    new_code,
    new_pin,
)
from standlight.programme.models import Account

pytestmark = pytest.mark.django_db


def test_a_code_carries_forty_random_bits_without_symbols_that_look_alike():
    assert CARD_LENGTH * math.log2(len(CARD_SYMBOLS)) >= 40
    assert CARD_LENGTH >= 8
    assert not set(CARD_SYMBOLS) & set("0o1il2z5s8buv")


def test_codes_and_pins_come_from_the_system_s_secret_source_and_differ(monkeypatch):
    assert len({new_code() for _ in range(200)}) == 200
    pins = [new_pin() for _ in range(400)]
    assert len(set(pins)) > 350
    assert not any(is_first_guess(pin) for pin in pins)


def test_a_pin_is_never_part_of_its_code():
    assert all(new_pin("3467") != "3467" for _ in range(50))


def test_a_card_opens_the_account_and_only_its_hash_is_kept(cast):
    (card,) = issue_cards(cast.director, [cast.musician])
    account = Account.objects.get(pk=cast.musician.account_id)
    assert account.check_password(card.pin)
    assert card.pin not in account.password
    assert card.place == "Concert Band, Clarinet"


def test_printing_again_makes_a_new_pin_and_keeps_the_code_unless_it_was_lost(cast):
    (first,) = issue_cards(cast.director, [cast.musician], new_codes=True)
    for _ in range(3):  # one draw in ten thousand repeats a PIN
        (second,) = issue_cards(cast.director, [cast.musician])
        if second.pin != first.pin:
            break
    account = Account.objects.get(pk=cast.musician.account_id)
    assert second.code == first.code and second.pin != first.pin
    assert not account.check_password(first.pin)
    (third,) = issue_cards(cast.director, [cast.musician], new_codes=True)
    assert third.code != first.code
    assert not Account.objects.filter(sign_in=first.code).exists()


def test_cards_come_in_the_order_of_ensembles_and_sections(cast):
    cards = issue_cards(cast.director, [cast.singer, cast.second_musician, cast.musician])
    assert [card.name for card in cards] == ["Mina Okafor", "Theo Lindqvist", "Ada Okafor"]


def test_nobody_prints_a_card_for_a_musician_they_do_not_see(cast):
    before = Account.objects.get(pk=cast.singer.account_id).password
    with pytest.raises(NotAllowed):
        issue_cards(cast.second_director, [cast.musician, cast.singer])
    with pytest.raises(NotAllowed):
        issue_cards(cast.singer.account, [cast.singer])
    assert Account.objects.get(pk=cast.singer.account_id).password == before


def test_a_printed_code_is_grouped_and_typing_the_spaces_does_not_matter(cast, client):
    (card,) = issue_cards(cast.director, [cast.musician], new_codes=True)
    assert card.shown_code.replace(" ", "") == card.code and card.shown_code.count(" ") == 2
    answer = client.post(
        "/sign-in/", {"username": card.shown_code.upper(), "password": card.pin}
    )
    assert answer.status_code == 302 and answer["Location"] == "/"
