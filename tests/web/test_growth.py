"""Growth on the pages of directors and musicians: each sees what is theirs, in words first."""

import re

import pytest
from django.urls import reverse

from standlight.kinds import reading_grade
from standlight.programme.models import GivenLevel
from tests.programme.desk_scene import make_scene, send
from tests.programme.study_scene import grow, line, make_study, own_view
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def study(cast):
    return make_study(cast.programme)


def said_on(client, account, address):
    answer = sign_in(client, account).get(address)
    assert answer.status_code == 200
    text = answer.content.decode()
    assert "style=" not in text and "<style" not in text
    return text


def words_of(html):
    """What is read: the place without markup, pictures' own words left out."""
    place = html.split('id="place">')[1].split("<footer")[0]
    place = re.sub(r"<svg.*?</svg>", " ", place, flags=re.S)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", place))


def test_a_musicians_page_tells_growth_in_words_with_a_picture_and_its_definition(
    client, cast, study
):
    grow(
        study, cast.musician, cast.band,
        line(cast.musician, 2, 2.5, 3), line(cast.musician, 2, 2, 3, criterion="rhythm"),
        line(cast.musician, 2, 3, 2, criterion="intonation", state="could_be_chance"),
    )  # fmt: skip
    html = said_on(client, cast.director, reverse("musician", args=[cast.musician.pk]))
    said = words_of(html)
    assert "Rising: about a third of a level up from Sep 1 to Oct 31" in said
    assert "could be chance" in said and "As of Nov 26" in said
    assert html.count("<svg class=\"growth-picture\"") == 3
    assert "/figures/#growth" in html


def test_no_growth_yet_says_where_it_comes_from(client, cast):
    page = reverse("musician", args=[cast.musician.pk])
    assert "No growth yet" in said_on(client, cast.director, page)
    assert "nothing here yet" in said_on(client, cast.musician.account, reverse("my-growth"))


def test_lines_are_not_joined_across_a_change_of_instrument(client, cast, study):
    grow(
        study, cast.musician, cast.band, line(cast.musician, 2, 3, 3),
        line(cast.musician, 1, 2, 2, instrument="Oboe", start=120.5, state="too_few",
             pooled=None, unpooled=None, change=None, because="few_occasions"),
    )  # fmt: skip
    for account, page in (
        (cast.director, reverse("musician", args=[cast.musician.pk])),
        (cast.musician.account, reverse("my-growth")),
    ):
        html = said_on(client, account, page)
        assert html.count('class="break"') == 1
        assert html.count('class="leaning"') == 1
        assert "Too few" in words_of(html) and "chang" in words_of(html)


def test_a_small_mark_stands_beside_names_and_goes_when_names_are_hidden(client, cast, study):
    grow(study, cast.musician, cast.band, line(cast.musician, 2, 2.5, 3))
    grow(
        study, cast.second_musician, cast.band,
        line(cast.second_musician, 2, state="too_few", pooled=None, unpooled=None, change=None,
             because="few_occasions"),
    )  # fmt: skip
    html = said_on(client, cast.director, reverse("musicians"))
    assert html.count('<svg class="slope') == 1
    assert html.split('<svg class="slope')[0].rsplit("<li>", 1)[1].count("Mina Okafor") == 1
    assert "As of Nov 26" in html
    assert '<svg class="slope' not in said_on(client, cast.director, "/musicians/?names=hidden")


def test_growth_of_other_groups_and_other_schools_is_not_seen(client, cast, study):
    grow(study, cast.singer, cast.choir, line(cast.singer, 2, 2.5, 3))
    page = reverse("musician", args=[cast.singer.pk])
    for account in (cast.second_director, cast.outsider_director, cast.musician.account):
        assert sign_in(client, account).get(page).status_code == 404
    assert '<svg class="slope' not in said_on(client, cast.second_director, reverse("musicians"))
    for account in (cast.director, cast.outsider_director):
        assert sign_in(client, account).get(reverse("my-growth")).status_code == 404
    for person in (cast.musician, cast.outsider_musician):
        assert "<svg" not in said_on(client, person.account, reverse("my-growth"))


def test_my_growth_is_linked_and_speaks_of_nobody_else_at_grade_six(client, cast, study):
    scene = make_scene(cast)
    for attempt, (own, given) in enumerate([(4, 3), (3, 2), (3, 3), (4, 2), (4, 3), (2, 3)], 1):
        turn = send(scene, cast.musician, attempt=attempt, self_levels={"rhythm": own})
        turn.answered_at = turn.sent_at
        turn.save()
        GivenLevel.objects.create(
            turn=turn, criterion="rhythm", value=str(given), rater=cast.director
        )
    grow(
        study, cast.musician, cast.band,
        line(cast.musician, 2, 2.5, 3), line(cast.musician, 2, 2, 3, criterion="rhythm"),
        line(cast.musician, 2, 3, 2, criterion="intonation", state="ahead", anchored=False,
             because="no_anchor"),
        self_views=[own_view(cast.musician, "kinder")],
    )  # fmt: skip
    assert reverse("my-growth") in said_on(client, cast.musician.account, reverse("my-part"))
    html = said_on(client, cast.musician.account, reverse("my-growth"))
    said = words_of(html)
    assert "You rated yourself 6 times. You were kinder than your director 4 times" in said
    assert "you are kinder to yourself than your director is" in said
    assert not any(word in said.lower() for word in ("group", "others", "section", "everyone"))
    assert cast.second_musician.given_name not in html
    # the line of what stands beside others is not drawn, its marks are
    assert html.count('class="leaning"') == 2 and html.count("<svg class=\"growth-picture\"") == 3
    sentences = [one for one in re.findall(r"<p>(.*?)</p>", html, flags=re.S) if "<a" not in one]
    told = "\n".join(re.sub(r"<svg.*?</svg>|<[^>]+>", " ", one, flags=re.S) for one in sentences)
    assert len(sentences) > 6
    assert reading_grade(told).grade <= 6.0


def test_an_unanswered_take_adds_nothing_to_what_a_musician_reads(client, cast, study):
    scene = make_scene(cast)
    turn = send(scene, cast.musician, self_levels={"rhythm": 4})
    GivenLevel.objects.create(turn=turn, criterion="rhythm", value="2", rater=cast.director)
    grow(study, cast.musician, cast.band, line(cast.musician, 2, 2, 3, criterion="rhythm"))
    assert "kinder" not in said_on(client, cast.musician.account, reverse("my-growth"))


def test_a_line_that_rests_on_an_unanswered_take_is_not_drawn_and_the_page_says_why(
    client, cast, study
):
    turn = send(make_scene(cast), cast.musician)
    grow(
        study, cast.musician, cast.band,
        line(cast.musician, 2, 2, 3, criterion="rhythm", first_take=turn.pk - 2),
        line(cast.musician, 2, 2, 3, criterion="tone", first_take=turn.pk + 1),
    )  # fmt: skip
    html = said_on(client, cast.musician.account, reverse("my-growth"))
    assert words_of(html).count("Not all your takes are answered yet") == 1
    assert words_of(html).count("You are going up") == 1
    assert html.count('class="leaning"') == 1 and html.count("<svg class=\"growth-picture\"") == 2
    page = reverse("musician", args=[cast.musician.pk])
    assert words_of(said_on(client, cast.director, page)).count("Rising") == 2
