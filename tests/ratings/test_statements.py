"""What may be said, and what is refused: codes and keys from findings made by hand."""

import pytest

from standlight.ratings.given import SELF, GivenRating
from standlight.ratings.growth_values import (
    NO_ANCHOR,
    GroupGrowth,
    LateGrowth,
    SectionGrowth,
    Slope,
)
from standlight.ratings.halo import ONE_RATER, SharedImpression
from standlight.ratings.joining import Join
from standlight.ratings.severity import NOT_COMPARABLE, RaterContrast
from standlight.ratings.statements import (
    ASK_AGAIN,
    GREW_LESS,
    NEEDS,
    NOT_COMPARABLE_GROUPS,
    NOT_COMPARABLE_RATERS,
    ONE_IMPRESSION,
    REFUSALS,
    STATEMENTS,
    STOPPED,
    STRICTER,
    TOGETHER,
    refusals_of,
    statements_of,
)


def contrast(criterion, points, reach, *, rater="a", other="b", n=40):
    low, high = points - reach, points + reach
    return RaterContrast(
        rater, other, criterion, n, points, low, high, sure=low > 0 or high < 0
    )


def section(points=-0.9, *, own=(0.2, -0.3), sure=True, stopped=True, criterion="", late=None):
    slope = own and Slope(2.0, 2.2, own[0], own[1], 0.7)
    return SectionGrowth(
        "choir/Alto", "choir", criterion, points, points - 0.5, points + 0.5, slope, late,
        stopped, sure, 14, 40,
    )  # fmt: skip


def rating(student, task, rater, level, **more):
    facts = {"ensemble": "band", "section": "band/Flute", "instrument": "Flute", "day": 1.0}
    facts = {**facts, **more}
    return GivenRating(
        student=student, task=task, take=f"{student}/{task}", given_day=facts["day"],
        criterion="tone", rater=rater, level=level, **facts,
    )  # fmt: skip


def codes(statements):
    return [one.code for one in statements]


def test_the_stricter_rater_is_named_first_whichever_way_the_contrast_was_taken():
    (said,) = statements_of([contrast("", -0.4, 0.2)], (), ())
    assert (said.code, said.subjects) == (STRICTER, ("b", "a"))
    assert (said.points, said.low, said.high) == pytest.approx((0.4, 0.2, 0.6))
    assert said.n == 40


def test_of_two_raters_one_thing_is_said_that_tells_all_criteria_best():
    one = [contrast("", 0.15, 0.1), contrast("rhythm", 0.5, 0.2), contrast("tone", -0.05, 0.2)]
    (said,) = statements_of(one, (), ())
    assert (said.criterion, said.points) == ("rhythm", 0.5)
    every = [contrast("", 0.42, 0.1), contrast("rhythm", 0.5, 0.2), contrast("tone", 0.35, 0.2)]
    (said,) = statements_of(every, (), ())
    assert (said.criterion, said.points) == ("", 0.42)
    turned = [contrast(row.criterion, -row.stricter_by, 0.1) for row in one]
    (said,) = statements_of(turned, (), ())
    assert (said.criterion, said.subjects) == ("rhythm", ("b", "a"))


def test_what_is_not_sure_is_not_said():
    assert statements_of([contrast("", 0.2, 0.3)], (), ()) == ()
    assert statements_of((), (), [section(sure=False, stopped=False)]) == ()
    assert statements_of((), [SharedImpression("", 50, 0.3, 0.0, 0.5)], ()) == ()


def test_an_impression_is_said_of_the_raters_in_whom_it_is_sure():
    whole = SharedImpression("", 90, 0.4, 0.3, 0.5, sure=True, own_sure=True)
    one = SharedImpression("a", 45, 0.5, 0.3, 0.7, sure=True, own_sure=True)
    other = SharedImpression("b", 45, 0.3, 0.1, 0.5, sure=True)
    said = statements_of((), (whole, one, other), ())
    assert [(s.code, s.subjects, s.n) for s in said] == [(ONE_IMPRESSION, ("a",), 45)]
    said = statements_of((), (whole, other), ())
    assert [(s.code, s.subjects) for s in said] == [(ONE_IMPRESSION, ("b",))]


def test_what_may_be_the_day_is_never_said_to_be_an_impression():
    rows = (
        SharedImpression("", 90, 0.4, 0.3, 0.5, sure=True, day_points=0.4, own_points=0.0),
        SharedImpression("a", 45, 0.5, 0.3, 0.7, sure=True),
        SharedImpression("b", 45, 0.5, 0.3, 0.7, sure=True),
    )
    (said,) = statements_of((), rows, ())
    assert (said.code, said.subjects) == (TOGETHER, ("a", "b"))


def test_of_a_little_that_may_be_a_bend_in_growth_nothing_is_said():
    little = SharedImpression("", 90, 0.2, 0.1, 0.3, sure=True, day_points=0.2, own_points=0.0)
    assert statements_of((), (little,), ()) == ()


def test_a_lone_rater_hears_that_criteria_move_together_but_not_why():
    rows = (
        SharedImpression("", 90, 0.4, 0.3, 0.5, sure=True, apart=ONE_RATER),
        SharedImpression("a", 90, 0.4, 0.3, 0.5, sure=True, apart=ONE_RATER),
    )
    assert codes(statements_of((), rows, ())) == [TOGETHER]


def test_stopped_is_said_only_where_the_sections_own_growth_is_known():
    (said,) = statements_of((), (), [section()], (3.0, 250.0))
    assert (said.code, said.first_day, said.last_day) == (STOPPED, 3.0, 250.0)
    late = LateGrowth(120.0, 0.0, -0.4, 0.4)
    (said,) = statements_of((), (), [section(own=(0.8, 0.4), late=late)])
    assert (said.code, said.late) == (STOPPED, late)
    assert codes(statements_of((), (), [section(own=None)])) == [GREW_LESS]
    assert codes(statements_of((), (), [section(own=(0.8, 0.4), stopped=False)])) == [GREW_LESS]
    assert statements_of((), (), [section(criterion="tone")]) == ()


def test_growth_of_a_group_is_refused_with_the_passage_to_ask_again():
    given = [
        rating(f"s{n}", task, "a", level, day=day)
        for n in range(4)
        for task, day, level in (("first", 3.0, 3), ("second", 60.0, 2))
    ]
    group = GroupGrowth("band", "", None, None, None, NO_ANCHOR, 4, (), 2)
    (refusal,) = refusals_of(given, (), [(given, [group])], ())
    assert (refusal.code, refusal.subjects) == (NO_ANCHOR, ("band",))
    assert (refusal.need, refusal.task) == (ASK_AGAIN, "first")
    assert refusal.averages_say == pytest.approx(-1.0)


def test_one_passage_invites_no_claim_of_growth_and_an_anchor_answers_it():
    given = [rating(f"s{n}", "first", "a", 2) for n in range(4)]
    none = GroupGrowth("band", "", None, None, None, NO_ANCHOR, 4, (), 1)
    anchored = GroupGrowth("band", "", 0.4, 0.1, 0.7, "", 4, ("first",), 3)
    assert refusals_of(given, (), [(given, [none])], ()) == ()
    assert refusals_of(given, (), [(given, [anchored])], ()) == ()


def test_a_group_is_asked_of_its_latest_year_only():
    last = [rating("s1", task, "a", 2, day=day) for task, day in (("old", 1.0), ("older", 90.0))]
    now = [rating("s1", task, "a", 2, day=day) for task, day in (("new", 400.0), ("x", 430.0))]
    none = GroupGrowth("band", "", None, None, None, NO_ANCHOR, 4, (), 2)
    anchored = GroupGrowth("band", "", 0.4, 0.1, 0.7, "", 4, ("old",), 2)
    given = [*last, *now]
    (refusal,) = refusals_of(given, (), [(last, [anchored]), (now, [none])], ())
    assert refusal.task == "new"
    assert refusals_of(given, (), [(last, [none]), (now, [anchored])], ()) == ()


def test_raters_whom_nothing_joins_are_not_ranked_and_what_would_join_them_is_said():
    given = [
        rating("s1", "t1", "a", 3),
        rating("s2", "t1", "b", 1),
        rating("s3", "t1", "s3", 4, rater_class=SELF),
    ]
    apart = RaterContrast("a", "b", "", 0, comparable=False, because=NOT_COMPARABLE)
    joins = [
        Join("a", "b", "band", "band/Flute", "Flute", "t1", 1, ("s2/t1",)),
        Join("b", "a", "band", "band/Flute", "Flute", "t1", 1, ("s1/t1",)),
    ]
    (refusal,) = refusals_of(given, [apart], (), joins)
    assert (refusal.code, refusal.subjects) == (NOT_COMPARABLE_RATERS, ("a", "b"))
    assert refusal.averages_say == pytest.approx(2.0)
    assert set(refusal.takes) == {"s1/t1", "s2/t1"}
    assert refusals_of(given, [contrast("", 0.4, 0.3)], (), ()) == ()


def two_groups(**choir):
    """Two groups of three with two passages each; the facts of the choir may be changed."""
    made = []
    for n in range(3):
        for ensemble in ("band", "choir"):
            more = {"ensemble": ensemble, "instrument": "Flute"}
            task = f"{ensemble}/{n % 2}"
            if ensemble == "choir":
                more |= {"instrument": "Alto"}
                task = choir.get("task", task)
            made.append(rating(f"{ensemble}{n}", task, "a", 1 + n, **more))
    return made


def test_groups_with_passages_of_their_own_are_not_ranked():
    (refusal,) = refusals_of(two_groups(), (), (), ())
    assert (refusal.code, refusal.subjects) == (NOT_COMPARABLE_GROUPS, ("band", "choir"))


def test_one_passage_that_both_groups_play_joins_them():
    given = [*two_groups(), rating("choir0", "band/0", "a", 2, ensemble="choir", instrument="Alto")]
    assert refusals_of(given, (), (), ()) == ()


def test_who_plays_another_instrument_in_another_group_joins_nothing():
    doubled = rating("band0", "choir/0", "a", 4, ensemble="choir", instrument="Alto")
    assert codes(refusals_of([*two_groups(), doubled], (), (), ())) == [NOT_COMPARABLE_GROUPS]
    same = rating("band0", "choir/0", "a", 4, ensemble="choir", instrument="Flute")
    assert refusals_of([*two_groups(), same], (), (), ()) == ()


def test_an_empty_table_says_and_refuses_nothing():
    assert statements_of((), (), ()) == ()
    assert refusals_of((), (), (), ()) == ()


def test_every_code_has_its_meaning():
    assert {STRICTER, ONE_IMPRESSION, TOGETHER, STOPPED, GREW_LESS} == set(STATEMENTS)
    assert {NO_ANCHOR, NOT_COMPARABLE_RATERS, NOT_COMPARABLE_GROUPS} == set(REFUSALS)
    assert ASK_AGAIN in NEEDS
