"""The matching screen's pages: who may, what a form does, how sound is served."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from standlight.programme.models import Arrival, LongRecording, Turn
from tests.programme.desk_scene import more_clarinets
from tests.web.scene import sign_in, wav
from tests.workshop.test_decoding import made
from tests.workshop.test_long_takes import row

pytestmark = pytest.mark.django_db


def address(scene, name="bring-in", *more):
    return reverse(name, args=[scene.check.pk, *more])


def file(name, seconds=0.5):
    return SimpleUploadedFile(name, wav(seconds), content_type="audio/wav")


def brought(client, scene, *names):
    files = [file(name, 0.5 + place / 10) for place, name in enumerate(names)]
    return client.post(address(scene), {"files": files}, follow=True)


def form(**more):
    """The matching form as the page would post it."""
    fields = {}
    for arrival in Arrival.objects.all():
        fields |= {f"who-{arrival.pk}": "", f"was-{arrival.pk}": ""}
    return fields | more


def test_the_screen_and_its_sounds_are_for_the_ensembles_directors_only(client, cast, scene):
    sign_in(client, cast.director)
    brought(client, scene, "a.wav")
    arrival = Arrival.objects.get()
    long = LongRecording.objects.create(
        check_row=scene.check, brought_by=cast.director, file_name="x", digest="1" * 64,
        copy_digest=arrival.playback_digest, seconds=1.0,
    )  # fmt: skip
    gets = [
        address(scene), address(scene, "bring-in-long", long.pk),
        address(scene, "arrival-sound", arrival.pk), address(scene, "long-sound", long.pk),
    ]  # fmt: skip
    posts = [
        address(scene), address(scene, "bring-in-act"), address(scene, "bring-in-long-new"),
        address(scene, "bring-in-long-act", long.pk),
    ]  # fmt: skip
    strangers = (
        cast.musician.account, cast.singer.account, cast.outsider_director,
        cast.outsider_musician.account,
    )  # fmt: skip
    for account in strangers:
        sign_in(client, account)
        assert {client.get(place).status_code for place in gets} == {404}
        assert {client.post(place, {"do": "away-all"}).status_code for place in posts} == {404}
    client.logout()
    assert {client.get(place).status_code for place in gets} == {302}
    sign_in(client, cast.second_director)
    assert {client.get(place).status_code for place in gets} == {200}
    assert Arrival.objects.count() == 1


def test_one_form_brings_many_files_and_a_bad_one_is_told_and_hinders_no_other(
    client, cast, scene
):
    sign_in(client, cast.director)
    bad = SimpleUploadedFile("notes.txt", b"only words in here, no sound " * 9)
    answer = client.post(address(scene), {"files": [file("Mina Okafor.wav"), bad]}, follow=True)
    page = answer.content.decode()
    assert "notes.txt: this is a text file, not a recording" in page
    assert "1 recording brought in." in page
    assert f'<option value="{cast.musician.pk}" selected>Mina Okafor</option>' in page
    assert "by the name in the file" in page


def test_the_script_brings_one_file_a_request_with_its_time_and_is_answered_in_json(
    client, cast, scene
):
    sign_in(client, cast.director)
    given = {"files": file("a.wav"), "modified": "1764120000000"}
    answer = client.post(address(scene), given, headers={"Accept": "application/json"})
    assert answer.json() == {"kept": 1, "slips": []}
    assert Arrival.objects.get().file_time.isoformat() == "2025-11-26T01:20:00+00:00"
    given = {"files": file("again.wav")}
    again = client.post(address(scene), given, headers={"Accept": "application/json"}).json()
    assert again["kept"] == 0
    assert "waits here already" in again["slips"][0]


def test_kept_rows_are_turns_and_what_has_no_name_stays_and_is_said(client, cast, scene):
    sign_in(client, cast.director)
    brought(client, scene, "mina okafor.wav", "noise.wav")
    named, other = Arrival.objects.order_by("pk")
    fields = form(**{f"who-{named.pk}": cast.musician.pk, "do": "keep"})
    page = client.post(address(scene, "bring-in-act"), fields, follow=True).content.decode()
    assert "1 take kept: Mina Okafor. They wait at the Desk." in page
    assert Turn.objects.get().musician == cast.musician
    assert list(Arrival.objects.all()) == [other]
    assert "noise.wav" in page


def test_a_choice_by_hand_outlives_every_button_and_the_rest_of_the_names_move(
    client, cast, scene
):
    more_clarinets(scene, 1)
    sign_in(client, cast.director)
    brought(client, scene, "t1.wav", "t2.wav")
    first, second = Arrival.objects.order_by("pk")
    fields = form(**{f"was-{first.pk}": cast.musician.pk, "do": "save"})
    page = client.post(address(scene, "bring-in-act"), fields, follow=True).content.decode()
    assert "left out by you" in page
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.chosen, second.chosen) == (True, False)
    assert f'name="was-{second.pk}" value="{cast.musician.pk}"' in page


def test_two_rows_with_one_name_come_back_with_a_slip_and_nothing_kept(client, cast, scene):
    sign_in(client, cast.director)
    brought(client, scene, "t1.wav", "t2.wav")
    who = {f"who-{arrival.pk}": cast.musician.pk for arrival in Arrival.objects.all()}
    page = client.post(address(scene, "bring-in-act"), form(**who, do="keep")).content.decode()
    assert "Mina Okafor stands in two rows" in page
    assert not Turn.objects.exists()


def test_strangers_cannot_be_slipped_into_a_row(client, cast, scene):
    sign_in(client, cast.director)
    brought(client, scene, "t1.wav")
    (arrival,) = Arrival.objects.all()
    for person in (cast.singer, cast.outsider_musician):
        fields = form(**{f"who-{arrival.pk}": person.pk, "do": "keep"})
        client.post(address(scene, "bring-in-act"), fields)
    assert not Turn.objects.exists()


@pytest.fixture
def long(client, cast, scene):
    """A long recording of three, brought in by the form."""
    sign_in(client, cast.director)
    given = SimpleUploadedFile("class.wav", made("wav", "pcm_s16le", row()))
    answer = client.post(
        address(scene, "bring-in-long-new"), {"long": given, "section": cast.clarinets.pk}
    )
    recording = LongRecording.objects.get()
    assert answer.url == address(scene, "bring-in-long", recording.pk)
    return recording


def test_a_long_recording_shows_its_parts_and_obeys_join_split_and_move(
    client, cast, scene, long
):
    place = address(scene, "bring-in-long-act", long.pk)
    first, second, third = long.spans.all()
    page = client.get(address(scene, "bring-in-long", long.pk)).content.decode()
    assert page.count("<audio") == 3
    assert f"#t={first.start_s:.2f},{first.end_s:.2f}" in page
    client.post(place, form(do=f"join:{first.pk}"))
    assert long.spans.count() == 2
    client.post(place, form(**{f"split-{first.pk}": "0:14.0", "do": f"split:{first.pk}"}))
    assert [span.start_s for span in long.spans.all()][1] == 14.0
    ends = {f"start-{third.pk}": "29", f"end-{third.pk}": "0:41.5"}
    client.post(place, form(**ends, do=f"move:{third.pk}"))
    third.refresh_from_db()
    assert (third.start_s, third.end_s) == (29.0, 41.5)
    page = client.post(place, form(**{f"split-{first.pk}": "x", "do": f"split:{first.pk}"}))
    assert "is no place in the recording" in page.content.decode()
    page = client.post(place, form(do=f"join:{second.pk}")).content.decode()
    assert "not here any more" in page


def test_removing_everything_leads_back_and_leaves_nothing(client, cast, scene, long):
    place = address(scene, "bring-in-long-act", long.pk)
    assert client.post(place, form(do="away-all")).url == address(scene)
    assert not Arrival.objects.exists()
    assert not LongRecording.objects.exists()


def test_a_long_recordings_sound_is_served_in_ranges(client, cast, scene, long):
    place = address(scene, "long-sound", long.pk)
    whole = b"".join(client.get(place).streaming_content)
    assert whole[:4] == b"fLaC"
    part = client.get(place, headers={"Range": "bytes=100-199"})
    assert part.status_code == 206
    assert b"".join(part.streaming_content) == whole[100:200]
    assert part["Content-Range"] == f"bytes 100-199/{len(whole)}"
    rest = client.get(place, headers={"Range": f"bytes={len(whole) - 5}-"})
    assert b"".join(rest.streaming_content) == whole[-5:]
    assert client.get(place, headers={"Range": f"bytes={len(whole)}-"}).status_code == 416


def test_a_draft_says_to_publish_first_and_a_form_without_a_file_says_so(client, cast, scene):
    sign_in(client, cast.director)
    for name in ("bring-in", "bring-in-long-new"):
        page = client.post(address(scene, name), follow=True).content.decode()
        assert "No file was chosen." in page
    scene.check.published_at = None
    scene.check.save()
    assert "This check is a draft" in client.get(address(scene)).content.decode()
