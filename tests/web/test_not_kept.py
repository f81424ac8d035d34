"""No page of somebody signed in stays in a browser for who sits down next."""

import pytest
from django.urls import reverse

from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("place", ["today", "musicians", "folder", "desk", "marks", "rehearse"])
def test_a_directors_page_is_kept_by_no_browser(client, cast, place):
    answer = sign_in(client, cast.director).get(reverse(place), follow=True)
    assert answer.status_code == 200
    assert "no-store" in answer["Cache-Control"]


def test_a_page_before_the_sign_in_is_left_as_it_is(client, cast):
    assert "private, no-store" not in client.get(reverse("sign-in")).get("Cache-Control", "")


def test_what_a_view_says_of_itself_stands(client, cast):
    answer = sign_in(client, cast.musician.account).get(reverse("my-part"))
    assert "no-store" in answer["Cache-Control"] and "must-revalidate" in answer["Cache-Control"]
