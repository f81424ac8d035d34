"""The Desk's pages: who may open and post, and the way through without scripts."""

import pytest
from django.urls import reverse

from standlight.programme.actions.desk import keep_line, rate
from standlight.programme.models import Answer, CommentLine, GivenLevel, Remark, Turn
from tests.programme.desk_scene import ALL_THREE, more_clarinets, read, send
from tests.web.scene import of_turn, sign_in

pytestmark = pytest.mark.django_db


def levels(**given):
    return {f"level-{criterion}": value for criterion, value in given.items()}


def shut_out(cast):
    """Everyone but the band's two directors."""
    return (
        cast.musician.account,
        cast.second_musician.account,
        cast.singer.account,
        cast.outsider_musician.account,
        cast.outsider_director,
    )


def pages(turn, line):
    check = turn.check_row_id
    return [
        ("get", of_turn("desk-turn", turn)),
        ("get", reverse("desk-check", args=[check])),
        ("get", reverse("desk-list", args=[check])),
        ("post", of_turn("desk-levels", turn)),
        ("post", of_turn("desk-answer", turn)),
        ("post", of_turn("desk-remark", turn)),
        ("get", reverse("desk-line", args=[line.pk])),
        ("post", reverse("desk-line", args=[line.pk])),
    ]


def bank_line(cast):
    return keep_line(
        cast.director, criterion="intonation", place="next_step", level=2, text="Match the drone"
    )


def test_every_page_and_post_is_shut_to_others_and_asks_the_signed_out_to_sign_in(
    client, cast, turn
):
    line = bank_line(cast)
    for method, address in pages(turn, line):
        client.logout()
        answer = getattr(client, method)(address)
        assert answer.status_code == 302, address
        assert answer.url.startswith(reverse("sign-in")), address
        for account in shut_out(cast):
            sign_in(client, account)
            assert getattr(client, method)(address).status_code == 404, (account, address)
    assert not GivenLevel.objects.exists()
    assert CommentLine.objects.count() == 1


def test_both_directors_of_the_band_may_open_every_page(client, cast, turn):
    line = bank_line(cast)
    for account in (cast.director, cast.second_director):
        sign_in(client, account)
        for method, address in pages(turn, line):
            if method == "get":
                assert client.get(address, follow=True).status_code == 200, address
        for name in ("desk", "desk-lines"):
            assert client.get(reverse(name), follow=True).status_code == 200


def test_the_places_without_a_row_are_for_directors_only(client, cast):
    for name in ("desk", "desk-lines"):
        client.logout()
        assert client.get(reverse(name)).status_code == 302
        sign_in(client, cast.musician.account)
        assert client.get(reverse(name)).status_code == 404
        assert client.post(reverse(name)).status_code in (404, 405)
        sign_in(client, cast.outsider_director)
        assert "Lamp Tune" not in client.get(reverse(name), follow=True).content.decode()


def test_a_turn_under_another_checks_address_is_not_found(client, cast, turn):
    sign_in(client, cast.director)
    elsewhere = reverse("desk-turn", args=[turn.check_row_id + 1, turn.pk])
    assert client.get(elsewhere).status_code == 404


def test_an_unsent_turn_is_not_found(client, cast, scene):
    unsent = Turn.objects.create(check_row=scene.check, musician=cast.musician)
    sign_in(client, cast.director)
    assert client.get(of_turn("desk-turn", unsent)).status_code == 404


def test_the_whole_way_without_scripts_from_the_desk_to_the_next_take(client, cast, scene, turn):
    bank_line(cast)
    following = send(scene, cast.second_musician)
    sign_in(client, cast.director)
    first = client.get(reverse("desk"), follow=True)
    assert first.redirect_chain[-1][0] == of_turn("desk-turn", turn)
    assert "#t=1.3" in first.content.decode()
    saved = client.post(of_turn("desk-levels", turn), levels(**ALL_THREE), follow=True)
    assert "Your levels" in saved.content.decode()
    line = CommentLine.objects.get()
    filled = client.post(of_turn("desk-answer", turn), {"use": line.pk}).content.decode()
    assert 'value="Match the drone"' in filled
    assert not Answer.objects.exists()
    sent = client.post(
        of_turn("desk-answer", turn),
        {"next_step": "Match the drone", "first_measure": "1", "last_measure": "2"},
    )
    assert sent.url.split("?")[0] == of_turn("desk-turn", following)
    kept = Answer.objects.get()
    assert (kept.first_measure, kept.last_measure, kept.written_by) == (1, 2, cast.director)


def test_after_the_last_take_the_list_says_that_all_is_answered(client, cast, scene, turn):
    sign_in(client, cast.director)
    client.post(of_turn("desk-levels", turn), levels(**ALL_THREE))
    answer = client.post(of_turn("desk-answer", turn), {"next_step": "Count"}, follow=True)
    assert answer.redirect_chain[-1][0] == reverse("desk-list", args=[scene.check.pk])
    assert "Everything that was sent here is answered." in answer.content.decode()


def test_levels_half_given_are_kept_and_the_open_ones_named(client, cast, turn):
    sign_in(client, cast.director)
    page = client.post(of_turn("desk-levels", turn), levels(rhythm="3")).content.decode()
    assert "No level yet: Intonation, Notes. What you gave is kept." in page
    assert GivenLevel.objects.get().criterion == "rhythm"
    assert "Your levels" not in page


def test_a_level_that_is_none_comes_back_with_a_sentence(client, cast, turn):
    sign_in(client, cast.director)
    page = client.post(of_turn("desk-levels", turn), levels(rhythm="0")).content.decode()
    assert "is not between 1 and 4" in page
    assert not GivenLevel.objects.exists()


def test_an_answer_without_a_next_step_comes_back_with_what_was_written(client, cast, turn):
    rate(cast.director, turn, ALL_THREE)
    sign_in(client, cast.director)
    page = client.post(of_turn("desk-answer", turn), {"next_step": "", "strength": "Warm sound"})
    assert "an answer needs a next step" in page.content.decode()
    assert 'value="Warm sound"' in page.content.decode()
    turn.refresh_from_db()
    assert turn.answered_at is None


def test_a_next_step_can_be_kept_in_the_bank_for_the_lowest_level(client, cast, turn):
    rate(cast.director, turn, ALL_THREE)
    sign_in(client, cast.director)
    client.post(of_turn("desk-answer", turn), {"next_step": "Hum it first", "keep_line": "yes"})
    line = CommentLine.objects.get()
    assert (line.criterion, line.level, line.text) == ("intonation", 2, "Hum it first")


def test_a_remark_on_measures_is_kept_and_measures_without_one_are_asked_for(client, cast, turn):
    rate(cast.director, turn, ALL_THREE)
    sign_in(client, cast.director)
    page = client.post(of_turn("desk-remark", turn), {"words": "Rushed"}).content.decode()
    assert "a remark needs its measures" in page
    client.post(of_turn("desk-remark", turn), {"words": "Rushed", "first_measure": "1"})
    kept = Remark.objects.get()
    assert (kept.first_measure, kept.last_measure, kept.author) == (1, 1, cast.director)


def test_an_answered_turn_can_be_opened_and_rated_again(client, cast, turn):
    read(turn)
    sign_in(client, cast.director)
    client.post(of_turn("desk-levels", turn), levels(**ALL_THREE))
    client.post(of_turn("desk-answer", turn), {"next_step": "Count"})
    client.post(of_turn("desk-levels", turn), levels(**{**ALL_THREE, "notes": "1"}))
    changed = GivenLevel.objects.get(criterion="notes", retired_at__isnull=True)
    assert (changed.value, changed.after_readings) == ("1", True)
    assert "Send changed answer" in client.get(of_turn("desk-turn", turn)).content.decode()


def test_a_take_made_by_machine_says_so(client, cast, turn):
    turn.takes.update(made_by_machine=True)
    sign_in(client, cast.director)
    assert "Made by machine" in client.get(of_turn("desk-turn", turn)).content.decode()


def test_the_page_holds_no_inline_script_and_no_inline_style(client, cast, turn):
    rate(cast.director, turn, ALL_THREE)
    sign_in(client, cast.director)
    text = client.get(of_turn("desk-turn", turn)).content.decode()
    assert " style=" not in text
    assert "<style" not in text
    assert all("src=" in tag for tag in text.split("<script")[1:])
    assert "onclick" not in text


def test_the_list_shows_everyone_by_section_with_their_state(client, cast, scene, turn):
    more_clarinets(scene, 1)
    sign_in(client, cast.director)
    text = client.get(reverse("desk-list", args=[scene.check.pk])).content.decode()
    assert text.index("<h2>Clarinet</h2>") < text.index("<h2>Percussion</h2>")
    assert "waiting for you" in text
    assert "not sent yet" in text


def test_lines_are_added_changed_and_taken_out(client, cast):
    sign_in(client, cast.director)
    fields = {"criterion": "rhythm", "place": "next_step", "level": "2", "text": "Count aloud"}
    client.post(reverse("desk-lines"), fields)
    line = CommentLine.objects.get()
    client.post(reverse("desk-line", args=[line.pk]), {**fields, "level": "", "text": "Tap it"})
    line.refresh_from_db()
    assert (line.text, line.level) == ("Tap it", None)
    slip = client.post(reverse("desk-lines"), {**fields, "text": " "}).content.decode()
    assert "a comment line needs words" in slip
    client.post(reverse("desk-line", args=[line.pk]), {"drop": "yes"})
    assert not CommentLine.objects.exists()


def test_readings_before_rating_is_a_choice_of_each_director(client, cast):
    sign_in(client, cast.director)
    client.post(reverse("desk-lines"), {"prefer": "yes", "first": "yes"})
    cast.director.refresh_from_db()
    cast.second_director.refresh_from_db()
    assert (cast.director.readings_before_rating, cast.second_director.readings_before_rating) == (
        True, False,
    )


def test_a_passage_on_paper_says_beforehand_that_it_is_rated_by_ear(client, cast, scene):
    paper = send(scene, cast.second_musician)
    sign_in(client, cast.director)
    text = client.get(of_turn("desk-turn", paper)).content.decode()
    assert "By ear only: there will be no readings here." in text
    assert "appear once the levels are saved" not in text
