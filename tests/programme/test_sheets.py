"""A sheet: begun, saved from several windows, sent, taken up again; nothing typed is lost."""

import copy
import datetime

import pytest
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError, UnreadableTake
from standlight.kinds import kind_of
from standlight.programme import store
from standlight.programme.actions import replies, sheets
from standlight.programme.actions.retention import remove_expired_sound
from standlight.programme.models import OlderAnswer, Remark, Sheet, SheetSound
from standlight.programme.queries.my_part import my_part
from standlight.programme.queries.my_work import work_page
from standlight.programme.queries.sheets import form_of, sheet_page, unsent_sheet
from standlight.workshop.decoding import decode
from tests.programme.sheet_scene import CHOOSING, EVERYTHING, WHOLE, give, ode, saves, write
from tests.web.scene import video, wav

pytestmark = pytest.mark.django_db


def today():
    return timezone.localdate()


def fresh(sheet):
    return Sheet.objects.select_related("assignment__kind", "about").get(pk=sheet.pk)


def test_beginning_twice_gives_the_same_open_sheet(cast):
    given = give(cast, EVERYTHING)
    one = sheets.begin(cast.musician.account, given, "all")
    assert sheets.begin(cast.musician.account, given, "all") == one
    assert (one.about, one.number) == (cast.musician, 1)


def test_a_step_done_once_cannot_be_begun_again_after_sending(cast):
    ode(cast)
    given = give(cast, EVERYTHING)
    sheets.send(write(cast, given, WHOLE))
    with pytest.raises(NotAllowed, match="sent this already"):
        sheets.begin(cast.musician.account, given, "all")


def test_a_step_that_comes_again_counts_its_sheets(cast):
    given = give(cast, "finds")
    find = {"what": "A march", "who": "A band", "why": "hear the low drums"}
    for number in (1, 2, 3):
        sheet = write(cast, given, find)
        assert sheet.number == number
        sheets.send(sheet)


def test_nobody_writes_in_another_ones_name_or_group(cast):
    given = give(cast, EVERYTHING)
    with pytest.raises(NotAllowed):
        sheets.begin(cast.musician.account, given, "all", about=cast.second_musician)
    for account in (cast.singer.account, cast.outsider_musician.account, cast.director):
        with pytest.raises(NotAllowed):
            sheets.begin(account, given, "all")
    with pytest.raises(StandlightError, match="no step"):
        sheets.begin(cast.musician.account, given, "some")


def test_a_director_fills_the_same_form_where_the_kind_says_so(cast):
    own = {**copy.deepcopy(CHOOSING), "key": "own", "director_side": "own"}
    each = {**copy.deepcopy(CHOOSING), "key": "each", "director_side": "each"}
    assert sheets.begin(cast.director, give(cast, own), "some").about is None
    given = give(cast, each)
    seen = sheets.begin(cast.director, given, "some", about=cast.musician)
    assert seen.about == cast.musician
    with pytest.raises(NotAllowed, match="another group"):
        sheets.begin(cast.director, given, "some", about=cast.singer)


def test_a_wrong_answer_is_kept_and_a_repeat_changes_nothing(cast):
    sheet = sheets.begin(cast.musician.account, give(cast, EVERYTHING), "all")
    wrong = saves({"scale": 99, "short": "far too many words for this one here"})
    first = sheets.save(sheet, wrong)
    second = sheets.save(sheet, wrong)
    assert first.stamps == second.stamps == {"scale": "1-scale", "short": "1-short"}
    assert fresh(sheet).answers["scale"] == 99
    assert not first.clashes and not second.clashes and not OlderAnswer.objects.exists()


def test_two_windows_clash_and_both_texts_are_kept(cast):
    sheet = sheets.begin(cast.musician.account, give(cast, EVERYTHING), "all")
    sheets.save(sheet, saves({"short": "from the first"}, mark="A"))
    told = sheets.save(sheet, saves({"short": "from the second"}, mark="B"))
    assert [(one.question, one.answer) for one in told.clashes] == [("short", "from the first")]
    assert fresh(sheet).answers["short"] == "from the second"
    assert [row.answer for row in OlderAnswer.objects.all()] == ["from the first"]
    known = sheets.save(sheet, {"short": sheets.Save("and on", "B2", "B-short")})
    assert not known.clashes and OlderAnswer.objects.count() == 1


def test_a_save_whose_answer_was_lost_on_its_way_is_no_clash(cast):
    sheet = sheets.begin(cast.musician.account, give(cast, EVERYTHING), "all")
    sheets.save(sheet, saves({"short": "half a sen"}, mark="A"))
    told = sheets.save(sheet, {"short": sheets.Save("half a sentence", "A2", "", ("A-short",))})
    assert not told.clashes
    assert fresh(sheet).answers["short"] == "half a sentence"


def test_a_pasted_book_gets_a_sentence_and_all_else_is_kept(cast):
    sheet = sheets.begin(cast.musician.account, give(cast, EVERYTHING), "all")
    sheets.save(sheet, saves({"long": "my text"}))
    told = sheets.save(sheet, saves({"long": "x" * 200_000, "short": "kept", "no": 1}, mark="2"))
    assert "too long to keep (200,000 characters" in told.refused["long"]
    assert "not asked" in told.refused["no"]
    assert told.stamps == {"short": "2-short"}
    assert fresh(sheet).answers == {"long": "my text", "short": "kept"}


def test_emoji_other_directions_scripts_and_broken_characters_are_kept_as_text(cast):
    sheet = sheets.begin(cast.musician.account, give(cast, EVERYTHING), "all")
    text = "שלום 🎺 <script>alert(1)</script>"
    sheets.save(sheet, saves({"long": text + "\x00\ud800"}))
    assert fresh(sheet).answers["long"] == text


def test_sending_early_is_refused_with_every_sentence(cast):
    sheet = write(cast, give(cast, EVERYTHING), {**WHOLE, "scale": 9, "short": ""})
    with pytest.raises(sheets.NotComplete) as told:
        sheets.send(sheet)
    words = [one.words for one in (*told.value.standing.open, *told.value.standing.wrong)]
    assert words == ["“One word?” is still empty.", "Please choose a step from 1 to 4."]
    assert fresh(sheet).sent_at is None and not Remark.objects.exists()


def test_spots_and_measures_become_remarks_by_their_printed_numbers(cast):
    piece = ode(cast)
    given = give(cast, EVERYTHING)
    sheet = write(cast, given, WHOLE)
    sheets.send(sheet)
    rows = Remark.objects.order_by("first_measure", "pk")
    assert [(row.piece, row.first_measure, row.last_measure, row.words) for row in rows] == [
        (piece, 1, 2, "I was late. I will try: Count"),
    ]  # the measures name no piece, and this work is given out for none
    assert rows[0].author == cast.musician.account and rows[0].sheet == sheet


def test_a_measure_counts_for_the_piece_the_work_is_given_out_for(cast):
    piece = ode(cast)
    body = {**copy.deepcopy(EVERYTHING), "key": "pieced", "needs": ["piece"]}
    given = give(cast, body, piece_pk=piece.pk)
    sheets.send(write(cast, given, WHOLE))
    found = Remark.objects.order_by("first_measure", "pk").values_list("first_measure", "words")
    assert sorted(found) == [
        (0, "the run"), (1, "I was late. I will try: Count"), (1, "solo")
    ]  # fmt: skip


def test_a_measure_that_the_piece_does_not_print_makes_no_remark(cast):
    ode(cast)
    answers = {**WHOLE, "spot": {**WHOLE["spot"], "from_measure": 90, "to_measure": 91}}
    sheets.send(write(cast, give(cast, EVERYTHING), answers))
    assert not Remark.objects.exists()


def test_a_sent_sheet_is_taken_up_again_until_a_director_has_read_it(cast):
    ode(cast)
    sheet = write(cast, give(cast, EVERYTHING), WHOLE)
    sheets.send(sheet)
    with pytest.raises(NotAllowed, match="sent already"):
        sheets.save(sheet, saves({"short": "later"}, mark="2"))
    sheets.take_up_again(sheet)
    assert not Remark.objects.exists()
    sheets.save(sheet, saves({"short": "later"}, mark="2"))
    sheets.send(sheet)
    replies.open_sheet(cast.director, fresh(sheet))
    with pytest.raises(NotAllowed, match="read this already"):
        sheets.take_up_again(sheet)
    assert Remark.objects.count() == 1


def test_a_yes_can_be_taken_back_at_any_time_and_leaves_the_wall(cast):
    ode(cast)
    sheet = write(cast, give(cast, EVERYTHING), {**WHOLE, "consent": True})
    sheets.send(sheet)
    Sheet.objects.filter(pk=sheet.pk).update(on_wall=True)
    row = sheets.say_consent(fresh(sheet), "consent", False)
    assert row.answers["consent"] is False and not row.on_wall
    with pytest.raises(StandlightError):
        sheets.say_consent(row, "short", True)


def test_a_choice_is_a_group_that_says_how_many(cast):
    step = kind_of(CHOOSING).steps[0]
    (group,) = form_of(step, {"a": "x"})
    assert (group.words, group.state) == ("Choose 2 of these 3.", "1 answered so far.")
    assert [one.answered for one in group.entries] == [True, False, False]
    (told,) = form_of(step, {"a": "x"}, tell=True)
    assert told.problem == "Choose 1 more to answer."


def test_a_recording_is_kept_without_picture_and_named_as_the_answer(cast):
    sheet = sheets.begin(cast.musician.account, give(cast, EVERYTHING), "all")
    kept = sheets.keep_sound(sheet, "recording", video(), "video/mp4")
    assert not decode(store.fetch(kept.digest)).picture_dropped
    assert kept.seconds == pytest.approx(0.5, abs=0.1)
    assert fresh(sheet).answers["recording"] == {"sound": str(kept.key)}
    again = sheets.keep_sound(sheet, "recording", video(), "video/mp4")
    assert again == kept


def test_only_who_may_speak_speaks_a_text_and_foreign_sound_is_refused(cast):
    given = give(cast, EVERYTHING)
    sheet = sheets.begin(cast.musician.account, given, "all")
    with pytest.raises(NotAllowed):
        sheets.keep_sound(sheet, "long", wav())
    with pytest.raises(UnreadableTake):
        sheets.keep_sound(sheet, "recording", b"no sound at all")
    cast.second_musician.accommodations = ["spoken"]
    cast.second_musician.save()
    other = sheets.begin(cast.second_musician.account, given, "all")
    spoken = sheets.keep_sound(other, "long", wav())
    assert fresh(other).answers["long"] == {"sound": str(spoken.key)}
    told = sheets.save(sheet, saves({"recording": {"sound": str(spoken.key)}}))
    assert "record it again" in told.refused["recording"]


def test_sound_in_sheets_expires_as_takes_do_but_not_what_is_still_used(
    cast, django_capture_on_commit_callbacks
):
    given = give(cast, EVERYTHING)
    old = sheets.keep_sound(sheets.begin(cast.musician.account, given, "all"), "recording", wav())
    new = sheets.keep_sound(
        sheets.begin(cast.second_musician.account, given, "all"), "recording", wav(0.25)
    )
    SheetSound.objects.filter(pk=old.pk).update(
        made_at=timezone.now() - datetime.timedelta(5000)
    )
    with django_capture_on_commit_callbacks(execute=True):
        assert remove_expired_sound(timezone.now()) == 1
    row = SheetSound.objects.get(pk=old.pk)
    assert row.removed_at is not None and row.digest == ""
    assert not store.path_of(old.digest).exists() and store.path_of(new.digest).exists()
    assert remove_expired_sound(timezone.now()) == 0


def test_a_sheets_page_names_its_readers_and_the_contact(cast):
    given = give(cast, EVERYTHING)
    page = sheet_page(
        cast.musician.account, unsent_sheet(cast.musician.account, given, "all"), today=today()
    )
    assert page.readers == ("Who can read it: you, Dana Whitlock and Ruben Asher.",)
    assert page.safety_contact == "Room 12" and page.sheet == "" and page.due.startswith("Due ")


def test_a_directors_observation_is_shown_once_both_are_sent(cast):
    each = {**copy.deepcopy(CHOOSING), "key": "each", "director_side": "each"}
    given = give(cast, each)
    seen = sheets.begin(cast.director, given, "some", about=cast.musician)
    sheets.save(seen, saves({"a": "helps others", "b": "on time"}))
    own = write(cast, given, {"a": "I help", "c": "I wait"})
    sheets.send(own)
    before = sheet_page(cast.musician.account, fresh(own), today=today())
    assert before.back is None
    sheets.send(seen)
    after = sheet_page(cast.musician.account, fresh(own), today=today())
    assert [one.words for one in after.back.seen[0].answers] == ["helps others", "on time"]
    other = write(cast, given, {"a": "x"}, musician=cast.second_musician)
    assert sheet_page(cast.second_musician.account, fresh(other), today=today()).back is None


def test_my_part_holds_checks_and_work_in_one_order(cast):
    give(cast, "finds", due_in=None)
    late = give(cast, CHOOSING, due_in=5, title="Later")
    soon = give(cast, EVERYTHING, due_in=2, title="Sooner")
    page = my_part(cast.musician.account)
    assert page.next.pk == soon.pk and page.next.step == "all"
    assert [line.title for line in page.also_open] == ["Later", "finds"]
    sheets.send(write(cast, late, {"a": "x", "b": "y"}))
    page = my_part(cast.musician.account)
    assert [line.title for line in page.year] == ["Later"]
    assert not my_part(cast.singer.account).also_open


def test_a_reply_waits_in_my_part_until_it_is_seen(cast):
    given = give(cast, CHOOSING)
    sheet = write(cast, given, {"a": "x", "b": "y"})
    sheets.send(sheet)
    replies.reply(cast.director, fresh(sheet), "Well seen.", "Try it slower.")
    assert [line.unread for line in my_part(cast.musician.account).back] == [True]
    sheets.see_reply(sheet)
    assert not my_part(cast.musician.account).back


def test_the_group_is_shown_only_when_it_is_laid_open_and_the_wall_only_what_stands_on_it(cast):
    ode(cast)
    shared = {**copy.deepcopy(EVERYTHING), "key": "shared"}
    shared["seen_by"] = [*shared["seen_by"], "group"]
    given = give(cast, shared)
    sheet = write(
        cast, given, {**WHOLE, "consent": True}, musician=cast.second_musician
    )
    sheets.send(sheet)
    page = work_page(cast.musician.account, given, today())
    assert not page.group and not page.wall
    given.laid_open_at = timezone.now()
    given.save()
    Sheet.objects.filter(pk=sheet.pk).update(on_wall=True)
    page = work_page(cast.musician.account, given, today())
    assert [line.words for line in page.group][:2] == ["Slowly: 1", "Slowly: 1"]
    assert page.wall[0].name.startswith("Theo") and "Fine" in page.wall[0].words
    sheets.say_consent(sheet, "consent", False)
    assert not work_page(cast.musician.account, given, today()).wall
