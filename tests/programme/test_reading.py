"""Stacks, order, spreads, pins, search: what a director reads of a group's writing."""

import datetime
import unicodedata
import uuid

import pytest
from django.utils import timezone
from hypothesis import given as property_of
from hypothesis import strategies as st

from standlight.kinds import KINDS, Field, Option, Pin, Step, data_of
from standlight.kinds.values import Due
from standlight.programme.actions.replies import open_sheet, reply, show_seen
from standlight.programme.models import CommentLine, Sheet, SheetLevel
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading import (
    Ordered,
    Unread,
    neighbours,
    order_of,
    sent_sheets,
    stacks_page,
    unread_writing,
)
from standlight.programme.queries.reading_answers import DRAWN, shown_answers, words_of
from standlight.programme.queries.reading_counts import spread_table
from standlight.programme.queries.reading_list import list_page
from standlight.programme.queries.reading_pins import (
    Owner,
    clock_scale,
    measure_scale,
    pin_line,
)
from standlight.programme.queries.reading_search import search_page, snippet_of
from standlight.programme.queries.reading_sheet import readable, reading_page
from standlight.programme.queries.reading_together import together_page
from standlight.programme.queries.reading_wall import wall_of, wall_page
from tests.programme.reading_scene import STUDY, assignment_of, own_sheet, piece_of, sheet_of

pytestmark = pytest.mark.django_db


def keys(count):
    return [uuid.UUID(int=number) for number in range(count)]


def test_next_is_the_nearest_unread_going_round_then_simply_the_following():
    a, b, c, d = keys(4)
    order = [Ordered(a, True), Ordered(b, False), Ordered(c, True), Ordered(d, False)]
    assert neighbours(order, b) == (a, c)
    assert neighbours(order, c) == (b, a)
    assert neighbours(order, a) == (None, c)
    read = [Ordered(key, False) for key in (a, b, c)]
    assert neighbours(read, b) == (a, c)
    assert neighbours(read, c) == (b, None)
    assert neighbours([], a) == (None, None)


@property_of(st.lists(st.booleans(), min_size=1, max_size=12))
def test_following_next_reads_every_unread_sheet_once(unread):
    order = [Ordered(uuid.UUID(int=n), one) for n, one in enumerate(unread)]
    seen, at = [], order[0].key
    while True:
        seen.append(at)
        order = [Ordered(one.key, one.unread and one.key != at) for one in order]
        if not any(one.unread for one in order):
            break
        at = neighbours(order, at)[1]
    assert len(seen) == len(set(seen))


def test_the_stack_with_the_oldest_unread_sheet_comes_first(cast):
    young, old, done = (assignment_of(cast, title=title) for title in ("Young", "Old", "Done"))
    sheet_of(young, cast.musician, ago=1)
    sheet_of(old, cast.musician, ago=9)
    open_sheet(cast.director, sheet_of(old, cast.second_musician, ago=12))
    read = sheet_of(done, cast.musician, ago=20)
    reply(cast.director, read, "Good ears")
    page = stacks_page(cast.second_director)
    assert [(one.title, one.unread, one.opened, one.oldest) for one in page.waiting] == [
        ("Old", 1, 1, "oldest waits 9 days"), ("Young", 1, 0, "oldest waits 1 day"),
    ]  # fmt: skip
    assert [(one.title, one.answered) for one in page.done] == [("Done", 1)]
    assert page.unread == Unread(2, "oldest waits 9 days")
    assert unread_writing(cast.second_director, cast.choir) == Unread(0, "")


def test_drafts_own_sheets_and_other_groups_never_count(cast):
    given = assignment_of(cast)
    sheet_of(given, cast.musician, sent=False)
    own_sheet(given, cast.director, story="Mine")
    sheet_of(assignment_of(cast, group=cast.choir, title="Choir"), cast.singer)
    assert not sent_sheets(cast.second_director).exists()
    assert unread_writing(cast.second_director).count == 0
    assert unread_writing(cast.director).count == 1
    assert not sent_sheets(cast.outsider_director).exists()


def test_the_order_is_by_the_moment_of_sending(cast):
    given = assignment_of(cast)
    late, early = sheet_of(given, cast.musician, ago=1), sheet_of(given, cast.musician, ago=4,
                                                                  number=2)  # fmt: skip
    assert [one.key for one in order_of(cast.director, given)] == [early.key, late.key]


def test_a_stack_says_whose_turn_it_was(cast):
    everyones, own = assignment_of(cast), assignment_of(cast)
    own.sections.set([cast.clarinets])
    for given in (everyones, own):
        sheet_of(given, cast.musician)
    turns = {one.pk: one.sections for one in stacks_page(cast.director).waiting}
    assert turns == {everyones.pk: "", own.pk: cast.clarinets.name}


def test_the_list_says_missing_and_opened_apart(cast):
    given = assignment_of(cast, due_on=timezone.localdate() - datetime.timedelta(2))
    open_sheet(cast.director, sheet_of(given, cast.musician, step="after", now="More"))
    sheet_of(given, cast.musician)
    page = list_page(cast.director, given)
    clarinets, percussion = page.sections
    assert [(one.what, one.words) for one in clarinets.musicians[0].sheets] == [
        ("Afterwards", "opened"), ("Letter 1", "not opened"),
    ]  # fmt: skip
    assert percussion.musicians[0].state == "missing"
    assert (page.unread.count, page.unread.oldest) == (1, "all from today")


def test_bank_lines_for_the_lowest_level_come_before_those_of_the_kind(cast):
    given = assignment_of(cast)
    sheet = sheet_of(given, cast.musician)
    rows = [("kind:listening_letter", None, "Kind"), ("words", 2, "Words 2"),
            ("words", 3, "Words 3"), ("heard", 4, "Heard 4"), ("heard", 3, "Heard 3")]  # fmt: skip
    for criterion, level, text in rows:
        for place in ("next_step", "strength"):
            CommentLine.objects.create(
                programme=cast.programme, criterion=criterion, level=level, place=place, text=text
            )
    row = readable(cast.director, given).get(pk=sheet.pk)
    offers = reading_page(cast.director, row).offers
    assert [one.text for one in offers["next_step"]] == ["Kind"]
    for criterion, value in (("words", "2"), ("heard", "4")):
        SheetLevel.objects.create(
            sheet=sheet, rater=cast.director, criterion=criterion, value=value
        )
    offers = reading_page(cast.director, row).offers
    assert [(one.key, one.text) for one in offers["next_step"]] == [("a", "Words 2"), ("b", "Kind")]
    assert [(one.key, one.text) for one in offers["words"]] == [
        ("s", "Heard 4"), ("t", "Kind"),
    ]  # fmt: skip


def test_a_page_of_the_stack_asks_the_same_few_queries_however_many_wrote(
    cast, django_assert_max_num_queries
):
    given = assignment_of(cast)
    for number in range(1, 30):
        sheet_of(given, cast.musician, number=number)
    row = readable(cast.director, given).first()
    with django_assert_max_num_queries(9):
        page = reading_page(cast.director, row)
    assert page.foot.sent == 29
    with django_assert_max_num_queries(7):
        together = together_page(cast.director, given, kind_in(given.kind).steps[0])
    assert together.answered == 29
    assert together.people == 1


# --- drawn answers ------------------------------------------------------------------------------


def test_every_type_of_question_has_a_drawing():
    from standlight.kinds import FIELD_TYPES

    assert set(DRAWN) == set(FIELD_TYPES)


def test_what_was_left_empty_is_left_out_but_a_no_to_sharing_is_an_answer(cast):
    step = kind_in(assignment_of(cast).kind).steps[0]
    shown = shown_answers(step, {"story": " ", "share": False, "sure": None}, {})
    assert [(one.key, one.words) for one in shown] == [("share", "No")]
    assert shown_answers(step, {"story": " "}, {}) == ()


def test_an_answer_that_no_longer_fits_its_question_is_read_all_the_same():
    row = Field("how", "choice", "How?", options=(Option("a", "Slow"),))
    assert words_of(row, "gone") == "gone"
    assert words_of(Field("where", "spot", "Where?"), {"from_measure": "x", "what": "late"}) == (
        "x, late"
    )


# --- spreads and pins ---------------------------------------------------------------------------


def levels_step():
    options = tuple(Option(str(n), name) for n, name in enumerate(("low", "mid", "high"), 1))
    return Step("s", "S", Due("any"), (
        Field("tone", "levels", "Tone", options=options),
        Field("sure", "scale", "Sure?", least=1, most=5),
        Field("why", "short", "Why?"),
    ))  # fmt: skip


def test_a_spread_has_median_ends_and_count_and_each_directors_own():
    group = [
        ("Ada", {"tone": "1", "sure": 2}), ("Ben", {"tone": "2", "sure": 5}),
        ("Cleo", {"tone": "2"}), ("Dan", {"tone": "3"}), ("Eve", {}), ("Fay", {"tone": "wrong"}),
    ]  # fmt: skip
    table = spread_table(levels_step(), group, [("Dana", {"tone": "3"})])
    tone, sure = table.rows
    assert (tone.lowest, tone.median, tone.highest, tone.n) == ("low", "mid", "high", 4)
    assert tone.directors == ("high",)
    assert (sure.lowest, sure.median, sure.highest, sure.n) == ("2", "3.5", "5", 2)
    assert sure.directors == ("",)
    assert [(row.who, row.cells) for row in table.beside] == [
        ("Ada", ("low", "2")), ("Ben", ("mid", "5")), ("Cleo", ("mid", "")), ("Dan", ("high", "")),
    ]  # fmt: skip


def test_a_step_without_levels_or_scales_has_no_spread():
    step = Step("s", "S", Due("any"), (Field("why", "short", "Why?"),))
    assert spread_table(step, [("Ada", {"why": "x"})], []) is None


def test_captions_of_a_list_are_told_apart_by_their_line():
    options = (Option("1", "low"), Option("2", "high"))
    columns = (Field("caption", "short", "Caption"), Field("level", "levels", "Level",
                                                            options=options))  # fmt: skip
    step = Step("s", "S", Due("any"), (Field("rows", "rows", "Captions", columns=columns),))
    group = [
        ("Ada", {"rows": [{"caption": "Balance", "level": "1"}]}),
        ("Ben", {"rows": [{"caption": "balance ", "level": "2"}, {"caption": "Time",
                                                                  "level": "2"}]}),
    ]  # fmt: skip
    rows = spread_table(step, group, []).rows
    assert [(row.name, row.median, row.n) for row in rows] == [
        ("Balance", "low to high", 2), ("Time", "high", 1),
    ]  # fmt: skip


def measures(count):
    return [{"index": n, "printed": str(n + 1)} for n in range(count)]


def test_pins_stand_over_their_measure_and_add_up():
    pins = [(Owner(f"M{n}"), Pin(n, at, "")) for n, at in enumerate((10, 10, 10, 31))]
    scale = measure_scale(measures(40), [pin for _, pin in pins])
    line = pin_line("Ode", pins, [(Owner("D"), Pin(0, 2, "look"))], scale)
    first, second = line.columns
    assert (first.x, second.x) == (23.75, 76.25)  # the middles of the 10th and 31st of 40
    assert first.height == 3 * second.height
    assert first.y + first.height == second.y + second.height == line.scale_y
    assert [(one.where, len(one.said)) for one in line.places] == [
        ("measure 2", 1), ("measure 10", 3), ("measure 31", 1),
    ]  # fmt: skip
    assert line.ours[0].x == 3.75 and line.places[0].said[0].ours


def test_a_measure_that_the_piece_does_not_print_lengthens_the_line():
    pins = [(Owner("M"), Pin(0, 90, ""))]
    line = pin_line("Ode", pins, [], measure_scale(measures(40), [pins[0][1]]))
    assert 0 < line.columns[0].x < 100
    assert line.ticks[-1].words == "80"


def test_moments_lie_on_a_clock_that_ends_after_the_last():
    pins = [Pin(0, at, "") for at in (0.0, 61.0, 119.9)]
    scale = clock_scale(pins)
    assert [tick.words for tick in scale.ticks][0] == "0:00"
    assert [tick.words for tick in scale.ticks][-1] == "2:00"
    places = [scale.x(pin.at) for pin in pins]
    assert places == sorted(places) and places[0] >= 0 and places[-1] <= 100
    line = pin_line("", [(Owner("M"), pin) for pin in pins], [], scale)
    assert [(place.where, place.at_s) for place in line.places] == [
        ("0:00", 0.0), ("1:01", 61.0), ("1:59", 119.0),
    ]  # fmt: skip


@property_of(st.lists(st.floats(0, 21600), min_size=1, max_size=30))
def test_every_moment_has_a_place_on_its_clock(moments):
    pins = [Pin(0, at, "") for at in moments]
    scale = clock_scale(pins)
    assert all(0 <= scale.x(pin.at) <= 100.01 for pin in pins)
    assert len(scale.ticks) <= 22


def test_spots_in_two_pieces_lie_on_two_lines(cast):
    piece_of(cast, 40, "Ode")
    given = assignment_of(cast, data_of(KINDS["rehearsal_remark"]))
    step = kind_in(given.kind).steps[0]
    field = next(one for one in step.fields if one.type == "spot")
    columns = {column.key: column for column in field.columns}
    what, tries = columns["what"], columns["try"]
    for musician, title, first in ((cast.musician, "Ode", 5), (cast.second_musician, "March", 9)):
        sheet_of(given, musician, step=step.key, **{
            field.key: {"piece": title, "from_measure": first, "to_measure": first + 3,
                        "what": what.options[0].key, "try": tries.options[0].key}})  # fmt: skip
    page = together_page(cast.director, given, step, field.key)
    found = {line.name: line for line in page.pins}
    assert set(found) == {"Ode", "March"}
    assert found["Ode"].places[0].where == "measures 5 to 8"
    assert found["Ode"].columns[0].x == 11.25  # the middle of the 5th of 40


# --- search ------------------------------------------------------------------------------------


def test_letters_are_compared_without_capitals_and_accents_stay():
    assert snippet_of("Straße und Crème", "STRASSE").found == "Straße"
    assert snippet_of("Cre\u0300me", "crème").found == "Crème"
    assert snippet_of("creme", "crème") is None
    assert snippet_of("שיר בלילה", "בלילה").before == "שיר "
    assert snippet_of("anything", "") is None


@property_of(st.text(max_size=60), st.text(min_size=1, max_size=5))
def test_a_snippet_is_cut_out_of_the_text_itself(text, query):
    found = snippet_of(text, query)
    if found is not None:
        whole = found.before.removeprefix("…") + found.found + found.after.removesuffix("…")
        assert whole in " ".join(unicodedata.normalize("NFC", text).split())


def test_labels_rows_and_pins_can_be_found_too(cast):
    given = assignment_of(cast)
    sheet_of(given, cast.musician, story="Nothing here", mood="wild",
             sources=[{"name": "Grandmother", "use": "the old song"}],
             place={"measure": 12, "words": "a shiver"})  # fmt: skip
    for query, prompt in (
        ("WILD", "Which mood?"), ("grandmo", "Where did I look?"), ("shiver", "Where is the top?"),
    ):  # fmt: skip
        found = search_page(cast.director, query).found
        assert [one.prompt for one in found] == [prompt], query
    assert search_page(cast.director, "mood").found == ()
    assert search_page(cast.director, "  ").found == ()


def test_observations_are_shown_at_once_and_blank_ones_stay_back(cast):
    given = assignment_of(cast, data_of(KINDS["ensemble_acts"]))
    own_sheet(given, cast.director, step="acts", about=cast.musician, sent=False, looks="most")
    own_sheet(given, cast.director, step="acts", about=cast.second_musician, sent=False, looks="")
    own_sheet(given, cast.second_director, step="acts", about=cast.musician, sent=False,
              looks="some")  # fmt: skip
    assert show_seen(cast.director, given, "acts") == 1
    assert [row.about for row in Sheet.objects.filter(sent_at__isnull=False)] == [cast.musician]
    assert show_seen(cast.director, given, "acts") == 0


# --- the wall ----------------------------------------------------------------------------------


def test_what_waits_for_the_wall_comes_in_pages(cast):
    given = assignment_of(cast)
    for number in range(1, 63):
        sheet_of(given, cast.musician, number=number, ago=number, story=f"n{number}", share=True)
    first = wall_page(cast.director, cast.band)
    assert (len(first.waiting), first.n_waiting, first.older) == (60, 62, 60)
    assert first.waiting[0].lines[0].words == "n1"
    rest = wall_page(cast.director, cast.band, 60)
    assert ([one.lines[0].words for one in rest.waiting], rest.older) == (["n61", "n62"], None)


def test_a_kind_that_the_group_never_sees_has_no_wall(cast):
    body = {**STUDY, "key": "quiet", "seen_by": ["owner", "director", "second_adult"]}
    sheet = sheet_of(assignment_of(cast, body), cast.musician, story="Mine", share=True)
    assert wall_page(cast.director, cast.band).waiting == ()
    row = readable(cast.director, sheet.assignment).get()
    assert reading_page(cast.director, row).wall is None
    Sheet.objects.update(on_wall=True)
    assert wall_of(cast.band) == ()
