"""A plan for Tuesday: every minute is used, every block says why, and the director has the say."""

import pytest

from standlight.criteria import CRITERIA
from standlight.errors import StandlightError
from standlight.planning import (
    AIMS,
    DONE_WHEN,
    IDLE_TASKS,
    KINDS_OF_BLOCK,
    QUESTIONS,
    REMARKS,
    STRATEGIES,
    WARM_UPS,
    WHY,
    DirectorRemark,
    HeardTake,
    MusicianRemark,
    Outline,
    OutlinePart,
    PieceEvidence,
    Pin,
    Wishes,
    Worked,
    draw_strip,
    plan_rehearsal,
)
from standlight.planning.frame import waiting

N = 80
WHOLE = frozenset(range(N))
TUNE = Outline(
    tuple(str(m + 1) for m in range(N)),
    (
        OutlinePart("fl", "Flute", WHOLE - frozenset(range(40, 60))),
        OutlinePart("hn", "Horn", WHOLE),
        OutlinePart("tim", "Percussion", frozenset(range(60, 80))),
    ),
)


def heard(part, where, aim, n=6):
    own = next(one.plays for one in TUNE.parts if one.key == part)
    return [
        HeardTake(f"{part}{aim}{k}", part, own, tuple((aim, m) for m in where)) for k in range(n)
    ]


def march(**more):
    takes = [*heard("hn", range(44, 50), "intonation"), *heard("fl", range(10, 14), "rhythm"),
             *heard("hn", range(10, 14), "rhythm"), *heard("tim", range(70, 73), "pulse", 4)]
    return PieceEvidence("march", draw_strip(TUNE, takes, **more))  # fmt: skip


def work_of(plan):
    return [block for block in plan.blocks if block.kind == "work"]


def codes(block):
    return {why.code for why in block.why}


@pytest.mark.parametrize("minutes", [1, 2, 3, 5, 6, 8, 11, 12, 15, 18, 20, 25, 30, 45, 50, 90, 120])
@pytest.mark.parametrize("days", [0, 1, 5, 20, 60, None])
def test_every_minute_of_the_period_is_in_a_block_or_told(minutes, days):
    plan = plan_rehearsal([march()], minutes, days)
    left = sum(one.n for one in plan.remarks if one.code == "unplanned")
    assert sum(block.minutes for block in plan.blocks) + left == minutes
    assert left == 0
    assert all(block.minutes > 0 for block in plan.blocks)
    kinds = [KINDS_OF_BLOCK.index(block.kind) for block in plan.blocks]
    assert kinds == sorted(kinds)


def test_the_hardest_stands_first_after_a_warm_up_for_it_and_one_question_closes():
    plan = plan_rehearsal([march()], 45, 28)
    warm_up, hardest, *_ = plan.blocks
    assert (warm_up.kind, hardest.kind) == ("warm_up", "work")
    assert (hardest.first, hardest.last, hardest.aim) == (10, 13, "rhythm")
    assert warm_up.aim == hardest.aim
    assert warm_up.strategy == AIMS["rhythm"].warm_up
    assert [block.kind for block in plan.blocks].count("question") == 1
    assert plan.blocks[-1].kind == "question"
    assert work_of(plan)[0].minutes == max(block.minutes for block in work_of(plan))


def test_each_block_of_work_says_what_was_heard_and_when_it_is_done():
    musicians = [MusicianRemark(str(k), "fl", 11, 12) for k in range(3)]
    plan = plan_rehearsal([march(musicians=musicians, director=[DirectorRemark(10, 12)])], 45, 28)
    hardest = work_of(plan)[0]
    told = {why.code: (why.n, why.of) for why in hardest.why}
    assert told["heard"] == (12, 18), "the horns' takes of another aim are calm there"
    assert told["said"] == (3, 3)
    assert told["director"] == (1, 0)
    assert hardest.done_when == AIMS["rhythm"].done_when
    assert hardest.strategy in AIMS["rhythm"].strategies
    assert hardest.come_back_days == 4


def test_every_code_of_a_plan_has_its_words():
    plans = [plan_rehearsal([march()], minutes, days) for minutes in (5, 45) for days in (1, None)]
    for plan in plans:
        assert {one.code for one in plan.remarks} <= set(REMARKS)
        for block in plan.blocks:
            assert block.why
            assert codes(block) <= set(WHY)
            assert {one.task for one in block.idle} <= set(IDLE_TASKS)
            assert block.done_when in {"", *DONE_WHEN}
            words = {"warm_up": WARM_UPS, "work": STRATEGIES, "question": QUESTIONS}
            assert block.strategy in words.get(block.kind, {""})


def test_every_criterion_of_the_house_has_its_ways_to_rehearse():
    assert set(CRITERIA) <= set(AIMS)
    for aim in AIMS.values():
        assert aim.warm_up in WARM_UPS
        assert aim.done_when in DONE_WHEN
        assert len(set(aim.strategies)) == 3
        assert set(aim.strategies) <= set(STRATEGIES)


def test_who_does_not_play_is_named_once_with_something_to_do():
    plan = plan_rehearsal([march()], 45, 28)
    horns = next(block for block in work_of(plan) if block.aim == "intonation")
    tasks = {part: one for one in horns.idle for part in one.parts}
    assert set(tasks) == {"fl", "tim"} == set(waiting(march(), horns.first, horns.last))
    assert (tasks["fl"].task, tasks["fl"].first, tasks["fl"].last) == ("study", 10, 13)
    assert (tasks["tim"].task, tasks["tim"].first) == ("study", 70)
    only = Wishes(dropped=frozenset(one.key for one in work_of(plan) if one.key != horns.key))
    again = plan_rehearsal([march()], 45, 28, wishes=only)
    block = next(one for one in again.blocks if one.key == horns.key)
    assert {one.task for one in block.idle} == {"listen"}


def test_contrast_is_calm_and_plays_those_who_waited_or_cheers_up_a_false_worry():
    plan = plan_rehearsal([march()], 45, 28)
    contrast = next(block for block in plan.blocks if block.kind == "contrast")
    assert codes(contrast) == {"idle_play"}
    assert all(block.last < contrast.first or block.first > contrast.last
               for block in work_of(plan))  # fmt: skip
    assert contrast.last >= 63, "percussion, who waited twice, plays from 60 on only"
    assert {why.n for why in contrast.why} == {2}
    worried = [MusicianRemark(str(k), "hn", 25, 27) for k in range(5)]
    plan = plan_rehearsal([march(musicians=worried)], 45, 28)
    contrast = next(block for block in plan.blocks if block.kind == "contrast")
    assert codes(contrast) == {"false_worry"}
    assert contrast.first <= 25
    assert contrast.last >= 27
    assert plan.blocks[-1].strategy == "how_sure"


def test_what_was_worked_on_yesterday_gets_less_today_and_more_again_days_later():
    def minutes(days_ago):
        worked = [Worked("march", 10, 13, 10, days_ago, done=True)] if days_ago is not None else []
        plan = plan_rehearsal([march()], 30, 28, worked)
        return sum(block.minutes for block in work_of(plan) if block.first == 10)

    assert minutes(1) < minutes(6) <= minutes(None)


def test_an_unfinished_block_comes_back_with_another_strategy_and_says_so():
    lost = Worked("march", 20, 23, 4, 1, done=False, strategy="count", aim="rhythm")
    plan = plan_rehearsal([march()], 60, 28, [lost])
    block = next(one for one in work_of(plan) if one.first == 20)
    assert {why.code: why.n for why in block.why} == {"unfinished": 1}
    assert block.strategy == "sing"
    done = Worked("march", 20, 23, 4, 1, done=True)
    assert all(one.first != 20 for one in work_of(plan_rehearsal([march()], 60, 28, [done])))


def test_the_nearer_the_concert_the_more_is_played_through():
    def run(days):
        plan = plan_rehearsal([march()], 50, days)
        return next(block for block in plan.blocks if block.kind == "run")

    lengths = [run(days).minutes for days in (40, 14, 6, 1)]
    assert lengths == sorted(lengths)
    assert lengths[0] < lengths[-1]
    assert "concert_near" in codes(run(6))
    assert "concert_near" not in codes(run(14))


def test_the_run_fits_its_minutes_and_holds_as_much_worked_music_as_any_stretch_could():
    slow = Outline(TUNE.printed, TUNE.parts, seconds=(10.0,) * N)
    takes = [*heard("hn", range(44, 50), "intonation"), *heard("hn", range(66, 72), "notes")]
    plan = plan_rehearsal([PieceEvidence("march", draw_strip(slow, takes))], 45, 10)
    run = next(block for block in plan.blocks if block.kind == "run")
    length = run.last - run.first + 1
    assert 10.0 * length <= 60 * 0.8 * run.minutes
    worked = {m for block in work_of(plan) for m in range(block.first, block.last + 1)}
    held = {first: len(worked & set(range(first, first + length)))
            for first in range(N - length + 1)}  # fmt: skip
    assert held[run.first] == max(held.values()) > 0


def test_a_pinned_block_is_there_with_its_minutes_and_the_rest_is_made_anew():
    before = plan_rehearsal([march()], 45, 28)
    pinned = Wishes(pins=(Pin("march", 30, 33, 6, "dynamics"),))
    plan = plan_rehearsal([march()], 45, 28, wishes=pinned)
    block = next(one for one in work_of(plan) if one.first == 30)
    assert (block.minutes, block.aim) == (6, "dynamics")
    assert "pinned" in codes(block)
    assert sum(one.minutes for one in plan.blocks) == 45
    assert {one.key for one in work_of(before)} & {one.key for one in work_of(plan)}
    free = plan_rehearsal([march()], 45, 28, wishes=Wishes(pins=(Pin("march", 30, 33),)))
    assert next(one for one in work_of(free) if one.first == 30).minutes >= 3


def test_a_pin_on_a_spot_takes_its_place_and_keeps_its_reasons():
    plan = plan_rehearsal([march()], 45, 28, wishes=Wishes(pins=(Pin("march", 9, 14, 7),)))
    mine = [one for one in work_of(plan) if one.first <= 13 and one.last >= 10]
    assert [(one.first, one.last, one.minutes) for one in mine] == [(9, 14, 7)]
    assert {"heard", "pinned"} <= codes(mine[0])


@pytest.mark.parametrize("kind", ["warm_up", "contrast", "run", "question", "work"])
def test_a_dropped_block_is_gone_and_its_minutes_are_used_elsewhere(kind):
    before = plan_rehearsal([march()], 45, 28)
    key = next(block.key for block in before.blocks if block.kind == kind)
    plan = plan_rehearsal([march()], 45, 28, wishes=Wishes(dropped=frozenset({key})))
    assert key not in {block.key for block in plan.blocks}
    assert sum(block.minutes for block in plan.blocks) == 45
    assert plan.remarks == ()


@pytest.mark.parametrize("kind", ["warm_up", "contrast", "run", "question", "work"])
def test_a_stretched_block_keeps_its_minutes_and_the_others_give_way(kind):
    before = plan_rehearsal([march()], 45, 28)
    key = next(block.key for block in before.blocks if block.kind == kind)
    plan = plan_rehearsal([march()], 45, 28, wishes=Wishes(stretched=((key, 13),)))
    block = next(one for one in plan.blocks if one.key == key)
    assert block.minutes == 13
    assert "stretched" in codes(block)
    assert sum(one.minutes for one in plan.blocks) == 45


def test_what_cannot_be_planned_is_refused_with_the_nearest_fix():
    with pytest.raises(StandlightError, match="0 minutes holds no block .*45"):
        plan_rehearsal([march()], 0, 28)
    with pytest.raises(StandlightError, match="without a piece"):
        plan_rehearsal([], 45, 28)
    with pytest.raises(StandlightError, match="50 of 45 minutes .shorten them by 5"):
        plan_rehearsal([march()], 45, 28, wishes=Wishes(stretched=(("run", 50),)))
    with pytest.raises(StandlightError, match="meant march"):
        plan_rehearsal([march()], 45, 28, wishes=Wishes(pins=(Pin("mach", 1, 2),)))
    with pytest.raises(StandlightError, match="drop it instead"):
        plan_rehearsal([march()], 45, 28, wishes=Wishes(stretched=(("run", 0),)))


def test_what_can_be_planned_all_the_same_is_told():
    def told(*args, **more):
        return {one.code: one.n for one in plan_rehearsal(*args, **more).remarks}

    assert told([march()], 45, None) == {"no_concert_date": 28}
    assert told([march()], 45, -3) == {"concert_past": 3}
    assert told([PieceEvidence("new", draw_strip(TUNE))], 45, 9) == {"no_evidence": 0}
    lost = draw_strip(TUNE, musicians=[MusicianRemark("a", "fl", 400, 401)])
    assert told([PieceEvidence("m", lost)], 45, 9)["left_out"] == 1
    assert "pin_moved" in told([march()], 45, 9, wishes=Wishes(pins=(Pin("march", 78, 99),)))
    assert told([march()], 45, 9, wishes=Wishes(dropped=frozenset({"work:x:1-2"}))) == {
        "unknown_block": 1
    }
    everything = frozenset({"warm_up", "contrast", "run", "question"})
    empty = [PieceEvidence("new", draw_strip(TUNE))]
    assert told(empty, 45, 9, wishes=Wishes(dropped=everything))["unplanned"] == 45


def test_two_pieces_share_one_period_by_need():
    calm = PieceEvidence("song", draw_strip(TUNE, heard("fl", range(20, 22), "notes", 3)))
    plan = plan_rehearsal([calm, march()], 60, 28)
    assert {block.piece for block in work_of(plan)} == {"march", "song"}
    assert work_of(plan)[0].piece == "march"


def test_the_order_of_evidence_changes_no_block():
    again = PieceEvidence("march", draw_strip(TUNE, [
        *heard("tim", range(70, 73), "pulse", 4), *heard("hn", range(10, 14), "rhythm"),
        *heard("fl", range(10, 14), "rhythm"), *heard("hn", range(44, 50), "intonation"),
    ]))  # fmt: skip
    assert plan_rehearsal([again], 45, 28) == plan_rehearsal([march()], 45, 28)
