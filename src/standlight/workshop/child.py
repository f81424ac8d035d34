"""Run one tool of the workshop in a child process with limits: bytes in, bytes out.

A tool is a module beside this one (``standlight.workshop.<tool>``) that is run as
``__main__``: it reads its whole standard input, writes its answer to standard output
and exits 0. A tool that refuses its input calls `refuse` (exit status 3, one sentence
on standard error). The child sees an empty environment, a cap on memory, processor
time and written bytes, and ends when the wall clock runs out. Nothing in the parent
can be harmed by a file that crashes the foreign machinery in the child. It works in an
empty folder of its own, which the parent takes away when the child has ended.

A tool that answers many small tasks is run by `run_list`: it reads `listed` tasks, and
writes one `told` answer each as soon as it has it, so that a crash costs one task only.

The limits are set inside the child before the tool starts, because running code
between fork and exec is unsafe in a process with threads (Python's subprocess manual).
"""

from __future__ import annotations

import os
import resource
import runpy
import signal
import struct
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory, TemporaryFile
from typing import IO, NoReturn

from standlight.errors import StandlightError, WorkshopFailure

REFUSED_STATUS = 3
"""Exit status of a tool that understood its task and refuses this input."""

_SOURCES = Path(__file__).resolve().parents[2]
_START = "from standlight.workshop.child import _inside; _inside()"

CHILD_ENVIRONMENT = {
    "PYTHONPATH": str(_SOURCES), "LANG": "C.UTF-8", "PYTHONDONTWRITEBYTECODE": "1",
}  # fmt: skip
"""All that a child sees of the parent's environment."""

_LONGEST_SENTENCE_BYTES = 2_000
_FRAME = struct.Struct("<BI")
_ANSWERED, _REFUSED = 0, 1

MOST_DEATHS = 3
"""A list on which so many children died is given up: its other tasks fail with the last reason."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a child may use; every bound is a sensible whole number above 0.

    ``memory_bytes`` caps the address space (libraries reserve far more than they
    touch), ``cpu_seconds`` the processor time, ``file_bytes`` its answer and any file
    it writes, ``wall_seconds`` the time the parent waits.
    """

    memory_bytes: int = 2_000_000_000
    cpu_seconds: int = 30
    file_bytes: int = 256_000_000
    wall_seconds: float = 60.0

    def __post_init__(self) -> None:
        """Refuse a bound of zero or less."""
        if min(self.memory_bytes, self.cpu_seconds, self.file_bytes, self.wall_seconds) <= 0:
            raise ValueError("a limit of zero or less would stop every child")


def run_child(
    tool: str,
    given: bytes,
    *,
    arguments: Sequence[str] = (),
    limits: Limits = Limits(),
    refusal: type[StandlightError] = WorkshopFailure,
) -> bytes:
    """The answer of ``standlight.workshop.<tool>`` to ``given``.

    Raises ``refusal`` with the tool's own sentence when the tool refuses its input, and
    `WorkshopFailure` when the child crashes or runs over one of its ``limits``.
    """
    answer, failure = _run(tool, given, arguments, limits, refusal)
    if failure is not None:
        raise failure
    return answer


def run_list(
    tool: str,
    tasks: Sequence[bytes],
    *,
    arguments: Sequence[str] = (),
    limits: Limits = Limits(),
) -> list[bytes | WorkshopFailure]:
    """An answer to each of ``tasks``, or why there is none, by one child as long as it lives.

    ``limits`` are for the whole list. A task on which the child dies fails with the cause;
    a new child takes the tasks after it. Nothing is raised.
    """
    answers: list[bytes | WorkshopFailure] = []
    deaths = 0
    while len(answers) < len(tasks):
        rest = tasks[len(answers) :]
        given = b"".join(_framed(_ANSWERED, task) for task in rest)
        answer, failure = _run(tool, given, arguments, limits, WorkshopFailure)
        answers.extend(_heard(answer, len(rest)))
        if len(answers) < len(tasks):
            deaths += 1
            silent = WorkshopFailure(f"the {tool} tool left a task without an answer")
            cause = failure if isinstance(failure, WorkshopFailure) else silent
            answers.extend([cause] * (1 if deaths < MOST_DEATHS else len(rest)))
    return answers[: len(tasks)]


def command_of(tool: str, limits: Limits, arguments: Sequence[str] = ()) -> list[str]:
    """The command line that starts ``tool`` as a child that sets its limits first."""
    return [
        sys.executable,
        "-c",
        _START,
        str(limits.memory_bytes),
        str(limits.cpu_seconds),
        str(limits.file_bytes),
        tool,
        *arguments,
    ]


def _run(
    tool: str,
    given: bytes,
    arguments: Sequence[str],
    limits: Limits,
    refusal: type[StandlightError],
) -> tuple[bytes, StandlightError | None]:
    """What one child wrote, and why it did not end well (``None`` if it did)."""
    command = command_of(tool, limits, arguments)
    with (
        TemporaryFile() as source,
        TemporaryFile() as answer,
        TemporaryFile() as words,
        TemporaryDirectory() as folder,
    ):
        source.write(given)
        source.seek(0)
        child = subprocess.Popen(
            command,
            stdin=source,
            stdout=answer,
            stderr=words,
            env=CHILD_ENVIRONMENT,
            cwd=folder,
            start_new_session=True,
        )
        status = None
        try:
            status = child.wait(timeout=limits.wall_seconds)
        except subprocess.TimeoutExpired:
            pass
        finally:
            _end(child)
        answer.seek(0)
        written = answer.read()
        if status == 0:
            return written, None
        sentence = _last_line(words)
    if status is None:
        return written, WorkshopFailure(
            f"the {tool} tool did not answer within {limits.wall_seconds:g} s",
            slip="a damaged or very large file?",
        )
    if status == REFUSED_STATUS:
        return written, refusal(sentence or f"the {tool} tool refused this file")
    return written, WorkshopFailure(_cause_of_death(tool, status, sentence, limits))


def listed() -> Iterator[bytes]:
    """The tasks of a list, one after the other (child side, for `run_list`)."""
    given = sys.stdin.buffer.read()
    for _, task in _frames(given):
        yield task


def told(answer: bytes) -> None:
    """Write the answer to the task under way (child side)."""
    _write(_framed(_ANSWERED, answer))


def declined(sentence: str) -> None:
    """Refuse the task under way with one ``sentence`` and go on to the next (child side)."""
    _write(_framed(_REFUSED, " ".join(sentence.split()).encode()[:_LONGEST_SENTENCE_BYTES]))


def _write(frame: bytes) -> None:
    """Write at once, so that a later crash leaves it whole."""
    sys.stdout.buffer.write(frame)
    sys.stdout.buffer.flush()


def _framed(kind: int, content: bytes) -> bytes:
    """``content`` with its kind and length before it."""
    return _FRAME.pack(kind, len(content)) + content


def _frames(data: bytes) -> Iterator[tuple[int, bytes]]:
    """(kind, content) of every whole frame in ``data``.

    >>> list(_frames(_framed(0, b"ab") + _framed(1, b"")[:3]))
    [(0, b'ab')]
    """
    start = 0
    while start + _FRAME.size <= len(data):
        kind, length = _FRAME.unpack_from(data, start)
        start += _FRAME.size
        if start + length > len(data):
            return
        yield kind, data[start : start + length]
        start += length


def _heard(answer: bytes, most: int) -> list[bytes | WorkshopFailure]:
    """A child's answers in the order of its tasks, at most ``most``."""
    heard: list[bytes | WorkshopFailure] = []
    for kind, content in _frames(answer):
        refused = kind != _ANSWERED
        heard.append(
            WorkshopFailure(content.decode("utf-8", "replace")) if refused else content
        )
    return heard[:most]


def refuse(sentence: str) -> NoReturn:
    """End this tool with ``sentence`` as the reason its input is refused (child side)."""
    sys.stderr.write("\n" + " ".join(sentence.split()) + "\n")
    sys.stderr.flush()
    raise SystemExit(REFUSED_STATUS)


def _end(child: subprocess.Popen[bytes]) -> None:
    """Kill what is left of the child's own session, and reap it."""
    if child.poll() is None:
        os.killpg(child.pid, signal.SIGKILL)
        child.wait()


def _last_line(words: IO[bytes]) -> str:
    """The last non-empty line the child wrote to standard error, at most 2,000 bytes of it."""
    size = words.seek(0, os.SEEK_END)
    words.seek(max(0, size - _LONGEST_SENTENCE_BYTES))
    lines = words.read().decode("utf-8", "replace").strip().splitlines()
    return lines[-1].strip() if lines else ""


def _cause_of_death(tool: str, status: int, sentence: str, limits: Limits) -> str:
    """A sentence for a child that neither answered nor refused."""
    causes = {
        -signal.SIGXCPU: f"used more than {limits.cpu_seconds} s of processor time",
        -signal.SIGKILL: f"was ended from outside or used more than {limits.cpu_seconds} s",
        -signal.SIGXFSZ: f"wrote more than {limits.file_bytes:,} bytes",
        -signal.SIGSEGV: "crashed on this file",
        -signal.SIGABRT: "crashed on this file",
    }
    if status in causes:
        return f"the {tool} tool {causes[status]}"
    if "File too large" in sentence:  # Python ignores SIGXFSZ and sees EFBIG
        return f"the {tool} tool wrote more than {limits.file_bytes:,} bytes"
    if "MemoryError" in sentence or "bad_alloc" in sentence:
        return f"the {tool} tool needed more than {limits.memory_bytes:,} bytes of memory"
    return f"the {tool} tool failed with status {status}: {sentence or 'no reason given'}"


def _inside() -> None:
    """Child side: set the limits named in the arguments, then run the tool as ``__main__``."""
    memory_bytes, cpu_seconds, file_bytes = (int(number) for number in sys.argv[1:4])
    tool = sys.argv[4]
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))
    resource.setrlimit(resource.RLIMIT_CPU, (cpu_seconds, cpu_seconds + 1))
    resource.setrlimit(resource.RLIMIT_FSIZE, (file_bytes, file_bytes))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    sys.argv[1:] = sys.argv[5:]
    runpy.run_module(f"standlight.workshop.{tool}", run_name="__main__", alter_sys=True)
