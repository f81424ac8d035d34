"""The musician's pages: what they show, and to whom."""

import datetime

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from standlight.programme.models import Answer, GivenLevel, Musician, PlayingCheck, Take, Turn
from standlight.programme.queries import my_part as queries
from standlight.programme.queries.hearing import passage_of
from standlight.programme.queries.my_part import my_part
from tests.web.scene import paper, publish, sign_in, video, wav

pytestmark = pytest.mark.django_db


@pytest.fixture
def check(cast):
    return publish(cast)


def send_file(client, check, data=None, name="take.wav", kind="audio/wav"):
    brought = SimpleUploadedFile(name, wav() if data is None else data, content_type=kind)
    return client.post(reverse("my-file", args=[check.pk]), {"take": brought}, follow=True)


def answered(cast, check, **words):
    """A sent and answered turn of the clarinettist."""
    now = timezone.now()
    turn = Turn.objects.create(
        check_row=check, musician=cast.musician, sent_at=now, answered_at=now
    )
    Take.objects.create(turn=turn, chosen=True, state=Take.HEARD)
    Answer.objects.create(
        turn=turn, next_step="Count the rests aloud", written_by=cast.director, **words
    )
    return turn


# Who may.


def pages(cast, check):
    turn = answered(cast, paper(cast, title="Earlier"))
    return [
        reverse("my-check", args=[check.pk]),
        reverse("my-music", args=[check.pk, "wide"]),
        reverse("my-answer", args=[turn.pk]),
    ]


def strangers(cast):
    return (
        cast.director,
        cast.second_director,
        cast.singer.account,
        cast.outsider_director,
        cast.outsider_musician.account,
    )


def test_the_musician_opens_their_own_pages(client, cast, check):
    sign_in(client, cast.musician.account)
    for page in [reverse("my-part"), *pages(cast, check)]:
        assert client.get(page).status_code == 200, page


def test_nobody_else_opens_a_musicians_pages(client, cast, check):
    for account in strangers(cast):
        sign_in(client, account)
        for page in pages(cast, check):
            assert client.get(page).status_code == 404, (account, page)
        Turn.objects.all().delete()
        Answer.objects.all().delete()
        PlayingCheck.objects.filter(title="Earlier").delete()


def test_a_musician_of_the_same_group_sees_the_check_but_not_anothers_answer(client, cast, check):
    turn = answered(cast, check)
    sign_in(client, cast.second_musician.account)
    assert client.get(reverse("my-check", args=[check.pk])).status_code == 200
    assert client.get(reverse("my-answer", args=[turn.pk])).status_code == 404


def test_directors_have_no_my_part(client, cast):
    sign_in(client, cast.director)
    assert client.get(reverse("my-part")).status_code == 404


def test_signed_out_leads_to_the_sign_in_page(client, cast, check):
    for page in [reverse("my-part"), *pages(cast, check)]:
        answer = client.get(page)
        assert answer.status_code == 302
        assert answer["Location"].startswith(reverse("sign-in"))


def test_nobody_else_posts_to_a_musicians_check(client, cast, check):
    sign_in(client, cast.musician.account)
    send_file(client, check)
    take = Take.objects.get()
    posts = (
        (reverse("my-file", args=[check.pk]), {"take": SimpleUploadedFile("a.wav", wav())}),
        (reverse("my-send", args=[check.pk]), {"take": str(take.key)}),
        (reverse("my-let-go", args=[check.pk, take.key]), {}),
    )
    for account in strangers(cast):
        sign_in(client, account)
        for place, form in posts:
            assert client.post(place, form).status_code == 404, (account, place)
    client.logout()
    for place, form in posts:
        assert client.post(place, form).status_code == 302
    sign_in(client, cast.second_musician.account)
    assert client.post(posts[1][0], posts[1][1]).status_code == 400
    assert client.post(posts[2][0], {}).status_code == 404
    assert Take.objects.count() == 1
    assert not Turn.objects.filter(sent_at__isnull=False).exists()


def test_a_draft_check_is_not_there_yet(client, cast):
    draft = publish(cast, published_at=None)
    sign_in(client, cast.musician.account)
    assert client.get(reverse("my-check", args=[draft.pk])).status_code == 404


# The plain line: a file, a choice, sent.


def test_a_file_is_kept_chosen_and_sent_without_any_script(client, cast, check):
    sign_in(client, cast.musician.account)
    page = send_file(client, check)
    assert "Your file is kept" in page.content.decode()
    take = Take.objects.get()
    assert f'value="{take.key}"' in page.content.decode()
    done = client.post(
        reverse("my-send", args=[check.pk]),
        {"take": str(take.key), "words": "sorry for the dog", "spot_first": "1",
         "spot_last": "", "spot_words": "the run"},
        follow=True,
    )  # fmt: skip
    assert "Sent. Your director hears it next." in done.content.decode()
    turn = Turn.objects.get()
    assert turn.sent_at and turn.words == "sorry for the dog" and turn.way == Turn.FILE
    page = client.get(reverse("my-check", args=[check.pk])).content.decode()
    assert "Your take is sent" in page
    assert "data-recorder" not in page


def test_a_video_is_taken_and_the_page_says_that_its_picture_is_dropped(client, cast, check):
    sign_in(client, cast.musician.account)
    assert "the picture is thrown away" in client.get(
        reverse("my-check", args=[check.pk])
    ).content.decode()
    send_file(client, check, video(), "me.mp4", "video/mp4")
    assert Take.objects.get().media_type == "audio/flac"


@pytest.mark.parametrize(
    ("data", "name", "kind", "sentence"),
    [
        (b"", "take.wav", "audio/wav", "The file is empty, at take.wav"),
        (b"\x89\x00\xff\x10" * 50, "me.mp4", "video/mp4", "not a recording this tool can read"),
    ],
)
def test_a_bad_file_gets_a_sentence_and_the_page_stays(
    client, cast, check, data, name, kind, sentence
):
    sign_in(client, cast.musician.account)
    answer = send_file(client, check, data, name, kind)
    assert answer.status_code == 400
    assert sentence in answer.content.decode()
    assert not Take.objects.exists()


def test_sending_without_a_choice_gets_a_sentence(client, cast, check):
    sign_in(client, cast.musician.account)
    for form in ({}, {"take": "nonsense"}, {"take": "z" * 36}):
        answer = client.post(reverse("my-send", args=[check.pk]), form)
        assert answer.status_code == 400
        assert "Choose the take you want to send." in answer.content.decode()


def test_a_take_can_be_let_go_before_sending(client, cast, check):
    sign_in(client, cast.musician.account)
    send_file(client, check)
    take = Take.objects.get()
    client.post(reverse("my-let-go", args=[check.pk, take.key]))
    assert not Take.objects.exists()


# What the pages say.


def test_the_next_thing_is_the_passage_and_its_day_in_words(client, cast):
    publish(cast, title="Later", due_in=20)
    publish(cast, title="Sooner", due_in=1)
    publish(cast, title="Overdue", due_in=-2)
    page = my_part(cast.musician.account)
    assert (page.next.title, page.next.where, page.next.due) == (
        "Sooner",
        "measures 33 to 35",
        "Due tomorrow",
    )
    assert [line.title for line in page.also_open] == ["Overdue", "Later"]
    sign_in(client, cast.musician.account)
    assert "Your passage, measures 33 to 35." in client.get(reverse("my-part")).content.decode()


def test_a_check_from_before_the_musician_joined_is_not_asked(cast):
    publish(cast, title="Old", due_in=-30)
    cast.musician.seats.update(joined_on=timezone.localdate() - datetime.timedelta(5))
    assert my_part(cast.musician.account).next is None


def test_the_first_page_costs_the_same_number_of_queries_for_one_check_and_for_ten(
    cast, django_assert_num_queries
):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    publish(cast)
    with CaptureQueriesContext(connection) as one:
        my_part(cast.musician.account)
    for number in range(9):
        answered(cast, publish(cast, title=f"Check {number}"))
    with CaptureQueriesContext(connection) as ten:
        assert len(my_part(cast.musician.account).back) == 9
    assert len(ten) == len(one)


@pytest.mark.parametrize("who", ["musician", "second_musician", "singer"])
def test_the_passage_is_the_one_the_hearing_uses(cast, who):
    publish(cast)
    publish(cast, musician=cast.second_musician)
    paper(cast, printed="letter B")
    paper(cast, group=cast.choir, printed="33 to 40")
    musician = getattr(cast, who)
    seats = tuple(musician.seats.select_related("section__ensemble"))
    castings = queries._castings(seats)
    checks = list(queries.checks_of(musician))
    assert checks
    for check in checks:
        assert queries._passage(check, seats, castings) == passage_of(
            Turn(check_row=check, musician=musician)
        )


def test_paper_only_says_where_on_the_printed_part(client, cast):
    check = paper(cast, printed="letter B")
    sign_in(client, cast.musician.account)
    page = client.get(reverse("my-check", args=[check.pk])).content.decode()
    assert "Use your printed part: letter B." in page
    assert "my-music" not in page and "music-wide" not in page


def test_an_answer_shows_its_words_and_levels_and_is_noted_as_seen_once(client, cast, check):
    turn = answered(
        cast, check, strength="Warm tone", strategy="Clap it first", first_measure=0,
        last_measure=1,
    )  # fmt: skip
    Turn.objects.filter(pk=turn.pk).update(self_levels={"rhythm": 4})
    GivenLevel.objects.create(turn=turn, criterion="rhythm", value="2", rater=cast.director)
    GivenLevel.objects.create(turn=turn, criterion="pulse", value="not_heard", rater=cast.director)
    sign_in(client, cast.musician.account)
    first = client.get(reverse("my-part")).content.decode()
    assert "Came back to you" in first and "New answer" in first
    page = client.get(reverse("my-answer", args=[turn.pk])).content.decode()
    for words in (
        "Warm tone", "Count the rests aloud", "Clap it first", "measures 33 to 34", "developing",
        "could not be heard", "You said: extending.", "Try again", "Dana Whitlock",
    ):  # fmt: skip
        assert words in page, words
    seen = Answer.objects.get().seen_at
    assert seen is not None
    client.get(reverse("my-answer", args=[turn.pk]))
    assert Answer.objects.get().seen_at == seen
    assert "Came back to you" not in client.get(reverse("my-part")).content.decode()


def test_after_an_answer_the_check_opens_again(client, cast, check):
    answered(cast, check)
    sign_in(client, cast.musician.account)
    page = client.get(reverse("my-check", args=[check.pk])).content.decode()
    assert "You are trying again." in page and "data-recorder" in page
    send_file(client, check)
    assert Take.objects.filter(turn__attempt=2).count() == 1
    assert len(my_part(cast.musician.account).back) == 1


@pytest.mark.parametrize(
    ("way", "words"),
    [(Musician.LIVE_ONLY, "You are heard live"), (Musician.NEITHER, "agreed another way")],
)
def test_who_does_not_record_reads_how_they_are_heard(client, cast, check, way, words):
    Musician.objects.filter(pk=cast.musician.pk).update(way=way)
    sign_in(client, cast.musician.account)
    assert words in client.get(reverse("my-part")).content.decode()
    page = client.get(reverse("my-check", args=[check.pk])).content.decode()
    assert words in page
    assert "data-recorder" not in page and "data-send" not in page
    assert send_file(client, check).status_code == 400


def test_the_instruction_for_a_musician_and_the_safety_words_are_shown(client, cast, check):
    Musician.objects.filter(pk=cast.musician.pk).update(
        accommodation="You may take it at 60", changed_goal="Hands together"
    )
    sign_in(client, cast.musician.account)
    page = client.get(reverse("my-check", args=[check.pk])).content.decode()
    for words in (
        "You may take it at 60",
        "Hands together",
        "may have to tell someone if you or another person is in danger",
        "You can turn to: Room 12.",
        "Stop if anything hurts, and tell an adult.",
        "Only you and your directors can hear it.",
    ):
        assert words in page, words


def test_self_rating_is_asked_only_when_the_director_asks(client, cast):
    sign_in(client, cast.musician.account)
    asked = publish(cast, asks_self_rating=True)
    assert 'name="level-rhythm"' in client.get(
        reverse("my-check", args=[asked.pk])
    ).content.decode()
    plain = publish(cast)
    assert 'name="level-rhythm"' not in client.get(
        reverse("my-check", args=[plain.pk])
    ).content.decode()


def test_a_criterion_the_instrument_cannot_show_is_left_out(client, cast):
    check = publish(cast, musician=cast.second_musician)
    sign_in(client, cast.second_musician.account)
    page = client.get(reverse("my-check", args=[check.pk])).content.decode()
    assert "Steady pulse" in page and "Intonation" not in page


def test_the_music_is_a_picture_in_two_widths(client, cast, check):
    sign_in(client, cast.musician.account)
    sizes = {}
    for width in ("wide", "phone"):
        answer = client.get(reverse("my-music", args=[check.pk, width]))
        assert answer["Content-Type"] == "image/svg+xml"
        sizes[width] = answer.content
        assert b'id="n0"' in answer.content
    assert sizes["wide"] != sizes["phone"]
    assert client.get(reverse("my-music", args=[check.pk, "huge"])).status_code == 404


def test_pages_of_a_musician_are_not_kept_by_the_browser(client, cast, check):
    sign_in(client, cast.musician.account)
    for page in (reverse("my-part"), reverse("my-check", args=[check.pk])):
        assert "no-store" in client.get(page)["Cache-Control"]


def test_the_worker_script_stands_at_the_root(client):
    answer = client.get("/recording-worker.js")
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/javascript"
