"""Work given out: every page with the whole cast, the form's slips, states in words."""

import datetime
import html
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from standlight.kinds import KINDS, data_of
from standlight.programme.actions.assignments import Giving, give_out, publish
from standlight.programme.actions.kinds import keep_kind
from standlight.programme.dates import date_words
from standlight.programme.models import Assignment, ConcertCycle, Piece, Sheet, WorkExcuse
from tests.programme.test_assignments import BANK
from tests.web.scene import sign_in, wav

pytestmark = pytest.mark.django_db

DAY = datetime.timedelta(1)


def words_of(answer):
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", answer.content.decode())).split())


@pytest.fixture
def today():
    return timezone.localdate()


@pytest.fixture
def given(cast, today):
    ConcertCycle.objects.all().delete()
    made = give_out(
        cast.director,
        Giving(cast.band.pk, "finds", "Finds in May", today, due_on=today + 7 * DAY),
    )
    publish(made)
    return made


def pages(cast, given):
    return ("/work/", "/work/give/", f"/work/give/?ensemble={cast.band.pk}",
            f"/work/give/{cast.band.pk}/finds/", f"/work/{given.pk}/",
            f"/work/{given.pk}/form/")  # fmt: skip


def posts(cast, given):
    acts = ("publish", "take-back", "throw-away", "lay-open", "next")
    return (*(f"/work/{given.pk}/act/{act}/" for act in acts), f"/work/{given.pk}/day/",
            f"/work/{given.pk}/excuse/{cast.musician.pk}/",
            f"/work/give/{cast.band.pk}/finds/")  # fmt: skip


def test_signed_out_every_address_leads_to_the_sign_in_page(client, cast, given):
    for address in pages(cast, given):
        assert client.get(address)["Location"].startswith("/sign-in/"), address
    for address in posts(cast, given):
        assert client.post(address)["Location"].startswith("/sign-in/"), address


def test_no_musician_and_no_outsider_finds_what_is_given_out(client, cast, given):
    before = Assignment.objects.values().get()
    for account in (cast.musician.account, cast.singer.account, cast.outsider_musician.account):
        sign_in(client, account)
        for address in (*pages(cast, given), f"/work/{given.pk}/sound/"):
            assert client.get(address).status_code == 404, address
        for address in posts(cast, given):
            assert client.post(address, {"reason": "absent"}).status_code == 404, address
    sign_in(client, cast.outsider_director)
    for address in pages(cast, given)[3:]:
        assert client.get(address).status_code == 404, address
    assert given.title not in words_of(client.get("/work/"))
    for address in posts(cast, given):
        assert client.post(address, {"reason": "absent"}).status_code == 404, address
    assert Assignment.objects.values().get() == before
    assert not WorkExcuse.objects.exists()


def test_both_directors_of_the_band_open_everything_and_only_the_lead_the_choir(
    client, cast, given
):
    for account, status in ((cast.director, 200), (cast.second_director, 404)):
        sign_in(client, account)
        for address in pages(cast, given):
            assert client.get(address).status_code == 200, address
        assert client.get(f"/work/give/{cast.choir.pk}/finds/").status_code == status


def test_the_list_of_kinds_is_grouped_and_a_kind_leads_to_its_form(client, cast, given):
    sign_in(client, cast.director)
    page = client.get(f"/work/give/?ensemble={cast.band.pk}").content.decode()
    for key in KINDS:
        assert f'href="/work/give/{cast.band.pk}/{key}/"' in page
    assert client.get(f"/work/give/{cast.band.pk}/nothing/").status_code == 404


def test_work_is_given_out_by_the_form_looked_over_and_published(client, cast, given, today):
    keep_kind(cast.director, {**BANK, "name": "Three of four"})
    sign_in(client, cast.director)
    address = f"/work/give/{cast.band.pk}/bank/"
    page = words_of(client.get(address))
    assert "Three of four for Concert Band" in page and "What of d?" in page
    answer = client.post(address, {
        "title": "After the concert", "note": "Take your time.", "section": [cast.snares.pk],
        "starts_on": today.isoformat(), "when": "any", "least:write:some": "3",
        "most:write:some": "4", "required:write": ["a"],
    }, follow=True)  # fmt: skip
    page = words_of(answer)
    made = Assignment.objects.get(title="After the concert")
    assert made.rules == {"write": {"required": ["a"], "choices": {"some": [3, 4]}}}
    assert made.due_on is None and made.published_at is None
    for said in ("The draft is made", "A draft: musicians do not see it yet", "Any time this year",
                 "Take your time.", "Theo Lindqvist", "What of a?"):  # fmt: skip
        assert said in page, said
    assert "Mina Okafor" not in page
    page = words_of(client.post(f"/work/{made.pk}/act/publish/", follow=True))
    assert "Published" in page and "A draft" not in page and "not begun" in page
    assert "What of c?" in words_of(client.get(f"/work/{made.pk}/form/"))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"title": ""}, "the title is empty"),
        ({"due_on": ""}, "no due day is chosen"),
        ({"due_on": "soon"}, "is no day"),
        ({"starts_on": "2030-01-01"}, "before it opens"),
        ({"least:write:some": "many"}, "'many' is no number of questions"),
        ({"least:write:some": "9"}, "“Some” asks for more than the 4 that there are"),
        ({"required:write": ["nothing"]}, "has no question “nothing”"),
        ({"section": ["999999"]}, "not in this ensemble"),
        ({"section": ["x"]}, "not in this ensemble"),
        ({"note": "x" * 200_000}, "400 fit"),
    ],
)
def test_a_form_with_a_slip_comes_back_as_typed(client, cast, given, today, change, said):
    keep_kind(cast.director, BANK)
    sign_in(client, cast.director)
    sent = {
        "title": "🎺 שיר <b>", "note": "Kept.", "section": [str(cast.snares.pk)],
        "starts_on": today.isoformat(), "due_on": (today + 9 * DAY).isoformat(), "when": "day",
        "least:write:some": "3", "most:write:some": "4", "required:write": ["b"], **change,
    }  # fmt: skip
    answer = client.post(f"/work/give/{cast.band.pk}/bank/", sent)
    page = answer.content.decode()
    assert answer.status_code == 422 and said in words_of(answer)
    for name in ("title", "note", "due_on", "starts_on", "least:write:some", "most:write:some"):
        assert f'value="{html.escape(sent[name])}"' in page, name
    if sent["required:write"] == ["b"]:
        assert 'value="b" checked' in page
    if "section" not in change:
        assert f'value="{cast.snares.pk}" checked' in page
    assert Assignment.objects.count() == 1


def test_what_a_kind_listens_to_is_a_file_or_a_live_hearing(client, cast, given, today):
    keep_kind(cast.director, {**BANK, "needs": ["piece", "sound"]})
    piece = Piece.objects.create(ensemble=cast.band, title="Ode")
    sign_in(client, cast.director)
    address = f"/work/give/{cast.band.pk}/bank/"
    sent = {"title": "Map", "starts_on": today.isoformat(), "when": "any", "piece": piece.pk,
            "hearing": "own", "sound_name": "Our spring concert"}  # fmt: skip
    assert "no sound file was chosen" in words_of(client.post(address, sent))
    text = SimpleUploadedFile("words.mp3", b"these are words")
    answer = client.post(address, sent | {"sound": text})
    assert answer.status_code == 422 and "Choose the sound file again" in words_of(answer)
    without = client.post(address, sent | {"hearing": "live", "piece": ""})
    assert "needs a piece" in words_of(without)
    answer = client.post(
        address, sent | {"sound": SimpleUploadedFile("tune.wav", wav())}, follow=True
    )
    page = words_of(answer)
    assert "To listen to: Our spring concert" in page and "about Ode" in page
    own = Assignment.objects.get(title="Map")
    heard = client.get(f"/work/{own.pk}/sound/", headers={"Range": "bytes=0-3"})
    assert (heard.status_code, heard.content) == (206, b"fLaC")
    page = words_of(client.post(address, sent | {"hearing": "live"}, follow=True))
    assert "Heard live: Our spring concert" in page
    live = Assignment.objects.latest("pk")
    assert client.get(f"/work/{live.pk}/sound/").status_code == 404


def test_the_week_before_a_concert_is_told_and_never_in_the_way(client, cast, given, today):
    ConcertCycle.objects.create(
        ensemble=cast.band, name="Spring concert", starts_on=today, concert_on=today + 10 * DAY
    )
    sign_in(client, cast.director)
    form = words_of(client.get(f"/work/give/{cast.band.pk}/finds/"))
    assert "Spring concert is on" in form
    assert "in the week before Spring concert" in words_of(client.get(f"/work/{given.pk}/"))
    for day, told in ((11, False), (10, True), (3, True), (2, False)):
        sent = {"title": f"Day {day}", "starts_on": today.isoformat(), "when": "day",
                "due_on": (today + day * DAY).isoformat()}  # fmt: skip
        answer = client.post(f"/work/give/{cast.band.pk}/finds/", sent, follow=True)
        assert ("in the week before" in words_of(answer)) is told, day


def test_every_state_has_its_own_words_on_the_page(client, cast, given, today):
    sign_in(client, cast.director)
    address = f"/work/{given.pk}/"
    assert "2 not begun" in words_of(client.get(address))
    excuse = f"/work/{given.pk}/excuse/{cast.musician.pk}/"
    for reason, said in (("absent", "absent"), ("excused", "excused"),
                         ("not_assessed", "not assessed")):  # fmt: skip
        page = words_of(client.post(excuse, {"reason": reason, "until": ""}, follow=True))
        assert f"1 {said} · " in page or f"· 1 {said}" in page, said
    later = given.due_on + 3 * DAY
    page = words_of(client.post(excuse, {"reason": "", "until": later.isoformat()}, follow=True))
    assert f"extra time, until {date_words(later, 'weekday')}" in page
    page = words_of(client.post(excuse, {"reason": "", "until": "2020-01-01"}, follow=True))
    assert "no later day" in page
    page = words_of(client.post(excuse, {"reason": "", "until": ""}, follow=True))
    assert "2 not begun" in page and not WorkExcuse.objects.exists()
    Assignment.objects.update(starts_on=today - 9 * DAY, due_on=today - 2 * DAY)
    assert "2 missing" in words_of(client.get(address))
    cast.musician.seats.update(joined_on=today)
    page = words_of(client.get(address))
    assert "1 missing" in page and "1 joined after the due day" in page
    other = f"/work/{given.pk}/excuse/{cast.singer.pk}/"
    assert "not in the ensemble" in words_of(client.post(other, {"reason": "absent"}, follow=True))
    stranger = f"/work/{given.pk}/excuse/{cast.outsider_musician.pk}/"
    assert client.post(stranger, {"reason": "absent"}).status_code == 404


def test_nothing_of_an_unsent_sheet_is_on_the_page(client, cast, given):
    Sheet.objects.create(
        assignment=given, author=cast.musician.account, about=cast.musician, step="find",
        answers={"what": "a secret draft"},
    )  # fmt: skip
    sign_in(client, cast.director)
    page = words_of(client.get(f"/work/{given.pk}/"))
    assert "begun, not sent" in page and "secret" not in page


def test_acts_on_an_assignment(client, cast, given, today):
    sign_in(client, cast.director)
    one = f"/work/{given.pk}/"
    assert "Laid open" in words_of(client.post(f"{one}act/lay-open/", follow=True))
    day = today + 20 * DAY
    client.post(f"{one}day/", {"due_on": day.isoformat()})
    assert Assignment.objects.get().due_on == day
    assert "is no day" in words_of(client.post(f"{one}day/", {"due_on": "soon"}, follow=True))
    client.post(f"{one}day/", {"due_on": ""})
    assert Assignment.objects.get().due_on is None
    assert "everyone was asked" in words_of(client.post(f"{one}act/next/", follow=True))
    assert "so it stays" in words_of(client.post(f"{one}act/throw-away/", follow=True))
    assert "Taken back" in words_of(client.post(f"{one}act/take-back/", follow=True))
    assert client.post(f"{one}act/burn/").status_code == 404
    assert "thrown away" in words_of(client.post(f"{one}act/throw-away/", follow=True))
    assert not Assignment.objects.exists()


def test_the_next_section_s_turn_opens_its_own_draft(client, cast, given):
    given.sections.set([cast.clarinets])
    sign_in(client, cast.director)
    page = words_of(client.post(f"/work/{given.pk}/act/next/", follow=True))
    assert "Concert Band: Percussion" in page and "A draft" in page and "Theo Lindqvist" in page
    assert Assignment.objects.count() == 2


def test_the_list_has_counts_and_what_is_over_apart(client, cast, given, today):
    Sheet.objects.create(
        assignment=given, author=cast.musician.account, about=cast.musician, step="find",
        sent_at=timezone.now(),
    )  # fmt: skip
    old = give_out(
        cast.director,
        Giving(cast.band.pk, "finds", "Long ago", today - 90 * DAY, due_on=today - 60 * DAY),
    )
    publish(old)
    sign_in(client, cast.director)
    page = words_of(client.get("/work/"))
    assert "1 of 2 sent; 1 not read yet" in page
    assert page.index("Earlier (1)") < page.index("Long ago")
    assert "Nothing is given out yet" in page  # the choir


def test_a_kind_changed_after_it_was_given_out_does_not_change_the_page(client, cast, given):
    keep_kind(cast.director, {**data_of(KINDS["finds"]), "name": "Trouvailles"})
    sign_in(client, cast.director)
    page = words_of(client.get(f"/work/{given.pk}/"))
    assert "Finds, edition 1" in page and "Trouvailles" not in page


def test_the_page_asks_the_store_no_oftener_for_many_musicians(
    client, cast, given, django_assert_max_num_queries
):
    from tests.cast import add_musician

    for number in range(60):
        add_musician(cast.programme, cast.clarinets, f"30{number}", "Ivo", f"Number {number}")
    sign_in(client, cast.director)
    for address in (f"/work/{given.pk}/", "/work/"):
        with django_assert_max_num_queries(14):
            assert client.get(address).status_code == 200
