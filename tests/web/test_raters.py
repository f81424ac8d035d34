"""Raters: own findings and those that involve the reader, in words, with what would answer them."""

import html as markup
import re

import pytest
from django.urls import reverse

from standlight.programme.models import GivenLevel
from standlight.ratings.figures import FIGURES
from standlight.ratings.joining import Join
from standlight.ratings.severity import RaterContrast
from standlight.ratings.statements import Refusal, Statement
from standlight.ratings.steadiness import CommonDrift, Drift, Steadiness
from tests.programme.desk_scene import more_clarinets, send
from tests.programme.study_scene import make_study, task
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db

PAGES = ("raters", "raters-tasks", "raters-twice")
JARGON = re.compile(r"logit|theta|[α-ω]|p-value|\bnan\b|\bNone\b(?! of)|standard error", re.I)


def rate_all(scene, *raters, levels=(2, 3, 4, 3, 2, 3)):
    """Clarinettists with takes that these people gave levels for, turn about where several."""
    turns = []
    for number, (person, level) in enumerate(zip(more_clarinets(scene, 6), levels, strict=True)):
        turn = send(scene, person)
        for criterion in ("rhythm", "intonation"):
            GivenLevel.objects.create(
                turn=turn, criterion=criterion, value=str(level),
                rater=raters[number % len(raters)],
            )  # fmt: skip
        turns.append(turn)
    return turns


def said_on(client, account, name):
    answer = sign_in(client, account).get(reverse(name))
    assert answer.status_code == 200
    html = answer.content.decode()
    assert "style=" not in html and "<style" not in html
    place = html.split('id="place">')[1]
    words = re.sub(r"\s+", " ", markup.unescape(re.sub(r"<[^>]+>", " ", place)))
    assert not JARGON.search(words)
    return html, words


def key(account):
    return f"a{account.pk}"


def steady(account, n_same=20):
    drift = Drift(9, because="too_few")
    return Steadiness(
        key(account), 27, 9, n_same, 26, 0.1, -0.1, 0.3, False, "", drift, drift
    )  # fmt: skip


def whole_study(cast, scene):
    pair = (key(cast.director), key(cast.second_director))
    return make_study(
        cast.programme,
        statements=(
            Statement("stricter", pair, "rhythm", 0.34, 0.1, 0.6, 9),
            Statement("one_impression", (key(cast.second_director),), "", 0.5, 0.2, 0.8, 66),
            Statement(
                "grew_less", (f"s{cast.clarinets.pk}", f"e{cast.band.pk}"), "", -0.5, -0.8, -0.2,
                12, 2.5, 80.5,
            ),
            Statement(
                "grew_less", (f"s{cast.sopranos.pk}", f"e{cast.choir.pk}"), "", -0.3, -0.6, -0.1, 9
            ),
        ),
        refusals=(
            Refusal("no_anchor", (f"e{cast.band.pk}",), 0.4, "ask_again", f"c{scene.check.pk}"),
            Refusal(
                "groups_not_comparable", (f"e{cast.band.pk}", f"e{cast.choir.pk}"), 0.5,
                "same_passage",
            ),
        ),
        contrasts=(
            RaterContrast(*pair, "", 9, 0.05, -0.2, 0.3),
            RaterContrast(*pair, "rhythm", 9, 0.34, 0.1, 0.6, sure=True),
        ),
        steadiness=(steady(cast.director), steady(cast.second_director, 11)),
        tasks=(task(scene.check),),
    )  # fmt: skip


def test_the_pages_are_for_directors_and_nobody_else(client, cast, scene):
    rate_all(scene, cast.director, cast.second_director)
    whole_study(cast, scene)
    for name in PAGES:
        for account in (cast.musician.account, cast.singer.account):
            assert sign_in(client, account).get(reverse(name)).status_code == 404
        for account in (cast.director, cast.second_director):
            assert sign_in(client, account).get(reverse(name)).status_code == 200
        client.logout()
        assert client.get(reverse(name)).status_code == 302


def test_another_school_sees_nothing_of_it(client, cast, scene):
    rate_all(scene, cast.director, cast.second_director)
    whole_study(cast, scene)
    for name in PAGES[:2]:
        html, words = said_on(client, cast.outsider_director, name)
        assert "Nothing has been worked out yet" in words and "Lamp Tune" not in html
    sign_in(client, cast.outsider_director)
    assert client.get(reverse("raters-twice")).status_code == 404


def test_before_any_study_it_says_what_makes_one(client, cast):
    _, words = said_on(client, cast.director, "raters")
    assert "Give levels at the Desk" in words and "How alike are we" not in words


def test_the_lead_reads_all_and_a_director_what_involves_them(client, cast, scene):
    rate_all(scene, cast.director, cast.second_director)
    whole_study(cast, scene)
    _, words = said_on(client, cast.director, "raters")
    assert "On rhythm, you are about a third of a level stricter than Ruben Asher" in words
    assert "Ruben Asher's levels for the criteria" in words
    assert "grew less than the rest of the group from Sep 3 to Nov 20, by about half" in words
    assert "Clarinet, Concert Band: grew less" in words and "Soprano, Mixed Choir" in words
    assert "You heard 9 takes again" in words and "Ruben Asher heard 9 takes again" in words
    assert "Concert Band plays or sings about half a level better than Mixed Choir" in words
    _, words = said_on(client, cast.second_director, "raters")
    assert "On rhythm, Dana Whitlock is about a third of a level stricter than you" in words
    assert "Your levels for the criteria" in words
    assert "Clarinet, Concert Band: grew less" in words and "Mixed Choir" not in words
    assert "11 of 27" in words and "20 of 27" not in words


def test_a_difference_among_what_the_levels_say_is_below_only_a_picture_with_a_label(
    client, cast, scene
):
    rate_all(scene, cast.director, cast.second_director)
    whole_study(cast, scene)
    html, _ = said_on(client, cast.director, "raters")
    says, alike = html.split('id="alike"')
    label = "<p>On rhythm: see What the levels say.</p>"
    assert markup.unescape(says).count("On rhythm, you are about a third of a level stricter") > 0
    assert alike.count(label) == 1 and label not in says
    after = alike.split(label)[1].split("</li>")[0]
    assert after.count('<svg class="interval"') == 1 and "<details" not in after
    # What is not said above keeps its sentence, and how it is known.
    assert re.search(r"<p>Over all criteria you are [^<]*could be chance\)\.</p>", alike)
    assert "/figures/#comparable" in alike


def test_a_refused_claim_has_the_act_that_answers_it_and_its_definition(client, cast, scene):
    rate_all(scene, cast.director)
    whole_study(cast, scene)
    html, words = said_on(client, cast.director, "raters")
    assert "Since Lamp Tune check, Concert Band got better by about a third of a level." in words
    assert reverse("check", args=[scene.check.pk]) in html and "Ask this passage again" in words
    for name in re.findall(r"/figures/#(\w+)", html):
        assert name in FIGURES


def test_two_who_cannot_be_compared_read_what_to_hear_of_each_others(client, cast, scene):
    turns = rate_all(scene, cast.director, cast.second_director)
    pair = (key(cast.director), key(cast.second_director))
    own = [f"t{turn.pk}" for turn in turns if turn.levels.first().rater == cast.director]
    where = (f"e{cast.band.pk}", f"s{cast.clarinets.pk}", "Clarinet in Bb", "")
    make_study(
        cast.programme,
        refusals=(
            Refusal("raters_not_comparable", pair, -0.4, "rate_common_takes", takes=tuple(own)),
        ),
        contrasts=(RaterContrast(*pair, "", 0, comparable=False, because="not_comparable"),),
        joins=(Join(pair[1], pair[0], *where, 3, tuple(own)),),
    )  # fmt: skip
    html, words = said_on(client, cast.second_director, "raters")
    assert "Dana Whitlock is about a third of a level stricter than you." in words
    asked = "You hear 3 takes of Clarinet, Concert Band that Dana Whitlock has rated."
    assert words.count(asked) == 2
    assert all(f"/desk/{scene.check.pk}/{take[1:]}/" in html for take in own)
    html, words = said_on(client, cast.director, "raters")
    assert "Ruben Asher hears 3 takes of Clarinet, Concert Band that you have rated." in words
    assert "/desk/" not in html.split('id="place">')[1]


def test_the_last_month_and_how_two_moved_stand_where_a_second_person_rates(client, cast, scene):
    rate_all(scene, cast.director, cast.second_director)
    pair = (key(cast.director), key(cast.second_director))
    make_study(
        cast.programme,
        contrasts=(RaterContrast(*pair, "", 20, 0.05, -0.2, 0.3),),
        month=(RaterContrast(*pair, "", 5, 0.6, 0.2, 1.0, sure=True),
               RaterContrast(*pair, "rhythm", 5, 0.6, 0.2, 1.0, sure=True)),
        drifts=(CommonDrift(*pair, Drift(14, 0.1, 0.02, 0.2, True)),),
    )  # fmt: skip
    _, words = said_on(client, cast.second_director, "raters")
    # Once as a sentence and once as the name of its picture; not again for a criterion.
    assert words.count("In the last month of levels you are") == 2 and "rhythm" not in words
    assert "takes you both heard: about a tenth of a level milder a month" in words
    GivenLevel.objects.filter(rater=cast.second_director).delete()
    _, words = said_on(client, cast.director, "raters")
    assert "last month" not in words and "both heard" not in words


def test_one_adult_alone_reads_nothing_about_a_second_one(client, cast, scene):
    rate_all(scene, cast.director)
    make_study(
        cast.programme, steadiness=(steady(cast.director),), tasks=(task(scene.check),),
        remarks=("one_rater",),
    )  # fmt: skip
    html, words = said_on(client, cast.director, "raters")
    assert "How alike are we" not in words and reverse("raters-twice") not in html
    assert "How steady is my ear" in words and "20 of 27" in words
    assert "if your own standard moves" in words
    assert client.get(reverse("raters-twice")).status_code == 404


def test_who_was_heard_twice_by_nobody_reads_how_it_will_be_known(client, cast, scene):
    rate_all(scene, cast.director)
    make_study(cast.programme)
    _, words = said_on(client, cast.director, "raters")
    assert "come back to you now and then" in words


def test_each_task_tells_what_it_was_worth(client, cast, scene):
    make_study(
        cast.programme,
        tasks=(task(scene.check), task(scene.check, tells="", remarks=("few_takes", "no_minutes"),
                                       hardness_points=None, low=None, high=None, added=None)),
    )  # fmt: skip
    html, words = said_on(client, cast.director, "raters-tasks")
    assert "Harder than the others: the same musicians get about a third of a level less" in words
    assert "Nobody got Beginning." in words and "little for its takes: 12 in" in words
    assert "12 in 100 of all that the tasks told, with 50 in 100 of the takes." in words
    assert "Too few takes" in words and "minutes" not in words
    assert "1 other task Nothing stands out here" in words
    assert html.count("<rect") == 4 and "Lamp Tune check: Beginning 0, Developing 6" in html


def test_takes_to_hear_twice_are_told_to_who_should_hear_them(client, cast, scene):
    turns = rate_all(scene, cast.director, cast.second_director)
    rate_all(scene, cast.second_director, cast.director)
    html, words = said_on(client, cast.director, "raters-twice")
    mine = html.split("For you to hear")[1].split("</section>")[0]
    own = {turn.pk for turn in turns if turn.levels.first().rater == cast.director}
    linked = {int(pk) for pk in re.findall(rf"/desk/{scene.check.pk}/(\d+)/", mine)}
    assert linked and not linked & own
    assert "For Ruben Asher to hear" in words
    few = sign_in(client, cast.director).get(reverse("raters-twice"), {"minutes": "1"})
    assert few.content.decode().count("<li>") < html.count("<li>")
    for odd in ("abc", "-3", "99999999999999999999", ""):
        answer = client.get(reverse("raters-twice"), {"minutes": odd})
        assert answer.status_code == 200


def test_every_figure_is_defined_on_its_page_for_whoever_is_signed_in(client, cast):
    page = reverse("figures")
    assert client.get(page).status_code == 302
    for account in (cast.director, cast.musician.account):
        html = sign_in(client, account).get(page).content.decode()
        assert all(f'id="{name}"' in html for name in FIGURES)


def test_raters_stands_in_the_spine_and_for_a_phone_at_the_foot_of_every_page(client, cast):
    html = sign_in(client, cast.director).get(reverse("musicians")).content.decode()
    spine, foot = html.split('aria-label="More places"')
    raters = f'href="{reverse("raters")}"'
    assert spine.count(raters) == foot.count(raters) == 1
    assert 'action="/sign-out/"' in foot
