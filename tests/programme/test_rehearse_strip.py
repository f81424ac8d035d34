"""The strip of a piece: three voices gathered from rows, apart, and no person in any of it."""

import datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from scipy.stats import binomtest

from standlight.criteria import CRITERIA
from standlight.errors import StandlightError
from standlight.planning import MISPLACED, REMARKS, STRATEGIES, WHY
from standlight.programme.actions.answers import answer_turn
from standlight.programme.actions.rehearse_podium import (
    Said,
    mend_remark,
    remark,
    set_length,
)
from standlight.programme.models import (
    Assignment,
    Casting,
    KindEdition,
    Remark,
    Seat,
    Sheet,
)
from standlight.programme.queries import rehearse_words
from standlight.programme.queries.rehearse_evidence import strips_of
from standlight.programme.queries.rehearse_strip import strip_page
from tests.programme.desk_scene import read, send
from tests.programme.rehearse_scene import FINE, LOW, RehearseScene

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(cast):
    return RehearseScene(cast)


def strip(scene, **more):
    return strips_of(scene.cast.band, [scene.piece], **more)[scene.piece.pk]


def page(scene, *, only_rated=False):
    return strip_page(scene.piece, None, only_rated=only_rated)


def test_readings_levels_and_remarks_lie_on_their_measures_each_in_its_own_lane(cast, scene):
    turns = scene.takes("Clarinet", 5)
    scene.rated(turns[:3])
    scene.said("Clarinet", 4, 20, 21)
    remark(cast.director, Said(scene.piece, 31, 32, aim="dynamics", section=scene.flutes))
    found = strip(scene).strip
    assert [m for m, n in enumerate(found.lane("heard", "Clarinet").hits) if n] == [10, 11]
    assert found.lane("heard", "Clarinet").counts[8:16] == (5,) * 8
    assert found.lane("levels", "Clarinet").hits[8:16] == (3,) * 8
    assert [m for m, n in enumerate(found.lane("said", "Clarinet").hits) if n] == [20, 21]
    assert [m for m, n in enumerate(found.lane("director", "Flute").hits) if n] == [30, 31]
    assert not any(found.lane("director", "Clarinet").hits)
    # the interval of a share, computed by another library
    outside = binomtest(5, 5).proportion_ci(method="wilson")
    assert found.lane("heard", "Clarinet").low[10] == pytest.approx(outside.low, abs=1e-6)


def test_an_answer_that_names_measures_says_where_the_low_level_is(cast, scene):
    (turn, *_) = scene.takes("Clarinet", 3, trouble=())
    scene.rated([turn])
    answer_turn(cast.director, turn, next_step="Count", first_measure=12, last_measure=13)
    assert [m for m, n in enumerate(strip(scene).strip.lane("levels", "Clarinet").hits) if n] == [
        12,
        13,
    ]


def test_the_newest_try_is_heard_and_the_try_that_counts_is_rated(cast, scene):
    person = scene.people["Clarinet"][0]
    first = send(scene, person, attempt=1, ago=3)
    read(first, spots=[("rhythm", 0, 0, "late")])
    scene.rated([first], LOW)
    second = send(scene, person, attempt=2, ago=1)
    read(second, spots=[("rhythm", 5, 5, "late")])
    scene.rated([second], FINE)
    found = strip(scene).strip
    assert [m for m, n in enumerate(found.lane("heard", "Clarinet").hits) if n] == [13]
    assert sum(found.lane("levels", "Clarinet").hits) == 0
    assert max(found.lane("levels", "Clarinet").counts) == 1


def test_trouble_that_nobody_says_is_a_blind_spot_and_worry_about_calm_measures_is_told(scene):
    scene.takes("Clarinet", 6)
    scene.said("Clarinet", 4, 35, 36, words="It was out of tune. I will try: Sing it")
    scene.takes("Flute", 3, trouble=())
    scene.said("Flute", 3, 9, 10)
    shown = page(scene)
    assert shown.blind_spots[0].startswith("Measures 9 to 12, Clarinet: trouble heard in 6 of 6")
    assert shown.blind_spots[0].endswith("and nobody says it.")
    # three calm takes are too few to be sure of, so nothing is promised
    assert shown.false_worries == ()


def test_ten_calm_takes_make_a_worry_a_false_one(scene):
    more = scene._more(scene.flutes, "5", 6)
    for person in more:
        Casting.objects.create(
            seat=Seat.objects.get(musician=person), piece=scene.piece, part=scene.parts["Flute"]
        )
    scene.people["Flute"] += more
    scene.takes("Flute", 10, trouble=())
    scene.said("Flute", 3, 9, 10)
    (told,) = page(scene).false_worries
    assert "Flute: 3 of 3 musicians worry, no trouble heard in 10 takes." in told


def test_what_is_called_out_in_class_silences_a_blind_spot_and_belongs_to_no_section(cast, scene):
    scene.takes("Clarinet", 6)
    scene.said("Clarinet", 4, 35, 36)
    assert page(scene).blind_spots
    Remark.objects.create(
        piece=scene.piece, author=cast.director, said_in_class=True, first_measure=10,
        last_measure=11, words="The rhythm was off",
    )  # fmt: skip
    shown = page(scene)
    assert shown.blind_spots == ()
    assert shown.called_out == "measures 11 to 12: once"
    assert all(row.name != "Called out in class" for row in shown.rows)


def test_fewer_than_three_takes_or_speakers_of_a_section_tell_nothing(scene):
    scene.takes("Clarinet", 2)
    scene.said("Clarinet", 2, 10, 11)
    shown = page(scene)
    assert shown.rows == ()
    (spot,) = shown.spots
    assert (spot.heard, spot.people, spot.said) == (
        "no take to go by", "no rated take to go by", "too few spoke",
    )  # fmt: skip
    assert spot.hidden
    assert shown.too_few == "Clarinet"
    assert shown.blind_spots == shown.false_worries == ()


def test_no_name_of_a_musician_is_on_the_page(cast, scene):
    scene.rated(scene.takes("Clarinet", 6))
    scene.said("Clarinet", 5, 10, 11, words=f"{scene.people['Flute'][0].given_name} is too loud")
    shown = repr(page(scene))
    for person in (*scene.people["Clarinet"], *scene.people["Flute"]):
        assert person.given_name not in shown
        assert person.account.sign_in not in shown


def test_takes_not_rated_yet_can_be_left_out_for_a_free_ear(scene):
    turns = scene.takes("Clarinet", 6)
    scene.rated(turns[:3])
    assert page(scene).unrated == 3
    assert max(strip(scene, only_rated=True).strip.lane("heard", "Clarinet").counts) == 3
    assert max(strip(scene).strip.lane("heard", "Clarinet").counts) == 6


def test_it_went_well_is_no_worry_and_what_happened_gives_the_aim(scene):
    scene.said("Clarinet", 3, 4, 5, words="It went well. I will try: Keep it like this")
    scene.said("Flute", 4, 8, 9, words="It was out of tune. I will try: Sing it or tap it")
    found = strip(scene).strip
    assert not any(found.lane("said", "Clarinet").hits)
    assert max(found.lane("said", "Clarinet").counts) == 3
    assert found.spots[0].aim == "intonation"


def test_a_remark_beyond_the_piece_is_told_with_the_nearest_and_can_be_moved(cast, scene):
    (row,) = scene.said("Clarinet", 1, 38, 52)
    (misfit,) = page(scene).misfits
    assert (misfit.nearest, misfit.remark_pk) == ("measures 39 to 40", row.pk)
    mend_remark(cast.director, row, (misfit.first, misfit.last))
    assert page(scene).misfits == ()
    row.refresh_from_db()
    assert (row.first_measure, row.last_measure) == (38, 39)


@pytest.mark.parametrize(("scored", "length", "ends"), [
    (True, None, "measure 40"), (False, 64, "measure 64"), (False, None, "measure 2000"),
])  # fmt: skip
def test_a_remark_is_moved_to_no_measure_beyond_the_piece(cast, scored, length, ends):
    scene = RehearseScene(cast, scored=scored)
    if length:
        set_length(cast.director, scene.piece, length)
    (row,) = scene.said("Clarinet", 1, 38, 39)
    for last in (int(ends.split()[1]), 99_999_999):
        with pytest.raises(StandlightError, match=f"Lamp Tune ends with {ends}"):
            mend_remark(cast.director, row, (0, last))
    row.refresh_from_db()
    assert (row.first_measure, row.last_measure) == (38, 39)


def test_a_measure_on_a_sheet_that_the_piece_does_not_print_is_told(cast, scene):
    kind = KindEdition.objects.create(programme=cast.programme, key="k", edition=1, body={})
    work = Assignment.objects.create(
        ensemble=cast.band, kind=kind, title="Remark", piece=scene.piece, made_by=cast.director,
        starts_on=timezone.localdate(),
    )  # fmt: skip
    Sheet.objects.create(
        assignment=work, author=cast.musician.account, step="remark", sent_at=timezone.now(),
        answers={"spot": {"piece": "Lamp Tune", "from_measure": 140}},
    )  # fmt: skip
    (misfit,) = page(scene).misfits
    assert misfit.words == "A musician wrote measure 140."
    assert (misfit.nearest, misfit.remark_pk) == ("measure 40", 0)


def test_remarks_older_than_a_concert_cycle_are_over(scene):
    scene.said("Clarinet", 4, 10, 11)
    Remark.objects.update(made_at=timezone.now() - datetime.timedelta(43))
    assert page(scene).counts == "nothing yet"


def test_a_piece_on_paper_has_the_measures_that_somebody_names_until_its_length_is_said(cast):
    scene = RehearseScene(cast, scored=False)
    turns = [send(scene, person, take=False, way="live") for person in scene.people["Clarinet"]]
    scene.rated(turns)
    shown = page(scene)
    assert (shown.on_paper, shown.measures) == (True, 16)
    assert shown.spots[0].people == "Clarinet: 6 of 6 rated takes"
    set_length(cast.director, scene.piece, 64)
    assert page(scene).measures == 64
    scene.said("Clarinet", 1, 70, 70)
    (misfit,) = page(scene).misfits
    assert misfit.nearest == "measure 64"


def test_a_letter_on_paper_is_told_and_laid_nowhere(cast):
    scene = RehearseScene(cast, scored=False)
    scene.check.passages.update(printed="letter B")
    scene.rated([send(scene, scene.people["Clarinet"][0], take=False, way="live")])
    set_length(cast.director, scene.piece, 30)
    assert page(scene).no_measures == ("1 rated take of “letter B”",)


def test_the_number_of_queries_does_not_grow_with_takes_and_remarks(scene):
    scene.takes("Clarinet", 2)
    with CaptureQueriesContext(connection) as few:
        page(scene)
    scene.takes("Flute", 4)
    scene.said("Flute", 4, 10, 11)
    scene.said("Clarinet", 5, 20, 21)
    with CaptureQueriesContext(connection) as many:
        page(scene)
    assert len(many) <= len(few) + 1
    assert len(many) <= 25


def test_sections_without_a_part_in_the_piece_count_nowhere_and_are_told(cast, scene):
    remark(cast.director, Said(scene.piece, 5, 6, aim="rhythm", section=cast.snares))
    Remark.objects.create(
        piece=scene.piece, author=cast.second_musician.account, first_measure=3, last_measure=3,
        words="Wrong notes",
    )  # fmt: skip
    shown = page(scene)
    assert shown.no_part == 2
    assert shown.spots == shown.misfits == ()


def test_every_code_of_the_planning_room_has_words_for_a_director():
    assert set(rehearse_words.WHY_WORDS) == set(WHY)
    assert set(rehearse_words.TOLD_WORDS) == set(REMARKS)
    assert set(rehearse_words.STRATEGY_TAGS) == set(STRATEGIES)
    assert set(rehearse_words.AIM_TAGS) <= set(CRITERIA)
    assert MISPLACED
    for code in WHY:
        for n in (0, 1, 2, 12):
            said = rehearse_words.why_words([code, n, 12])
            assert "{" not in said and "`" not in said
    for code in REMARKS:
        assert "{" not in rehearse_words.told_words([code, 1])
