"""Signing in with a card or a name; the lock; the station's memory."""

import pytest
from django.urls import reverse

pytestmark = pytest.mark.django_db


def sign_in(client, name, secret, **more):
    return client.post(reverse("sign-in"), {"username": name, "password": secret, **more})


def test_a_director_signs_in_and_lands_on_today(client, cast):
    answer = sign_in(client, "director", "stand-lamp-7")
    assert answer.status_code == 302
    assert client.get(reverse("home")).url == reverse("today")


def test_a_musician_signs_in_with_card_code_and_pin_in_any_case(client, cast):
    code = cast.musician.account.sign_in
    answer = sign_in(client, f" {code.upper()} ", "2468")
    assert answer.status_code == 302
    assert client.get(reverse("home")).url == reverse("my-part")


def test_a_wrong_pin_is_answered_with_a_sentence_that_tells_nothing_of_the_card(client, cast):
    code = cast.musician.account.sign_in
    wrong_pin = sign_in(client, code, "0000").content.decode()
    no_card = sign_in(client, "card-nowhere", "0000").content.decode()
    assert "do not go together" in wrong_pin
    assert "do not go together" in no_card


def test_six_wrong_tries_lock_the_card_but_not_the_school(client, cast, settings):
    code = cast.musician.account.sign_in
    for n in range(settings.AXES_FAILURE_LIMIT):
        sign_in(client, code.upper() if n % 2 else f" {code}", "0000")
    assert sign_in(client, code, "2468").status_code == 429
    assert sign_in(client, "director", "stand-lamp-7").status_code == 302


def test_signing_in_never_leads_to_another_site(client, cast):
    answer = sign_in(client, "director", "stand-lamp-7", next="https://elsewhere.example/")
    assert answer.url == reverse("home")


def test_a_qr_brings_the_code_so_that_only_the_pin_is_typed(client, cast):
    page = client.get(reverse("card", args=["abcd-efgh"])).content.decode()
    assert 'value="abcd-efgh"' in page


def test_signing_out_needs_a_post_and_ends_the_session(client, cast):
    sign_in(client, "director", "stand-lamp-7")
    assert client.get(reverse("sign-out"), follow=True).redirect_chain[-1][0] == reverse("today")
    client.post(reverse("sign-out"))
    assert client.get(reverse("home")).url == reverse("sign-in")


def test_secrets_are_kept_as_modest_argon2_hashes(cast, settings):
    settings.PASSWORD_HASHERS = ["standlight.web.sign_in.ModestArgon2Hasher"]
    account = cast.musician.account
    account.set_password("1357")
    assert account.password.startswith("argon2$argon2id$")
    assert "m=19456,t=2,p=1" in account.password
    assert account.check_password("1357")
    assert not account.check_password("1358")


def test_every_page_forbids_inline_scripts_and_foreign_hosts(client, cast):
    policy = client.get(reverse("sign-in"))["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
