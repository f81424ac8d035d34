"""A child that runs over its limits ends, and says why."""

import sys
from pathlib import Path

import pytest

from standlight.errors import UnreadableTake, WorkshopFailure
from standlight.workshop import Limits, child, run_child, run_list
from standlight.workshop.child import MOST_DEATHS

TOOL = """
import os, sys, time
from standlight.workshop.child import refuse
what = sys.argv[1]
given = sys.stdin.buffer.read()
if what == "turn":
    sys.stdout.buffer.write(given[::-1])
elif what == "environment":
    sys.stdout.write(" ".join(sorted(os.environ)))
elif what == "refuse":
    refuse("this is\\na joke")
elif what == "memory":
    bytearray(4_000_000_000)
elif what == "loop":
    while True:
        pass
elif what == "sleep":
    time.sleep(60)
elif what == "write":
    while True:
        sys.stdout.buffer.write(b"x" * 100_000)
elif what == "crash":
    os.abort()
elif what == "folder":
    open("left-behind", "w").close()
    sys.stdout.write(os.getcwd())
"""

LIST_TOOL = """
import os, sys
from standlight.workshop.child import declined, listed, told
for task in listed():
    if task == b"crash":
        os.abort()
    elif task == b"end":
        raise SystemExit(0)
    elif task == b"refuse":
        declined("not\\nthis one")
    else:
        told(task[::-1] + b" %d" % os.getpid())
"""


@pytest.fixture
def tool(tmp_path, monkeypatch):
    """A tool of the workshop that lives in the test's folder."""
    package = tmp_path / "standlight" / "workshop"
    package.mkdir(parents=True)
    (package / "trial.py").write_text(TOOL)
    (package / "list_trial.py").write_text(LIST_TOOL)
    # The package's path is extended in the child, so that the product needs no test tool.
    start = (
        f"import standlight.workshop as room; room.__path__.append({str(package)!r});"
        " from standlight.workshop.child import _inside; _inside()"
    )
    monkeypatch.setattr(child, "_START", start)

    def run(what, given=b"", **limits):
        return run_child("trial", given, arguments=[what], limits=Limits(**limits),
                         refusal=UnreadableTake)  # fmt: skip

    return run


def test_bytes_go_in_and_bytes_come_out(tool):
    assert tool("turn", b"abc\x00") == b"\x00cba"


def test_the_environment_is_empty_but_for_what_python_needs(tool, monkeypatch):
    monkeypatch.setenv("STANDLIGHT_SECRET", "x")
    names = set(tool("environment").decode().split())
    assert "STANDLIGHT_SECRET" not in names
    assert names <= {"PYTHONPATH", "LANG", "LC_CTYPE", "PYTHONDONTWRITEBYTECODE"}


def test_a_refusal_is_the_tools_own_sentence_and_kind(tool):
    with pytest.raises(UnreadableTake, match="this is a joke"):
        tool("refuse")


@pytest.mark.parametrize(
    ("what", "limits", "says"),
    [
        ("memory", {"memory_bytes": 1_000_000_000}, "1,000,000,000 bytes of memory"),
        ("loop", {"cpu_seconds": 1}, "1 s of processor time"),
        ("sleep", {"wall_seconds": 1.0}, "within 1 s"),
        ("write", {"file_bytes": 1_000_000}, "1,000,000 bytes"),
        ("crash", {}, "crashed"),
    ],
)
@pytest.mark.skipif(sys.platform != "linux", reason="limits are Linux's own")
def test_a_limit_ends_the_child_with_a_sentence(tool, what, limits, says):
    with pytest.raises(WorkshopFailure, match=says):
        tool(what, **limits)


def test_each_child_works_in_a_folder_of_its_own_that_goes_with_it(tool):
    one, other = tool("folder").decode(), tool("folder").decode()
    assert one != other
    assert not Path(one).exists()


def test_a_list_is_answered_in_order_by_one_child(tool):
    answers = [answer.split() for answer in run_list("list_trial", [b"ab", b"\x00c", b""])]
    assert [answer[:-1] for answer in answers] == [[b"ba"], [b"c\x00"], []]
    assert len({answer[-1] for answer in answers}) == 1
    assert run_list("list_trial", []) == []


def test_a_task_that_is_refused_or_kills_the_child_harms_no_other(tool):
    tasks = [b"ab", b"refuse", b"cd", b"crash", b"ef", b"end", b"gh"]
    answers = run_list("list_trial", tasks)
    assert [answers[place].split()[0] for place in (0, 2, 4, 6)] == [b"ba", b"dc", b"fe", b"hg"]
    assert str(answers[1]) == "not this one"
    assert "crashed" in str(answers[3])
    assert "without an answer" in str(answers[5])


def test_a_list_on_which_children_keep_dying_is_given_up(tool):
    tasks = [b"crash"] * (MOST_DEATHS + 1) + [b"ab"]
    answers = run_list("list_trial", tasks)
    assert len(answers) == len(tasks)
    assert all("crashed" in str(answer) for answer in answers)


def test_limits_of_nothing_are_refused():
    with pytest.raises(ValueError, match="zero or less"):
        Limits(cpu_seconds=0)
