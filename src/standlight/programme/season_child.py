"""Drawing up a year in a child process: the solver and what it brings never enter the server.

The child is this program's own code; what goes in and out are values of the room of planning,
pickled by one side of this module and read by the other. No file of anybody else comes near it.
"""

from __future__ import annotations

import pickle
import subprocess
import sys

from standlight.errors import StandlightError
from standlight.planning import SeasonRequest, YearPlan, plan_season
from standlight.workshop.child import CHILD_ENVIRONMENT

DRAW_SECONDS = 60
"""A child that needs longer is ended. The year of six ensembles takes about three seconds."""

_START = "from standlight.programme.season_child import inside; inside()"


def drawn_up(request: SeasonRequest) -> YearPlan:
    """`plan_season` of a request, worked out in a child.

    Raises `StandlightError` in one sentence where there is no plan, or the child took too long.
    """
    try:
        done = subprocess.run(
            [sys.executable, "-c", _START],
            input=pickle.dumps(request),
            capture_output=True,
            timeout=DRAW_SECONDS,
            env=CHILD_ENVIRONMENT,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise StandlightError(
            f"the plan was not drawn up within {DRAW_SECONDS} seconds",
            slip="is the computer busy? Try again",
        ) from None
    if done.returncode:
        raise StandlightError("drawing up the plan broke off; nothing has changed")
    answer = pickle.loads(done.stdout)
    if isinstance(answer, StandlightError):
        raise StandlightError(answer.what, where=answer.where, slip=answer.slip)
    return answer


def inside() -> None:
    """The child's side: a request on standard input, a plan on standard output."""
    answer: YearPlan | StandlightError
    try:
        answer = plan_season(pickle.loads(sys.stdin.buffer.read()))
    except StandlightError as refused:
        answer = refused
    sys.stdout.buffer.write(pickle.dumps(answer))
