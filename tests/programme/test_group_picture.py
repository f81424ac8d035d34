"""The whole group's picture: counted, with intervals, only after the director's own ear."""

from fractions import Fraction

import pytest
from django.utils import timezone
from scipy.stats import binomtest

from standlight.criteria import CRITERIA as CRITERIA_TABLE
from standlight.criteria.kept import HeardOn
from standlight.music import Note
from standlight.programme.actions.desk import rate
from standlight.programme.models import Report, Turn
from standlight.programme.queries.gathered import (
    GroupTake,
    most_troubled,
    section_pictures,
    wilson,
)
from standlight.programme.queries.group_picture import COUNTED_FROM, WHAT_COUNTS, group_page
from standlight.programme.queries.kept_places import troubled_measures
from standlight.score.values import Passage
from tests.programme.desk_scene import ALL_THREE, make_scene, more_clarinets, note, read, send

CRITERIA = ("intonation", "rhythm", "notes")
MEASURES = (0, 0, 1, 1, 2)
WRITTEN = Passage(
    "", "", "", (),
    tuple(Note(Fraction(2 * n), Fraction(2), 60, measure) for n, measure in enumerate(MEASURES)),
    Fraction(10),
)  # fmt: skip
"""Five half notes, two a measure."""

HALF_S = 1.25
"""At 96 quarters a minute."""


def take(*notes, section="Clarinets", passage=1, tuning=0.0, waits=(), off_ms=50.0, **more):
    """A take at 96 as its kept report has it, with a stop before each note of ``waits``."""
    by_index = {row["index"]: row for row in notes}
    rows = [
        {**by_index.get(index, note(index)),
         "onset_s": HALF_S * index + sum(2.0 for one in waits if one <= index)}
        for index in range(len(MEASURES))
    ]  # fmt: skip
    body = {"notes": rows, "tuning_cents": tuning, "tempo_qpm": 96.0, **more}
    troubles = troubled_measures(body, WRITTEN, HeardOn(off_ms, 96.0), tuple(CRITERIA_TABLE))
    return GroupTake(section, passage, frozenset(MEASURES), troubles)


@pytest.mark.parametrize(("hits", "count"), [(0, 3), (1, 3), (5, 10), (150, 150), (37, 150)])
def test_the_interval_is_wilsons(hits, count):
    # scipy computes the same interval its own way
    outside = binomtest(hits, count).proportion_ci(method="wilson")
    assert wilson(hits, count) == pytest.approx((outside.low, outside.high), abs=1e-7)


def test_each_measure_counts_the_takes_that_stumble_in_it():
    late = note(2, asynchrony_ms=80.0)
    takes = [take(late), take(late, note(3, asynchrony_ms=-90.0)), take(note(0, outcome="missing"))]
    (picture,) = section_pictures(takes, CRITERIA)
    counts = {line.criterion: [one.troubled for one in line.counts] for line in picture.lines}
    # two late notes in one measure of one take are one take
    assert counts == {"intonation": [0, 0, 0], "rhythm": [0, 2, 0], "notes": [1, 0, 0]}
    assert [one.takes for one in picture.lines[0].counts] == [3, 3, 3]
    (place,) = most_troubled([picture])
    assert (place.criterion, place.measure, place.count.troubled) == ("rhythm", 1, 2)


def test_intonation_counts_from_the_takes_own_tuning_and_only_beyond_doubt():
    everything = [note(index, deviation_cents=40.0) for index in range(5)]
    sharp = take(*everything, tuning=40.0)
    unsure = take(note(4, deviation_cents=40.0, deviation_se_cents=10.0))
    out = take(note(4, deviation_cents=40.0, deviation_se_cents=2.0))
    (picture,) = section_pictures([sharp, unsure, out], CRITERIA)
    assert [one.troubled for one in picture.lines[0].counts] == [0, 0, 1]


def test_soft_starts_are_given_their_wider_window():
    late = note(2, asynchrony_ms=80.0)
    (picture,) = section_pictures([take(late, off_ms=100.0)] * 3, CRITERIA)
    assert [one.troubled for one in picture.lines[1].counts] == [0, 0, 0]


def test_a_stop_is_counted_where_it_went_on():
    told = take(waits=(2, 4))
    (picture,) = section_pictures([told, take(), take()], ("pulse",))
    assert [one.troubled for one in picture.lines[0].counts] == [0, 1, 1]


def test_a_note_that_went_on_is_counted_for_notes_and_for_pulse():
    told = take(prolonged=[1])
    (picture,) = section_pictures([told, take(), take()], ("notes", "pulse"))
    for line in picture.lines:
        assert [one.troubled for one in line.counts] == [1, 0, 0]


def test_a_criterion_that_names_no_places_is_never_counted():
    named = {key for key, one in CRITERIA_TABLE.items() if one.find is not None}
    assert set(take().troubles) == named
    assert not {"dynamics", "articulation", "evenness", "tone"} & named


def reading(criterion, value, because=""):
    return {
        "criterion": criterion, "name": "x", "value": value, "low": None, "high": None,
        "unit": "", "n_notes": 5, "because": because, "sentence": "",
    }  # fmt: skip


def test_a_criterion_that_could_not_be_read_is_no_zero():
    unread = take(
        tuning=None,
        readings=[
            reading("intonation", None, "only 2 notes"), reading("rhythm", 12.0),
            reading("intonation", 3.0),  # what is said beside it is no reading of the criterion
        ],
    )
    read_well = take(readings=[reading("intonation", 4.0), reading("rhythm", 12.0)])
    (picture,) = section_pictures([unread] * 2 + [read_well] * 3, ("intonation", "rhythm"))
    # three of the five takes were read for intonation
    assert [line.anywhere.takes for line in picture.lines] == [3, 5]
    assert [one.takes for one in picture.lines[0].counts] == [3, 3, 3]
    (picture,) = section_pictures([unread] * 3 + [read_well] * 2, ("intonation", "rhythm"))
    assert [line.criterion for line in picture.lines] == ["rhythm"]
    assert picture.unread == ("intonation",)


def test_a_passage_with_other_notes_by_now_is_not_counted():
    rows = [note(index) for index in range(4)]
    body = {"notes": rows, "tuning_cents": 0.0, "tempo_qpm": 96.0}
    assert troubled_measures(body, WRITTEN, HeardOn(50.0, 96.0), CRITERIA) is None


def test_every_criterion_that_names_places_says_what_counts():
    named = {key for key, one in CRITERIA_TABLE.items() if one.find is not None}
    assert set(WHAT_COUNTS) == named
    for kind in ("equal", "just", "drone"):
        assert WHAT_COUNTS["intonation"].format(target=COUNTED_FROM[kind])


def test_two_takes_say_nothing_and_another_passage_is_another_picture():
    pictures = section_pictures([take(), take(), take(passage=2)], CRITERIA)
    assert [(row.passage, row.takes, row.lines) for row in pictures] == [(1, 2, ()), (2, 1, ())]
    assert most_troubled(pictures) == ()


@pytest.fixture
def scene(cast):
    return make_scene(cast, notation=True)


LATE = [note(index, asynchrony_ms=80.0 if index in (4, 5) else 0.0) for index in range(11)]


@pytest.mark.django_db
def test_a_take_counts_only_once_the_director_has_given_every_level(scene):
    director = scene.cast.director
    turns = [send(scene, person) for person in more_clarinets(scene, 4)]
    for turn in turns:
        read(turn, notes=LATE)
    page = group_page(director, scene.check)
    assert (page.counted, page.waiting, page.sections) == (0, 4, ())
    for turn in turns[:3]:
        rate(director, turn, ALL_THREE)
    rate(director, turns[3], {"rhythm": "2"})
    page = group_page(director, scene.check)
    assert (page.counted, page.waiting) == (3, 1)
    (section,) = page.sections
    assert section.measures == ("1", "2", "3", "4")  # as the passage's own notation prints them
    rhythm = next(line for line in section.lines if line.name == "Rhythm")
    assert [cell.troubled for cell in rhythm.cells] == [0, 3, 0, 0]
    # Wilson's interval of 3 in 3 begins at .438
    assert "measure 2: rhythm in 3 of 3 takes (likely 44 to 100 percent)" in page.places[0]


@pytest.mark.django_db
def test_another_directors_levels_do_not_open_it_but_an_answer_does(scene):
    cast = scene.cast
    turn = send(scene, cast.musician)
    read(turn, notes=LATE)
    rate(cast.second_director, turn, ALL_THREE)
    assert group_page(cast.director, scene.check).counted == 0
    Turn.objects.filter(pk=turn.pk).update(answered_at=timezone.now())
    page = group_page(cast.director, scene.check)
    assert page.counted == 1
    assert page.sections[0].too_few.startswith("Too few to say: 1 take,")


@pytest.mark.django_db
def test_no_name_is_on_it_and_a_take_that_was_not_read_is_said(scene):
    director = scene.cast.director
    people = more_clarinets(scene, 4)
    turns = [send(scene, person) for person in people]
    for turn in turns:
        rate(director, turn, ALL_THREE)
    for turn in turns[:3]:
        read(turn, notes=LATE)
    read(turns[3], verdicts=["We could hardly hear anything."])
    page = group_page(director, scene.check)
    assert (page.counted, page.unread) == (3, 1)
    assert not any(person.given_name in str(page) for person in people)


@pytest.mark.django_db
def test_only_the_newest_try_of_a_musician_counts(scene):
    cast = scene.cast
    for attempt in (1, 2):
        turn = send(scene, cast.musician, attempt=attempt)
        read(turn, notes=LATE)
        rate(cast.director, turn, ALL_THREE)
    assert group_page(cast.director, scene.check).counted == 1


@pytest.mark.django_db
def test_150_takes_are_counted_in_a_dozen_queries(scene, django_assert_max_num_queries):
    director = scene.cast.director
    for person in more_clarinets(scene, 150):
        turn = send(scene, person, answered_at=timezone.now())
        read(turn, notes=LATE)
    assert Report.objects.count() == 150
    group_page(director, scene.check)
    with django_assert_max_num_queries(14):
        page = group_page(director, scene.check)
    assert page.counted == 150


@pytest.mark.django_db
def test_what_is_read_as_a_whole_is_named_and_shows_no_count(scene):
    scene.check.criteria = ["dynamics", "rhythm", "tone", "articulation"]
    scene.check.save()
    for person in more_clarinets(scene, 4):
        turn = send(scene, person, answered_at=timezone.now())
        read(turn, notes=LATE, readings=[reading("dynamics", 0.5), reading("articulation", 1.0)])
    page = group_page(scene.cast.director, scene.check)
    (section,) = page.sections
    assert [line.name for line in section.lines] == ["Rhythm"]
    assert page.by_take == ("Dynamics", "Articulation")
    assert page.by_ear == ("Tone",)
    assert [name for name, _ in page.counts] == ["Rhythm"]
    scene.check.criteria = ["dynamics", "tone"]
    scene.check.save()
    page = group_page(scene.cast.director, scene.check)
    assert (page.counted, page.counts, page.places, page.compared) == (4, (), (), False)


@pytest.mark.django_db
def test_a_take_read_against_other_notes_than_the_passage_has_is_told_as_unread(scene):
    for person in more_clarinets(scene, 3):
        turn = send(scene, person, answered_at=timezone.now())
        read(turn, notes=LATE[:9])
    page = group_page(scene.cast.director, scene.check)
    assert (page.counted, page.unread, page.sections) == (0, 3, ())
