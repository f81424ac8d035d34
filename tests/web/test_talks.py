"""The pages of talks: a director notes, a musician asks and reads, a second adult reads."""

import datetime
import re

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.programme.actions import talks as acts
from standlight.programme.models import (
    Account,
    Talk,
    TalkAsked,
    TalkRuleOff,
    TalkRuleRest,
    TalkStep,
)
from tests.programme.talk_scene import acts_sheets, project
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db

CAUTION = (
    "Your director reads this and may have to tell someone if you or another person is in danger. "
    "You can turn to: Room 12."
)


def text(reply):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", reply.content.decode()))


def talk_of(cast, name="talk", musician=None, **more):
    return reverse(name, args=[cast.band.pk, (musician or cast.musician).pk, *more.values()])


def stamp_on(reply):
    """The stamp of the words that a page shows, the same in each of its forms."""
    found = set(re.findall(r'name="seen" value="([^"]*)"', reply.content.decode()))
    return found.pop() if len(found) == 1 else ""


def in_days(days):
    return (timezone.localdate() + datetime.timedelta(days)).isoformat()


def test_a_musician_asks_with_the_usual_caution_and_the_director_finds_it(client, cast):
    sign_in(client, cast.musician.account)
    page = text(client.get(reverse("my-talks")))
    assert CAUTION in page
    assert "Who can read it: Dana Whitlock, Ruben Asher." in page
    asked = {"ensemble": cast.band.pk, "words": "about the solo <b>"}
    page = client.post(reverse("my-talks"), asked, follow=True)
    assert "Your director will see it." in text(page)
    assert "about the solo &lt;b&gt;" in page.content.decode()
    assert "Your director has not read it yet." in text(page)
    sign_in(client, cast.director)
    assert "Asked for a talk today." in text(client.get(reverse("talks")))
    assert TalkAsked.objects.get().read_at is None, "the list alone is no reading"
    assert "about the solo" in text(client.get(talk_of(cast)))
    assert TalkAsked.objects.get().read_at is not None
    sign_in(client, cast.musician.account)
    page = client.get(reverse("my-talks"))
    assert "Your director has read it." in text(page)
    assert "Take it back" not in text(page)


def test_a_musician_asks_without_a_word_and_takes_it_back(client, cast):
    sign_in(client, cast.musician.account)
    client.post(reverse("my-talks"), {"ensemble": cast.band.pk, "words": ""})
    asked = TalkAsked.objects.get()
    client.post(reverse("my-talk-back", args=[asked.pk]))
    assert not TalkAsked.objects.exists()


def test_words_that_are_too_long_stay_in_the_form(client, cast):
    sign_in(client, cast.musician.account)
    reply = client.post(reverse("my-talks"), {"ensemble": cast.band.pk, "words": "y" * 601})
    assert "longer than 600 characters" in text(reply)
    assert "y" * 601 in reply.content.decode()


@pytest.mark.parametrize("where", ["choir", "other", "none"])
def test_nobody_asks_in_a_group_they_do_not_sit_in(client, cast, where):
    pk = {"choir": cast.choir.pk, "other": cast.outsider_musician.seats.get().section.ensemble_id,
          "none": ""}[where]  # fmt: skip
    sign_in(client, cast.musician.account)
    reply = client.post(reverse("my-talks"), {"ensemble": pk, "words": "x"})
    assert reply.status_code == 404
    assert not TalkAsked.objects.exists()


def test_in_two_groups_the_musician_chooses_whose_director(client, cast):
    cast.musician.seats.create(section=cast.sopranos)
    sign_in(client, cast.musician.account)
    assert "With the director of" in text(client.get(reverse("my-talks")))
    client.post(reverse("my-talks"), {"ensemble": cast.choir.pk, "words": ""})
    sign_in(client, cast.second_director)
    assert "Asked for a talk" not in text(client.get(talk_of(cast)))


def test_a_director_notes_a_talk_and_the_musician_reads_it_and_says_done(client, cast):
    sign_in(client, cast.director)
    typed = {"held_on": in_days(0), "words": "The run is the thing.", "step1": "Play it slowly",
             "due1": in_days(7), "step2": "Tell me", "due2": in_days(9)}  # fmt: skip
    page = client.post(talk_of(cast, "talk-note"), typed, follow=True)
    assert "The talk is noted. Mina reads it under Talks." in text(page)
    sign_in(client, cast.musician.account)
    page = text(client.get(reverse("my-talks")))
    assert "The run is the thing." in page
    assert page.count("I did this") == 2
    step = TalkStep.objects.get(words="Play it slowly")
    client.post(reverse("my-talk-step", args=[step.pk]), {"done": "yes"})
    sign_in(client, cast.director)
    assert "done on" in text(client.get(talk_of(cast)))
    client.post(talk_of(cast, "talk-step", step=step.pk), {"done": "no"})
    step.refresh_from_db()
    assert step.done_at is None


def test_open_steps_stand_on_the_musicians_first_page_until_they_are_done(client, cast):
    day = timezone.localdate()
    steps = [(f"Step {n}", day + datetime.timedelta(n)) for n in (4, 2, 3, 1)]
    acts.note(cast.director, cast.band, cast.musician, day, "", steps)
    sign_in(client, cast.musician.account)
    page = text(client.get(reverse("my-part")))
    assert re.findall(r"Step \d", page) == ["Step 1", "Step 2", "Step 3"], "due first, three"
    acts.say_done(cast.musician.account, TalkStep.objects.get(words="Step 1"), True)
    page = text(client.get(reverse("my-part")))
    assert re.findall(r"Step \d", page) == ["Step 2", "Step 3", "Step 4"]
    sign_in(client, cast.second_musician.account)
    assert "What we agreed" not in text(client.get(reverse("my-part")))


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"step1": "Play it"}, "has no day"),
        ({"due1": "2026-12-01"}, "a day stands without a step"),
        ({}, "nothing was written"),
        ({"held_on": "soon", "words": "kept words"}, "&#x27;soon&#x27; is no day"),
        ({"step1": "Play it", "due1": "1999-01-01", "words": "kept words"}, "before the talk"),
    ],
)
def test_a_note_that_cannot_be_kept_says_why_and_keeps_what_was_typed(
    client, cast, typed, sentence
):
    sign_in(client, cast.director)
    sent = {"held_on": in_days(0), **typed}
    page = client.post(talk_of(cast, "talk-note"), sent).content.decode()
    assert "The talk is not noted" in page
    assert sentence in page
    assert all(value in page for key, value in typed.items() if key in ("words", "step1"))
    assert not Talk.objects.exists()


def test_a_request_can_be_over_without_a_note(client, cast):
    acts.ask(cast.musician, cast.band, "")
    sign_in(client, cast.director)
    client.post(talk_of(cast, "talk-over"), {"seen": stamp_on(client.get(talk_of(cast)))})
    assert TalkAsked.objects.get().talked_at is not None
    assert "The rules name nobody today." in text(client.get(reverse("talks")))


def test_words_that_came_after_the_page_was_opened_stay_and_are_shown(client, cast):
    acts.ask(cast.musician, cast.band, "hello")
    sign_in(client, cast.director)
    seen = stamp_on(client.get(talk_of(cast)))
    acts.ask(cast.musician, cast.band, "I am not safe at home")
    page = client.post(talk_of(cast, "talk-over"), {"seen": seen}, follow=True)
    assert "They wrote something since; read it first." in text(page)
    assert "I am not safe at home" in text(page)
    acts.ask(cast.musician, cast.band, "and one thing")
    typed = {"held_on": in_days(0), "words": "We spoke.", "seen": seen}
    page = client.post(talk_of(cast, "talk-note"), typed, follow=True)
    assert "The talk is noted." in text(page)
    assert "They wrote something since you opened the page." in text(page)
    assert "and one thing" in text(page)
    assert (Talk.objects.count(), TalkAsked.objects.get().talked_at) == (1, None)
    typed = {**typed, "words": "All of it.", "seen": stamp_on(page)}
    page = client.post(talk_of(cast, "talk-note"), typed, follow=True)
    assert "something since" not in text(page)
    assert TalkAsked.objects.get().talked_at is not None


def test_a_note_that_is_refused_shows_what_came_since_and_that_is_read_then(client, cast):
    acts.ask(cast.musician, cast.band, "hello")
    sign_in(client, cast.director)
    client.get(talk_of(cast))
    acts.ask(cast.musician, cast.band, "and one thing")
    page = client.post(talk_of(cast, "talk-note"), {"held_on": in_days(0)})
    assert "nothing was written" in text(page)
    assert "and one thing" in text(page)
    assert TalkAsked.objects.get().read_at is not None
    assert stamp_on(page) == TalkAsked.objects.get().stamp


def test_a_note_sent_twice_is_one_and_a_day_of_the_first_century_is_none(client, cast):
    sign_in(client, cast.director)
    typed = {"held_on": in_days(0), "words": "The run.", "step1": "Slowly", "due1": in_days(3)}
    for _ in range(2):
        page = client.post(talk_of(cast, "talk-note"), typed, follow=True)
        assert "The talk is noted." in text(page)
    page = client.post(talk_of(cast, "talk-note"), {**typed, "held_on": "0026-11-25"})
    assert "the talk is more than a year ago (look at the year)" in text(page)
    assert (Talk.objects.count(), TalkStep.objects.count()) == (1, 1)


def test_who_reads_a_note_stands_above_it_by_name(client, cast):
    Account.objects.make(
        programme=cast.programme, sign_in="counsel", role=Account.DIRECTOR, secret="stand-lamp-5",
        shown_name="Ines Calder", reads_writing=True,
    )  # fmt: skip
    sign_in(client, cast.second_director)
    page = text(client.get(talk_of(cast)))
    assert "Mina Okafor reads all of this." in page
    assert "Adults who can read it: Dana Whitlock, Ines Calder, Ruben Asher." in page


def test_what_was_read_cannot_be_taken_back_even_when_words_come_after_it(client, cast):
    asked = acts.ask(cast.musician, cast.band, "somebody takes my reed")
    acts.read_asked(cast.band, cast.musician)
    sign_in(client, cast.musician.account)
    client.post(reverse("my-talks"), {"ensemble": cast.band.pk, "words": "never mind"})
    page = text(client.get(reverse("my-talks")))
    assert "Your director has not read all of it yet." in page
    assert "What you write below is added to it." in page
    assert "Take it back" not in page
    page = client.post(reverse("my-talk-back", args=[asked.pk]), follow=True)
    assert "your director has read it already" in text(page)
    assert TalkAsked.objects.get().words == "somebody takes my reed\nnever mind"


def test_who_asked_and_left_stands_on_the_list_and_the_request_can_be_over(client, cast):
    acts.ask(cast.musician, cast.band, "please")
    cast.musician.seats.update(left_on=timezone.localdate() - datetime.timedelta(1))
    sign_in(client, cast.director)
    page = text(client.get(reverse("talks")))
    assert "Not in the group any more Mina Okafor Asked for a talk today." in page
    page = client.get(talk_of(cast))
    client.post(talk_of(cast, "talk-over"), {"seen": stamp_on(page)})
    assert "Mina Okafor" not in text(client.get(reverse("talks")))


def test_both_views_stand_side_by_side_and_what_parts_is_said_in_words(client, cast):
    acts_sheets(cast, {"ready": "always", "marks": "most"}, {"ready": "seldom", "marks": "most"})
    project(cast, (2, 2))
    sign_in(client, cast.director)
    page = text(client.get(talk_of(cast)))
    assert "What Mina Okafor says" in page
    assert "What was seen and heard" in page
    assert "Every time Not often yet (apart)" in page
    assert page.count("(apart)") == 1
    assert "No closer to the goal at the last two check-ins (One skill)." in page
    printed = text(client.get(talk_of(cast, "talk-print")))
    assert "Agreed today" in printed
    assert "even sixteenth notes" in printed


def test_the_lead_switches_a_rule_and_a_second_director_cannot(client, cast):
    project(cast, (2, 2))
    sign_in(client, cast.second_director)
    assert "Switch off" not in text(client.get(reverse("talk-rules")))
    page = client.post(reverse("talk-rule", args=["goal_still"]), {"on": "no"}, follow=True)
    assert "only the lead director" in text(page)
    assert not TalkRuleOff.objects.exists()
    sign_in(client, cast.director)
    page = client.post(reverse("talk-rule", args=["goal_still"]), {"on": "no"}, follow=True)
    assert "The rule is off." in text(page)
    page = text(client.get(reverse("talks")))
    assert "Switched off: A goal that stands still." in page
    assert "No closer to the goal" not in page


def test_where_asking_is_switched_off_the_musician_is_not_offered_it(client, cast):
    acts.switch_rule(cast.director, "asked", False)
    sign_in(client, cast.musician.account)
    page = client.get(reverse("my-talks"))
    assert "I would like to talk" not in text(page)
    assert "No talk is noted with you yet." in text(page)
    reply = client.post(reverse("my-talks"), {"ensemble": cast.band.pk, "words": "x"})
    assert "Your school does not take this here" in text(reply)
    assert not TalkAsked.objects.exists()


def test_a_rule_rests_for_one_musician_and_the_rest_can_be_ended(client, cast):
    project(cast, (2, 2))
    acts.ask(cast.musician, cast.band, "")
    sign_in(client, cast.director)
    form = client.get(talk_of(cast)).content.decode()
    assert '<option value="goal_still">' in form
    assert '<option value="asked">' not in form, "who asked is not passed over"
    client.post(talk_of(cast, "talk-rest"), {"code": "goal_still", "until": in_days(10)})
    assert TalkRuleRest.objects.get().until.isoformat() == in_days(10)
    assert "Silent until" in text(client.get(talk_of(cast)))
    assert "No closer to the goal" not in text(client.get(reverse("talks")))
    client.post(talk_of(cast, "talk-rest"), {"code": "goal_still", "end": "yes"})
    assert not TalkRuleRest.objects.exists()
    for typed, sentence in (({"code": "goal_still", "until": "x"}, "is no day"),
                            ({"code": "asked", "until": in_days(3)}, "never silent"),
                            ({"code": "mood", "until": in_days(3)}, "no such rule")):  # fmt: skip
        page = client.post(talk_of(cast, "talk-rest"), typed, follow=True)
        assert sentence in text(page)


def test_the_second_adult_reads_all_notes_and_who_only_directs_does_not(client, cast):
    acts.note(cast.director, cast.band, cast.musician, timezone.localdate(), "The run", [])
    acts.ask(cast.second_musician, cast.band, "About the drum")
    adult = Account.objects.make(
        programme=cast.programme, sign_in="counsel", role=Account.DIRECTOR, secret="stand-lamp-5",
        shown_name="Ines Calder", reads_writing=True,
    )  # fmt: skip
    sign_in(client, adult)
    assert reverse("talk-notes") in client.get(reverse("talks")).content.decode()
    page = text(client.get(reverse("talk-notes")))
    assert "The run" in page
    assert "About the drum" in page
    assert TalkAsked.objects.get().read_at is None, "a director has not read it"
    assert client.get(talk_of(cast)).status_code == 404, "reading is all that they do"
    sign_in(client, cast.second_director)
    assert client.get(reverse("talk-notes")).status_code == 404
    sign_in(client, cast.outsider_director)
    assert "The run" not in text(client.get(reverse("talk-notes")))


def test_a_musician_who_never_sat_in_the_ensemble_has_no_page_there(client, cast):
    sign_in(client, cast.director)
    assert client.get(reverse("talk", args=[cast.choir.pk, cast.musician.pk])).status_code == 404
    cast.musician.seats.update(left_on=timezone.localdate() - datetime.timedelta(3))
    assert client.get(talk_of(cast)).status_code == 200, "who has left is still in its notes"


def test_the_list_can_be_looked_at_by_one_reason(client, cast):
    acts.ask(cast.musician, cast.band, "")
    project(cast, (2, 2), musician=cast.second_musician)
    sign_in(client, cast.director)
    everybody = text(client.get(reverse("talks"))).split("Talk with somebody else")[0]
    assert "Mina Okafor" in everybody
    assert "Theo Lindqvist" in everybody
    some = text(client.get(reverse("talks") + "?rule=goal_still"))
    some = some.split("Talk with somebody else")[0]
    assert "Theo Lindqvist" in some
    assert "Mina Okafor" not in some
    assert client.get(reverse("talks") + "?rule=%00x").status_code == 200
