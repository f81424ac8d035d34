"""The orders of the Desk: drawn from a seed and keys alone, and the codes in the place of names."""

import datetime
import itertools
import random

import pytest
from django.utils import timezone

from standlight.errors import StandlightError
from standlight.programme.actions.answers import answer_turn
from standlight.programme.actions.desk import rate
from standlight.programme.actions.sitting import (
    choose_order,
    go_on_rested,
    keep_levels,
    start_take_at,
    went_on,
)
from standlight.programme.models import (
    DeskSitting,
    GivenLevel,
    SecondHearing,
    Take,
    Turn,
)
from standlight.programme.queries.desk import desk_page
from standlight.programme.queries.desk_orders import (
    AGAIN_WITHIN,
    FEWEST_FOR_AGAIN,
    Waiting,
    arranged,
    code_of,
    is_common,
    places_again,
)
from standlight.programme.queries.desk_queue import queue_of
from standlight.programme.queries.desk_sitting import (
    AGAIN,
    COMMON,
    at_desk,
    following,
    minutes_without_rest,
    queue_in,
    sitting_of,
)
from standlight.programme.queries.standing import turns_of
from tests.programme.desk_scene import ALL_THREE, make_scene, more_clarinets, note, read, send

pytestmark = pytest.mark.django_db

ROWS = [Waiting(pk, 100 + pk, pk % 3, pk) for pk in range(1, 31)]
CRITERIA = ("intonation", "rhythm")


def sitting(order, *, blind=False, seed=5):
    return DeskSitting(order=order, blind=blind, seed=seed)


@pytest.fixture
def scene(cast):
    return make_scene(cast, notation=True)


# --- pure orders -------------------------------------------------------------


def test_by_section_is_the_rosters_order(cast):
    expected = sorted(range(1, 31), key=lambda pk: (pk % 3, pk))
    assert list(arranged(ROWS, None, CRITERIA, {}).turns) == expected
    assert list(arranged(ROWS, sitting("section"), CRITERIA, {}).turns) == expected


def test_with_codes_the_order_inside_a_section_is_not_the_rosters():
    turns = arranged(ROWS, sitting("section", blind=True), CRITERIA, {}).turns
    assert [pk % 3 for pk in turns] == [0] * 10 + [1] * 10 + [2] * 10
    assert any(list(part) != sorted(part) for part in (turns[:10], turns[10:20], turns[20:]))


def test_a_shuffled_order_is_the_same_tomorrow_and_a_take_that_goes_moves_no_other():
    first = arranged(ROWS, sitting("shuffled"), CRITERIA, {}).turns
    mixed = random.Random(1).sample(ROWS, len(ROWS))
    assert arranged(mixed, sitting("shuffled"), CRITERIA, {}).turns == first
    assert sorted(first) != list(first)
    without = [row for row in ROWS if row.pk != first[4]]
    assert arranged(without, sitting("shuffled"), CRITERIA, {}).turns == first[:4] + first[5:]
    assert arranged(ROWS, sitting("shuffled", seed=6), CRITERIA, {}).turns != first


def test_one_criterion_at_a_time_asks_everyone_for_the_first_and_then_for_the_next():
    held = {}
    heard = []
    while True:
        queue = arranged(ROWS, sitting("criterion"), CRITERIA, held)
        if not queue.criterion:
            break
        heard.append((queue.criterion, queue.turns[0]))
        held.setdefault(queue.turns[0], set()).add(queue.criterion)
    assert [name for name, _ in heard] == ["intonation"] * 30 + ["rhythm"] * 30
    for _, part in itertools.groupby(heard, key=lambda one: one[0]):
        assert sorted(pk for _, pk in part) == list(range(1, 31))
    assert [pk for _, pk in heard[:30]] != [pk for _, pk in heard[30:]]
    assert len(queue.turns) == 30  # once more, to be answered


def test_codes_of_three_hundred_musicians_are_as_good_as_never_the_same_and_no_word():
    doubles = [300 - len({code_of(seed, pk) for pk in range(300)}) for seed in range(40)]
    assert sum(doubles) <= 20  # 300 * 299 / 2 pairs over 400,000 codes: about 0.11 a sitting
    assert not set("AEIOUY") & set("".join(code_of(1, pk) for pk in range(300)))


def test_between_ten_and_fifteen_percent_of_takes_are_common():
    share = sum(is_common(check, turn) for check in range(20) for turn in range(200)) / 4000
    assert 0.10 < share < 0.15


def test_repeats_come_at_places_that_nobody_guesses_and_early_enough():
    places = [places_again(2, 150, seed) for seed in range(300)]
    assert all(1 <= one < two <= AGAIN_WITHIN for one, two in places)
    assert len(set(places)) > 100
    assert places_again(2, FEWEST_FOR_AGAIN - 1, 1) == ()


# --- one director's sitting --------------------------------------------------


def test_an_order_that_is_none_is_refused(cast, scene):
    with pytest.raises(StandlightError, match="no order of takes"):
        choose_order(cast.director, scene.check, order="loudest", blind=False)


def test_nothing_in_any_order_hints_at_the_readings(cast, scene):
    turns = [send(scene, person) for person in more_clarinets(scene, 6)]
    orders = {}
    for order in DeskSitting.ORDERS:
        choose_order(cast.director, scene.check, order=order, blind=True)
        orders[order] = queue_of(cast.director, scene.check)
    for turn in turns[::2]:
        read(turn, spots=[("rhythm", 0, 0, "Measure 33: late.")])
    for order, before in orders.items():
        choose_order(cast.director, scene.check, order=order, blind=True)
        assert queue_of(cast.director, scene.check) == before


def test_two_directors_have_orders_of_their_own(cast, scene):
    for person in more_clarinets(scene, 12):
        send(scene, person)
    for account in (cast.director, cast.second_director):
        choose_order(account, scene.check, order="shuffled", blind=False)
    one, two = (queue_of(who, scene.check) for who in (cast.director, cast.second_director))
    assert sorted(one) == sorted(two)
    assert one != two


def test_with_codes_no_name_is_anywhere_on_the_page(cast, scene):
    turn = send(scene, cast.musician, words="I slowed down.")
    choose_order(cast.director, scene.check, order="shuffled", blind=True)
    rate(cast.director, turn, ALL_THREE)
    page = desk_page(cast.director, turn)
    assert page.musician == code_of(sitting_of(cast.director, scene.check).seed, cast.musician.pk)
    shown = repr(page)
    assert cast.musician.given_name not in shown
    assert cast.musician.family_name not in shown
    assert desk_page(cast.second_director, turn).musician == cast.musician.name


def test_one_criterion_at_a_time_shows_one_row_keeps_one_level_and_hides_what_was_read(
    cast, scene
):
    turn, other = send(scene, cast.musician), send(scene, more_clarinets(scene, 1)[0])
    read(turn, spots=[("rhythm", 0, 0, "Measure 33: late.")])
    choose_order(cast.director, scene.check, order="criterion", blind=False)
    for criterion in scene.check.criteria:
        assert set(queue_of(cast.director, scene.check)) == {turn.pk, other.pk}
        for row in (turn, other):
            page = desk_page(cast.director, row)
            assert ([one.key for one in page.rows], page.saved) == ([criterion], False)
            assert page.readings is None
            assert page.foot.criterion.lower() == criterion
            at = at_desk(cast.director, row)
            assert at.moves_on
            keep_levels(cast.director, row, at, {criterion: "3"})
    assert GivenLevel.objects.count() == 6
    page = desk_page(cast.director, turn)
    assert page.saved
    assert [row.given for row in page.rows] == ["3", "3", "3"]
    assert page.readings is not None
    assert sitting_of(cast.director, scene.check).done == 2


def test_a_sitting_stopped_in_the_middle_goes_on_where_it_was(cast, scene):
    for person in more_clarinets(scene, 5):
        send(scene, person)
    choose_order(cast.director, scene.check, order="shuffled", blind=False)
    before = queue_of(cast.director, scene.check)
    first = Turn.objects.get(pk=before[0])
    keep_levels(cast.director, first, at_desk(cast.director, first), ALL_THREE)
    answer_turn(cast.director, first, next_step="Breathe earlier.")
    DeskSitting.objects.update(last_at=timezone.now() - datetime.timedelta(days=1))
    went_on(cast.director, scene.check)
    assert queue_of(cast.director, scene.check) == before[1:]


# --- a rest ------------------------------------------------------------------


def minutes(n):
    return datetime.timedelta(minutes=n)


def test_after_twenty_five_minutes_without_a_pause_a_break_is_proposed_and_can_be_put_aside(
    cast, scene
):
    send(scene, cast.musician)
    row = went_on(cast.director, scene.check)
    start = row.rested_at
    row.last_at = start + minutes(24)
    assert minutes_without_rest(row, start + minutes(24.5)) is None
    row.last_at = start + minutes(25)
    assert minutes_without_rest(row, start + minutes(26)) == 26
    go_on_rested(row)
    row.last_at = start + minutes(27)
    assert minutes_without_rest(row, row.rested_at + minutes(1)) is None


def test_five_minutes_away_are_a_break(cast, scene):
    send(scene, cast.musician)
    went_on(cast.director, scene.check)
    now = timezone.now()
    DeskSitting.objects.update(rested_at=now - minutes(40), last_at=now - minutes(6))
    assert minutes_without_rest(sitting_of(cast.director, scene.check)) is None
    row = went_on(cast.director, scene.check)
    assert minutes_without_rest(row) is None
    assert now - row.rested_at < minutes(1)


# --- slipped in --------------------------------------------------------------


@pytest.fixture
def evening(cast, scene):
    """Eight takes that wait, and two of last week's check, rated by the director then."""
    old = []
    other = make_scene_again(scene)
    for person in more_clarinets(scene, 2):
        turn = send(other, person, ago=7)
        rate(cast.director, turn, ALL_THREE)
        answer_turn(cast.director, turn, next_step="Count.")
        old.append(turn)
    GivenLevel.objects.update(given_at=timezone.now() - datetime.timedelta(days=6))
    for person in more_clarinets(scene, 8):
        send(scene, person)
    return old


def make_scene_again(scene):
    """Last week's check on the same passage."""
    check = scene.check
    passages = list(check.passages.all())
    fields = {
        field.name: getattr(check, field.name)
        for field in check._meta.concrete_fields
        if field.name not in ("id", "title")
    }
    again = type(check).objects.create(title="Last week", **fields)
    for passage in passages:
        passage.pk, passage.check_row = None, again
        passage.save(force_insert=True)
    return type(scene)(scene.cast, scene.piece, scene.clarinet, again)


def test_two_takes_of_last_week_come_again_among_this_weeks_and_touch_no_level(
    cast, scene, evening
):
    before = sorted(GivenLevel.objects.values_list("pk", "value", "retired_at"))
    row = choose_order(cast.director, scene.check, order="section", blind=False)
    assert {turn for turn, _ in row.again} == {turn.pk for turn in evening}
    heard = []
    turn_pk, current = None, None
    while len(heard) < 10:
        row = sitting_of(cast.director, scene.check)
        then = following(
            cast.director, scene.check, row, queue_in(cast.director, scene.check, row), current
        )
        turn_pk = then.turn_pk
        turn = Turn.objects.select_related("check_row__ensemble", "musician").get(pk=turn_pk)
        at = at_desk(cast.director, turn, row.pk)
        page = desk_page(cast.director, turn, at=at)
        assert (page.saved, page.answered, page.query) == (False, False, f"?s={row.pk}")
        assert not any(one.given for one in page.rows)
        assert page.readings is None
        keep_levels(cast.director, turn, at, {**ALL_THREE, "rhythm": "1"})
        if at.slipped != AGAIN:
            answer_turn(cast.director, turn, next_step="Breathe.")
        heard.append((turn_pk, at.slipped))
        current = turn_pk
        if not queue_of(cast.director, scene.check):
            break
    again = [pk for pk, how in heard if how == AGAIN]
    assert set(again) == {turn.pk for turn in evening}
    assert heard[0][1] == ""
    assert SecondHearing.objects.filter(levels__rhythm="1", first_levels__rhythm="3").count() == 2
    old = {row[0] for row in before}
    assert sorted(r for r in GivenLevel.objects.values_list("pk", "value", "retired_at")
                  if r[0] in old) == before  # fmt: skip


def test_a_repeat_half_heard_is_not_kept_and_an_opened_take_is_shown_as_it_is(
    cast, scene, evening
):
    row = choose_order(cast.director, scene.check, order="section", blind=False)
    turn = Turn.objects.get(pk=row.again[0][0])
    at = at_desk(cast.director, turn, row.pk)
    keep_levels(cast.director, turn, at, {"rhythm": "1"})
    assert not SecondHearing.objects.exists()
    assert desk_page(cast.director, turn).saved  # from the list of everyone
    assert at_desk(cast.second_director, turn, row.pk).slipped == ""


def test_one_take_in_eight_that_a_colleague_answered_comes_to_the_second_director_too(
    cast, scene
):
    people = more_clarinets(scene, 40)
    turns = [send(scene, person) for person in people]
    for turn in turns[:-2]:
        rate(cast.director, turn, ALL_THREE)
        answer_turn(cast.director, turn, next_step="Breathe.")
    assert len(queue_of(cast.second_director, scene.check)) == 2
    went_on(cast.second_director, scene.check)
    common = {turn.pk for turn in turns[:-2] if is_common(scene.check.pk, turn.pk)}
    assert common
    assert set(queue_of(cast.second_director, scene.check)) == common | {
        turn.pk for turn in turns[-2:]
    }
    turn = Turn.objects.get(pk=min(common))
    at = at_desk(cast.second_director, turn)
    page = desk_page(cast.second_director, turn, at=at)
    assert (at.slipped, page.answered, page.other_raters) == (COMMON, False, ())
    keep_levels(cast.second_director, turn, at, {**ALL_THREE, "rhythm": "1"})
    assert turn.pk not in queue_of(cast.second_director, scene.check)
    standing = turns_of([scene.check])[(scene.check.pk, turn.musician_id)][0]
    assert standing.levels["rhythm"] == "3"  # of the director who answered


# --- where the sound begins --------------------------------------------------


def test_a_start_set_by_hand_wins_over_the_first_note_and_stays_in_the_take(cast, scene):
    turn = send(scene, cast.musician)
    take = Take.objects.get(turn=turn)
    assert desk_page(cast.director, turn).take.start_s == 1.3
    start_take_at(cast.director, take, 4.25)
    assert desk_page(cast.director, turn).take.start_s == 4.25
    start_take_at(cast.second_director, take, 0.0)
    assert desk_page(cast.director, turn).take.start_s == 0.0
    with pytest.raises(StandlightError, match="has no second 99"):
        start_take_at(cast.director, take, 99.0)


def test_measures_can_be_looped_by_the_times_of_the_notes_and_against_the_earlier_try(
    cast, scene
):
    first = send(scene, cast.musician)
    second = send(scene, cast.musician, attempt=2)
    quarters = [0, 1, 2, 3, 4, 6, 8, 9, 10, 11, 12]
    read(first, notes=[note(n, onset_s=2.0 + q) for n, q in enumerate(quarters)])
    read(second, notes=[note(n, onset_s=1.0 + q / 2) for n, q in enumerate(quarters)])
    page = desk_page(cast.director, second)
    assert page.compared.label.startswith("Try 1, take 1")
    row = page.loops[1]
    assert (row.take_from_s, row.take_to_s) == (3.0, 5.0)
    assert (row.earlier_from_s, row.earlier_to_s) == (6.0, 10.0)
    assert desk_page(cast.director, first).loops[0].take_to_s == 6.0


@pytest.mark.django_db
def test_a_take_still_on_its_way_is_heard_after_all_that_are_there(cast):
    scene = make_scene(cast)
    late, *there = more_clarinets(scene, 4)
    on_its_way = send(scene, late, state=Take.ARRIVING).pk
    others = [send(scene, one).pk for one in there]
    queue = queue_in(cast.director, scene.check, None)
    assert set(queue.turns[:-1]) == set(others)
    assert queue.turns[-1] == on_its_way
    Take.objects.filter(turn=on_its_way).update(state=Take.HEARD)
    assert queue_in(cast.director, scene.check, None).turns[0] == on_its_way
