"""Known takes: own levels against known ones, take by take; which steps a director lays over."""

import dataclasses

import pytest
from django.urls import reverse
from django.utils import timezone

from standlight.errors import NotAllowed
from standlight.kinds import KINDS, Field, Option, Step, data_of
from standlight.kinds.values import Due
from standlight.programme.actions import replies, sheets
from standlight.programme.models import Sheet, SheetLevel
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.laid_before import group_lines
from standlight.programme.queries.reading_together import together_page
from standlight.programme.queries.sheets import sheet_page
from standlight.programme.queries.sittings import NOT_TOLD, sittings_of, told_apart_by
from tests.programme.reading_scene import assignment_of, own_sheet, sheet_of
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db

KIND = KINDS["adjudication"]
PRACTICE = next(step for step in KIND.steps if step.key == "practice")
CAPTIONS = [field.key for field in PRACTICE.fields if field.type == "levels"]


def rated(take, level, sure=2):
    return {"take": take, **dict.fromkeys(CAPTIONS, level), "sure": sure}


@pytest.fixture
def given(cast):
    return assignment_of(cast, data_of(KIND))


def practise(given, musician, number, take, level):
    return sheet_of(given, musician, step="practice", number=number, **rated(take, level))


def known(given, director, number, take, level):
    return Sheet.objects.create(
        assignment=given, author=director, step="practice", number=number,
        answers=rated(take, level), sent_at=timezone.now(),
    )  # fmt: skip


def page_of(cast, given, step="practice", prompt="sound"):
    steps = {one.key: one for one in kind_in(given.kind).steps}
    return together_page(cast.director, given, steps[step], prompt)


def test_a_take_is_laid_beside_its_own_known_levels_whoever_came_late(cast, given):
    practise(given, cast.musician, 1, "first", "2")
    practise(given, cast.musician, 2, "second", "4")
    # Absent on the first take: the first sheet is about the second take.
    practise(given, cast.second_musician, 1, "second", "3")
    known(given, cast.director, 1, "first", "3")
    known(given, cast.director, 2, "second", "1")
    first, second = page_of(cast, given).spreads
    assert (first[0], second[0]) == ("The first", "The second")
    row = first[1].rows[0]
    assert (row.median, row.n, row.directors) == ("Developing", 1, ("Secure",))
    row = second[1].rows[0]
    assert (row.lowest, row.highest, row.n) == ("Secure", "Extending", 2)
    assert row.directors == ("Beginning",)
    assert list(second[1].captions) == [
        field.prompt for field in PRACTICE.fields if field.type in ("levels", "scale")
    ]
    assert [one.cells[0] for one in second[1].beside] == ["Extending", "Secure"]


def test_a_take_without_known_levels_waits_and_the_others_do_not(cast, given):
    practise(given, cast.musician, 1, "first", "2")
    practise(given, cast.musician, 2, "second", "4")
    page = page_of(cast, given)
    assert page.spreads == () and page.counts == ()
    assert page.withheld.endswith("sheet: The first, The second.")
    known(given, cast.director, 1, "first", "3")
    page = page_of(cast, given)
    assert [name for name, _ in page.spreads] == ["The first"]
    assert [table.name for table in page.counts] == ["The first: Sound"]
    assert page.withheld.endswith("sheet: The second.")
    assert [one.what for section in page.sections for one in section.answers] == [
        "The first", "The second",
    ]  # fmt: skip
    (own,) = page.own
    assert own.who == f"{cast.director.shown_name}: The first"


def test_a_draft_of_a_directors_opens_nothing(cast, given):
    practise(given, cast.musician, 1, "first", "2")
    own_sheet(given, cast.director, step="practice", sent=False, **rated("first", "3"))
    assert page_of(cast, given).spreads == ()


def test_steps_that_no_director_fills_are_open_and_ask_for_no_own_sheet(cast, given):
    sheet_of(given, cast.musician, step="after", change="stay", where=["sound"], why="x", us="y")
    page = page_of(cast, given, "after", "change")
    assert page.side == "" and page.withheld == ""
    assert [bar.n for bar in page.counts[0].bars if bar.label.startswith("No, I")] == [1]
    assert page_of(cast, given, "judge").side == "own"


@pytest.mark.parametrize(("key", "step"), [
    ("adjudication", "after"), ("adjudication", "agree"), ("score_study", "after"),
    ("listening_map", "together"),
])  # fmt: skip
def test_a_director_begins_no_sheet_at_a_step_of_the_musicians_alone(cast, key, step):
    given = assignment_of(cast, data_of(KINDS[key]))
    with pytest.raises(NotAllowed, match="a director fills no such form"):
        sheets.begin(cast.director, given, step)
    assert not Sheet.objects.exists()


@pytest.mark.parametrize(("step", "status"), [("practice", 200), ("judge", 200), ("after", 404)])
def test_the_page_of_an_own_sheet_is_there_for_the_directors_steps(client, cast, given, step,
                                                                   status):  # fmt: skip
    sign_in(client, cast.director)
    answer = client.get(reverse("reading-own", args=[given.pk, step]))
    assert answer.status_code == status
    if status == 200:
        page = answer.content.decode()
        assert "What each word sounds like" not in page and "My levels and reasons" in page


def test_both_takes_stand_on_the_directors_page_each_under_its_name(client, cast, given):
    for number, take in enumerate(("first", "second"), start=1):
        practise(given, cast.musician, number, take, "2")
        known(given, cast.second_director, number, take, "3")
    sign_in(client, cast.director)
    page = client.get(
        reverse("reading-together-step", args=[given.pk, "practice"]) + "?prompt=sound"
    ).content.decode()
    assert page.index("Own, group and director: The first") < page.index(
        "Own, group and director: The second"
    )


def test_a_musician_reads_own_against_known_caption_by_caption(cast, given):
    practise(given, cast.musician, 1, "first", "2")
    practise(given, cast.second_musician, 1, "first", "4")
    practise(given, cast.second_musician, 2, "second", "4")
    known(given, cast.director, 1, "first", "3")
    lines = {line.head: line.words for line in group_lines(given, cast.musician.account)}
    assert lines["The first: Sound"] == (
        "Developing: 1, Extending: 1. You: Developing. Your director: Secure"
    )
    assert lines["The second: Sound"] == "Extending: 1"
    assert not any("Which take" in head for head in lines)
    theirs = {line.head: line.words for line in group_lines(given, cast.second_musician.account)}
    assert "You: Extending. Your director: Secure" in theirs["The first: Sound"]


def test_a_step_without_a_choice_in_front_is_told_apart_by_its_number():
    step = Step("s", "S", Due("any"), (Field("a", "short", "A?"),), most_times=None)
    kind = dataclasses.replace(KIND, steps=(step,), director_steps=())
    group = [Sheet(step="s", number=number, answers={}) for number in (2, 1, 10)]
    own = [Sheet(step="s", number=2, answers={})]
    found = sittings_of(kind, step, group, own)
    assert [(one.name, len(one.group), len(one.own)) for one in found] == [
        ("No. 1", 1, 0), ("No. 2", 1, 1), ("No. 10", 1, 0),
    ]  # fmt: skip
    alone = dataclasses.replace(kind, director_side="")
    assert [one.name for one in sittings_of(alone, step, group, own)] == [""]


def test_a_sheet_that_does_not_say_which_take_is_kept_apart():
    first = Field("a", "choice", "Which?", options=(Option("x", "X"), Option("y", "Y")))
    step = Step("s", "S", Due("any"), (first,), most_times=None)
    kind = dataclasses.replace(KIND, steps=(step,), director_steps=("s",))
    group = [Sheet(step="s", answers={"a": key}) for key in ("y", "gone", ["x"], None)]
    found = sittings_of(kind, step, group, [])
    assert [(one.name, len(one.group)) for one in found] == [("Y", 1), (NOT_TOLD, 3)]
    assert told_apart_by(step) == first
    assert told_apart_by(dataclasses.replace(step, most_times=1)) is None


def test_a_level_comes_back_as_its_word_and_its_sentence_once_there_is_a_reply(client, cast):
    given = assignment_of(cast, data_of(KINDS["background_note"]))
    sheet = sheet_of(given, cast.musician, step="note", note="A song of the sea.", checks=["own"])
    replies.give_level(cast.director, sheet, "facts", "3")
    replies.give_level(cast.director, sheet, "heard", "not_shown")
    with pytest.raises(NotAllowed, match="sources"):
        replies.give_level(cast.director, sheet, "sources", "3")
    sign_in(client, cast.musician.account)
    sentence = KINDS["background_note"].rubric[1].descriptors[2]
    address = reverse("my-sheet", args=[sheet.pk])
    assert sentence not in client.get(address).content.decode()
    replies.reply(cast.director, sheet, "I can hear the sea.")
    row = Sheet.objects.select_related("assignment__kind", "about").get(pk=sheet.pk)
    back = sheet_page(cast.musician.account, row, today=timezone.localdate()).back
    assert [(one.name, one.level, one.descriptor) for one in back.levels] == [
        ("Own words, right facts", "Secure", sentence),
        ("Tied to what one hears", "Not shown in this answer", ""),
    ]
    page = client.get(address).content.decode()
    assert sentence in page and page.index("I can hear the sea.") < page.index(sentence)
    assert set(SheetLevel.objects.values_list("criterion", flat=True)) == {"facts", "heard"}
