"""From evidence to the next rehearsal: what troubles which measures, what to do in the minutes.

`draw_strip` lays three voices on the score of one piece and keeps them apart: heard by the
machine, heard by people, said by musicians; blind spots, false worries and spots come from it.
`plan_rehearsal` shares the minutes of the next period among the spots by a stated rule.
Pure: frozen values in and out, opaque keys for musicians and takes, codes in place of sentences.
"""

from standlight.planning.outline import Outline, OutlinePart
from standlight.planning.plan_values import (
    KINDS_OF_BLOCK,
    REMARKS,
    WHY,
    Block,
    Idle,
    PieceEvidence,
    Pin,
    PlanRemark,
    RehearsalPlan,
    Why,
    Wishes,
    Worked,
)
from standlight.planning.rehearsal import plan_rehearsal
from standlight.planning.shares import Share, wilson
from standlight.planning.strategies import (
    AIMS,
    DONE_WHEN,
    IDLE_TASKS,
    QUESTIONS,
    STRATEGIES,
    WARM_UPS,
)
from standlight.planning.strip import (
    Finding,
    Lane,
    SectionVoices,
    Spot,
    Strip,
    draw_strip,
)
from standlight.planning.voices import (
    MISPLACED,
    DirectorRemark,
    HeardTake,
    Misplaced,
    MusicianRemark,
    RatedTake,
    misplaced,
)

__all__ = [
    "AIMS",
    "DONE_WHEN",
    "IDLE_TASKS",
    "KINDS_OF_BLOCK",
    "MISPLACED",
    "QUESTIONS",
    "REMARKS",
    "STRATEGIES",
    "WARM_UPS",
    "WHY",
    "Block",
    "DirectorRemark",
    "Finding",
    "HeardTake",
    "Idle",
    "Lane",
    "Misplaced",
    "MusicianRemark",
    "Outline",
    "OutlinePart",
    "PieceEvidence",
    "Pin",
    "PlanRemark",
    "RatedTake",
    "RehearsalPlan",
    "SectionVoices",
    "Share",
    "Spot",
    "Strip",
    "Why",
    "Wishes",
    "Worked",
    "draw_strip",
    "misplaced",
    "plan_rehearsal",
    "wilson",
]
