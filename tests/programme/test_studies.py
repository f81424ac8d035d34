"""The study of a programme's levels: asked for, made by an errand, kept, and who reads what."""

import dataclasses
import datetime
import json
from dataclasses import dataclass

import pytest
from django.utils import timezone
from django_q.models import OrmQ, Schedule
from django_q.scheduler import scheduler

from standlight.programme import jobs, study_review
from standlight.programme.actions.desk import rate
from standlight.programme.actions.studies import keep_study
from standlight.programme.models import (
    Musician,
    MusicianGrowth,
    RatingsStudy,
    Seat,
    Section,
    StudyErrand,
)
from standlight.programme.queries.given_ratings import given_levels
from standlight.programme.queries.studies import growth_in, growth_of, study_for
from tests.programme.desk_scene import ALL_THREE, send

pytestmark = pytest.mark.django_db


@dataclass(frozen=True)
class Point:
    """A point of a made line."""

    day: float
    task: str
    take: str
    fair: float


@dataclass(frozen=True)
class Line:
    """A made line of growth."""

    student: str
    ensemble: str
    criterion: str
    points: tuple[Point, ...]
    state: str = "too_few"


@dataclass(frozen=True)
class Found:
    """A made finding about a rater, or two, and whatever else."""

    rater: str = "a0"
    other: str = "a0"
    subjects: tuple[str, ...] = ()
    points: float = 0.5


@dataclass(frozen=True)
class View:
    """A made view of themself."""

    student: str
    ensemble: str
    criterion: str


@dataclass(frozen=True)
class Growth:
    """The growth of a made review."""

    lines: tuple[Line, ...] = ()
    groups: tuple[Found, ...] = ()
    sections: tuple[Found, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Review:
    """A review as the room of ratings gives it, made by hand."""

    growth: Growth
    statements: tuple[Found, ...] = ()
    contrasts: tuple[Found, ...] = ()
    self_views: tuple[View, ...] = ()
    remarks: tuple[str, ...] = ()


@pytest.fixture
def reviewed(monkeypatch):
    """A review that only draws a line through each musician's levels; the tables it was given."""
    seen = []

    def made(given, again):
        seen.append((given, again))
        students = sorted({(row.student, row.ensemble) for row in given})
        return Review(
            Growth(
                tuple(
                    Line(one, ensemble, "", tuple(
                        Point(row.day, row.task, row.take, float(row.level))
                        for row in given if (row.student, row.ensemble) == (one, ensemble)
                    ))
                    for one, ensemble in students
                )
            ),
            self_views=tuple(View(*one, "rhythm") for one in students),
        )  # fmt: skip

    monkeypatch.setattr(study_review, "review", made)
    return seen


def errand(cast):
    return StudyErrand.objects.get(programme=cast.programme)


def waiting(cast):
    return Schedule.objects.filter(func=jobs.STUDY, args=str(cast.programme.pk))


def kept(cast, **parts):
    levels = given_levels(cast.programme.pk)
    review = Review(**{"growth": Growth(), **parts})
    return keep_study(cast.programme.pk, levels, review, "1")


def test_many_levels_ask_for_one_study_a_few_minutes_later(cast, scene):
    now = timezone.now()
    turn = send(scene, cast.musician)
    for levels in ({"rhythm": "2"}, {"rhythm": "3"}, ALL_THREE):
        rate(cast.director, turn, levels)
    (asked,) = waiting(cast)
    assert asked.schedule_type == Schedule.ONCE
    assert jobs.STUDY_EVERY <= asked.next_run - now < jobs.STUDY_EVERY * 2
    assert errand(cast).asked_at > now


def test_the_same_levels_again_ask_for_nothing(cast, scene):
    turn = send(scene, cast.musician)
    rate(cast.director, turn, ALL_THREE)
    waiting(cast).delete()
    StudyErrand.objects.update(asked_at=None)
    rate(cast.director, turn, ALL_THREE)
    assert not waiting(cast).exists() and errand(cast).asked_at is None


def test_the_errand_keeps_what_was_found_and_is_then_over(cast, scene, reviewed):
    turn = send(scene, cast.musician, ago=3)
    rate(cast.director, turn, ALL_THREE)
    assert jobs.study_ratings(cast.programme.pk) == "studied"
    study = RatingsStudy.objects.get()
    assert (study.n_levels, study.method) == (3, study_review.METHOD)
    assert study.first_day == timezone.localtime(turn.sent_at).date()
    assert "lines" not in study.body["growth"] and "self_views" not in study.body
    row = MusicianGrowth.objects.get()
    assert (row.musician, row.ensemble) == (cast.musician, cast.band)
    assert sorted(one["fair"] for one in row.body["lines"][0]["points"]) == [2.0, 3.0, 4.0]
    (view,) = row.body["self_views"]
    assert (view["student"], view["ensemble"]) == (f"m{cast.musician.pk}", f"e{cast.band.pk}")
    assert errand(cast).asked_at is None and errand(cast).claimed_at is None


def test_a_second_run_is_harmless_and_unchanged_levels_are_not_studied_again(
    cast, scene, reviewed
):
    rate(cast.director, send(scene, cast.musician), ALL_THREE)
    jobs.study_ratings(cast.programme.pk)
    first = RatingsStudy.objects.get()
    assert jobs.study_ratings(cast.programme.pk) == "not waiting"
    StudyErrand.objects.update(asked_at=timezone.now())
    assert jobs.study_ratings(cast.programme.pk) == "nothing new"
    assert RatingsStudy.objects.get() == first and len(reviewed) == 1
    assert errand(cast).asked_at is None


def test_a_newer_study_takes_the_older_one_s_place(cast, scene, reviewed):
    turn = send(scene, cast.musician)
    for level in ("1", "2"):
        rate(cast.director, turn, {"rhythm": level})
        jobs.study_ratings(cast.programme.pk)
    assert len(reviewed) == 2
    (line,) = MusicianGrowth.objects.get().body["lines"]
    assert [one["fair"] for one in line["points"]] == [2.0]
    assert RatingsStudy.objects.count() == 1


def test_a_newer_edition_of_the_method_studies_the_same_levels_again(
    cast, scene, reviewed, monkeypatch
):
    rate(cast.director, send(scene, cast.musician), ALL_THREE)
    jobs.study_ratings(cast.programme.pk)
    monkeypatch.setattr(study_review, "METHOD", "next")
    StudyErrand.objects.update(asked_at=timezone.now())
    assert jobs.study_ratings(cast.programme.pk) == "studied"
    assert RatingsStudy.objects.get().method == "next"


def test_a_level_given_while_the_study_runs_is_studied_in_a_next_one(
    cast, scene, reviewed, monkeypatch
):
    turn = send(scene, cast.musician)
    rate(cast.director, turn, {"rhythm": "2"})
    waiting(cast).delete()
    calm = study_review.review

    def disturbed(given, again):
        rate(cast.director, turn, {"rhythm": "4"})
        return calm(given, again)

    monkeypatch.setattr(study_review, "review", disturbed)
    assert jobs.study_ratings(cast.programme.pk) == "studied"
    assert errand(cast).asked_at is not None and errand(cast).claimed_at is None
    assert waiting(cast).count() == 1
    monkeypatch.setattr(study_review, "review", calm)
    assert jobs.study_ratings(cast.programme.pk) == "studied"
    assert MusicianGrowth.objects.get().body["lines"][0]["points"][0]["fair"] == 4.0


def test_a_killed_worker_s_study_is_held_for_its_lease_and_then_another_s(
    cast, scene, reviewed
):
    rate(cast.director, send(scene, cast.musician), ALL_THREE)
    assert jobs.claim_study(cast.programme.pk) is not None
    waiting(cast).delete()
    for _ in range(2):
        assert jobs.study_ratings(cast.programme.pk) == "held"
        assert waiting(cast).count() == 1
    lapsed = timezone.now() - datetime.timedelta(seconds=jobs.STUDY_SECONDS + 1)
    StudyErrand.objects.update(claimed_at=lapsed)
    assert jobs.study_ratings(cast.programme.pk) == "studied"


def test_the_engine_gives_a_study_its_own_time(cast, scene, monkeypatch):
    # The engine's own loop drops old connections; a test has only this one.
    monkeypatch.setattr("django_q.scheduler.close_old_django_connections", lambda: None)
    rate(cast.director, send(scene, cast.musician), ALL_THREE)
    scheduler()
    assert not OrmQ.objects.exists()
    waiting(cast).update(next_run=timezone.now() - datetime.timedelta(minutes=1))
    scheduler()
    (queued,) = OrmQ.objects.all()
    assert queued.task["func"] == jobs.STUDY and queued.task["args"] == (cast.programme.pk,)
    assert queued.task["timeout"] == jobs.STUDY_SECONDS
    assert not waiting(cast).exists()


def test_a_study_that_fails_is_not_lost(cast, scene, reviewed, monkeypatch):
    def failing(given, again):
        raise ValueError("no")

    rate(cast.director, send(scene, cast.musician), ALL_THREE)
    monkeypatch.setattr(study_review, "review", failing)
    with pytest.raises(ValueError, match="no"):
        jobs.study_ratings(cast.programme.pk)
    assert errand(cast).asked_at is not None
    assert not RatingsStudy.objects.exists()


def test_without_any_level_there_is_no_study_and_an_old_one_goes(cast, scene, reviewed):
    turn = send(scene, cast.musician)
    rate(cast.director, turn, {"rhythm": "2"})
    jobs.study_ratings(cast.programme.pk)
    rate(cast.director, turn, {"rhythm": "not_heard"})
    assert jobs.study_ratings(cast.programme.pk) == "nothing new"
    assert not RatingsStudy.objects.exists()


def test_every_day_each_programme_s_study_is_asked_for(cast, scene):
    jobs.schedule_daily()
    jobs.schedule_daily()
    assert Schedule.objects.get(func=jobs.STUDY_ALL).schedule_type == Schedule.DAILY
    assert jobs.study_all_ratings() == "asked for 2"
    assert sorted(row.task["args"] for row in OrmQ.objects.all()) == sorted(
        [(cast.programme.pk,), (cast.outsider_director.programme_id,)]
    )
    assert errand(cast).asked_at is not None


def test_what_is_no_number_is_kept_as_nothing(cast, scene):
    rate(cast.director, send(scene, cast.musician), ALL_THREE)
    study = kept(cast, statements=(Found(points=float("nan")), Found(points=float("inf"))))
    assert [row["points"] for row in study.body["statements"]] == [None, None]
    assert "NaN" not in json.dumps(study.body)


def test_a_musician_in_two_ensembles_has_a_row_in_each(cast, scene, reviewed):
    altos = Section.objects.create(ensemble=cast.choir, name="Alto", instrument="Alto")
    Seat.objects.create(musician=cast.musician, section=altos)
    rate(cast.director, send(scene, cast.musician), {"rhythm": "2"})
    band = scene.check
    scene.check = type(band).objects.create(
        ensemble=cast.choir, piece=scene.piece, title="Song", criteria=band.criteria,
        tempo_qpm=80, due_on=band.due_on, made_by=cast.director, published_at=timezone.now(),
    )
    rate(cast.director, send(scene, cast.musician), {"rhythm": "4"})
    jobs.study_ratings(cast.programme.pk)
    (seen,) = growth_of(cast.second_director, cast.musician)
    assert seen.ensemble_pk == cast.band.pk
    assert [one["task"] for one in seen.lines[0]["points"]] == [f"c{band.pk}"]
    assert [view["ensemble"] for view in seen.self_views] == [f"e{cast.band.pk}"]
    assert {
        (one.ensemble_pk, view["ensemble"])
        for one in growth_of(cast.director, cast.musician)
        for view in one.self_views
    } == {(group.pk, f"e{group.pk}") for group in (cast.band, cast.choir)}


def test_who_is_gone_meanwhile_has_no_row(cast, scene):
    rate(cast.director, send(scene, cast.musician), {"rhythm": "2"})
    levels = given_levels(cast.programme.pk)
    Musician.objects.filter(pk=cast.musician.pk).delete()
    keep_study(cast.programme.pk, levels, Review(Growth()), "1")
    assert not MusicianGrowth.objects.exists()


def findings(account, name="statements"):
    return [(row["rater"], row["other"]) for row in study_for(account).body[name]]


def test_a_director_reads_findings_about_their_own_levels_and_the_lead_reads_all(cast, scene):
    lead, second, third = f"a{cast.director.pk}", f"a{cast.second_director.pk}", "a999999"
    everything = ((lead, lead), (lead, second), (lead, third), (second, second), ("", ""))
    kept(
        cast,
        statements=tuple(Found(rater, other) for rater, other in everything),
        remarks=("one_rater",),
    )
    assert findings(cast.director) == list(everything)
    assert findings(cast.second_director) == [(lead, second), (second, second)]
    assert study_for(cast.second_director).body["remarks"] == ["one_rater"]


def test_findings_about_ensembles_sections_musicians_and_tasks_are_their_directors_(cast, scene):
    own = f"a{cast.second_director.pk}"
    seen = (f"e{cast.band.pk}", f"s{cast.clarinets.pk}", f"m{cast.musician.pk}",
            f"c{scene.check.pk}")  # fmt: skip
    not_seen = (f"e{cast.choir.pk}", f"s{cast.sopranos.pk}", f"m{cast.singer.pk}", "c999999")
    rows = tuple(Found(own, own, (key,)) for key in (*seen, *not_seen))
    kept(cast, growth=Growth(sections=rows))
    read = study_for(cast.second_director).body["growth"]["sections"]
    assert [row["subjects"][0] for row in read] == list(seen)
    assert len(study_for(cast.director).body["growth"]["sections"]) == len(rows)


def test_nobody_but_directors_of_the_school_reads_a_study(cast, scene):
    kept(cast)
    assert study_for(cast.outsider_director) is None
    assert study_for(cast.musician.account) is None


def test_a_study_says_when_levels_have_changed_since(cast, scene):
    rate(cast.director, send(scene, cast.musician), ALL_THREE)
    kept(cast)
    assert study_for(cast.director).changed_since
    StudyErrand.objects.update(asked_at=None)
    assert not study_for(cast.director).changed_since
    assert study_for(cast.director).made_at <= timezone.now()


def test_a_musician_sees_no_point_of_a_take_that_is_not_answered_and_their_director_does(
    cast, scene
):
    turns = [
        send(scene, cast.musician, attempt=n, ago=ago, answered_at=answered)
        for n, ago, answered in ((1, 30, timezone.now()), (2, 2, None))
    ]
    for turn in turns:
        rate(cast.director, turn, {"rhythm": "3"})
    given = given_levels(cast.programme.pk).given
    points = tuple(Point(row.day, row.task, row.take, 3.0) for row in given)
    line = Line(given[0].student, given[0].ensemble, "rhythm", points)
    kept(cast, growth=Growth((line,)))
    (own,) = growth_of(cast.musician.account, cast.musician)
    assert [one["day"] for one in own.lines[0]["points"]] == [points[0].day]
    (directors,) = growth_of(cast.director, cast.musician)
    assert len(directors.lines[0]["points"]) == 2
    assert growth_of(cast.second_musician.account, cast.musician) == ()


def test_everyone_s_growth_in_an_ensemble_is_read_in_two_queries(
    cast, scene, django_assert_num_queries
):
    for musician in (cast.musician, cast.second_musician):
        rate(cast.director, send(scene, musician), {"rhythm": "3"})
    kept(cast)
    with django_assert_num_queries(2):
        seen = growth_in(cast.second_director, cast.band)
    assert {one.musician_pk for one in seen} == {cast.musician.pk, cast.second_musician.pk}
    assert growth_in(cast.second_director, cast.choir) == ()
    assert growth_in(cast.musician.account, cast.band) == ()


def test_the_real_review_of_a_small_school_is_kept_whole_and_read(cast, scene):
    room = pytest.importorskip("standlight.ratings.review")
    for attempt, level in enumerate("1234", start=1):
        turn = send(scene, cast.musician, attempt=attempt, ago=100 - 20 * attempt,
                    self_levels={"rhythm": 2}, answered_at=timezone.now())  # fmt: skip
        rate(cast.director, turn, {"rhythm": level, "notes": "3"})
        rate(cast.second_director, turn, {"rhythm": level})
    assert jobs.study_ratings(cast.programme.pk) == "studied"
    body = study_for(cast.director).body
    names = {field.name for field in dataclasses.fields(room.RatingsReview)}
    assert set(body) == names - {"self_views"}
    json.dumps(body, allow_nan=False)
    (own,) = growth_of(cast.musician.account, cast.musician)
    assert {line["criterion"] for line in own.lines} >= {"rhythm", "notes"}
    (rhythm,) = (line for line in own.lines if line["criterion"] == "rhythm")
    assert [one["level"] for one in rhythm["points"]] == [1.0, 2.0, 3.0, 4.0]
    assert rhythm["ensemble"] == f"e{cast.band.pk}"
    json.dumps(rhythm, allow_nan=False)
