"""Hearing each other in a browser: from the question to the words, and nobody is shut out."""

import pytest
from django.urls import reverse

from standlight.programme.actions.peers import close_round, say_consent
from standlight.programme.models import PeerLevel, PeerLine, PeerRound
from tests.browser.conftest import CHROMIUM, DESK, FLAGS, PHONE
from tests.browser.test_other_ears import looked_at
from tests.browser.test_tables_page import signed_in
from tests.programme.desk_scene import make_scene
from tests.programme.peers_scene import ask, hears, make_people, make_round


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_a_musician_says_yes_hears_a_take_and_names_what_went_well(visitor, cast, size):
    scene, people = make_people(cast, 3, make_scene(cast, notation=True))
    row = ask(scene)
    for one in people[1:]:
        say_consent(one, row, yes=True)
    page = visitor.open(size=size).new_page()
    visitor.sign_in(page, people[0])
    looked_at(page, reverse("my-part"))
    page.get_by_role("link", name=scene.check.title).last.click()
    looked_at(page, page.url)
    page.get_by_role("button", name="Yes, others in my group may hear this take").click()
    page.get_by_text("It begins when your director opens it.").wait_for()
    PeerRound.objects.update(opened_at=row.asked_at)
    looked_at(page, page.url)
    with page.expect_response(lambda reply: "/sound" in reply.url):
        page.get_by_role("button", name="Hear the first").click()
    page.wait_for_url("**/1/")
    looked_at(page, page.url)
    # What each level sounds like stands there without a touch.
    assert page.locator(".descriptor:visible").count() == 8
    for key in ("2", "3"):
        page.keyboard.press(key)
    page.get_by_label("One thing that went well").fill("The long note rings, 3 beats of it")
    page.get_by_label("from measure").select_option(label="34")
    with page.expect_navigation():
        page.get_by_role("button", name="Send").click()
    assert "Sent. Your director reads it first." in page.inner_text("main")
    given = dict(PeerLevel.objects.values_list("criterion", "value"))
    # Digits in the words are words, and no keys.
    assert given == {"intonation": "2", "rhythm": "3"}
    assert PeerLine.objects.get().words == "The long note rings, 3 beats of it"


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_a_director_reads_passes_on_and_the_owner_reads_it_afterwards(visitor, cast, size):
    row, people = make_round(cast, 4, scene=make_scene(cast, notation=True))
    for one in people:
        for _ in range(2):
            hears(row, one)
    check = row.check_row.pk
    page = signed_in(visitor, size)
    looked_at(page, reverse("peers", args=[check]))
    with page.expect_navigation():
        page.get_by_role("button", name="Pass on to").first.click()
    assert PeerLine.objects.filter(passed=True).count() == 1
    with page.expect_navigation():
        page.get_by_role("button", name="I have read all 15: pass them on").click()
    looked_at(page, page.url)
    close_round(cast.director, row)
    looked_at(page, page.url)
    other = visitor.open("musician", size=size).new_page()
    visitor.sign_in(other, people[0])
    looked_at(other, reverse("my-hear", args=[check]))
    words = other.inner_text("main")
    assert words.count("The long note rings") == 2
    assert "All who heard it: secure 2" in words


def test_all_of_it_works_without_scripts(visitor, cast):
    row, people = make_round(cast, 4)
    browser = visitor.playwright.chromium.launch(
        executable_path=CHROMIUM, args=FLAGS
    )
    visitor.stack.callback(browser.close)
    page = browser.new_context(
        java_script_enabled=False, viewport=PHONE, base_url=visitor.url
    ).new_page()
    visitor.sign_in(page, people[0])
    page.goto(reverse("my-hear", args=[row.check_row.pk]))
    # Levels are kept of what was played alone.
    with page.expect_response(lambda reply: "/sound" in reply.url):
        page.get_by_role("button", name="Hear the first").click()
    for key, value in (("intonation", "2"), ("rhythm", "not_heard")):
        page.check(f"input[name=level-{key}][value='{value}']")
    page.get_by_label("One thing that went well").fill("It rings")
    page.get_by_label("from measure").select_option(label="33")
    page.get_by_role("button", name="Send").click()
    page.get_by_text("1 heard, 1 to go").wait_for()
    assert PeerLevel.objects.count() == 2
