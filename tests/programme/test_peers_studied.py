"""What musicians give each other is a class of its own: no mark, growth or comparison takes it."""

import datetime
from itertools import combinations

import pytest
from django.utils import timezone

from standlight.programme import jobs
from standlight.programme.actions.answers import answer_turn
from standlight.programme.actions.desk import rate
from standlight.programme.actions.marks import add_period
from standlight.programme.actions.peers import PeerSaid, open_round, say_consent
from standlight.programme.models import (
    GivenLevel,
    MusicianGrowth,
    PeerLevel,
    RatingsStudy,
    StudyErrand,
)
from standlight.programme.queries.given_ratings import given_levels
from standlight.programme.queries.marks import period_page
from standlight.programme.queries.musician_record import musician_record
from standlight.programme.queries.peers_heard import (
    among_sentences,
    group_heard,
    near_sentences,
    peer_levels,
)
from standlight.programme.queries.peers_mine import my_hear_page
from standlight.programme.queries.raters import raters_page
from standlight.ratings.agreement_pairs import percent_agreement
from standlight.ratings.given import DIRECTOR, PEER
from standlight.ratings.nearness import nearness
from standlight.ratings.review import review_ratings
from tests.programme.desk_scene import ALL_THREE, make_scene
from tests.programme.peers_scene import LEVELS, ask, hears, make_people, make_round
from tests.programme.test_peers import over

pytestmark = pytest.mark.django_db


def rated(cast, people, levels=None):
    """The director's own levels for every take of the people; they differ from take to take."""
    for n, one in enumerate(people):
        turn = one.turns.get()
        own = levels or {key: str(1 + (n + i) % 4) for i, key in enumerate(ALL_THREE)}
        rate(cast.director, turn, own)


def all_hear(row, people, levels=LEVELS):
    """Everybody hears two takes and gives these levels."""
    said = PeerSaid(levels=levels, well="It rings", first_measure=0)
    for one in people:
        for _ in range(2):
            hears(row, one, said)


def test_they_come_into_the_room_of_ratings_as_peers_with_the_listener_as_rater(cast):
    row, people = make_round(cast)
    hearing = hears(row, people[0])
    rows = [one for one in given_levels(cast.programme.pk).given if one.rater_class == PEER]
    assert {(one.criterion, one.level) for one in rows} == {("intonation", 2), ("rhythm", 3)}
    assert {one.rater for one in rows} == {f"m{people[0].pk}"}
    assert {one.student for one in rows} == {f"m{hearing.turn.musician_id}"}
    assert {one.take for one in rows} == {f"t{hearing.turn_id}"}


def test_no_finding_of_a_review_changes_by_a_single_figure_when_peers_are_left_out(cast):
    row, people = make_round(cast, 10)
    rated(cast, people)
    for one in people[:5]:
        rate(cast.second_director, one.turns.get(), ALL_THREE)
    all_hear(row, people, {"intonation": "4", "rhythm": "1"})
    given = given_levels(cast.programme.pk).given
    without = tuple(one for one in given if one.rater_class != PEER)
    assert len(given) == len(without) + 40
    assert repr(review_ratings(given)) == repr(review_ratings(without))


def test_growth_and_the_pages_of_raters_are_the_same_whatever_musicians_gave(cast):
    scene, people = make_people(cast, 8)
    rated(cast, people)
    jobs.ask_to_study(cast.programme.pk)
    jobs.study_ratings(cast.programme.pk)

    def stored():
        study = RatingsStudy.objects.get()
        grown = MusicianGrowth.objects.order_by("musician").values_list("musician", "body")
        return study.body, list(grown)

    before, page = stored(), raters_page(cast.director)
    row = _open(cast, scene, people)
    all_hear(row, people, {"intonation": "4", "rhythm": "1"})
    jobs.ask_to_study(cast.programme.pk)
    assert jobs.study_ratings(cast.programme.pk) == "studied"
    assert stored() == before
    after = raters_page(cast.director)
    assert (after.says, after.pairs, after.twice) == (page.says, page.pairs, page.twice)


def _open(cast, scene, people):
    row = ask(scene)
    for one in people:
        say_consent(one, row, yes=True)
    open_round(cast.director, row)
    row.refresh_from_db()
    return row


def test_a_period_has_the_same_marks_whatever_musicians_gave(cast):
    scene, people = make_people(cast, 5, make_scene(cast, days_to_due=-2))
    rated(cast, people)
    today = timezone.localdate()
    period = add_period(
        cast.director, name="Period 1", starts_on=today - datetime.timedelta(30), ends_on=today
    )
    before = period_page(cast.band, period)
    assert any(one.value for one in before.rows)
    row = _open(cast, scene, people)
    all_hear(row, people, {"intonation": "4", "rhythm": "1"})
    assert period_page(cast.band, period) == before
    assert GivenLevel.objects.filter(rater__role="musician").count() == 0


def test_sending_asks_for_no_study_since_nothing_of_it_is_studied(cast):
    row, people = make_round(cast)
    hears(row, people[0])
    assert not StudyErrand.objects.filter(asked_at__isnull=False).exists()


# --- how the group heard it, beside the director -------------------------------------------------


def test_a_director_reads_how_the_group_heard_a_take_only_once_their_own_levels_are_saved(cast):
    row, people = make_round(cast)
    all_hear(row, people)
    found = group_heard(cast.director, row)
    assert (found.n_shown, found.n_hidden) == (0, 4)
    assert found.takes == ()
    assert not any(one.by_group for each in found.criteria for one in each.counts)
    first = people[0].turns.get()
    rate(cast.director, first, {"intonation": "2"})
    assert group_heard(cast.director, row).n_shown == 0
    rate(cast.director, first, {"rhythm": "1"})
    found = group_heard(cast.director, row)
    assert (found.n_shown, found.n_hidden) == (1, 3)
    assert [take.musician for take in found.takes] == [people[0].name]
    assert found.takes[0].rows[0] == ("Intonation", "Developing 2", "Developing")
    # Another director's levels open nothing for this one, and the other way round.
    assert group_heard(cast.second_director, row).n_shown == 0


def test_counts_and_words_are_those_of_the_levels_as_they_stand(cast):
    row, people = make_round(cast, 6)
    all_hear(row, people)
    rated(cast, people, {**ALL_THREE, "rhythm": "2"})
    found = group_heard(cast.director, row)
    counts = {one.name: [(each.by_group, each.by_director) for each in one.counts]
              for one in found.criteria}  # fmt: skip
    assert counts["Intonation"] == [(0, 0), (12, 6), (0, 0), (0, 0)]
    assert counts["Rhythm"] == [(0, 0), (0, 6), (12, 0), (0, 0)]
    assert found.sentences[0] == (
        "12 of 24 levels that they gave are the same as yours, 24 are at most one apart."
    )
    # Six takes, each a level higher on rhythm: 2 in 2**6 by chance, the sign test.
    assert "milder than you, more than chance" in found.sentences[1]


def test_few_takes_never_say_that_a_group_leans(cast):
    row, people = make_round(cast, 5)
    all_hear(row, people, {"intonation": "4", "rhythm": "4"})
    rated(cast, people, {"intonation": "1", "rhythm": "1", "notes": "1"})
    assert group_heard(cast.director, row).sentences[1].startswith("Too few takes to say")


@pytest.mark.parametrize(
    "takes",
    [
        [{"rhythm": ["3", "3", "2"]}],
        [{"rhythm": ["1", "2"], "pulse": ["4", "4"]}, {"rhythm": ["2"]}],
        [{"rhythm": ["not_heard", "2", "2"]}],
    ],
)
def test_how_alike_two_listeners_are_is_the_rooms_own_share_of_agreeing_pairs(takes):
    grids = [[int(one) for one in values if one.isdigit()]
             for take in takes for values in take.values()]  # fmt: skip
    pairs = [[list(pair)] for grid in grids for pair in combinations(grid, 2)]
    n_same = sum(percent_agreement(pair).estimate == 1.0 for pair in pairs)
    [sentence] = among_sentences(takes)
    assert sentence.endswith(f"the same level {n_same} of {len(pairs)} times.")


def test_without_a_level_on_both_sides_nothing_is_said_of_nearness():
    assert near_sentences(nearness([[]])) == ()
    assert among_sentences([{"rhythm": ["3"]}]) == ()


# --- what the musicians see afterwards -----------------------------------------------------------


@pytest.mark.parametrize(("shown", "answered"), [(True, True), (True, False), (False, True)])
def test_after_the_end_a_listener_sees_counts_and_a_level_only_where_its_owner_was_told(
    cast, shown, answered
):
    row, people = make_round(cast, 4, shows_levels=shown)
    all_hear(row, people)
    rated(cast, people, {**ALL_THREE, "rhythm": "4"})
    if answered:
        for one in people:
            answer_turn(cast.director, one.turns.get(), next_step="Breathe")
    assert my_hear_page(people[0], row).heard == ()
    over(row)
    heard = my_hear_page(people[0], row).heard
    assert [one.n_heard for one in heard] == [2, 2]
    rhythm = heard[0].rows[1]
    assert (rhythm.criterion, rhythm.mine, rhythm.group) == ("Rhythm", "Secure", "Secure 2")
    assert rhythm.director == ("Extending" if shown and answered else "")


def test_who_heard_nothing_sees_nothing_afterwards(cast):
    row, people = make_round(cast)
    hears(row, people[0])
    over(row)
    assert my_hear_page(people[1], row).heard == ()
    assert len(my_hear_page(people[0], row).heard) == 1


def test_the_record_of_a_musician_holds_their_words_and_what_was_passed_on_and_no_name(cast):
    row, people = make_round(cast)
    hearing = hears(row, people[0])
    owner = hearing.turn.musician
    told = musician_record(cast.director, owner).rows
    assert told["hearing_each_other"]["told_by_others"] == []
    hearing.lines.filter(place="well").update(passed=True, decided_at=timezone.now())
    told = musician_record(cast.director, owner).rows
    each_other = told["hearing_each_other"]
    assert [one["words"] for one in each_other["told_by_others"]] == ["The long note rings"]
    assert [one["check"] for one in each_other["others_may_hear"]] == ["Lamp Tune check"]
    levels = told["turns"][0]["levels"]
    assert {one["given_by"] for one in levels} == {"somebody in the group"}
    assert people[0].name not in repr(told)
    mine = musician_record(cast.director, people[0]).rows["hearing_each_other"]
    assert [one["words"] for one in mine["heard_of_others"][0]["wrote"]] == [
        "The long note rings", "Breathe early",
    ]  # fmt: skip
    assert owner.name not in repr(mine)
    # A no was promised to be told to nobody.
    say_consent(people[0], row, yes=False)
    mine = musician_record(cast.director, people[0]).rows["hearing_each_other"]
    assert mine["others_may_hear"] == []


def test_the_rows_are_those_of_levels_that_stand(cast):
    row, people = make_round(cast)
    all_hear(row, people)
    PeerLevel.objects.filter(criterion="rhythm").update(retired_at=timezone.now())
    assert all(set(levels) == {"intonation"} for levels in peer_levels(row).values())
    given = given_levels(cast.programme.pk).given
    assert {one.criterion for one in given if one.rater_class == PEER} == {"intonation"}
    assert not [one for one in given if one.rater_class == DIRECTOR]
