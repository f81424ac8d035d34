"""The steps of what is given out: a kind's own, narrowed by what the assignment asks."""

from __future__ import annotations

from standlight.errors import StandlightError
from standlight.kinds import Step, narrowed, rules_of
from standlight.programme.models import Assignment
from standlight.programme.queries.kinds import kind_in


def steps_of(assignment: Assignment) -> tuple[Step, ...]:
    """Every step of the assignment's kind, as this assignment asks it."""
    kind = kind_in(assignment.kind)
    return tuple(
        narrowed(step, rules_of(assignment.rules.get(step.key) or {}, step)) for step in kind.steps
    )


def step_of(assignment: Assignment, key: str) -> Step:
    """The step ``key`` as this assignment asks it; raises ``StandlightError`` for none."""
    for step in steps_of(assignment):
        if step.key == key:
            return step
    raise StandlightError(f"this work has no step “{key}”", slip="an old page? Load it again")
