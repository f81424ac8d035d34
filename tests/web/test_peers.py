"""The pages of hearing each other: the question, the take, the words, and who opens what."""

import datetime
import re

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.programme.actions.desk import rate
from standlight.programme.actions.peers import (
    PeerSaid,
    close_round,
    decide,
    hand_next,
    say_consent,
    send_hearing,
)
from standlight.programme.models import (
    PeerConsent,
    PeerHearing,
    PeerLevel,
    PeerLine,
    PeerRound,
    Remark,
)
from tests.programme.desk_scene import ALL_THREE
from tests.programme.peers_scene import LEVELS, ask, hears, make_people, make_round, plays
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db

FORM = {
    **{f"level-{key}": value for key, value in LEVELS.items()},
    "well": "The long note rings", "first": "1", "last": "", "to_try": "", "seen": "",
}  # fmt: skip


def shown(client, name, *keys):
    reply = client.get(reverse(name, args=keys))
    assert reply.status_code == 200
    return reply.content.decode()


def terms_of(page):
    """The stamp of what a page asks."""
    return re.search(r'name="terms" value="([^"]+)"', page)[1]


# --- the musician --------------------------------------------------------------------------------


def test_a_musician_is_asked_on_my_part_and_says_yes(client, cast):
    scene, people = make_people(cast)
    ask(scene)
    sign_in(client, people[0].account)
    assert "May others hear your take?" in shown(client, "my-part")
    page = shown(client, "my-hear", scene.check.pk)
    assert "Yes, others in my group may hear this take, without my name" in page
    assert "You may say no, and nobody is told." in page
    form = reverse("my-hear-consent", args=[scene.check.pk])
    yes = {"may_hear": "yes", "terms": terms_of(page)}
    page = client.post(form, yes, follow=True).content.decode()
    assert "It begins when your director opens it." in page
    assert PeerConsent.objects.get().said_yes
    assert "May others hear" not in shown(client, "my-part")
    client.post(form, {"may_hear": "no"})
    assert not PeerConsent.objects.get().said_yes


def test_the_consent_says_so_where_a_directors_level_is_shown_afterwards(client, cast):
    scene, people = make_people(cast)
    ask(scene)
    sign_in(client, people[0].account)
    told = "also see the level your director gave"
    assert told not in shown(client, "my-hear", scene.check.pk)
    ask(scene, shows_levels=True)
    assert told in shown(client, "my-hear", scene.check.pk)


def test_what_is_asked_anew_meanwhile_is_read_before_a_yes_counts(client, cast):
    scene, people = make_people(cast)
    ask(scene)
    sign_in(client, people[0].account)
    old = terms_of(shown(client, "my-hear", scene.check.pk))
    ask(scene, shows_levels=True)
    form = reverse("my-hear-consent", args=[scene.check.pk])
    for terms in ({"terms": old}, {}):
        page = client.post(form, {"may_hear": "yes", **terms}, follow=True).content.decode()
        assert "What you are asked has changed since you opened this page." in page
        assert "also see the level your director gave" in page
    assert not PeerConsent.objects.exists()
    client.post(form, {"may_hear": "yes", "terms": terms_of(page)})
    assert PeerConsent.objects.get().said_yes


def test_a_yes_is_taken_back_on_the_page_of_a_round_that_has_ended(client, cast):
    row, people = make_round(cast)
    hears(row, people[0])
    close_round(cast.director, row)
    sign_in(client, people[0].account)
    page = shown(client, "my-hear", row.check_row.pk)
    assert "How your group heard it" in page
    assert "Take my yes back" in page
    form = reverse("my-hear-consent", args=[row.check_row.pk])
    page = client.post(form, {"may_hear": "no"}, follow=True).content.decode()
    assert "Your answer is kept." in page
    assert "You said no. Nobody hears your take." in page
    assert "Take my yes back" not in page
    assert not PeerConsent.objects.get(musician=people[0]).said_yes


def test_who_took_their_yes_back_plays_no_take_they_were_handed(client, cast):
    row, people = make_round(cast, 5)
    hears(row, people[0])
    sign_in(client, people[0].account)
    sound = reverse("my-hear-sound", args=[row.check_row.pk, 1])
    assert client.get(sound).status_code == 200
    form = reverse("my-hear-consent", args=[row.check_row.pk])
    client.post(form, {"may_hear": "no"})
    assert client.get(sound).status_code == 404
    page = shown(client, "my-hear-take", row.check_row.pk, 1)
    assert "You took your yes back, so you hear no takes of others. What you sent is kept." in page
    assert "<audio" not in page


def test_what_was_typed_of_a_take_that_went_unheard_is_refused_and_stays_on_the_page(client, cast):
    row, people = make_round(cast, 5)
    hearing = hand_next(people[0], row)
    say_consent(hearing.turn.musician, row, yes=False)
    sign_in(client, people[0].account)
    reply = client.post(reverse("my-hear-take", args=[row.check_row.pk, 1]), FORM)
    page = reply.content.decode()
    assert reply.status_code == 400
    assert "You have not heard this take, so this is not kept (it is not here any more" in page
    assert "The long note rings</textarea>" in page
    assert not PeerLine.objects.exists()
    assert not PeerLevel.objects.exists()


def test_a_take_is_handed_out_heard_and_sent(client, cast):
    row, people = make_round(cast)
    check = row.check_row.pk
    sign_in(client, people[0].account)
    assert "2 takes to hear. Due" in shown(client, "my-part")
    reply = client.post(reverse("my-hear-next", args=[check]))
    assert reply.url == reverse("my-hear-take", args=[check, 1])
    page = client.get(reply.url).content.decode()
    # Both criteria with each level's own words beside it, and nothing of the third.
    assert page.count('class="descriptor"') == 8
    assert "level-notes" not in page
    sound = client.get(reverse("my-hear-sound", args=[check, 1]), headers={"Range": "bytes=0-9"})
    assert (sound.status_code, len(sound.content)) == (206, 10)
    assert sound["Cache-Control"] == "private, no-store"
    assert PeerHearing.objects.get().heard_at is not None
    page = client.post(reply.url, FORM, follow=True).content.decode()
    assert "Sent. Your director reads it first." in page
    assert "1 heard, 1 to go" in page
    assert dict(PeerLevel.objects.values_list("criterion", "value")) == LEVELS
    line = PeerLine.objects.get()
    assert (line.words, line.first_measure, line.last_measure) == ("The long note rings", 1, 1)


def test_nothing_of_a_musicians_pages_tells_whose_take_it_is_or_who_wrote(client, cast):
    row, people = make_round(cast, 4)
    for one in people:
        turn = one.turns.get()
        turn.words, turn.self_levels = "Secret words of mine", {"rhythm": 4}
        turn.save()
        Remark.objects.create(
            piece=turn.check_row.piece, turn=turn, author=cast.director, first_measure=0,
            last_measure=0, words="A remark of the director",
        )  # fmt: skip
        rate(cast.director, turn, ALL_THREE)
        for _ in range(2):
            hears(row, one)
    decide(cast.director, row, PeerLine.objects.values_list("pk", flat=True), passed=True)
    me, *others = people
    sign_in(client, me.account)
    told = [word for one in others for word in (one.given_name, one.roster_id,
            one.account.sign_in)] + ["Secret words", "A remark"]  # fmt: skip

    def looks():
        check = row.check_row.pk
        for name, keys in (("my-part", []), ("my-hear", [check]), ("my-hear-take", [check, 1])):
            page = shown(client, name, *keys)
            assert not [word for word in told if re.search(rf"\b{re.escape(word)}\b", page)], name

    looks()
    close_round(cast.director, row)
    looks()
    page = shown(client, "my-hear", row.check_row.pk)
    assert "The long note rings" in page
    assert "All who heard it: secure 2" in page


def test_what_is_missing_is_said_with_everything_typed_still_there(client, cast):
    row, people = make_round(cast)
    plays(row, people[0])
    sign_in(client, people[0].account)
    address = reverse("my-hear-take", args=[row.check_row.pk, 1])
    reply = client.post(address, {**FORM, "level-rhythm": "", "to_try": "Breathe"})
    page = reply.content.decode()
    assert reply.status_code == 400
    assert "No level yet: Rhythm." in page
    assert "The long note rings</textarea>" in page
    assert "Breathe</textarea>" in page
    assert '<option value="1" selected>34</option>' in page
    assert re.search(r'name="level-intonation" value="2"[^>]* checked', page)
    assert not PeerLine.objects.exists()


def test_two_windows_are_told_and_the_second_may_send_over_the_first(client, cast):
    row, people = make_round(cast)
    plays(row, people[0])
    sign_in(client, people[0].account)
    address = reverse("my-hear-take", args=[row.check_row.pk, 1])
    client.post(address, FORM)
    reply = client.post(address, {**FORM, "well": "Other words"})
    page = reply.content.decode()
    assert reply.status_code == 400
    assert "in another window meanwhile" in page
    assert "Other words</textarea>" in page
    assert PeerLine.objects.get().words == "The long note rings"
    stamp = re.search(r'name="seen" value="([^"]+)"', page)[1]
    assert client.post(address, {**FORM, "well": "Other words", "seen": stamp}).status_code == 302
    assert PeerLine.objects.get().words == "Other words"


def test_closed_while_somebody_listens_the_words_stay_on_the_page(client, cast):
    row, people = make_round(cast)
    hand_next(people[0], row)
    long_ago = timezone.now() - datetime.timedelta(hours=2)
    PeerHearing.objects.update(handed_at=long_ago)
    PeerRound.objects.update(closed_at=long_ago + datetime.timedelta(minutes=1))
    sign_in(client, people[0].account)
    reply = client.post(reverse("my-hear-take", args=[row.check_row.pk, 1]), FORM)
    assert reply.status_code == 400
    assert "has ended, so this is not kept" in reply.content.decode()
    assert "The long note rings</textarea>" in reply.content.decode()
    assert not PeerLine.objects.exists()


def test_a_take_that_is_gone_is_told_and_another_can_be_heard(client, cast):
    row, people = make_round(cast, 5)
    check = row.check_row.pk
    hearing = hand_next(people[0], row)
    say_consent(hearing.turn.musician, row, yes=False)
    sign_in(client, people[0].account)
    page = shown(client, "my-hear-take", check, 1)
    assert "There is nothing to play any more. Go back and hear another." in page
    # Nothing was heard, so there is nothing to fill in; and whose doing it is is told to nobody.
    assert 'name="well"' not in page
    assert "taken back" not in page
    assert "<audio" not in page
    assert client.get(reverse("my-hear-sound", args=[check, 1])).status_code == 404
    assert client.post(reverse("my-hear-next", args=[check])).url.endswith("/2/")
    hearing.turn.delete()
    gone = client.get(reverse("my-hear-take", args=[check, 1]))
    assert gone.status_code == 404
    assert "not here any more" in gone.content.decode()


def test_no_sound_but_of_takes_that_were_handed_out_is_heard(client, cast):
    row, people = make_round(cast)
    check = row.check_row.pk
    hearing = hand_next(people[0], row)
    sign_in(client, people[0].account)
    assert client.get(reverse("my-hear-sound", args=[check, 1])).status_code == 200
    assert client.get(reverse("my-hear-sound", args=[check, 2])).status_code == 404
    key = hearing.turn.takes.get().key
    assert client.get(reverse("take-sound", args=[key])).status_code == 404
    sign_in(client, hearing.turn.musician.account)
    assert client.get(reverse("my-hear-sound", args=[check, 1])).status_code == 404


def test_a_passed_on_line_is_fresh_on_my_part_until_it_is_read(client, cast):
    row, people = make_round(cast)
    hearing = hears(row, people[0])
    owner = hearing.turn.musician
    sign_in(client, owner.account)
    assert "wrote to you" not in shown(client, "my-part")
    decide(cast.director, row, [hearing.lines.first().pk], passed=True)
    assert "Somebody who heard your take wrote to you" in shown(client, "my-part")
    page = shown(client, "my-hear", row.check_row.pk)
    assert "The long note rings" in page
    assert "Breathe early" not in page
    assert "tell an adult: Room 12" in page
    assert "wrote to you" not in shown(client, "my-part")


# --- the director --------------------------------------------------------------------------------


def test_a_director_asks_opens_reads_passes_on_and_ends_it(client, cast):
    scene, people = make_people(cast)
    check = scene.check.pk
    sign_in(client, cast.director)
    assert reverse("peers", args=[check]) in shown(client, "check", check)
    page = shown(client, "peers", check)
    assert page.count('name="criterion"') == 3
    assert page.count("checked") == 2
    until = (timezone.localdate() + datetime.timedelta(5)).isoformat()
    terms = {"criterion": ["rhythm"], "takes_each": "2", "until": until}
    page = client.post(reverse("peers-ask", args=[check]), terms, follow=True).content.decode()
    assert "The musicians are asked" in page
    assert re.search(r"<button[^>]*disabled>Open it", page)
    assert "4 have a take and have not answered" in page
    row = PeerRound.objects.get()
    assert (row.criteria, row.takes_each) == (["rhythm"], 2)
    for one in people:
        say_consent(one, row, yes=True)
    page = client.post(reverse("peers-open", args=[check]), follow=True).content.decode()
    assert "It is open." in page
    row.refresh_from_db()
    said = PeerSaid(levels={"rhythm": "3"}, well="It rings", first_measure=0, to_try="Less")
    hearing = hears(row, people[0], said)
    page = shown(client, "peers", check)
    assert f"To {hearing.turn.musician.name}" in page
    assert f"From {people[0].name}." in page
    assert "It rings" in page
    keys = list(PeerLine.objects.values_list("pk", flat=True))
    lines = reverse("peers-lines", args=[check])
    client.post(lines, {"line": keys[:1], "to": "nobody"})
    client.post(lines, {"line": keys[1:], "to": "owner"})
    assert sorted(PeerLine.objects.values_list("passed", flat=True)) == [False, True]
    page = client.post(reverse("peers-close", args=[check]), follow=True).content.decode()
    assert "Ended " in page
    client.post(reverse("peers-again", args=[check]), {"until": until})
    row.refresh_from_db()
    assert row.closed_at is None


def test_a_line_changed_since_the_page_was_opened_is_told_and_not_passed_on(client, cast):
    row, people = make_round(cast)
    hearing = hears(row, people[0])
    shown_keys = list(PeerLine.objects.values_list("pk", flat=True))
    other = hears(row, people[1])
    send_hearing(hearing, PeerSaid(levels=LEVELS, well="Unread words", first_measure=0))
    sign_in(client, cast.director)
    form = {"line": [*shown_keys, other.lines.first().pk], "to": "owner"}
    lines = reverse("peers-lines", args=[row.check_row.pk])
    page = client.post(lines, form, follow=True).content.decode()
    assert "1 of 3 done: the others were changed" in page
    passed = PeerLine.objects.filter(passed=True)
    assert [line.hearing for line in passed] == [other]


def test_a_line_kept_back_in_another_window_is_told_and_stays_kept_back(client, cast):
    row, people = make_round(cast)
    for one in people[:2]:
        hears(row, one)
    sign_in(client, cast.director)
    check = row.check_row.pk
    forms = re.findall(r"<form.*?</form>", shown(client, "peers", check), re.DOTALL)
    old = {"undecided": ["yes"]}
    [together] = [form for form in map(_fields, forms) if len(form["line"]) > 1]
    assert together["undecided"] == old["undecided"]
    keys = together["line"]
    lines = reverse("peers-lines", args=[check])
    client.post(lines, {"line": keys[0], "to": "nobody", **old})
    page = client.post(lines, {**together, "to": "owner"}, follow=True).content.decode()
    assert "3 of 4 done: the others were changed, decided" in page
    page = client.post(lines, {"line": keys[0], "to": "owner", **old}, follow=True)
    assert "Not done: it was changed, decided" in page.content.decode()
    assert not PeerLine.objects.get(pk=keys[0]).passed
    # What is passed on after all is chosen from what the page shows as kept back.
    after = shown(client, "peers", check).split("Passed on or kept back")[1]
    assert "Pass on after all" in after
    assert "undecided" not in after
    client.post(lines, {"line": keys[0], "to": "owner"})
    assert PeerLine.objects.get(pk=keys[0]).passed


def _fields(form):
    """The hidden fields of a form, name to values."""
    found = {"line": []}
    for name, value in re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form):
        found.setdefault(name, []).append(value)
    return found


def test_a_wrong_day_or_nothing_to_listen_for_is_said(client, cast):
    scene, _ = make_people(cast)
    sign_in(client, cast.director)
    address = reverse("peers-ask", args=[scene.check.pk])
    for form, slip in (
        ({"criterion": ["rhythm"], "takes_each": "2", "until": ""}, "is no day"),
        ({"takes_each": "2", "until": "2199-01-01"}, "choose what they listen for"),
        ({"criterion": ["rhythm"], "takes_each": "x", "until": "2199-01-01"}, "1 to 4 takes"),
        ({"criterion": ["rhythm"], "takes_each": "2", "until": "9999-12-31"}, "a year ahead"),
    ):
        assert slip in client.post(address, form, follow=True).content.decode()
    assert not PeerRound.objects.exists()


def test_who_said_no_is_named_on_no_page(client, cast):
    scene, people = make_people(cast)
    row = ask(scene)
    say_consent(people[1], row, yes=False)
    sign_in(client, cast.director)
    page = shown(client, "peers", scene.check.pk)
    assert "1 said no" in page
    assert people[1].given_name not in page


def test_how_the_group_heard_it_stands_there_once_own_levels_are_saved(client, cast):
    row, people = make_round(cast)
    for one in people:
        hears(row, one)
    sign_in(client, cast.director)
    page = shown(client, "peers", row.check_row.pk)
    assert "4 takes that they heard are shown once your own levels are saved" in page
    assert "levels that they gave" not in page
    for one in people:
        rate(cast.director, one.turns.get(), ALL_THREE)
    page = shown(client, "peers", row.check_row.pk)
    assert "8 of 8 levels that they gave are the same as yours" in page


def test_a_check_recorded_together_says_why_it_is_not_handed_round(client, cast):
    scene, _ = make_people(cast)
    scene.check.together = True
    scene.check.save()
    sign_in(client, cast.director)
    page = shown(client, "peers", scene.check.pk)
    assert "cannot say yes for the others" in page
    assert reverse("peers-ask", args=[scene.check.pk]) not in page


# --- who opens what ------------------------------------------------------------------------------


def test_a_musician_of_the_band_who_was_handed_nothing_opens_no_take(client, cast):
    row, people = make_round(cast, 5)
    check = row.check_row.pk
    hand_next(people[0], row)
    sign_in(client, people[1].account)
    for name in ("my-hear-take", "my-hear-sound"):
        assert client.get(reverse(name, args=[check, 1])).status_code == 404
    assert client.post(reverse("my-hear-take", args=[check, 1]), FORM).status_code == 404
    assert not PeerLine.objects.exists()


def test_who_has_left_the_band_opens_nothing_of_it(client, cast):
    row, people = make_round(cast, 5)
    hand_next(people[0], row)
    people[0].seats.update(left_on=timezone.localdate())
    sign_in(client, people[0].account)
    check = row.check_row.pk
    for name, keys in (
        ("my-hear", [check]), ("my-hear-take", [check, 1]), ("my-hear-sound", [check, 1]),
    ):  # fmt: skip
        assert client.get(reverse(name, args=keys)).status_code == 404
    for name in ("my-hear-next", "my-hear-consent"):
        assert client.post(reverse(name, args=[check])).status_code == 404
