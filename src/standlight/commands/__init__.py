"""The commands of ``./run COMMAND``: one module each, found by the table.

A command module has ``NAME``, ``SUMMARY`` (one line), ``arguments(parser)`` and
``run(options) -> int``. Exit codes: 0 done, 1 done with something to look at
(a refused file, a bad row), 2 called wrongly, 3 a named thing is missing.
A sentence for people goes to stderr, an answer to stdout; ``--json`` makes the
answer one JSON value.
"""

from __future__ import annotations

import argparse
import importlib
import sys
from collections.abc import Sequence

from standlight.commands._exits import CALLED_WRONGLY, DONE, LOOK, MISSING, file_trouble
from standlight.errors import StandlightError

COMMANDS = ("serve", "work", "score", "passages", "engrave", "listen", "agree", "fit")
"""Module names under this package, in the order the help shows them."""


def main(words: Sequence[str]) -> int:
    """Run the command named by the first word and give its exit code; none means ``serve``.

    >>> main(["no-such-command"])
    2
    """
    words = list(words) or ["serve"]
    if words[0] == "help":
        words = ["--help"]
    parser = argparse.ArgumentParser(prog="./run", description=__doc__.splitlines()[0])
    chosen = parser.add_subparsers(dest="command", metavar="COMMAND")
    # A named command pays for its own imports only; help and slips see the whole table.
    for name in [words[0]] if words[0] in COMMANDS else COMMANDS:
        module = importlib.import_module(f"standlight.commands.{name}")
        below = chosen.add_parser(module.NAME, help=module.SUMMARY, description=module.SUMMARY)
        module.arguments(below)
        below.set_defaults(action=module.run)
    try:
        options = parser.parse_args(words)
    except SystemExit as stop:
        return int(stop.code or 0)
    try:
        return options.action(options)
    except StandlightError as problem:
        sys.stderr.write(f"{problem}\n")
        return LOOK
    except OSError as problem:
        if problem.filename is None:  # no file of anybody's: a fault of ours, not to be hidden
            raise
        code, words = file_trouble(problem)
        sys.stderr.write(f"{words}\n")
        return code


__all__ = ["CALLED_WRONGLY", "COMMANDS", "DONE", "LOOK", "MISSING", "main"]
