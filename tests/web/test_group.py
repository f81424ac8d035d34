"""The whole group's page: for the group's directors, without names, linked from the list."""

import pytest
from django.urls import reverse

from standlight.programme.actions.desk import rate
from tests.programme.desk_scene import ALL_THREE, make_scene, more_clarinets, note, read, send
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(cast):
    return make_scene(cast, notation=True)


@pytest.fixture
def address(scene):
    return reverse("desk-group", args=[scene.check.pk])


def test_it_is_for_the_groups_directors_and_nobody_else(client, cast, address):
    for account in (cast.musician.account, cast.singer.account, cast.outsider_director):
        sign_in(client, account)
        assert client.get(address).status_code == 404
    for account in (cast.director, cast.second_director):
        sign_in(client, account)
        assert client.get(address).status_code == 200
    client.logout()
    assert client.get(address).status_code in (302, 404)


def test_before_any_level_it_says_what_to_do(client, cast, scene, address):
    read(send(scene, cast.musician), notes=[note(0, outcome="missing")])
    sign_in(client, cast.director)
    said = client.get(address).content.decode()
    assert "Counted from 0 takes" in said and "1 still waits for your ear" in said
    assert "missing" not in said.split("Give levels at the")[1].split("</p>")[0]
    assert "<table" not in said


def test_counts_and_their_words_stand_on_it_and_no_name(client, cast, scene, address):
    people = more_clarinets(scene, 4)
    for person in people:
        turn = send(scene, person)
        read(turn, notes=[note(index, outcome="missing" if index == 4 else "played")
                          for index in range(11)])  # fmt: skip
        rate(cast.director, turn, ALL_THREE)
    sign_in(client, cast.director)
    said = client.get(address).content.decode()
    assert "notes in 4 of 4 takes (likely 51 to 100 percent)" in said
    assert "measure 2: 4 of 4" in said and "not levels" in said
    assert not any(person.given_name in said for person in people)
    for slip in ("style=", "<style", "onclick="):
        assert slip not in said


def test_the_list_of_the_check_leads_there(client, cast, scene, address):
    sign_in(client, cast.director)
    assert address in client.get(reverse("desk-list", args=[scene.check.pk])).content.decode()


def test_it_says_which_criteria_are_read_as_a_whole_only_when_they_are_asked(
    client, cast, scene, address
):
    for person in more_clarinets(scene, 3):
        turn = send(scene, person)
        read(turn, notes=[note(index) for index in range(11)])
        rate(cast.director, turn, ALL_THREE)
    sign_in(client, cast.director)
    said = client.get(address).content.decode()
    assert "Read as a whole" not in said and "names up to three places" not in said
    assert "<strong>Intonation:</strong> a note surely 25 cents or more from" in said
    assert "a start after a stop" not in said  # pulse is not asked
    scene.check.criteria = ["dynamics", "pulse", "tone"]
    scene.check.save()
    for turn in scene.check.turns.all():
        rate(cast.director, turn, {"dynamics": "2", "pulse": "3", "tone": "3"})
    said = client.get(address).content.decode()
    assert "Read as a whole, take by take, so not counted by measure: Dynamics." in said
    assert '<th scope="row">Steady pulse</th>' in said and "Dynamics</th>" not in said
    assert "a start after a stop" in said


def test_sections_with_too_few_takes_are_told_in_one_line(client, cast, scene, address):
    for person in more_clarinets(scene, 2):
        turn = send(scene, person)
        read(turn, notes=[note(index, asynchrony_ms=90.0) for index in range(11)])
        rate(cast.director, turn, ALL_THREE)
    sign_in(client, cast.director)
    said = client.get(address).content.decode()
    assert "Too few takes to say (3 are needed): Clarinet (2 takes)." in said
    # two takes may well be troubled alike: nothing was counted, so nothing is denied
    assert "No measure troubles" not in said and "<table" not in said


def test_who_has_given_every_level_is_not_asked_for_levels(client, cast, scene, address):
    turn = send(scene, cast.musician)
    rate(cast.director, turn, ALL_THREE)
    sign_in(client, cast.director)
    said = client.get(address).content.decode()
    assert "1 has no readings of this passage (not yet, or no longer)" in said
    assert "Give levels at the" not in said
