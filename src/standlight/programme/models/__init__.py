"""The rows of the programme; every row a page reaches has a sight rule (``sight``)."""

from standlight.programme.models.answering import (
    EarlierAnswer,
    KeptAnswer,
    LineTranslation,
    MusicianPlan,
)
from standlight.programme.models.answers import (
    Answer,
    AnswerSound,
    CommentLine,
    GivenLevel,
    MarkingPeriod,
    Remark,
)
from standlight.programme.models.bringing import Arrival, LongRecording
from standlight.programme.models.checks import (
    CheckPassage,
    OwnVersion,
    PlayingCheck,
    Report,
    Take,
    TakePiece,
    Turn,
)
from standlight.programme.models.desk import DeskSitting, TakeStart
from standlight.programme.models.folder import Casting, ConcertCycle, Part, Piece
from standlight.programme.models.groups import Grouping, GroupSeat, GroupWish
from standlight.programme.models.live import Draw, HeardAgain
from standlight.programme.models.marking import (
    MarkChange,
    MarkExport,
    PeriodMarks,
    PostedMark,
)
from standlight.programme.models.peers import (
    PeerConsent,
    PeerHearing,
    PeerLevel,
    PeerLine,
    PeerRound,
)
from standlight.programme.models.people import (
    Account,
    Ensemble,
    Musician,
    Programme,
    SchoolYear,
    Seat,
    Section,
)
from standlight.programme.models.raters import (
    AnchorTake,
    Calibration,
    GuestLevel,
    GuestLink,
    GuestTake,
)
from standlight.programme.models.ratings import (
    MusicianGrowth,
    RatingsStudy,
    SecondHearing,
    StudyErrand,
)
from standlight.programme.models.rehearse import (
    PaperLength,
    PlannedBlock,
    PlannedRehearsal,
    PodiumRemark,
)
from standlight.programme.models.season import SeasonDays, SeasonItem, SeasonPlan
from standlight.programme.models.sight import SeenModel, SeenQuerySet, Sight
from standlight.programme.models.tables import EditedTable
from standlight.programme.models.talks import (
    Talk,
    TalkAsked,
    TalkRuleOff,
    TalkRuleRest,
    TalkStep,
)
from standlight.programme.models.terms import CheckTerms
from standlight.programme.models.work import (
    Assignment,
    KindEdition,
    OlderAnswer,
    Reply,
    Sheet,
    SheetLevel,
    SheetSound,
    WorkExcuse,
)

__all__ = [
    "Account",
    "AnchorTake",
    "Answer",
    "AnswerSound",
    "Arrival",
    "Assignment",
    "Calibration",
    "Casting",
    "CheckPassage",
    "CheckTerms",
    "CommentLine",
    "ConcertCycle",
    "DeskSitting",
    "Draw",
    "EarlierAnswer",
    "EditedTable",
    "Ensemble",
    "GivenLevel",
    "GroupSeat",
    "GroupWish",
    "Grouping",
    "GuestLevel",
    "GuestLink",
    "GuestTake",
    "HeardAgain",
    "KeptAnswer",
    "KindEdition",
    "LineTranslation",
    "LongRecording",
    "MarkChange",
    "MarkExport",
    "MarkingPeriod",
    "Musician",
    "MusicianGrowth",
    "MusicianPlan",
    "OlderAnswer",
    "OwnVersion",
    "PaperLength",
    "Part",
    "PeerConsent",
    "PeerHearing",
    "PeerLevel",
    "PeerLine",
    "PeerRound",
    "PeriodMarks",
    "Piece",
    "PlannedBlock",
    "PlannedRehearsal",
    "PlayingCheck",
    "PodiumRemark",
    "PostedMark",
    "Programme",
    "RatingsStudy",
    "Remark",
    "Reply",
    "Report",
    "SchoolYear",
    "SeasonDays",
    "SeasonItem",
    "SeasonPlan",
    "Seat",
    "SecondHearing",
    "Section",
    "SeenModel",
    "SeenQuerySet",
    "Sheet",
    "SheetLevel",
    "SheetSound",
    "Sight",
    "StudyErrand",
    "Take",
    "TakePiece",
    "TakeStart",
    "Talk",
    "TalkAsked",
    "TalkRuleOff",
    "TalkRuleRest",
    "TalkStep",
    "Turn",
    "WorkExcuse",
]
