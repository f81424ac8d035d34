"""From evidence to the next rehearsal: what troubles which measures, what to do in the minutes.

`draw_strip` lays three voices on the score of one piece and keeps them apart: heard by the
machine, heard by people, said by musicians; blind spots, false worries and spots come from it.
`plan_rehearsal` shares the minutes of the next period among the spots by a stated rule;
`make_groups` makes discussion groups and sectionals, and says which wishes cannot hold;
`nearest_fixes` what would let them, `tell_groups` what is to be said of groups as they stand.
Pure: frozen values in and out, opaque keys for musicians and takes, codes in place of sentences.
"""

from standlight.planning.group_values import (
    CANNOT_HOLD,
    DISCUSSION_ROLES,
    PARTS,
    REASONS,
    ROLES,
    SECTIONAL_ROLES,
    Broken,
    CannotHold,
    Fixes,
    Group,
    Grouping,
    GroupRequest,
    Member,
    Reason,
)
from standlight.planning.groups import make_groups, tell_groups
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
from standlight.planning.wishes import nearest_fixes, proofs_of

__all__ = [
    "AIMS",
    "CANNOT_HOLD",
    "DISCUSSION_ROLES",
    "DONE_WHEN",
    "IDLE_TASKS",
    "KINDS_OF_BLOCK",
    "MISPLACED",
    "PARTS",
    "QUESTIONS",
    "REASONS",
    "REMARKS",
    "ROLES",
    "SECTIONAL_ROLES",
    "STRATEGIES",
    "WARM_UPS",
    "WHY",
    "Block",
    "Broken",
    "CannotHold",
    "DirectorRemark",
    "Finding",
    "Fixes",
    "Group",
    "GroupRequest",
    "Grouping",
    "HeardTake",
    "Idle",
    "Lane",
    "Member",
    "Misplaced",
    "MusicianRemark",
    "Outline",
    "OutlinePart",
    "PieceEvidence",
    "Pin",
    "PlanRemark",
    "RatedTake",
    "Reason",
    "RehearsalPlan",
    "SectionVoices",
    "Share",
    "Spot",
    "Strip",
    "Why",
    "Wishes",
    "Worked",
    "draw_strip",
    "make_groups",
    "misplaced",
    "nearest_fixes",
    "plan_rehearsal",
    "proofs_of",
    "tell_groups",
    "wilson",
]
