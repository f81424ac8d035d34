"""The reading side's pages: who may open and post, drafts that never show, and the way through."""

import pytest
from django.urls import reverse

from standlight.kinds import KINDS, data_of
from standlight.programme import store
from standlight.programme.actions.replies import keep_reply_line, put_on_wall
from standlight.programme.models import (
    CommentLine,
    OlderAnswer,
    Reply,
    Seat,
    Sheet,
    SheetLevel,
    SheetSound,
)
from standlight.programme.queries.kinds import kind_in
from tests.programme.reading_scene import (
    RATED,
    STUDY,
    assignment_of,
    own_sheet,
    piece_of,
    sheet_of,
)
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db

SECRET = "zebra-draft-words"


@pytest.fixture
def given(cast):
    return assignment_of(cast)


@pytest.fixture
def sheet(cast, given):
    return sheet_of(given, cast.musician, ago=6)


def of(name, sheet):
    return reverse(name, args=[sheet.assignment_id, sheet.pk])


def pages(sheet, ensemble):
    given, step = sheet.assignment_id, sheet.step
    return [
        ("get", reverse("reading-stack", args=[given])),
        ("get", reverse("reading-all", args=[given])),
        ("get", of("reading-sheet", sheet)),
        ("post", of("reading-sheet", sheet)),
        ("post", of("reading-levels", sheet)),
        ("post", of("reading-sheet-wall", sheet)),
        ("get", reverse("reading-together", args=[given])),
        ("get", reverse("reading-together-step", args=[given, step])),
        ("get", reverse("reading-print", args=[given, step])),
        ("get", reverse("reading-wall", args=[ensemble.pk])),
        ("get", reverse("reading-search") + f"?q=horns&assignment={given}"),
        ("get", reverse("reading-search") + f"?q=horns&ensemble={ensemble.pk}"),
    ]


def shut_out(cast):
    return (
        cast.musician.account, cast.second_musician.account, cast.singer.account,
        cast.outsider_musician.account, cast.outsider_director,
    )  # fmt: skip


def test_every_page_and_post_is_shut_to_others_and_asks_the_signed_out_to_sign_in(
    client, cast, sheet
):
    for method, address in pages(sheet, cast.band):
        client.logout()
        answer = getattr(client, method)(address)
        assert answer.status_code == 302, address
        assert answer.url.startswith(reverse("sign-in")), address
        for account in shut_out(cast):
            sign_in(client, account)
            assert getattr(client, method)(address).status_code == 404, (account, address)
    kept = Sheet.objects.get()
    assert kept.opened_at is None
    assert not Reply.objects.exists()


def test_the_lead_and_a_second_adult_who_directs_the_band_see_every_page(client, cast, sheet):
    for account in (cast.director, cast.second_director):
        sign_in(client, account)
        for method, address in pages(sheet, cast.band):
            if method == "get":
                assert client.get(address, follow=True).status_code == 200, address
        for name in ("reading", "reading-search", "reading-lines"):
            assert client.get(reverse(name)).status_code == 200
        page = client.get(of("reading-sheet", sheet)).content.decode()
        assert "The horns fade like a lamp." in page
        assert "Dana Whitlock, Ruben Asher" in page


def test_a_director_of_the_band_only_finds_nothing_of_the_choir(client, cast):
    given = assignment_of(cast, group=cast.choir)
    song = sheet_of(given, cast.singer, story="Altos carry the tune")
    sign_in(client, cast.second_director)
    for method, address in pages(song, cast.choir):
        assert getattr(client, method)(address).status_code == 404, address
    assert "Altos" not in client.get(reverse("reading-search") + "?q=altos").content.decode()
    assert "Letter on the Ode" not in client.get(reverse("reading")).content.decode()
    sign_in(client, cast.director)
    assert "Altos" in client.get(reverse("reading-search") + "?q=altos").content.decode()


def test_the_places_without_a_row_are_for_directors_only(client, cast, sheet):
    for name in ("reading", "reading-search", "reading-lines"):
        client.logout()
        assert client.get(reverse(name)).status_code == 302
        sign_in(client, cast.musician.account)
        assert client.get(reverse(name)).status_code == 404
        sign_in(client, cast.outsider_director)
        page = client.get(reverse(name) + "?q=horns").content.decode()
        assert "Letter on the Ode" not in page and "lamp" not in page.replace("lamp.svg", "")


def test_a_draft_shows_nowhere_and_is_not_found(client, cast, given):
    sheet_of(given, cast.second_musician)
    draft = sheet_of(given, cast.musician, sent=False, story=SECRET, share=True, mood="wild")
    OlderAnswer.objects.create(sheet=draft, question="story", answer=SECRET)
    for account in (cast.director, cast.second_director):
        sign_in(client, account)
        for method, address in pages(draft, cast.band):
            answer = getattr(client, method)(address, follow=True)
            assert SECRET not in answer.content.decode(), address
            if str(draft.pk) in address:
                assert answer.status_code == 404, address
        for address in (
            reverse("reading"), reverse("today"), reverse("desk"),
            reverse("reading-search") + "?q=zebra",
        ):  # fmt: skip
            page = client.get(address, follow=True).content.decode()
            assert SECRET not in page, address
        together = reverse("reading-together-step", args=[given.pk, "letter"])
        page = client.get(together + "?prompt=mood").content.decode()
        assert "Nobody has answered this yet." in page
    assert Sheet.objects.get(pk=draft.pk).opened_at is None


def test_an_overwritten_answer_of_a_sent_sheet_shows_nowhere(client, cast, sheet):
    OlderAnswer.objects.create(sheet=sheet, question="story", answer=SECRET)
    sign_in(client, cast.director)
    for method, address in pages(sheet, cast.band):
        if method == "get":
            assert SECRET not in client.get(address, follow=True).content.decode(), address
    assert "stands in no sheet" in client.get(
        reverse("reading-search") + "?q=zebra").content.decode()  # fmt: skip


def test_a_sheet_under_another_assignments_address_is_not_found(client, cast, sheet):
    other = assignment_of(cast, title="Other")
    sign_in(client, cast.director)
    assert client.get(reverse("reading-sheet", args=[other.pk, sheet.pk])).status_code == 404


def test_the_stack_opens_the_oldest_unread_and_notes_who_opened_it_first(client, cast, given):
    newer = sheet_of(given, cast.musician, ago=2)
    older = sheet_of(given, cast.second_musician, ago=6)
    sign_in(client, cast.second_director)
    stacks = client.get(reverse("reading")).content.decode()
    assert "2 unread, oldest waits 6 days" in stacks
    first = client.get(reverse("reading-stack", args=[given.pk]))
    assert first.url == of("reading-sheet", older)
    client.get(first.url)
    opened = Sheet.objects.get(pk=older.pk)
    assert opened.opened_by == cast.second_director
    sign_in(client, cast.director)
    assert client.get(reverse("reading-stack", args=[given.pk])).url == of("reading-sheet", newer)
    page = client.get(of("reading-sheet", older)).content.decode()
    assert "first opened by Ruben Asher" in page
    assert Sheet.objects.get(pk=older.pk).opened_at == opened.opened_at


def test_the_whole_way_without_scripts_from_the_stack_to_the_next_sheet(client, cast, given):
    first = sheet_of(given, cast.musician, ago=3)
    second = sheet_of(given, cast.second_musician, ago=1)
    keep_reply_line(cast.director, kind_in(given.kind), "next_step", "Name one measure")
    sign_in(client, cast.director)
    client.get(of("reading-sheet", first))
    line = CommentLine.objects.get()
    filled = client.post(of("reading-sheet", first), {"use": line.pk, "words": "I hear it"})
    assert 'value="Name one measure"' in filled.content.decode()
    assert 'value="I hear it"' in filled.content.decode()
    assert not Reply.objects.exists()
    sent = client.post(
        of("reading-sheet", first),
        {"words": "I hear it", "next_step": "Name one measure", "level-words": "3",
         "keep": "yes"},
    )  # fmt: skip
    assert sent.url == of("reading-sheet", second)
    kept = Reply.objects.get()
    assert (kept.words, kept.next_step, kept.written_by) == (
        "I hear it", "Name one measure", cast.director,
    )  # fmt: skip
    assert SheetLevel.objects.get().value == "3"
    line = CommentLine.objects.get(place="strength")
    assert (line.criterion, line.level, line.text) == ("words", 3, "I hear it")
    client.get(sent.url)
    last = client.post(sent.url, {"words": "Good ears"})
    assert last.url == reverse("reading-all", args=[given.pk])
    page = client.get(last.url).content.decode()
    assert "Everything that was sent here has been opened." in page
    assert page.count(">answered<") == 2


def test_a_reply_without_a_line_is_told_and_a_level_alone_goes_on(client, cast, sheet):
    sign_in(client, cast.director)
    page = client.post(of("reading-sheet", sheet), {"words": " "}).content.decode()
    assert "a reply needs a line" in page
    answer = client.post(of("reading-sheet", sheet), {"level-words": "2"})
    assert answer.status_code == 302
    assert SheetLevel.objects.get().value == "2"
    assert not Reply.objects.exists()
    assert client.post(of("reading-levels", sheet), {"level-words": "4"}).status_code == 204
    assert SheetLevel.objects.get(retired_at__isnull=True).value == "4"


def test_another_raters_levels_show_only_after_the_own_are_whole(client, cast, sheet):
    for criterion in ("heard", "words"):
        SheetLevel.objects.create(
            sheet=sheet, rater=cast.second_director, criterion=criterion, value="1"
        )
    sign_in(client, cast.director)
    assert "Ruben Asher: " not in client.get(of("reading-sheet", sheet)).content.decode()
    client.post(of("reading-levels", sheet), {"level-words": "4"})
    assert "Ruben Asher: " not in client.get(of("reading-sheet", sheet)).content.decode()
    client.post(of("reading-levels", sheet), {"level-heard": "not_shown"})
    page = client.get(of("reading-sheet", sheet)).content.decode()
    assert "Ruben Asher: What was heard beginning, Words beginning" in page


def test_an_accommodation_is_an_instruction_on_the_page(client, cast, sheet):
    cast.musician.accommodation = "May answer by voice"
    cast.musician.save()
    sign_in(client, cast.director)
    assert "May answer by voice" in client.get(of("reading-sheet", sheet)).content.decode()


def test_every_type_of_answer_is_drawn_and_scripts_in_answers_are_text(client, cast, given):
    full = sheet_of(
        given, cast.musician, story="<script>alert(1)</script> 🎺 שלום", why="Because",
        mood="wild", sure=4, place={"measure": 12, "words": "the top"},
        sources=[{"name": "A book", "use": ""}, {"name": "A friend", "use": "the beat"}],
        share=False,
    )  # fmt: skip
    sign_in(client, cast.director)
    page = client.get(of("reading-sheet", full)).content.decode()
    assert "&lt;script&gt;alert(1)&lt;/script&gt; 🎺 שלום" in page
    assert "<script>alert" not in page
    for words in ("Measure 12", "the top", "A friend", "the beat", "wild", "Because"):
        assert words in page
    assert '<li class="chosen">4' in page
    assert "Not shared with the group" in page


def test_a_spoken_answer_can_be_played_and_one_that_is_gone_says_so(client, cast, given):
    sheet = sheet_of(given, cast.musician, story="x")
    sound = SheetSound.objects.create(
        sheet=sheet, question="story", digest=store.keep(b"fLaC"), seconds=9.6
    )
    Sheet.objects.update(answers={"story": {"sound": str(sound.key)}})
    sign_in(client, cast.director)
    page = client.get(of("reading-sheet", sheet)).content.decode()
    assert reverse("sheet-sound", args=[sound.key]) in page
    assert client.get(reverse("sheet-sound", args=[sound.key])).status_code == 200
    sound.removed_at = sheet.sent_at
    sound.save()
    page = client.get(of("reading-sheet", sheet)).content.decode()
    assert "This recording is gone" in page
    assert "<audio" not in page


def test_answers_stand_side_by_side_by_section_with_counts(client, cast, given):
    sheet_of(given, cast.second_musician, story="Drums lead", mood="wild")
    sheet_of(given, cast.musician, story="Horns lead", mood="calm")
    sign_in(client, cast.director)
    address = reverse("reading-together-step", args=[given.pk, "letter"])
    page = client.get(address).content.decode()
    assert page.index(">Clarinet<") < page.index("Horns lead") < page.index(">Percussion<")
    assert page.index(">Percussion<") < page.index("Drums lead")
    assert "2 answers from 2 musicians." in page
    page = client.get(address + "?prompt=mood").content.decode()
    assert '<th scope="row">calm</th><td class="numbers">1</td>' in page
    page = client.get(address + "?prompt=nonsense").content.decode()
    assert "Horns lead" in page
    unknown = reverse("reading-together-step", args=[given.pk, "nothing"])
    assert client.get(unknown).status_code == 404


def test_words_are_found_in_one_assignment_in_a_group_or_in_all(client, cast, given, sheet):
    other = assignment_of(cast, title="Second letter")
    sheet_of(other, cast.second_musician, story="HORNS again")
    sign_in(client, cast.director)
    address = reverse("reading-search")
    both = client.get(address + "?q=horns").content.decode()
    assert "Mina Okafor" in both and "Theo Lindqvist" in both
    assert "<mark>HORNS</mark> again" in both
    one = client.get(f"{address}?q=horns&assignment={given.pk}").content.decode()
    assert "Mina Okafor" in one and "Theo Lindqvist" not in one
    assert "2 places" in client.get(
        f"{address}?q=horns&ensemble={cast.band.pk}").content.decode()  # fmt: skip
    assert client.get(f"{address}?q=horns&ensemble=999").status_code == 404
    assert "stands in no sheet" in client.get(address + "?q=oboes").content.decode()


def test_the_wall_is_put_up_and_taken_down_and_its_group_sees_it(client, cast, given):
    shared = sheet_of(given, cast.musician, story="Hear this tune", share=True)
    private = sheet_of(given, cast.second_musician, story="Just for you", share=False)
    sign_in(client, cast.director)
    wall = reverse("reading-wall", args=[cast.band.pk])
    assert "Hear this tune" in client.get(wall).content.decode()
    assert "Just for you" not in client.get(wall).content.decode()
    client.post(of("reading-sheet-wall", shared), {"on": "yes", "back": "wall"})
    client.post(of("reading-sheet-wall", private), {"on": "yes"})
    assert list(Sheet.objects.filter(on_wall=True)) == [shared]
    mine = reverse("my-wall", args=[cast.band.pk])
    sign_in(client, cast.second_musician.account)
    page = client.get(mine).content.decode()
    assert "Hear this tune" in page and "Mina Okafor" in page
    for account in (
        cast.singer.account, cast.outsider_musician.account, cast.director, cast.outsider_director,
    ):  # fmt: skip
        sign_in(client, account)
        assert client.get(mine).status_code == 404, account
    sign_in(client, cast.second_director)
    client.post(of("reading-sheet-wall", shared), {"on": "no"})
    sign_in(client, cast.second_musician.account)
    assert "Hear this tune" not in client.get(mine).content.decode()


def test_who_has_left_the_group_no_longer_sees_its_wall(client, cast, given):
    put_on_wall(cast.director, sheet_of(given, cast.musician, story="Tune", share=True))
    Seat.objects.filter(musician=cast.second_musician).update(left_on="2020-01-01")
    sign_in(client, cast.second_musician.account)
    assert client.get(reverse("my-wall", args=[cast.band.pk])).status_code == 404


def printed(client, address):
    """The part of the page that is printed."""
    return client.get(address).content.decode().split('<ul class="printed">')[1]


def test_only_ticked_and_shared_sheets_are_printed(client, cast, given):
    one = sheet_of(given, cast.musician, story="Note one", why="Because", share=True)
    sheet_of(given, cast.musician, number=2, story="Note two", share=True)
    sheet_of(given, cast.second_musician, story="Private note", share=False)
    sign_in(client, cast.director)
    address = reverse("reading-print", args=[given.pk, "letter"])
    page = client.get(address).content.decode()
    assert "1 more was sent, but not to be shared" in page
    assert "Private note" not in page
    paper = printed(client, address)
    assert "Note one" in paper and "Because" in paper and "Note two" in paper
    assert "Mina Okafor" in paper
    paper = printed(client, f"{address}?chosen=yes&sheet={one.pk}&field=story")
    assert "Note one" in paper
    assert "Note two" not in paper and "Because" not in paper and "Mina Okafor" not in paper
    assert "Nothing is chosen" in printed(client, f"{address}?chosen=yes")


def shipped(cast, key, **more):
    """A shipped kind given out to the band."""
    return assignment_of(cast, data_of(KINDS[key]), title=KINDS[key].name, **more)


def test_a_directors_own_sheet_is_kept_sent_and_laid_over_the_groups(client, cast):
    given = assignment_of(cast, RATED)
    levels = {"balance": "2", "time": "2"}
    sheet_of(given, cast.musician, step="judge", **levels, sure=3)
    sheet_of(given, cast.second_musician, step="judge", balance="2", time="4", sure=1)
    together = reverse("reading-together-step", args=[given.pk, "judge"])
    address = reverse("reading-own", args=[given.pk, "judge"])
    sign_in(client, cast.director)
    page = client.get(together + "?prompt=time").content.decode()
    assert "once a director&#x27;s own sheet is sent" in page
    assert "Own, group and director" not in page and '<th scope="row">Secure' not in page
    posted = {f"q.{key}": "3" for key in levels}
    kept = client.post(address, {**posted, "act": "save"}, follow=True).content.decode()
    assert "Kept." in kept
    page = client.get(together + "?prompt=time").content.decode()
    assert "Own, group and director" not in page
    refused = client.post(address, {**posted, "act": "send"})
    assert refused.status_code == 400 and "still empty" in refused.content.decode()
    sent = client.post(address, {**posted, "q.sure": "4", "act": "send"})
    assert sent.url == together
    page = client.get(together + "?prompt=time").content.decode()
    row = page[page.index('<th scope="row">Time</th>'):].split("</tr>")[0]
    assert row.replace("</td><td>", "|").split("<td>")[1].removesuffix("</td>") == (
        "Developing|Secure|Extending|2|Secure"
    )
    assert "%" not in page[page.index("Own, group and director"):]
    sign_in(client, cast.second_director)
    assert "Dana Whitlock" in client.get(together).content.decode()
    own = Sheet.objects.get(author=cast.director)
    again = reverse("reading-own-again", args=[given.pk, own.pk])
    assert client.post(again).status_code == 404
    sign_in(client, cast.director)
    client.post(again)
    assert Sheet.objects.get(pk=own.pk).sent_at is None


def test_a_directors_draft_shows_to_no_other_director(client, cast):
    given = shipped(cast, "score_study", piece=piece_of(cast))
    own_sheet(given, cast.director, step="find", sent=False, ask=SECRET)
    sign_in(client, cast.second_director)
    for name in ("reading-together-step", "reading-own", "reading-print"):
        page = client.get(reverse(name, args=[given.pk, "find"]) + "?prompt=ask")
        assert page.status_code == 200 and SECRET not in page.content.decode()
    sign_in(client, cast.director)
    assert SECRET in client.get(reverse("reading-own", args=[given.pk, "find"])).content.decode()


def test_pins_of_the_group_lie_on_the_measures_with_the_directors_own(client, cast):
    given = shipped(cast, "score_study", piece=piece_of(cast, 40))
    for musician in (cast.musician, cast.second_musician):
        sheet_of(
            given, musician, step="find",
            hardest=[{"at": {"measure": 21, "words": ""}, "why": "leap", "plan": "go slow there"}],
        )  # fmt: skip
    own_sheet(given, cast.director, step="find", hardest=[{"at": {"measure": 8}, "why": "range"}])
    sign_in(client, cast.director)
    address = reverse("reading-together-step", args=[given.pk, "find"]) + "?prompt=hardest"
    page = client.get(address).content.decode()
    assert "<title>measure 21: 2</title>" in page
    assert "<title>Director: measure 8</title>" in page
    assert page.index("Measure 8</strong>") < page.index("Measure 21</strong>")
    assert "A big leap, go slow there" in page
    assert '<th scope="row">A big leap</th><td class="numbers">2</td>' in page


def test_what_a_director_saw_is_kept_line_by_line_and_shown_when_they_say_so(client, cast):
    given = shipped(cast, "ensemble_acts")
    address = reverse("reading-each", args=[given.pk, "acts"])
    mina, theo = cast.musician.pk, cast.second_musician.pk
    sign_in(client, cast.director)
    page = client.get(address + "?prompt=looks").content.decode()
    assert "Mina Okafor" in page and "Looks up for starts" in page
    posted = {"prompt": "looks", f"saw-{mina}": "most", f"saw-{theo}": "",
              f"example-{mina}": "Looked up at letter C"}  # fmt: skip
    client.post(address, posted)
    kept = Sheet.objects.get()
    assert (kept.about, kept.author, kept.sent_at) == (cast.musician, cast.director, None)
    assert kept.answers == {"looks": "most", "looks_example": "Looked up at letter C"}
    together = reverse("reading-together-step", args=[given.pk, "acts"]) + "?prompt=looks"
    assert "Seen by" not in client.get(together).content.decode()
    client.post(address, {**posted, "prompt": "looks", f"saw-{mina}": "always", "act": "show"})
    shown = Sheet.objects.get()
    assert shown.answers["looks"] == "always" and shown.sent_at is not None
    page = client.get(together).content.decode()
    assert "Seen by Dana Whitlock" in page
    for account in (cast.musician.account, cast.outsider_director):
        sign_in(client, account)
        assert client.get(address).status_code == 404
        assert client.post(address, posted).status_code == 404


def test_a_kind_without_a_directors_side_has_no_such_page(client, cast, given):
    sign_in(client, cast.director)
    for name in ("reading-own", "reading-each"):
        assert client.get(reverse(name, args=[given.pk, "letter"])).status_code == 404


def test_a_permission_that_promises_no_name_is_kept_on_the_wall(client, cast):
    body = {**STUDY, "key": "nameless", "steps": [
        {**STUDY["steps"][0], "fields": [
            *STUDY["steps"][0]["fields"][:-1],
            {**STUDY["steps"][0]["fields"][-1], "help": "Your name is not shown."},
        ]}]}  # fmt: skip
    given = assignment_of(cast, body)
    put_on_wall(cast.director, sheet_of(given, cast.musician, story="Brave words", share=True))
    sign_in(client, cast.second_musician.account)
    page = client.get(reverse("my-wall", args=[cast.band.pk])).content.decode()
    assert "Brave words" in page and "Okafor" not in page
    sign_in(client, cast.director)
    page = client.get(reverse("reading-print", args=[given.pk, "letter"])).content.decode()
    assert '<p class="quiet small">Mina Okafor</p>' not in page


def test_the_bank_for_replies_is_listed_and_a_line_taken_out(client, cast, given):
    keep_reply_line(cast.director, kind_in(given.kind), "next_step", "Name one measure")
    sign_in(client, cast.director)
    address = reverse("reading-lines")
    page = client.get(address).content.decode()
    assert "Listening letter" in page and "Name one measure" in page
    line = CommentLine.objects.get()
    sign_in(client, cast.outsider_director)
    assert client.post(address, {"drop": line.pk}).status_code == 404
    sign_in(client, cast.director)
    client.post(address, {"drop": line.pk})
    assert not CommentLine.objects.exists()
