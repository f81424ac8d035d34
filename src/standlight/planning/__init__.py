"""From evidence to the next rehearsal: what troubles which measures, what to do in the minutes.

`draw_strip` lays three voices on the score of one piece and keeps them apart: heard by the
machine, heard by people, said by musicians; blind spots, false worries and spots come from it.
Pure: frozen values in and out, opaque keys for musicians and takes, codes in place of sentences.
"""

from standlight.planning.outline import Outline, OutlinePart
from standlight.planning.shares import Share, wilson
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
    "MISPLACED",
    "DirectorRemark",
    "Finding",
    "HeardTake",
    "Lane",
    "Misplaced",
    "MusicianRemark",
    "Outline",
    "OutlinePart",
    "RatedTake",
    "SectionVoices",
    "Share",
    "Spot",
    "Strip",
    "draw_strip",
    "misplaced",
    "wilson",
]
