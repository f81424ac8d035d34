"""Talks that were asked for and held: what is kept, who reads it, and that no mark ever does."""

import ast
import datetime
from pathlib import Path

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from standlight.errors import StandlightError
from standlight.programme.actions import talks as acts
from standlight.programme.actions.answers import keep_plan, send_answer
from standlight.programme.actions.desk import rate
from standlight.programme.actions.leaving import forget_musician
from standlight.programme.actions.marks import close_period
from standlight.programme.actions.retention import remove_expired_sound
from standlight.programme.models import (
    Account,
    Talk,
    TalkAsked,
    TalkRuleRest,
    TalkStep,
)
from standlight.programme.queries import marks, marks_files, marks_one
from standlight.programme.queries.answer_values import AnswerDraft
from standlight.programme.queries.musician_record import musician_record
from standlight.programme.queries.talks import my_talks, notes_page, talk_page
from standlight.programme.queries.talks_brief import CUTS, on_one_page, words_on
from tests.programme.desk_scene import ALL_THREE, make_scene, send
from tests.programme.sheet_scene import give
from tests.programme.study_scene import grow, line, make_study
from tests.programme.talk_scene import PROJECT_GOAL, acts_sheets, project, replied, sheet

pytestmark = pytest.mark.django_db

READ_IN_TWO_MINUTES = 2 * 238
"""Words: adults read English non-fiction silently at 238 words a minute on average (Brysbaert
2019, Journal of Memory and Language 109:104047, a review of 190 studies)."""


def noted(cast, words="We looked at the run.", steps=(("Play it slowly", 7),), musician=None,
          seen=""):  # fmt: skip
    day = timezone.localdate()
    return acts.note(
        cast.director, cast.band, musician or cast.musician, day, words,
        [(said, day + datetime.timedelta(days)) for said, days in steps], seen=seen,
    )  # fmt: skip


def second_adult(cast):
    return Account.objects.make(
        programme=cast.programme, sign_in="counsel", role=Account.DIRECTOR, secret="stand-lamp-5",
        shown_name="Ines Calder", reads_writing=True,
    )  # fmt: skip


def test_a_note_and_its_steps_are_kept_and_a_request_is_over(cast):
    asked = acts.ask(cast.musician, cast.band, "About the solo")
    noted(cast, steps=(("Play it slowly", 7), ("Tell me how it went", 9)), seen=asked.stamp)
    talk = Talk.objects.get()
    assert [(one.words, one.done_at) for one in talk.steps.all()] == [
        ("Play it slowly", None), ("Tell me how it went", None),
    ]  # fmt: skip
    assert TalkAsked.objects.get().talked_at is not None


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"words": " ", "steps": ()}, "nothing was written"),
        ({"words": "x" * 1001}, "more than 1000 characters"),
        ({"steps": (("", 3),)}, "a day stands without a step"),
        ({"steps": (("x" * 241, 3),)}, "more than 240 characters"),
        ({"steps": (("Too late", -3),)}, "lies before the talk"),
        ({"steps": (("One", 1),) * 6}, "5 steps are the most"),
    ],
)
def test_what_cannot_be_noted_is_said_and_nothing_is_kept(cast, more, sentence):
    with pytest.raises(StandlightError, match=sentence):
        noted(cast, **more)
    assert not Talk.objects.exists()


def test_a_talk_of_a_day_to_come_is_no_talk(cast):
    tomorrow = timezone.localdate() + datetime.timedelta(1)
    with pytest.raises(StandlightError, match="a day to come"):
        acts.note(cast.director, cast.band, cast.musician, tomorrow, "Soon", [])


def test_a_request_can_be_taken_back_only_before_it_is_read(cast):
    asked = acts.ask(cast.musician, cast.band, "")
    acts.read_asked(cast.band, cast.musician)
    with pytest.raises(StandlightError, match="has read it already"):
        acts.take_back(TalkAsked.objects.get())
    assert TalkAsked.objects.get() == asked
    TalkAsked.objects.all().delete()
    acts.take_back(acts.ask(cast.musician, cast.band, ""))
    assert not TalkAsked.objects.exists()


def test_who_sees_a_request_a_note_and_a_step(cast):
    acts.ask(cast.musician, cast.band, "About the solo")
    noted(cast)
    adult = second_adult(cast)
    cases = (
        (cast.director, 1), (cast.second_director, 1), (adult, 1), (cast.musician.account, 1),
        (cast.second_musician.account, 0), (cast.singer.account, 0), (cast.outsider_director, 0),
        (cast.outsider_musician.account, 0),
    )  # fmt: skip
    choir = Account.objects.make(
        programme=cast.programme, sign_in="choir", role=Account.DIRECTOR, secret="stand-lamp-6",
        shown_name="Ruth Amsel",
    )  # fmt: skip
    cast.choir.directors.add(choir)
    for model in (TalkAsked, Talk, TalkStep):
        for account, count in (*cases, (choir, 0)):
            assert model.objects.visible_to(account).count() == count, (model, account)
    acts.rest_rule(cast.director, cast.band, cast.musician, "missing",
                   timezone.localdate() + datetime.timedelta(5))  # fmt: skip
    for account in (adult, cast.musician.account, choir):
        assert not TalkRuleRest.objects.visible_to(account).exists()


def test_the_musician_reads_all_of_a_note_and_can_say_that_a_step_is_done(cast):
    noted(cast)
    mine = my_talks(cast.musician.account)
    assert mine.talks[0].words == "We looked at the run."
    step = TalkStep.objects.get()
    acts.say_done(cast.musician.account, step, True)
    assert my_talks(cast.musician.account).talks[0].steps[0].done_at is not None
    assert TalkStep.objects.get().done_said_by == cast.musician.account
    acts.say_done(cast.director, step, False)
    assert TalkStep.objects.get().done_at is None
    assert my_talks(cast.second_musician.account).talks == ()


def test_a_musician_reads_by_name_who_can_read_what_they_write(cast):
    second_adult(cast)
    group = my_talks(cast.musician.account).groups[0]
    assert group.readers == ("Dana Whitlock", "Ines Calder", "Ruben Asher")
    assert my_talks(cast.musician.account).safety_contact == "Room 12"
    cast.musician.seats.update(left_on=timezone.localdate() - datetime.timedelta(1))
    assert my_talks(cast.musician.account).groups == ()


def test_the_second_adult_reads_every_note_and_request_of_the_school(cast):
    acts.ask(cast.second_musician, cast.band, "About the drum")
    noted(cast)
    page = notes_page(second_adult(cast), 1)
    assert [(one.musician, one.words) for one in page.talks] == [
        ("Mina Okafor", "We looked at the run.")
    ]
    assert [(name, asked.words) for name, _, asked in page.asked] == [
        ("Theo Lindqvist", "About the drum")
    ]
    assert notes_page(cast.outsider_director, 1).talks == ()


def full_scene(cast):
    """A musician of whom everything is there at its longest; the page of their talk."""
    long = " ".join(f"word{n}" for n in range(300))
    goal = {**PROJECT_GOAL, "skill": long[:200], "know": long[:300]}
    for _ in range(2):
        project(cast, (1, 2, 2, 2), goal=goal)
    acts_sheets(
        cast,
        dict.fromkeys(("ready", "marks", "looks", "listens", "counts", "keeps_on", "helps",
                       "asks"), "always"),
        dict.fromkeys(("ready", "marks", "looks", "listens", "counts", "keeps_on", "helps",
                       "asks"), "some"),
    )  # fmt: skip
    scene = make_scene(cast)
    turn = send(scene, cast.musician, words=long,
                self_levels={"intonation": 3, "rhythm": 2, "notes": 4})  # fmt: skip
    rate(cast.director, turn, ALL_THREE)
    send_answer(cast.director, turn, AnswerDraft(strength=long[:200], next_step=long[:200]))
    turn.refresh_from_db()
    keep_plan(turn, ["slowly " * 15, "slowly " * 15, "slowly " * 15])
    row = sheet(give(cast, "finds"), cast.musician.account, "find", {})
    replied(row, cast.director, days_ago=20, words=long[:300])
    grow(make_study(cast.programme), cast.musician, cast.band, line(cast.musician, 2, 3, 3, 4))
    noted(cast, steps=(("Play it slowly with the light on", 7), ("Tell me how it went", 9)))
    acts.ask(cast.musician, cast.band, long[:590])
    return talk_page(cast.director, cast.band, cast.musician)


def test_both_sides_stand_on_the_page_each_under_whose_it_is(cast):
    page = full_scene(cast)
    said = {block.heading: block.lines for block in page.sides.said}
    seen = {block.heading: block.lines for block in page.sides.seen}
    assert "How close, at each check-in: 1, then 2, then 2, then 2 (1 just begun, 4 there)." in (
        said["Goal (One skill)"]
    )
    assert said["Own plan after the answer"][0].startswith("slowly")
    assert any(heading.startswith("Answer to Lamp Tune check") for heading in seen)
    assert any(heading.startswith("Reply to finds") for heading in seen)
    assert seen["Growth, from levels"][0].startswith("Rising")
    assert [(row.criterion, row.own, row.given) for row in page.sides.levels.rows] == [
        ("Intonation", "Secure", "Developing"), ("Rhythm", "Developing", "Secure"),
        ("Notes", "Extending", "Extending"),
    ]  # fmt: skip
    assert all(apart for _, apart in page.sides.acts.rows)
    assert (page.sides.acts.rows[0][0].said, page.sides.acts.rows[0][0].seen) == (
        "Every time", "Some days",
    )  # fmt: skip


def test_the_fullest_page_is_read_in_two_minutes(cast, client):
    import re

    from tests.web.scene import sign_in

    full_scene(cast)
    sign_in(client, cast.director)
    reply = client.get(f"/talks/{cast.band.pk}/{cast.musician.pk}/print/").content.decode()
    article = re.search(r"<article.*</article>", reply, re.S).group()
    words = re.sub(r"<[^>]+>", " ", article).split()
    assert 200 < len(words) <= READ_IN_TWO_MINUTES, len(words)
    assert article.count("…") >= 1, "what is long is cut, and the sign says so"


def test_a_page_that_is_short_anyway_is_printed_whole(cast):
    project(cast, (2, 3))
    page = talk_page(cast.director, cast.band, cast.musician)
    assert on_one_page(page).sides == page.sides
    full = full_scene(cast)
    short = on_one_page(full)
    assert words_on(short) < words_on(full)
    assert [one.code for one in full.reasons if one not in short.reasons] == ["asked"], (
        "that somebody asked stands on no paper; no other reason is left out"
    )
    goals = [[block for block in one.sides.said if block.is_goal] for one in (full, short)]
    assert [len(each) for each in goals] == [2, 1], "one goal stays, even beside its twin"
    assert [cut.line for cut in CUTS] == sorted((cut.line for cut in CUTS), reverse=True)


def test_a_bare_page_says_what_is_not_there(cast):
    page = talk_page(cast.director, cast.band, cast.second_musician)
    assert (page.sides.said, page.sides.seen, page.sides.levels, page.sides.acts) == (
        (), (), None, None,
    )  # fmt: skip


def modules_reached(start):
    """Every module of the programme that ``start`` reaches through imports, but the models."""
    root = Path(marks.__file__).parents[3]
    reached, waiting = set(), list(start)
    while waiting:
        name = waiting.pop()
        file = root / (name.replace(".", "/") + ".py")
        if name in reached or not file.exists() or ".models" in name:
            continue
        reached.add(name)
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("standlight"):
                waiting.append(node.module)
                waiting += [f"{node.module}.{one.name}" for one in node.names]
    return reached


def test_no_module_of_marks_reaches_a_module_of_talks(cast):
    here = Path(marks.__file__).parent
    start = [f"standlight.programme.queries.{file.stem}" for file in here.glob("marks*.py")]
    start += ["standlight.programme.actions.marks", "standlight.web.director.marks"]
    reached = modules_reached(start)
    assert len(reached) > 15, "the walk finds something"
    assert [name for name in reached if "talk" in name] == []
    assert any("talks_rules" in name for name in modules_reached(
        ["standlight.programme.queries.talks"]
    ))  # fmt: skip


def test_no_query_of_marks_touches_a_table_of_talks(cast, rated, period):
    noted(cast)
    acts.ask(cast.second_musician, cast.band, "About the drum")
    tables = [
        model._meta.db_table
        for model in apps.get_app_config("programme").get_models()
        if model.__name__.startswith("Talk")
    ]
    assert len(tables) == 5
    before = marks.period_page(cast.band, period)
    with CaptureQueriesContext(connection) as asked:
        page = marks.period_page(cast.band, period)
        marks_one.one_mark_page(cast.band, period)
        marks_files.marks_csv(page)
        close_period(cast.director, cast.band, period, seen=page.state, looked=True)
    assert len(asked) > 5
    assert [one["sql"] for one in asked if any(table in one["sql"] for table in tables)] == []
    Talk.objects.all().delete()
    assert [row.word for row in before.rows] == [
        row.word for row in marks.period_page(cast.band, period).rows
    ]


def test_the_record_of_one_musician_holds_requests_notes_and_rules_at_rest(cast):
    acts.ask(cast.musician, cast.band, "About the solo")
    noted(cast)
    noted(cast, "Of somebody else", musician=cast.second_musician)
    acts.rest_rule(cast.director, cast.band, cast.musician, "missing",
                   timezone.localdate() + datetime.timedelta(5))  # fmt: skip
    rows = musician_record(cast.director, cast.musician).rows
    assert [one["words"] for one in rows["talks_asked_for"]] == ["About the solo"]
    assert [(one["words"], one["agreed"][0]["step"]) for one in rows["talks"]] == [
        ("We looked at the run.", "Play it slowly")
    ]
    assert [one["rule"] for one in rows["talk_rules_at_rest"]] == ["Work missing for long"]


def test_all_of_it_goes_with_the_musician_and_another_keeps_theirs(cast):
    acts.ask(cast.musician, cast.band, "About the solo")
    noted(cast)
    acts.ask(cast.second_musician, cast.band, "")
    noted(cast, "Of somebody else", musician=cast.second_musician)
    acts.say_done(cast.musician.account, TalkStep.objects.filter(talk__musician=cast.musician)[0],
                  True)  # fmt: skip
    forget_musician(cast.director, cast.musician, "1001")
    assert [one.words for one in Talk.objects.all()] == ["Of somebody else"]
    assert TalkStep.objects.count() == TalkAsked.objects.count() == 1


def test_notes_and_requests_go_with_the_time_that_takes_have_but_not_before_their_last_step(
    cast, settings
):
    settings.STANDLIGHT_KEEP_TAKES_DAYS = 100
    acts.ask(cast.musician, cast.band, "About the solo")
    noted(cast, "Short", steps=())
    noted(cast, "Long", steps=(("At the end", 150),))
    now = timezone.now()
    remove_expired_sound(now + datetime.timedelta(99))
    assert (Talk.objects.count(), TalkAsked.objects.count()) == (2, 1)
    remove_expired_sound(now + datetime.timedelta(102))
    assert [one.words for one in Talk.objects.all()] == ["Long"]
    # Nobody has read it: it stays, however old.
    assert TalkAsked.objects.count() == 1
    TalkAsked.objects.update(read_at=now)
    remove_expired_sound(now + datetime.timedelta(102))
    assert not TalkAsked.objects.exists()
    remove_expired_sound(now + datetime.timedelta(160))
    assert not Talk.objects.exists()
