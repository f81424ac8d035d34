"""Who may need a talk: each rule names whom it should and nobody else, and can be switched off."""

import datetime

import pytest
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.kinds import KINDS
from standlight.programme.actions import talks as acts
from standlight.programme.actions.answers import send_answer
from standlight.programme.actions.desk import rate
from standlight.programme.models import (
    Answer,
    Assignment,
    PlayingCheck,
    Reply,
    TalkAsked,
    TalkRuleOff,
    TalkRuleRest,
    Turn,
)
from standlight.programme.queries.answer_values import AnswerDraft
from standlight.programme.queries.talks import talks_page
from standlight.programme.queries.talks_rules import (
    FALLS,
    TALK_RULES,
    reasons_in,
    room_of,
)
from standlight.programme.queries.talks_views import check_in_of, goals_of, two_views, works_of
from standlight.ratings.growth_values import GROWTH_STATES, Slope
from tests.cast import add_musician
from tests.programme.desk_scene import ALL_THREE, make_scene, send
from tests.programme.sheet_scene import give
from tests.programme.study_scene import grow, line, make_study
from tests.programme.talk_scene import acts_sheets, ago, project, replied, sheet

pytestmark = pytest.mark.django_db

DOWN = Slope(3.0, 2.2, -1.6, -2.6, -0.6)


def found(cast, ensemble=None, account=None):
    """Musician to the codes of the rules that name them."""
    room = room_of(account or cast.director, ensemble or cast.band)
    return {
        pk: {one.code: one.sentence for one in reasons} for pk, reasons in reasons_in(room).items()
    }


def names(cast, code):
    """Who is named by one rule, with the sentence."""
    return {pk: said[code] for pk, said in found(cast).items() if code in said}


def test_at_first_no_rule_names_anybody(cast):
    assert found(cast) == {}


def test_every_rule_is_a_row_with_a_code_a_name_and_a_sentence():
    codes = [rule.code for rule in TALK_RULES]
    assert codes == ["asked", "views_part", "goal_still", "not_opened", "missing", "line_falls"]
    assert all(rule.name and rule.sentence.endswith(".") for rule in TALK_RULES)
    longest = TalkRuleOff._meta.get_field("code").max_length
    assert all(len(code) <= longest for code in codes)


def test_who_asked_is_named_until_a_talk_is_noted(cast):
    asked = acts.ask(cast.musician, cast.band, "")
    assert names(cast, "asked") == {cast.musician.pk: "Asked for a talk today."}
    day = timezone.localdate()
    acts.note(cast.director, cast.band, cast.musician, day, "We did.", [], seen=asked.stamp)
    assert names(cast, "asked") == {}


@pytest.mark.parametrize(
    ("said", "seen", "apart"),
    [
        ({"ready": "always", "marks": "always", "looks": "some"},
         {"ready": "seldom", "marks": "some", "looks": "some"}, 2),
        ({"ready": "seldom", "marks": "some"}, {"ready": "most", "marks": "always"}, 2),
        ({"ready": "always", "marks": "most"}, {"ready": "seldom", "marks": "some"}, None),
        ({"ready": "always", "marks": "always"}, {"ready": "most", "marks": "most"}, None),
        ({"ready": "always"}, {"ready": "seldom", "marks": "seldom"}, None),
        ({"ready": "gone", "marks": "x"}, {"ready": "seldom", "marks": "seldom"}, None),
    ],
)  # fmt: skip
def test_views_part_ways_on_two_acts_by_two_steps_in_either_direction(cast, said, seen, apart):
    acts_sheets(cast, said, seen)
    sentence = f"Says otherwise than was seen on {apart} of {len(said)} acts (How we work)."
    assert names(cast, "views_part") == ({cast.musician.pk: sentence} if apart else {})


def test_the_newest_pair_of_views_counts_and_one_side_alone_is_no_pair(cast):
    far = {"ready": "always", "marks": "always"}, {"ready": "seldom", "marks": "seldom"}
    acts_sheets(cast, *far, days_ago=30)
    assert set(names(cast, "views_part")) == {cast.musician.pk}
    acts_sheets(cast, far[0], far[0], days_ago=3)
    assert names(cast, "views_part") == {}
    work = give(cast, "ensemble_acts", title="Alone")
    sheet(work, cast.second_musician.account, "acts", far[0])
    assert set(two_views(works_of(cast.band, None))) == {cast.musician.pk}


@pytest.mark.parametrize(
    ("values", "named"),
    [((2, 2), True), ((3, 2), True), ((1, 3, 3), True), ((2, 3), False), ((4, 4), False),
     ((2,), False), ((), False), ((2, 2, 3), False)],
)  # fmt: skip
def test_a_goal_stands_still_when_the_last_two_check_ins_came_no_closer(cast, values, named):
    project(cast, values)
    assert set(names(cast, "goal_still")) == ({cast.musician.pk} if named else set())


def test_only_kinds_with_check_ins_on_a_scale_have_goals_and_their_key_is_never_asked():
    assert [key for key, kind in KINDS.items() if check_in_of(kind)] == ["skill_project"]


def test_an_answer_is_named_from_two_weeks_on_until_it_is_opened(cast):
    scene = make_scene(cast)
    turn = send(scene, cast.musician)
    rate(cast.director, turn, ALL_THREE)
    send_answer(cast.director, turn, AnswerDraft(next_step="Breathe"))
    for days, named in ((13, False), (14, True)):
        Turn.objects.filter(pk=turn.pk).update(answered_at=ago(days))
        assert (cast.musician.pk in names(cast, "not_opened")) is named
    assert names(cast, "not_opened")[cast.musician.pk] == "1 answer not opened for 14 days."
    Answer.objects.update(seen_at=timezone.now())
    assert names(cast, "not_opened") == {}


def test_an_unopened_answer_to_an_earlier_try_is_over_when_the_next_is_answered(cast):
    scene = make_scene(cast)
    for attempt in (1, 2):
        turn = send(scene, cast.musician, attempt=attempt)
        rate(cast.director, turn, ALL_THREE)
        send_answer(cast.director, turn, AnswerDraft(next_step="Breathe"))
    Turn.objects.update(answered_at=ago(20))
    Answer.objects.filter(turn__attempt=2).update(seen_at=timezone.now())
    assert names(cast, "not_opened") == {}


def test_replies_to_writing_count_too_and_the_oldest_is_told(cast):
    work = give(cast, "finds")
    for number, days in ((1, 30), (2, 16), (3, 2)):
        row = sheet(work, cast.musician.account, "find", {}, number=number, days_ago=40)
        replied(row, cast.director, days_ago=days)
    said = names(cast, "not_opened")[cast.musician.pk]
    assert said == "2 answers not opened, the oldest for 30 days."
    Reply.objects.update(seen_at=timezone.now())
    assert names(cast, "not_opened") == {}


def test_work_is_missing_for_long_from_the_day_after_three_weeks_on_the_musicians_own_day(cast):
    scene = make_scene(cast)
    send(scene, cast.musician)
    day = timezone.localdate()
    for days, named in ((21, False), (22, True)):
        PlayingCheck.objects.update(due_on=day - datetime.timedelta(days))
        assert (cast.second_musician.pk in names(cast, "missing")) is named
        assert cast.musician.pk not in names(cast, "missing")
    work = give(cast, "music_and_me", title="Music and me")
    Assignment.objects.filter(pk=work.pk).update(
        starts_on=day - datetime.timedelta(50), due_on=day - datetime.timedelta(30)
    )
    said = names(cast, "missing")
    assert said == {
        cast.second_musician.pk:
            "Missing for more than three weeks: Lamp Tune check and Music and me.",
        cast.musician.pk: "Missing for more than three weeks: Music and me.",
    }  # fmt: skip
    type(cast.musician).objects.filter(pk=cast.musician.pk).update(extra_days=10)
    assert cast.musician.pk not in names(cast, "missing"), "20 days past their own day"


def test_excused_work_and_somebody_who_joined_later_are_never_missing(cast):
    scene = make_scene(cast)
    day = timezone.localdate()
    PlayingCheck.objects.update(due_on=day - datetime.timedelta(40))
    Turn.objects.create(check_row=scene.check, musician=cast.musician, excused=True)
    cast.second_musician.seats.update(joined_on=day - datetime.timedelta(10))
    assert names(cast, "missing") == {}


def test_a_line_is_named_only_when_it_surely_falls_or_surely_stays_behind(cast):
    people = {
        state: add_musician(cast.programme, cast.clarinets, str(3000 + n), state.title(), "Vale")
        for n, state in enumerate(GROWTH_STATES)
    }
    study = make_study(cast.programme)
    for state, one in people.items():
        falls = state in ("falling", "behind", "could_be_chance")
        slope = {"unpooled": DOWN, "pooled": DOWN} if falls else {}
        grow(study, one, cast.band, line(one, 3, 2.8, 2.5, 2.2, state=state, **slope))
    said = names(cast, "line_falls")
    assert set(said) == {people[state].pk for state in FALLS}
    assert said[people["falling"].pk].startswith("Falling: about")
    assert "likely between" in said[people["falling"].pk], "the interval stands in words"
    assert said[people["behind"].pk].startswith("Growing less than the group")


def test_one_criterion_that_falls_beside_a_whole_line_that_does_not_names_nobody(cast):
    # Many lines a musician: one of them falls by chance sooner or later.
    study = make_study(cast.programme)
    grow(
        study, cast.musician, cast.band,
        line(cast.musician, 2, 2, 3, 3, state="rising"),
        line(cast.musician, 3, 3, 2, 2, state="falling", criterion="rhythm", unpooled=DOWN),
    )  # fmt: skip
    assert names(cast, "line_falls") == {}


def test_a_rule_switched_off_names_nobody_and_only_the_lead_switches(cast):
    project(cast, (2, 2))
    with pytest.raises(NotAllowed):
        acts.switch_rule(cast.second_director, "goal_still", False)
    acts.switch_rule(cast.director, "goal_still", False)
    acts.switch_rule(cast.director, "goal_still", False)
    assert found(cast) == {}
    assert talks_page(cast.second_director).off == ("A goal that stands still",)
    acts.switch_rule(cast.director, "goal_still", True)
    assert set(found(cast)) == {cast.musician.pk}
    with pytest.raises(StandlightError, match="no such rule"):
        acts.switch_rule(cast.director, "moods", False)
    assert not TalkRuleOff.objects.exists()


def test_who_asked_before_asking_was_switched_off_stays_on_the_list_and_nobody_asks_more(cast):
    acts.ask(cast.musician, cast.band, "")
    acts.switch_rule(cast.director, "asked", False)
    assert set(names(cast, "asked")) == {cast.musician.pk}
    with pytest.raises(StandlightError, match="does not take this here"):
        acts.ask(cast.second_musician, cast.band, "")
    with pytest.raises(StandlightError, match="never silent about one musician"):
        acts.rest_rule(cast.director, cast.band, cast.musician, "asked",
                       timezone.localdate() + datetime.timedelta(7))  # fmt: skip
    assert TalkAsked.objects.count() == 1


def test_a_rule_rests_for_one_musician_in_one_ensemble_until_its_day(cast):
    project(cast, (2, 2))
    project(cast, (2, 2), musician=cast.second_musician)
    day = timezone.localdate()
    acts.rest_rule(cast.director, cast.band, cast.musician, "goal_still",
                   day + datetime.timedelta(7))  # fmt: skip
    assert set(names(cast, "goal_still")) == {cast.second_musician.pk}
    TalkRuleRest.objects.update(until=day)
    assert set(names(cast, "goal_still")) == {cast.musician.pk, cast.second_musician.pk}
    acts.rest_rule(cast.director, cast.band, cast.musician, "goal_still", day)
    assert not TalkRuleRest.objects.exists()
    with pytest.raises(StandlightError, match="more than a year"):
        acts.rest_rule(cast.director, cast.band, cast.musician, "goal_still",
                       day + datetime.timedelta(400))  # fmt: skip


def test_the_list_goes_by_section_then_name_whatever_was_found(cast):
    people = [
        add_musician(cast.programme, section, f"40{n}", given, "Vale")
        for n, (section, given) in enumerate(
            [(cast.snares, "Zora"), (cast.snares, "Abel"), (cast.clarinets, "Yara")]
        )
    ]
    for one in people:
        acts.ask(one, cast.band, "")
    project(cast, (2, 2), musician=people[0])
    acts_sheets(cast, {"ready": "always", "marks": "always"},
                {"ready": "seldom", "marks": "seldom"}, musician=people[0])  # fmt: skip
    group = talks_page(cast.second_director).groups[0]
    assert [(name, [row.name for row in rows]) for name, rows in group.sections] == [
        ("Clarinet", ["Yara Vale"]),
        ("Percussion", ["Abel Vale", "Zora Vale"]),
    ]
    page = talks_page(cast.second_director, "goal_still")
    assert [row.name for _, rows in page.groups[0].sections for row in rows] == ["Zora Vale"]
    assert [(rule.name, rule.n, rule.chosen) for rule in page.rules] == [
        ("All reasons", 3, False), ("Asked for a talk", 3, False),
        ("Two views of ensemble acts", 1, False), ("A goal that stands still", 1, True),
    ]  # fmt: skip


def test_no_figure_of_the_list_is_a_score_of_a_child():
    from dataclasses import fields

    from standlight.programme.queries.talks_values import TalkRow

    assert [one.name for one in fields(TalkRow)] == ["musician_pk", "name", "reasons"]


def test_who_left_is_not_named_and_each_ensemble_looks_at_its_own(cast):
    project(cast, (2, 2))
    cast.musician.seats.create(section=cast.sopranos)
    assert found(cast, cast.choir) == {}
    cast.musician.seats.filter(section=cast.clarinets).update(
        left_on=timezone.localdate() - datetime.timedelta(1)
    )
    assert found(cast) == {}
    TalkRuleOff.objects.create(programme=cast.programme, code="asked", set_by=cast.director)
    TalkAsked.objects.create(musician=cast.musician, ensemble=cast.band)
    assert set(found(cast)[cast.musician.pk]) == {"asked"}, "who waits is not forgotten"
    assert found(cast, cast.choir) == {}


def test_the_queries_do_not_grow_with_musicians(cast, django_assert_max_num_queries):
    make_scene(cast)
    for n in range(20):
        one = add_musician(cast.programme, cast.clarinets, f"50{n}", f"Given{n}", "Vale")
        project(cast, (2, 2), musician=one) if n < 2 else acts.ask(one, cast.band, "")
    with django_assert_max_num_queries(30):
        assert len(found(cast)) == 20


def test_goals_keep_the_words_of_the_goal_and_every_check_in(cast):
    work = project(cast, (1, 2, 2))
    goal = goals_of([work])[cast.musician.pk][0]
    assert goal.values == (1, 2, 2)
    assert ("What do I want to do better?", "even sixteenth notes") in goal.words
    assert goal.ends == ("just begun", "there")


def test_what_a_third_of_a_group_has_in_common_is_a_word_to_all_and_no_list_of_talks(cast):
    people = [
        add_musician(cast.programme, cast.clarinets, f"60{n:02}", f"Given{n:02}", "Vale")
        for n in range(22)
    ]
    for one in people[:8]:
        project(cast, (2, 2), musician=one)
    group = talks_page(cast.second_director).groups[0]
    assert (len(group.sections[0][1]), group.common, group.folded) == (8, (), ()), "8 are read"
    project(cast, (2, 2), musician=people[8])
    acts.ask(people[0], cast.band, "")
    page = talks_page(cast.second_director)
    group = page.groups[0]
    assert [row.name for _, rows in group.sections for row in rows] == ["Given00 Vale"]
    assert len(group.sections[0][1][0].reasons) == 2, "every reason of who stays is told"
    assert [(one.name, one.n, one.n_here) for one in group.common] == [
        ("A goal that stands still", 9, 24)
    ]
    assert [row.name for _, rows in group.folded for row in rows] == [
        f"Given{n:02} Vale" for n in range(1, 9)
    ]
    assert group.n_folded == 8
    assert [(rule.name, rule.n) for rule in page.rules][0] == ("All reasons", 9)
    alone = talks_page(cast.second_director, "goal_still").groups[0]
    assert (len(alone.sections[0][1]), alone.folded) == (9, ())


def test_who_asked_is_never_folded_away_however_many_asked(cast):
    for n in range(12):
        one = add_musician(cast.programme, cast.clarinets, f"60{n:02}", f"Given{n:02}", "Vale")
        acts.ask(one, cast.band, "")
    group = talks_page(cast.second_director).groups[0]
    assert (len(group.sections[0][1]), group.common, group.folded) == (12, (), ())
