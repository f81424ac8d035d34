"""A child that stays warm: one tool, many tasks one after the other, each with its own answer.

Starting Python and a decoder costs more than decoding a take. `ask_warm` keeps a child of a
tool alive between tasks: same empty environment, same caps on memory and files as `run_child`,
a wall clock for each task and a budget of processor time for the child's life. A child on which
a task dies is replaced, and the task tried once more by a fresh one, so that a worn child is no
fault of the file. It ends by itself when nobody asks for ``IDLE_S`` or its parent is gone, and
after ``MOST_TASKS``. A file that takes the child over could harm the tasks after it in that
child, and nothing else.

A warm tool loops over `asked` and answers each task by `child.told` or `child.declined`.
"""

from __future__ import annotations

import atexit
import os
import select
import signal
import struct
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from threading import Timer
from typing import IO

from standlight.errors import StandlightError, WorkshopFailure
from standlight.workshop.child import CHILD_ENVIRONMENT, Limits, command_of

IDLE_S = 120.0
"""A child that nobody asks for so long ends: takes come in waves, at the end of a lesson."""

MOST_TASKS = 300
"""A child is replaced after so many tasks: whatever it may leak stays small (our choice)."""

MOST_KEPT = 2
"""Children kept warm in one process (the machine the tool is built for has two cores)."""

_USUAL = Limits()
_TASK = struct.Struct("<II")
_ANSWER = struct.Struct("<BI")
_CAUSES = {
    -signal.SIGXCPU: "used up its processor time",
    -signal.SIGKILL: "was ended from outside or used up its processor time",
    -signal.SIGSEGV: "crashed on this file",
    -signal.SIGABRT: "crashed on this file",
}


class _Died(Exception):
    """The child ended before it answered; the text says how, after "the ... tool"."""


class _Warm:
    """A running child of ``tool``; one task at a time."""

    def __init__(self, tool: str, limits: Limits) -> None:
        """Start it, outside every folder of its own: it is to write no file."""
        self.tool, self.limits, self.tasks, self.late = tool, limits, 0, False
        self.process = subprocess.Popen(
            command_of(tool, limits),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=CHILD_ENVIRONMENT,
            cwd="/",
            start_new_session=True,
        )

    def ask(self, word: str, given: bytes) -> tuple[int, bytes]:
        """(0, answer) or (1, why it is refused); raises `_Died`."""
        self.tasks += 1
        watch = Timer(self.limits.wall_seconds, self._too_late)
        watch.daemon = True
        watch.start()
        try:
            name = word.encode()
            self.process.stdin.write(_TASK.pack(len(name), len(given)) + name)
            self.process.stdin.write(given)
            self.process.stdin.flush()
            kind, length = _ANSWER.unpack(_exactly(self.process.stdout, _ANSWER.size))
            return kind, _exactly(self.process.stdout, length)
        except (OSError, EOFError) as problem:
            raise _Died(self._cause()) from problem
        finally:
            watch.cancel()

    def _too_late(self) -> None:
        """The task's time has run out."""
        self.late = True
        self.process.kill()

    def _cause(self) -> str:
        """How the child ended, after "the ... tool"."""
        self.end()
        if self.late:
            return f"did not answer within {self.limits.wall_seconds:g} s"
        status = self.process.returncode
        return _CAUSES.get(status, f"failed with status {status}")

    def end(self) -> None:
        """Close its pipes, which ends an idle child, then make sure and reap it."""
        for pipe in (self.process.stdin, self.process.stdout):
            with suppress(OSError):  # what was not written yet goes nowhere
                pipe.close()
        try:
            self.process.wait(timeout=1.0)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()

    def forget(self) -> None:
        """After a fork: the child is the parent's; close this process's ends of the pipes."""
        self.process.returncode = 0
        for pipe in (self.process.stdin, self.process.stdout):
            os.close(pipe.fileno())


_kept: list[_Warm] = []


def warm_up(tool: str, limits: Limits) -> None:
    """Start a child of ``tool`` now, so that the first `ask_warm` need not wait for its start."""
    if not any(warm.tool == tool for warm in _kept):
        _keep(_Warm(tool, limits))


def ask_warm(
    tool: str,
    given: bytes,
    *,
    word: str = "",
    limits: Limits = _USUAL,
    refusal: type[StandlightError] = WorkshopFailure,
) -> bytes:
    """The answer of ``standlight.workshop.<tool>`` to ``given``, asked for ``word``.

    Raises ``refusal`` with the tool's own sentence when it refuses the task, and
    `WorkshopFailure` when the child dies on it twice or runs out of its ``limits``: the wall
    clock counts for one task, memory and processor time for the child.
    """
    while True:
        warm = _taken(tool) or _Warm(tool, limits)
        fresh = warm.tasks == 0
        try:
            kind, answer = warm.ask(word, given)
        except _Died as death:
            if fresh or warm.late:
                raise WorkshopFailure(
                    f"the {tool} tool {death}", slip="a damaged or very large file?"
                ) from death
            continue
        except BaseException:  # interrupted in the middle of an answer: nobody can use it again
            warm.process.kill()
            warm.end()
            raise
        _keep(warm)
        if kind:
            raise refusal(answer.decode("utf-8", "replace"))
        return answer


def _taken(tool: str) -> _Warm | None:
    """A kept child of ``tool``, no longer kept; None when there is none."""
    for place, warm in enumerate(_kept):
        if warm.tool == tool:
            return _kept.pop(place)
    return None


def _keep(warm: _Warm) -> None:
    """Keep the child for the next task unless it is worn or there are enough."""
    if warm.tasks >= MOST_TASKS or len(_kept) >= MOST_KEPT:
        warm.end()
    else:
        _kept.append(warm)


def _exactly(pipe: IO[bytes], count: int) -> bytes:
    """``count`` bytes; raises EOFError when the other side ended before."""
    found = pipe.read(count)
    if len(found) < count:
        raise EOFError
    return found


def _end_all() -> None:
    """End every kept child when this process ends."""
    while _kept:
        _kept.pop().end()


def _forget_all() -> None:
    """A forked process starts with no child of its own."""
    while _kept:
        _kept.pop().forget()


atexit.register(_end_all)
os.register_at_fork(after_in_child=_forget_all)


def asked() -> Iterator[tuple[str, bytes]]:
    """(word, given) of each task as it comes, until nobody asks any more (child side)."""
    source = sys.stdin.buffer
    while select.select([source], [], [], IDLE_S)[0]:
        head = source.read(_TASK.size)
        if len(head) < _TASK.size:
            return
        word_bytes, given_bytes = _TASK.unpack(head)
        word = source.read(word_bytes).decode()
        yield word, source.read(given_bytes)
