"""Lists begin with the present school year; what is over is folded away or left out."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.programme.actions import folder
from standlight.programme.models import ConcertCycle, SchoolYear
from standlight.programme.queries.folder import folder_page
from standlight.programme.queries.my_part import my_part
from standlight.programme.queries.years import year_begins
from tests.web.scene import publish, sign_in

pytestmark = pytest.mark.django_db

TODAY = datetime.date(2026, 11, 26)


def ago(days):
    return timezone.localdate() - datetime.timedelta(days)


@pytest.fixture
def years(cast):
    """Last year, and the present one that began 80 days ago."""
    for first, last in ((440, 170), (80, -200)):
        SchoolYear.objects.create(
            programme=cast.programme, name=str(first), starts_on=ago(first), ends_on=ago(last)
        )


def test_the_year_that_began_last_is_the_present_one_in_the_holidays_too(cast):
    for starts_on in (datetime.date(2025, 9, 1), datetime.date(2026, 9, 7)):
        SchoolYear.objects.create(
            programme=cast.programme,
            name="x",
            starts_on=starts_on,
            ends_on=starts_on + datetime.timedelta(280),
        )
    assert year_begins(cast.programme.pk, TODAY) == datetime.date(2026, 9, 7)
    assert year_begins(cast.programme.pk, datetime.date(2026, 8, 1)) == datetime.date(2025, 9, 1)
    assert year_begins(cast.programme.pk, datetime.date(2024, 8, 1)) is None
    stranger = cast.outsider_director.programme_id
    assert year_begins(stranger, TODAY) is None


def test_checks_of_an_earlier_year_are_folded_away_beneath_the_present_ones(cast, client, years):
    publish(cast, title="Present", due_in=3)
    publish(cast, title="Past", due_in=-200)
    sign_in(client, cast.director)
    page = client.get(reverse("checks"))
    assert [line.title for line in page.context["checks"]] == ["Present"]
    assert [line.title for line in page.context["earlier"]] == ["Past"]
    words = page.content.decode()
    assert words.index("Present") < words.index("<details>") < words.index("Past")


def test_without_school_years_every_check_is_of_the_present(cast, client):
    publish(cast, title="Past", due_in=-200)
    sign_in(client, cast.director)
    page = client.get(reverse("checks"))
    assert [line.title for line in page.context["checks"]] == ["Past"]
    assert page.context["earlier"] == []


def test_a_musicians_page_leaves_out_what_an_earlier_year_asked(cast, years):
    publish(cast, title="Past", due_in=-200)
    present = publish(cast, title="Present", due_in=3)
    page = my_part(cast.musician.account)
    assert page.next.pk == present.pk
    assert (page.also_open, page.back, page.year) == ((), (), ())


def test_the_folder_keeps_last_years_cycles_apart(cast, years):
    old = ConcertCycle.objects.create(
        ensemble=cast.band, name="Spring", starts_on=ago(300), concert_on=ago(200)
    )
    folder.add_paper_piece(cast.director, cast.band, title="March", cycle=old)
    band = next(one for one in folder_page(cast.director).ensembles if one.pk == cast.band.pk)
    assert [cycle.name for cycle in band.cycles] == ["Winter concert"]
    assert [(c.name, [p.title for p in c.pieces]) for c in band.earlier] == [("Spring", ["March"])]
