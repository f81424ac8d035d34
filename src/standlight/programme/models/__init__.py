"""The rows of the programme; every row a page reaches has a sight rule (``sight``)."""

from standlight.programme.models.answers import (
    Answer,
    CommentLine,
    GivenLevel,
    MarkingPeriod,
    Remark,
)
from standlight.programme.models.checks import (
    CheckPassage,
    OwnVersion,
    PlayingCheck,
    Report,
    Take,
    TakePiece,
    Turn,
)
from standlight.programme.models.folder import Casting, ConcertCycle, Part, Piece
from standlight.programme.models.people import (
    Account,
    Ensemble,
    Musician,
    Programme,
    SchoolYear,
    Seat,
    Section,
)
from standlight.programme.models.sight import SeenModel, SeenQuerySet, Sight
from standlight.programme.models.tables import EditedTable

__all__ = [
    "Account",
    "Answer",
    "Casting",
    "CheckPassage",
    "CommentLine",
    "ConcertCycle",
    "EditedTable",
    "Ensemble",
    "GivenLevel",
    "MarkingPeriod",
    "Musician",
    "OwnVersion",
    "Part",
    "Piece",
    "PlayingCheck",
    "Programme",
    "Remark",
    "Report",
    "SchoolYear",
    "Seat",
    "Section",
    "SeenModel",
    "SeenQuerySet",
    "Sight",
    "Take",
    "TakePiece",
    "Turn",
]
