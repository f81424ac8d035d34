"""A musician's work of every kind as pages: forms without script, saves by script, sound."""

import json
from html.parser import HTMLParser
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.template.loader import render_to_string
from django.urls import reverse

from standlight.kinds import FIELD_TYPES, KINDS, kind_of, reading_grade
from standlight.programme.actions import replies, sheets
from standlight.programme.models import Casting, OlderAnswer, Part, Seat, Sheet, SheetSound
from standlight.programme.queries.sheets import form_of
from standlight.web.sign_in import STATION
from standlight.web.work_fields import FORM_READERS, Pairs, answers_in, seconds_in
from tests.programme.sheet_scene import CHOOSING, EVERYTHING, WHOLE, give, ode, write
from tests.web.scene import publish, sign_in, wav

pytestmark = pytest.mark.django_db

POSTED = {
    "q.short": "Fine", "q.long": "", "q.choice": "slow", "q.several": ["slow"],
    "q.levels": "loop", "q.scale": "3", "q.rows.rows": "2", "q.rows.0.name": "",
    "q.rows.1.name": "Oboe", "q.rows.1.where.measure": "34", "q.rows.1.where.words": "solo",
    "q.measure.measure": "33", "q.measure.words": "the run", "q.clock.at_s": "0:00",
    "q.clock.words": "begins", "q.spot.piece": "Ode", "q.spot.from_measure": "34",
    "q.spot.to_measure": "35", "q.spot.what": "I was late", "q.spot.try": "Count",
    "q.source.author": "", "q.recording.sound": "",
}  # fmt: skip
"""What the form of `EVERYTHING` posts for the answers `WHOLE`, and a moment at zero."""


@pytest.fixture
def given(cast):
    ode(cast)
    return give(cast, EVERYTHING)


@pytest.fixture
def page(given):
    return reverse("my-sheet-form", args=[given.pk, "all"])


def musician(client, cast):
    return sign_in(client, cast.musician.account)


def put(client, given, saves, *, step="all", send=False, sheet=""):
    """What the script of the page sends."""
    answer = client.put(
        reverse("my-sheet-save", args=[given.pk, step]),
        json.dumps({"sheet": sheet, "send": send, "saves": saves}),
        content_type="application/json",
    )
    return answer.status_code, answer.json()


def one(fields, stamp="s1", seen="", tried=()):
    return {"fields": fields, "stamp": stamp, "seen": seen, "tried": list(tried)}


def test_every_type_of_question_has_a_reader_and_a_template():
    from django.template.loader import get_template

    assert set(FORM_READERS) == set(FIELD_TYPES)
    for word in FIELD_TYPES:
        assert get_template(f"fields/{word}.html")


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_every_step_that_ships_is_drawn_with_each_of_its_questions_once(kind):
    for step in kind.steps:
        drawn = render_to_string("fields/form.html", {"form": form_of(step, {})})
        for field in step.fields:
            assert drawn.count(f'data-question="{field.key}"') == 1
        assert answers_in(step, Pairs(fields_in(drawn))).keys() == {f.key for f in step.fields}


def test_a_drawn_form_posts_the_answers_it_was_drawn_from():
    step = kind_of(EVERYTHING).steps[0]
    answers = {
        **WHOLE, "long": "two\nlines & “more” <b>", "consent": True, "clock": {"at_s": 83},
        "source": {"kind": "primary", "author": "A", "title": "T", "where": "p. 3"},
        "recording": {"sound": str(uuid4())},
    }  # fmt: skip
    drawn = render_to_string("fields/form.html", {"form": form_of(step, answers)})
    assert answers_in(step, Pairs(fields_in(drawn))) == answers


class Fields(HTMLParser):
    """The names and values that a browser would post."""

    def __init__(self):
        super().__init__()
        self.pairs, self.text, self.select = [], None, None

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        kind, ticks = given.get("type"), ("radio", "checkbox")
        if tag == "select":
            self.select = given["name"]
        elif tag == "option" and "selected" in given:
            self.pairs.append([self.select, given["value"]])
        elif tag == "textarea":
            self.text = given["name"]
            self.pairs.append([self.text, ""])
        elif (
            tag == "input" and "name" in given and kind != "file"
            and (kind not in ticks or "checked" in given)
        ):  # fmt: skip
            self.pairs.append([given["name"], given.get("value") or ""])

    def handle_endtag(self, tag):
        if tag == "textarea":
            self.text = None

    def handle_data(self, data):
        if self.text:
            # The first line end of a textarea is the page's own.
            held = self.pairs[-1][1] + data
            self.pairs[-1][1] = held.removeprefix("\n") if data.startswith("\n") else held


def fields_in(page):
    reader = Fields()
    reader.feed(page)
    return reader.pairs


def test_the_form_of_everything_reads_to_plain_data():
    step = kind_of(EVERYTHING).steps[0]
    pairs = [
        [name, one] for name, values in POSTED.items()
        for one in (values if isinstance(values, list) else [values])
    ]  # fmt: skip
    read = answers_in(step, Pairs(pairs))
    whole = {**WHOLE, "long": "", "clock": {"at_s": 0, "words": "begins"}}
    assert read == {**whole, "recording": None, "source": {}, "consent": False}


def test_what_is_no_number_stays_as_it_was_typed():
    step = kind_of(EVERYTHING).steps[0]
    read = answers_in(
        step, Pairs([["q.measure.measure", "33a"], ["q.clock.at_s", "soon"], ["q.scale", "-"]])
    )
    assert (read["measure"], read["clock"], read["scale"]) == (
        {"measure": "33a"}, {"at_s": "soon"}, "-"
    )  # fmt: skip
    assert seconds_in("1:02:03") == 3723


def test_every_page_is_the_musicians_alone(client, cast, given, page):
    sheet = write(cast, given, WHOLE)
    sheets.send(sheet)
    addresses = [page, reverse("my-work", args=[given.pk]), reverse("my-sheet", args=[sheet.pk])]
    addresses += [reverse("my-works")]
    for account in (cast.director, cast.outsider_director):
        sign_in(client, account)
        assert {client.get(one).status_code for one in addresses} == {404}
    for account in (cast.singer.account, cast.outsider_musician.account):
        sign_in(client, account)
        assert {client.get(one).status_code for one in addresses[:3]} == {404}
    sign_in(client, cast.second_musician.account)
    assert client.get(addresses[2]).status_code == 404
    client.logout()
    assert client.get(page).status_code == 302


def test_a_form_can_be_opened_without_making_a_sheet(client, cast, given, page):
    text = musician(client, cast).get(page).content.decode()
    assert not Sheet.objects.exists()
    first_place = text.index("<textarea")
    for words in ("may have to tell someone", "Room 12", "Dana Whitlock", "Ruben Asher"):
        assert 0 < text.index(words) < first_place


def test_a_plain_form_is_saved_for_later_and_sent(client, cast, given, page):
    musician(client, cast)
    answer = client.post(page, {"q.short": "Half", "act": "save"}, follow=True)
    assert b"Saved. Nobody reads it until you send it." in answer.content
    assert b"Half" in answer.content
    seen = {f"seen.{key}": stamp for key, stamp in Sheet.objects.get().stamps.items()}
    answer = client.post(page, {**POSTED, **seen, "act": "send"}, follow=True)
    assert b"Sent. Your director reads it next." in answer.content
    sheet = Sheet.objects.get()
    assert sheet.sent_at is not None and sheet.answers["spot"] == WHOLE["spot"]
    assert not OlderAnswer.objects.exists()
    assert client.get(page).headers["Location"] == reverse("my-sheet", args=[sheet.pk])


def test_sending_early_says_what_is_open_and_keeps_everything(client, cast, given, page):
    answer = musician(client, cast).post(page, {**POSTED, "q.scale": "", "act": "send"})
    assert answer.status_code == 400
    assert "“How close?” is still empty.".encode() in answer.content
    assert b"Oboe" in answer.content and Sheet.objects.get().sent_at is None


def test_a_pasted_book_stays_in_the_page_with_a_sentence(client, cast, given, page):
    book = "word " * 40_000
    answer = musician(client, cast).post(page, {**POSTED, "q.long": book, "act": "send"})
    assert answer.status_code == 400
    assert b"too long to keep (200,000 characters" in answer.content
    assert book.encode() in answer.content
    assert Sheet.objects.get().answers["short"] == "Fine"


def test_scripts_in_answers_are_shown_as_text(client, cast, given, page):
    bad = "<script>alert(1)</script>"
    text = musician(client, cast).post(
        page, {"q.short": bad, "act": "save"}, follow=True
    ).content.decode()
    assert bad not in text and "&lt;script&gt;alert(1)" in text


def test_two_plain_windows_clash_in_words(client, cast, given, page):
    musician(client, cast)
    client.post(page, {"q.short": "first", "seen.short": "", "act": "save"})
    answer = client.post(page, {"q.short": "second", "seen.short": "", "act": "save"})
    text = answer.content.decode()
    assert "was changed in another window. There it said: “first”" in text
    assert Sheet.objects.get().answers["short"] == "second"
    assert OlderAnswer.objects.get().answer == "first"


def test_a_script_saves_one_question_and_a_repeat_is_harmless(client, cast, given):
    musician(client, cast)
    for _ in range(2):
        status, told = put(client, given, {"short": one([["q.short", "Fine"]])})
        assert (status, told["stamps"], told["clashes"]) == (200, {"short": "s1"}, [])
    assert told["sheet"] == str(Sheet.objects.get().pk)


def test_a_script_is_told_of_a_clash_and_of_what_cannot_be_kept(client, cast, given):
    musician(client, cast)
    put(client, given, {"short": one([["q.short", "here"]], "a")})
    book = one([["q.long", "x" * 30_000]], "c")
    _, told = put(client, given, {"short": one([["q.short", "there"]], "b"), "long": book})
    assert told["clashes"] == [{"question": "short", "words": "here"}]
    assert "too long" in told["refused"]["long"] and told["stamps"] == {"short": "b"}


def test_a_script_hands_in_once_however_often_it_asks(client, cast):
    given = give(cast, "finds")
    musician(client, cast)
    saves = {
        key: one([[f"q.{key}", "a slow march"]], f"s-{key}") for key in ("what", "who", "why")
    }
    for _ in range(3):
        status, told = put(client, given, saves, step="find", send=True)
        assert (status, told["sent"]) == (200, True)
    assert Sheet.objects.count() == 1
    other = {key: {**value, "stamp": f"t-{key}"} for key, value in saves.items()}
    assert put(client, given, other, step="find", send=True)[1]["sent"]
    assert sorted(Sheet.objects.values_list("number", flat=True)) == [1, 2]


def test_a_script_is_told_what_is_still_open(client, cast, given):
    musician(client, cast)
    status, told = put(client, given, {"short": one([["q.short", "Fine"]])}, send=True)
    assert status == 200 and not told["sent"]
    assert ["choice", "“Which one?” is still empty."] in told["open"]


def test_bad_requests_get_a_sentence_and_no_page(client, cast, given):
    musician(client, cast)
    address = reverse("my-sheet-save", args=[given.pk, "all"])
    for body, status in ((b"{", 400), (b"[]", 400), (b'{"sheet": "x"}', 400)):
        answer = client.put(address, body, content_type="application/json")
        assert answer.status_code == status and answer.json()["error"]
    status, told = put(client, given, {}, sheet=str(uuid4()))
    assert status == 409 and "not yours" in told["error"]
    assert client.get(reverse("my-sheet-form", args=[given.pk, "none"])).status_code == 404


def test_a_recording_comes_by_script_or_as_a_file_and_is_heard_by_few(client, cast, given, page):
    musician(client, cast)
    address = reverse("my-sheet-sound", args=[given.pk, "all", "recording"])
    told = client.post(address, wav(), content_type="audio/wav").json()
    heard = reverse("sheet-sound", args=[told["sound"]])
    part = client.get(heard, headers={"Range": "bytes=0-3"})
    assert (part.status_code, part.content) == (206, b"fLaC")
    sign_in(client, cast.director)
    assert client.get(heard).status_code == 404  # a draft is its author's alone
    Sheet.objects.update(sent_at="2026-11-02T10:00:00Z")
    assert client.get(heard).status_code == 200
    for account in (cast.outsider_director, cast.second_musician.account):
        assert sign_in(client, account).get(heard).status_code == 404
    Sheet.objects.update(sent_at=None)
    musician(client, cast)
    brought = SimpleUploadedFile("spot.wav", wav(0.25), content_type="audio/wav")
    client.post(page, {**POSTED, "q.recording.file": brought, "act": "send"})
    sheet = Sheet.objects.get()
    latest = SheetSound.objects.latest("made_at")
    assert sheet.answers["recording"] == {"sound": str(latest.key)} and sheet.sent_at


def test_a_file_that_is_no_sound_gets_a_sentence_and_the_text_is_kept(client, cast, given, page):
    brought = SimpleUploadedFile("spot.wav", b"words, words", content_type="audio/wav")
    answer = musician(client, cast).post(
        page, {**POSTED, "q.recording.file": brought, "act": "save"}
    )
    assert answer.status_code == 400 and b"not a recording" in answer.content
    assert Sheet.objects.get().answers["short"] == "Fine"


def test_say_it_instead_is_for_who_has_an_accommodation(client, cast, page):
    assert b"Say it instead" not in musician(client, cast).get(page).content
    cast.musician.accommodations = ["spoken"]
    cast.musician.save()
    text = client.get(page).content
    assert b"Say it instead" in text and b"For you: You may say an answer instead" in text


def test_a_sent_sheet_shows_the_answers_the_reply_and_takes_no_more(client, cast):
    given = give(cast, CHOOSING)
    sheet = write(cast, given, {"a": "I heard the horns", "b": "yes"})
    sheets.send(sheet)
    address = reverse("my-sheet", args=[sheet.pk])
    text = musician(client, cast).get(address).content.decode()
    assert "I heard the horns" in text and "Take it up again" in text
    replies.reply(cast.director, sheet, "Good ears.", "Where else?")
    text = client.get(address).content.decode()
    assert "Good ears." in text and "Where else?" in text and "Take it up again" not in text
    sheet.refresh_from_db()
    assert sheet.reply.seen_at is not None
    client.post(reverse("my-sheet-again", args=[sheet.pk]))
    sheet.refresh_from_db()
    assert sheet.sent_at is not None


def test_my_part_shows_work_first_when_it_is_due_first(client, cast):
    publish(cast, due_in=5)
    given = give(cast, "rehearsal_remark", due_in=1, title="One spot")
    text = musician(client, cast).get(reverse("my-part")).content.decode()
    assert "One spot. <span class=\"due\">Due tomorrow.</span>" in text
    assert reverse("my-sheet-form", args=[given.pk, "remark"]) in text
    text = client.get(reverse("my-works")).content.decode()
    assert "One spot" in text
    assert client.get(reverse("my-work", args=[given.pk])).status_code == 200


def test_a_station_keeps_no_page_and_signs_out_after_sending(client, cast, page):
    musician(client, cast)
    assert client.get(page).headers["Keep-Offline"] == "yes"
    session = client.session
    session[STATION] = True
    session.save()
    answer = client.get(page)
    assert "Keep-Offline" not in answer.headers and b"data-at-station" in answer.content
    answer = client.post(page, {**POSTED, "act": "send"})
    assert answer.headers["Location"] == reverse("station-thanks")


def test_a_measure_of_the_own_part_is_drawn_and_no_other(client, cast):
    from standlight.programme import store
    from standlight.score import line_to_musicxml
    from tests.web.scene import TUNE

    piece = ode(cast)
    piece.score_digest = store.keep(line_to_musicxml(TUNE, instrument="Clarinet in Bb"))
    piece.save()
    part = Part.objects.create(piece=piece, index=0, name="Clarinet", instrument="Clarinet in Bb")
    Casting.objects.create(
        seat=Seat.objects.get(musician=cast.musician), piece=piece, part=part
    )
    given = give(cast, "rehearsal_remark")
    address = reverse("my-sheet-measure", args=[given.pk, 34])
    answer = musician(client, cast).get(address, {"piece": "Ode"})
    assert answer.status_code == 200 and answer.content.startswith(b"<svg")
    beyond = reverse("my-sheet-measure", args=[given.pk, 99])
    assert client.get(beyond, {"piece": "Ode"}).status_code == 404
    other = sign_in(client, cast.second_musician.account)
    assert other.get(address, {"piece": "Ode"}).status_code == 404


def test_the_words_of_the_pages_are_easy_to_read(client, cast, page):
    words = [
        "Your director reads this and may have to tell someone if you or another person is in "
        "danger.", "Saved. Nobody reads it until you send it.",
        "Not sent yet. Look at what is still open below.",
        "You changed this in another window too. There it said:",
        "Both are kept. What stands in this window is the one that counts now.",
        "Kept on this device. It is sent when there is network. You can close this page.",
    ]  # fmt: skip
    assert max(reading_grade(one).grade for one in words[1:]) <= 6.0
    assert reading_grade(" ".join(words)).grade <= 6.0
