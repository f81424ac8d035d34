"""The warm child: it is the same one for many tasks, and no task can hang or harm the next."""

import os
import signal
import time

import numpy as np
import pytest
from tests.workshop.test_decoding import made, tone

from standlight.errors import UnreadableTake, WorkshopFailure
from standlight.workshop import child, warm
from standlight.workshop.child import Limits
from standlight.workshop.decoding import decode

TAKE = made("webm", "libopus", tone())


@pytest.fixture(autouse=True)
def nobody_kept():
    warm._end_all()
    yield
    warm._end_all()


def test_one_child_decodes_many_takes_and_a_refused_one_between():
    first = decode(TAKE)
    (kept,) = warm._kept
    with pytest.raises(UnreadableTake, match="not a recording"):
        decode(bytes(range(256)) * 40)
    again = decode(TAKE)
    assert warm._kept == [kept] and kept.tasks == 3
    assert np.array_equal(first.samples, again.samples)


def test_a_child_that_was_killed_is_replaced_without_a_word():
    decode(TAKE)
    (kept,) = warm._kept
    os.kill(kept.process.pid, signal.SIGKILL)
    kept.process.wait()
    assert decode(TAKE).seconds == pytest.approx(1.0, abs=0.08)
    assert warm._kept[0] is not kept


def test_a_task_that_never_ends_is_ended_and_told(monkeypatch):
    monkeypatch.setattr(child, "_START", "import time; time.sleep(60)")
    start = time.perf_counter()
    with pytest.raises(WorkshopFailure, match="did not answer within 1 s"):
        warm.ask_warm("decoder", b"x", limits=Limits(wall_seconds=1.0))
    assert time.perf_counter() - start < 5.0
    assert warm._kept == []


def test_a_tool_that_is_not_there_fails_in_words():
    with pytest.raises(WorkshopFailure, match="nonesuch tool failed with status 1"):
        warm.ask_warm("nonesuch", b"x")


def test_a_forked_process_leaves_its_parents_child_alone():
    decode(TAKE)
    (kept,) = warm._kept
    pid = os.fork()
    if pid == 0:
        fine = not warm._kept and decode(TAKE).seconds > 0.9
        warm._end_all()
        os._exit(0 if fine else 1)
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0
    assert decode(TAKE).seconds > 0.9 and warm._kept == [kept]


def test_a_worn_child_is_replaced(monkeypatch):
    monkeypatch.setattr(warm, "MOST_TASKS", 2)
    for _ in range(2):
        decode(TAKE)
    assert warm._kept == []
    assert decode(TAKE).seconds > 0.9
