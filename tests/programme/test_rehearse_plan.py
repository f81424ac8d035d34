"""The plan of a rehearsal: drawn by the rule, changed by its director, tapped, carried over."""

import datetime
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions import rehearse as acts
from standlight.programme.actions import rehearse_podium as podium
from standlight.programme.actions.rehearse_podium import Said, SaidThere, Tapped
from standlight.programme.models import (
    ConcertCycle,
    Piece,
    PlannedBlock,
    PlannedRehearsal,
    PodiumRemark,
    Remark,
    SeasonDays,
    SeasonPlan,
)
from standlight.programme.queries.rehearse import rehearse_page
from standlight.programme.queries.rehearse_drawn import worked_before
from standlight.programme.queries.rehearse_evidence import strips_of
from standlight.programme.queries.rehearse_plan import plan_page, podium_page
from tests.programme.rehearse_scene import RehearseScene

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(cast):
    cast.cycle.concert_on = timezone.localdate() + datetime.timedelta(16)
    cast.cycle.save()
    made = RehearseScene(cast)
    made.takes("Clarinet", 6)
    made.said("Flute", 4, 24, 25, words="It was out of tune. I will try: Sing it")
    return made


def draw(scene, *, ahead=1, minutes=42, pieces=None):
    day = timezone.localdate() + datetime.timedelta(ahead)
    return acts.draw_up(
        scene.cast.director, scene.cast.band, day, minutes, pieces or [scene.piece]
    )


def work(plan):
    return list(plan.blocks.filter(kind="work").order_by("place"))


def minutes_of(plan):
    return sum(plan.blocks.values_list("minutes", flat=True))


def test_the_plan_fills_the_period_and_every_block_says_why(scene):
    plan = draw(scene)
    page = plan_page(plan)
    assert page.planned == page.minutes == 42
    assert page.concert == "Winter concert is 15 days later"
    assert all(block.why and block.how or block.kind in ("run", "contrast")
               for block in page.blocks)  # fmt: skip
    hardest = next(block for block in page.blocks if block.kind == "work")
    assert (hardest.where, hardest.aim) == ("measures 11 to 12", "rhythm")
    assert hardest.why[0] == "6 of 6 takes have trouble here"
    assert page.blocks[0].how == "Echo the rhythm of measures 11 to 12 of Lamp Tune on one note."
    assert [block.kind for block in page.blocks][-1] == "question"


def test_one_rehearsal_has_one_plan_and_a_day_that_is_over_has_none(scene):
    draw(scene)
    with pytest.raises(StandlightError, match="has a plan already"):
        draw(scene)
    with pytest.raises(StandlightError, match="is over"):
        draw(scene, ahead=-1)
    with pytest.raises(StandlightError, match="one piece"):
        acts.draw_up(scene.cast.director, scene.cast.band, timezone.localdate(), 42, [])
    for minutes in (0, 241):
        with pytest.raises(StandlightError, match="minutes"):
            draw(scene, ahead=2, minutes=minutes)


def test_without_a_concert_and_without_evidence_it_is_said_and_the_plan_is_to_play(cast):
    scene = RehearseScene(cast)
    ConcertCycle.objects.all().delete()
    scene.piece.refresh_from_db()
    page = plan_page(draw(scene))
    assert page.concert == "no concert set"
    assert page.told[0].startswith("No concert is set for this group")
    assert any(words.startswith("No take was read") for words in page.told)
    assert "run" in {block.kind for block in page.blocks}


def test_a_block_left_out_gives_its_minutes_to_the_others(scene):
    plan = draw(scene)
    first = work(plan)[0]
    acts.drop(scene.cast.director, first)
    assert minutes_of(plan) == 42
    assert first.key not in {block.key for block in plan.blocks.all()}
    acts.take_back_wishes(scene.cast.director, plan)
    assert first.key in {block.key for block in plan.blocks.all()}


def test_set_minutes_stay_and_the_others_share_the_rest(scene):
    plan = draw(scene)
    first = work(plan)[0]
    acts.stretch(scene.cast.director, first, 20)
    first.refresh_from_db()
    assert first.minutes == 20
    assert ["stretched", 0, 0] in first.why
    assert minutes_of(plan) == 42
    with pytest.raises(StandlightError, match="43 minutes in a rehearsal of 42"):
        acts.stretch(scene.cast.director, first, 43)
    acts.stretch(scene.cast.director, first, None)
    first.refresh_from_db()
    assert first.minutes < 20


def test_measures_put_in_stand_there_and_stay_whatever_is_heard_next(scene):
    plan = draw(scene)
    acts.pin(scene.cast.director, plan, scene.piece, (32, 35), 6)
    (pinned,) = [block for block in work(plan) if block.first_measure == 32]
    assert (pinned.last_measure, pinned.minutes) == (35, 6)
    acts.draw_again(scene.cast.director, plan)
    assert plan.blocks.filter(key=pinned.key).exists()
    acts.drop(scene.cast.director, PlannedBlock.objects.get(pk=pinned.pk))
    assert not plan.blocks.filter(key=pinned.key).exists()


def test_measures_beyond_the_piece_are_not_put_in(scene):
    plan = draw(scene)
    with pytest.raises(StandlightError, match="Lamp Tune ends with measure 40"):
        acts.pin(scene.cast.director, plan, scene.piece, (5, 10**16), 6)
    with pytest.raises(StandlightError, match="Lamp Tune ends with measure 40"):
        acts.add_own(
            scene.cast.director, plan, title="x", minutes=2, piece=scene.piece, measures=(5, 10**16)
        )
    plan.refresh_from_db()
    assert "pins" not in plan.wishes


def test_of_two_changes_made_on_old_pages_neither_is_undone(scene):
    director, plan = scene.cast.director, draw(scene)
    first, *_, last = (
        PlannedBlock.objects.select_related("plan").get(pk=one.pk) for one in plan.blocks.all()
    )
    stale = PlannedRehearsal.objects.get(pk=plan.pk)
    acts.drop(director, first)
    acts.drop(director, last)
    acts.pin(director, stale, scene.piece, (32, 35), 6)
    now = PlannedRehearsal.objects.get(pk=plan.pk)
    assert now.wishes["dropped"] == [first.key, last.key]
    assert not {first.key, last.key} & set(now.blocks.values_list("key", flat=True))
    assert now.blocks.get(first_measure=32).minutes == 6


def test_minutes_that_another_page_set_meanwhile_stay(scene):
    director, plan = scene.cast.director, draw(scene)
    stale = PlannedRehearsal.objects.get(pk=plan.pk)
    acts.set_period(director, plan, 30, [scene.piece])
    acts.draw_again(director, stale)
    assert PlannedRehearsal.objects.get(pk=plan.pk).minutes == minutes_of(plan) == 30


def test_what_is_done_to_a_block_that_is_gone_meanwhile_is_told(scene):
    director, plan = scene.cast.director, draw(scene)
    own = acts.add_own(director, plan, title="Sight reading", minutes=5)
    there = PlannedBlock.objects.select_related("plan").get(pk=own.pk)
    acts.drop(director, own)
    for act in (
        lambda: acts.drop(director, there),
        lambda: acts.stretch(director, there, 4),
        lambda: acts.move(director, there, 1),
        lambda: acts.set_texts(director, there, {"how": "x"}),
    ):
        with pytest.raises(StandlightError, match="this block is not in the plan any more"):
            act()
    stale = PlannedRehearsal.objects.get(pk=plan.pk)
    acts.let_go_plan(director, plan)
    with pytest.raises(StandlightError, match="this plan is not there any more"):
        acts.draw_again(director, stale)


def test_the_hundredth_block_of_ones_own_is_refused_in_words(scene):
    plan = draw(scene, minutes=240)
    PlannedBlock.objects.bulk_create(
        PlannedBlock(plan=plan, key=f"own:{n}", place=n, kind="own", minutes=1, title="x")
        for n in range(1, 100)
    )
    with pytest.raises(StandlightError, match="99 blocks of your own"):
        acts.add_own(scene.cast.director, plan, title="One more", minutes=1)


def test_a_moved_block_stays_where_it_was_put_when_the_plan_is_drawn_anew(scene):
    plan = draw(scene)
    last = work(plan)[-1]
    for _ in range(9):
        acts.move(scene.cast.director, PlannedBlock.objects.get(pk=last.pk), -1)
    keys = list(plan.blocks.order_by("place").values_list("key", flat=True))
    assert keys[0] == last.key
    plan.refresh_from_db()
    acts.draw_again(scene.cast.director, plan)
    assert list(plan.blocks.order_by("place").values_list("key", flat=True)) == keys


def test_a_block_of_ones_own_takes_its_minutes_first(scene):
    plan = draw(scene)
    own = acts.add_own(scene.cast.director, plan, title="Sight reading", minutes=7, how="Line 12")
    assert minutes_of(plan) == 42
    row = next(one for one in plan_page(plan).blocks if one.own)
    assert (row.title, row.how, row.minutes, row.why) == (
        "Sight reading", "Line 12", 7, ("you added it",)
    )  # fmt: skip
    with pytest.raises(StandlightError, match="your own blocks take 43 of 42"):
        acts.add_own(scene.cast.director, plan, title="Too long", minutes=36)
    acts.drop(scene.cast.director, own)
    assert minutes_of(plan) == 42


def test_words_that_were_changed_stay_when_the_plan_is_drawn_anew(scene):
    plan = draw(scene)
    first = work(plan)[0]
    acts.set_texts(scene.cast.director, first, {"how": "Clap  it\nfirst", "done_when": "Twice"})
    acts.draw_again(scene.cast.director, plan)
    row = next(one for one in plan_page(plan).blocks if one.key == first.key)
    assert (row.how, row.done_when) == ("Clap it first", "Twice")
    first.refresh_from_db()
    acts.set_texts(scene.cast.director, first, {"how": "", "done_when": ""})
    row = next(one for one in plan_page(plan).blocks if one.key == first.key)
    assert row.how.startswith("Count out loud")


def test_what_was_not_done_or_not_reached_goes_into_the_next_plan_with_another_way(scene):
    cast = scene.cast
    plan = draw(scene, ahead=0)
    first, second = work(plan)[:2]
    podium.tap(cast.director, plan, first.key, "not_done", timezone.now())
    following = draw(scene, ahead=1)
    again = next(block for block in work(following) if block.first_measure == first.first_measure)
    assert ["unfinished", 1, 0] in again.why
    assert again.strategy != first.strategy
    reached = {
        (one.first, one.last): one
        for one in worked_before(following, strips_of(cast.band, [scene.piece]))
    }
    assert reached[second.first_measure, second.last_measure].minutes == 0
    podium.tap(cast.director, plan, first.key, "done", timezone.now())
    acts.draw_again(cast.director, following)
    again = next(
        (one for one in work(following) if one.first_measure == first.first_measure), None
    )
    assert again is None or ["unfinished", 1, 0] not in again.why


def test_a_plan_nobody_opened_at_the_podium_says_nothing_of_what_was_done(scene):
    draw(scene, ahead=0)
    following = draw(scene, ahead=1)
    assert worked_before(following, strips_of(scene.cast.band, [scene.piece])) == ()


def test_once_tapped_the_plan_stands(scene):
    cast = scene.cast
    plan = draw(scene)
    podium.tap(cast.director, plan, "warm_up", "done", timezone.now())
    for change in (
        lambda: acts.draw_again(cast.director, plan),
        lambda: acts.drop(cast.director, work(plan)[0]),
        lambda: acts.stretch(cast.director, work(plan)[0], 5),
        lambda: acts.pin(cast.director, plan, scene.piece, (1, 2)),
        lambda: acts.add_own(cast.director, plan, title="x", minutes=1),
        lambda: acts.let_go_plan(cast.director, plan),
        lambda: acts.set_period(cast.director, plan, 30, [scene.piece]),
    ):
        with pytest.raises(StandlightError, match="has begun"):
            change()
    assert plan_page(plan).begun


def test_a_tap_that_was_taken_back_leaves_the_plan_open(scene):
    cast, plan = scene.cast, draw(scene)
    podium.tap(cast.director, plan, "warm_up", "done", timezone.now())
    podium.tap(cast.director, plan, "warm_up", "open", timezone.now())
    acts.draw_again(cast.director, plan)
    assert not plan_page(plan).begun


def test_the_day_that_is_offered_is_a_weekday_with_school_and_without_a_plan(scene):
    cast, today = scene.cast, timezone.localdate()
    offered = rehearse_page(cast.director).groups[0].next_day
    assert today < offered <= today + datetime.timedelta(3)
    assert offered.weekday() < 5
    year = SeasonPlan.objects.create(
        programme=cast.programme, owner=cast.director, starts_on=today - datetime.timedelta(60),
        ends_on=today + datetime.timedelta(200),
    )  # fmt: skip
    SeasonDays.objects.create(
        plan=year, sort=SeasonDays.CLOSED, first=today, last=offered, name="Closed"
    )
    later = rehearse_page(cast.director).groups[0].next_day
    assert later > offered
    assert later.weekday() < 5
    acts.draw_up(cast.director, cast.band, later, 42, [scene.piece])
    assert rehearse_page(cast.director).groups[0].next_day > later


def test_the_place_asks_the_same_number_of_times_however_many_blocks_and_pieces(scene):
    with CaptureQueriesContext(connection) as few:
        rehearse_page(scene.cast.director)
    for n in range(3):
        Piece.objects.create(ensemble=scene.cast.band, title=f"Piece {n}")
    plan = draw(scene)
    podium.tap(scene.cast.director, plan, "warm_up", "done", timezone.now())
    with CaptureQueriesContext(connection) as many:
        rehearse_page(scene.cast.director)
    assert len(many) <= len(few) + 1


def test_the_latest_tap_stands_however_late_it_arrives_and_a_repeat_is_harmless(scene):
    cast, now = scene.cast, timezone.now()
    plan = draw(scene, ahead=0)
    key = work(plan)[0].key
    late, early = now - datetime.timedelta(minutes=1), now - datetime.timedelta(minutes=5)
    taps = [Tapped("b", key, "done", late), Tapped("a", key, "not_done", early)]
    for _ in range(2):
        kept = podium.keep_podium(cast.director, plan, taps, [])
        assert kept.kept == ["b", "a"]
    block = plan.blocks.get(key=key)
    assert (block.state, block.tapped_at) == ("done", late)
    ahead = now + datetime.timedelta(days=3)
    podium.tap(cast.director, plan, key, "open", ahead)
    assert plan.blocks.get(key=key).tapped_at <= timezone.now()
    gone = podium.keep_podium(cast.director, plan, [Tapped("c", "work:9:1-2", "done", now)], [])
    assert gone.refused == {"c": "This block is not in the plan any more."}


def test_a_remark_sent_twice_is_one_and_a_bad_one_stops_no_other(scene):
    cast, plan = scene.cast, draw(scene, ahead=0)
    now = timezone.now()
    good = SaidThere(uuid.uuid4(), Said(scene.piece, 5, 6, aim="rhythm"), now)
    bad = SaidThere(uuid.uuid4(), Said(scene.piece, 90, 91, aim="rhythm"), now)
    empty = SaidThere(uuid.uuid4(), Said(scene.piece, 5, 6), now)
    last = SaidThere(uuid.uuid4(), Said(scene.piece, 7, 7, strategy="drone", words="low"), now)
    for _ in range(2):
        kept = podium.keep_podium(cast.director, plan, [], [good, bad, empty, last])
    assert kept.kept == [str(good.key), str(last.key)]
    assert "measure 40 is the nearest" in kept.refused[str(bad.key)]
    assert kept.refused[str(empty.key)] == "Tap a word, or write one."
    rows = PodiumRemark.objects.order_by("remark__first_measure")
    assert [(row.remark.words, row.aim, row.strategy) for row in rows] == [
        ("rhythm", "rhythm", ""), ("drone. low", "", "drone"),
    ]  # fmt: skip


def test_a_remark_at_the_podium_is_the_directors_voice_in_the_next_plan(scene):
    cast, plan = scene.cast, draw(scene, ahead=0)
    said = Said(scene.piece, 33, 36, aim="dynamics")
    podium.remark(cast.director, said, plan=plan, at=timezone.now())
    podium.tap(cast.director, plan, "warm_up", "done", timezone.now())
    following = draw(scene, ahead=1)
    block = next(one for one in work(following) if one.first_measure == 32)
    assert ["director", 1, 0] in block.why
    assert block.aim == "dynamics"


def test_the_podium_page_has_the_blocks_and_no_name(scene):
    cast, plan = scene.cast, draw(scene)
    page = podium_page(cast.director, plan)
    assert len(page.blocks) == plan.blocks.count()
    hardest = next(one for one in page.blocks if one.block.kind == "work")
    assert (hardest.block.first, hardest.block.last) == ("11", "12")
    assert [tag.words for tag in hardest.tags][:2] == ["rhythm", "count aloud"]
    shown = repr((page, plan_page(plan)))
    for person in (*scene.people["Clarinet"], *scene.people["Flute"]):
        assert person.given_name not in shown


def test_a_piece_on_paper_is_planned_once_its_measures_are_known(cast):
    scene = RehearseScene(cast, scored=False)
    scene.check.delete()
    plan = draw(scene)
    assert plan_page(plan).no_measures == ((scene.piece.pk, "Lamp Tune"),)
    assert not plan.blocks.exists()
    podium.set_length(cast.director, scene.piece, 48)
    podium.remark(cast.director, Said(scene.piece, 17, 20, aim="rhythm"))
    acts.draw_again(cast.director, plan)
    (block,) = work(plan)
    assert (block.first_measure, block.last_measure) == (16, 19)
    assert minutes_of(plan) == 42


def test_a_plan_of_an_earlier_edition_still_opens(scene):
    cast, plan = scene.cast, draw(scene)
    plan.told = [["of_old", 3]]
    plan.save()
    idle = [{"names": ["Flute"], "task": "of_old", "first": 0, "last": 1}]
    plan.blocks.filter(kind="work").update(
        why=[["of_old", 1, 2], ["pinned", 0, 0]], strategy="of_old", finish="of_old", idle=idle,
        aim="of_old",
    )  # fmt: skip
    page = plan_page(plan)
    assert page.told == ()
    block = next(one for one in page.blocks if one.kind == "work")
    assert (block.why, block.how, block.idle) == (("you put it in",), "", ())
    assert podium_page(cast.director, plan).blocks


def test_another_ensembles_director_changes_nothing(scene):
    cast, plan = scene.cast, draw(scene)
    stranger, mine = cast.outsider_director, work(plan)[0]
    other = Piece.objects.create(ensemble=cast.choir, title="Song")
    for change in (
        lambda: acts.draw_up(stranger, cast.band, timezone.localdate(), 42, [scene.piece]),
        lambda: acts.drop(stranger, mine),
        lambda: acts.move(stranger, mine, 1),
        lambda: acts.set_texts(stranger, mine, {"how": "x"}),
        lambda: podium.tap(stranger, plan, mine.key, "done", timezone.now()),
        lambda: podium.remark(stranger, Said(scene.piece, 1, 1, "x")),
        lambda: podium.keep_podium(stranger, plan, [], []),
        lambda: podium.set_length(stranger, other, 5),
        lambda: acts.pin(cast.director, plan, other, (0, 1)),
        lambda: acts.draw_up(cast.director, cast.band, timezone.localdate(), 42, [other]),
    ):
        with pytest.raises(NotAllowed):
            change()
    assert not Remark.objects.filter(author=stranger).exists()


def test_the_place_shows_what_is_ahead_and_what_the_last_time_left_over(scene):
    cast, plan = scene.cast, draw(scene, ahead=0)
    first = work(plan)[0]
    podium.tap(cast.director, plan, first.key, "not_done", timezone.now())
    podium.tap(cast.director, plan, "warm_up", "done", timezone.now())
    plan.day -= datetime.timedelta(1)
    plan.save()
    draw(scene, ahead=1)
    band = rehearse_page(cast.director).groups[0]
    assert len(band.ahead) == 1
    assert (band.last.done, band.last.not_done) == (1, 1)
    assert band.left_over[0] == "measures 11 to 12, Lamp Tune"
    assert [line.title for line in band.pieces] == ["Lamp Tune"]
