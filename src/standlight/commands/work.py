"""``./run work``: the worker alone, for a second process or a second machine."""

from __future__ import annotations

import argparse
import ctypes
import os
import signal
import sys

NAME = "work"
SUMMARY = "run the worker that reads takes (serve starts one by itself)"

_PR_SET_PDEATHSIG = 1
"""prctl's option (Linux, sys/prctl.h): a signal to this process when its parent dies."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """``--with-parent`` is what ``serve`` passes: end when the parent ends."""
    parser.add_argument(
        "--with-parent", action="store_true", help="end when the starting process ends"
    )


def run(options: argparse.Namespace) -> int:
    """Work until told to stop; 0 then."""
    if options.with_parent:
        _end_with_parent()
    from standlight.commands._shell import open_shell

    open_shell()
    from django_q.cluster import Cluster

    cluster = Cluster()
    cluster.start()
    # start() returns while the guard process works; its handler for SIGTERM stops it.
    while cluster.sentinel is not None and cluster.sentinel.is_alive():
        cluster.sentinel.join(1)
    return 0


def _end_with_parent() -> None:
    """Ask Linux for SIGTERM when the parent dies, so that no worker outlives a killed server."""
    if not sys.platform.startswith("linux"):
        return
    ctypes.CDLL(None, use_errno=True).prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)
    if os.getppid() == 1:
        sys.exit(0)
