"""A fair passage for every part: what each asks of a player, what it shows, where and why.

`survey_piece` measures a read score once; `find_passages` then proposes a passage for
every part at a common demand that shows the chosen criteria, with reasons and other
places; `look` says the same of any measures, `skyline` how demand runs through a part.
Each criterion brings what it asks as `Asks`; tables of ranges, grades and weights come in
as `Tables`. Pure: arrays and frozen values, no file but the tables that ship.
"""

from standlight.passages.choosing import common_window, find_passages
from standlight.passages.demand import (
    FEATURES,
    FEWEST_ONSETS,
    KEY_FEATURES,
    LEAST_SHARE,
    RANGE_FEATURES,
)
from standlight.passages.profile import GROUPS
from standlight.passages.reasons import counted, times
from standlight.passages.surveying import (
    LONGEST_MEASURES,
    SHORTEST_MEASURES,
    Survey,
    look,
    skyline,
    survey_piece,
)
from standlight.passages.tables import (
    MOST_FIFTHS,
    RANGE_NAMES,
    SHIPPED_TABLES,
    SHORTEST_VALUES,
    VOICE_STAGES,
    Cell,
    Changes,
    Grade,
    InstrumentRanges,
    Range,
    Rows,
    Tables,
    VoiceStage,
    cells_of,
    differing,
    edited,
)
from standlight.passages.values import Asks, Findings, Held, Look, PartFinding

__all__ = [
    "FEATURES",
    "FEWEST_ONSETS",
    "GROUPS",
    "KEY_FEATURES",
    "LEAST_SHARE",
    "LONGEST_MEASURES",
    "MOST_FIFTHS",
    "RANGE_FEATURES",
    "RANGE_NAMES",
    "SHIPPED_TABLES",
    "SHORTEST_MEASURES",
    "SHORTEST_VALUES",
    "VOICE_STAGES",
    "Asks",
    "Cell",
    "Changes",
    "Findings",
    "Grade",
    "Held",
    "InstrumentRanges",
    "Look",
    "PartFinding",
    "Range",
    "Rows",
    "Survey",
    "Tables",
    "VoiceStage",
    "cells_of",
    "common_window",
    "counted",
    "differing",
    "edited",
    "find_passages",
    "look",
    "skyline",
    "survey_piece",
    "times",
]
