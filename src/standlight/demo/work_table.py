"""What the demo's directors have given out, as a table; days count from today."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class StepDone:
    """How far a step is: ``share`` of those asked have sent it between two days (0 is today)."""

    step: str
    share: float
    first_day: int
    last_day: int
    number: int = 1


@dataclass(frozen=True, slots=True)
class Given:
    """Work given out: opens ``starts_in`` days and is due ``due_in`` days from today (None: any).

    Of what was sent, the oldest ``opened`` share has been opened and the oldest ``answered``
    share has a reply. ``own`` are steps that the director filled and sent, ``seen_of`` counts
    musicians of whom the director wrote what was seen, ``begun`` those with an open sheet.
    """

    key: str
    kind: str
    group: str
    title: str
    starts_in: int
    due_in: int | None
    done: tuple[StepDone, ...]
    note: str = ""
    piece: str = ""
    sections: tuple[str, ...] = ()
    rules: Mapping[str, object] = field(default_factory=dict)
    opened: float = 0.0
    answered: float = 0.0
    own: tuple[str, ...] = ()
    seen_of: int = 0
    begun: int = 0
    on_wall: int = 0
    laid_open_in: int | None = None
    sound_name: str = ""
    excused: int = 0
    absent: int = 0


def _turn(
    key: str, group: str, piece: str, sections: tuple[str, ...], starts_in: int, days: int,
    share: float, answered: float, opened: float,
) -> Given:  # fmt: skip
    """One turn of the rotating remarks."""
    last = min(starts_in + days, -1)
    done = (
        StepDone("remark", share, starts_in, last),
        StepDone("remark", share * 0.55, last, last, 2),
    )
    return Given(
        key, "rehearsal_remark", group, "Two minutes: a remark", starts_in, starts_in + days,
        done if share else (), "One spot from today. It is your section's turn.", piece, sections,
        opened=opened, answered=answered,
    )  # fmt: skip


WORK: tuple[Given, ...] = (
    Given(
        "band_map", "listening_map", "band", "Listening map: a ferry", -16, 2,
        (StepDone("first", 0.88, -15, -11), StepDone("second", 0.85, -14, -10),
         StepDone("third", 0.82, -13, -10), StepDone("together", 0.3, -5, -1)),
        "Three hearings, one question each. The high school strings will play it.",
        opened=0.93, answered=0.35, own=("first", "second", "third"), laid_open_in=-6,
        sound_name="Ferry at Dusk, played by the machine", absent=2,
    ),
    _turn("band_remarks_1", "band", "tenth_regiment", ("Trumpet", "Horn"), -12, 2, 0.9, 0.5, 1.0),
    _turn("band_remarks_2", "band", "tenth_regiment",
          ("Trombone", "Baritone", "Tuba", "Percussion"), -8, 2, 0.85, 0.3, 1.0),
    _turn("band_remarks_3", "band", "tenth_regiment", ("Flute", "Oboe", "Bassoon", "Clarinet"),
          -4, 3, 0.85, 0.1, 0.3),
    _turn("band_remarks_4", "band", "tenth_regiment",
          ("Bass clarinet", "Alto saxophone", "Tenor saxophone", "Baritone saxophone"),
          0, 3, 0.0, 0.0, 0.0),
    Given(
        "band_me", "music_and_me", "band", "Music and me", -7, 3,
        (StepDone("answers", 0.62, -6, -1),),
        "Two or three of the questions. Write about the music.",
        rules={"answers": {"choices": {"bank": [2, 4]}}}, opened=0.45, answered=0.3, begun=6,
        excused=1,
    ),
    Given(
        "choir_adjudication", "adjudication", "choir", "Judging a take of River Under Snow",
        -11, 6,
        (StepDone("agree", 0.8, -10, -8), StepDone("practice", 0.75, -9, -5),
         StepDone("judge", 0.7, -7, -3)),
        "It is our song, sung by nobody. Be kind to the machine.", "river_under_snow",
        opened=0.6, answered=0.25, own=("practice", "judge"),
        sound_name="River Under Snow, played by the machine", excused=1, absent=1,
    ),
    Given(
        "choir_note", "background_note", "choir", "Who wrote our garden song?", -13, 7,
        (StepDone("sources", 0.6, -9, -1), StepDone("note", 0.24, -4, -1)),
        "Sources first. The best notes go into the programme.", "hensel",
        opened=0.5, answered=0.4, begun=4, on_wall=3,
    ),
    Given(
        "choir_reflection", "concert_reflection", "choir", "The evening at the library", -7, 5,
        (StepDone("before", 0.62, -5, -1),),
        "Three questions, before we hear the recording.", begun=3,
    ),
    Given(
        "choir_acts", "ensemble_acts", "choir", "How we work together", -21, -12,
        (StepDone("acts", 0.84, -20, -12),), "This never counts in a mark.",
        opened=1.0, answered=0.4, seen_of=16,
    ),
    Given(
        "choir_finds", "finds", "choir", "Finds", -54, None,
        (StepDone("find", 0.5, -45, -2), StepDone("find", 0.2, -20, -1, 2)),
        "Anything new to you. Tell us what to listen for.", opened=0.7, answered=0.2, on_wall=9,
    ),
    Given(
        "strings_study", "score_study", "strings", "Before the first rehearsal", -50, -36,
        (StepDone("find", 0.9, -49, -44), StepDone("after", 0.85, -40, -36)),
        "Twenty minutes with the score before we play a note.", "ferry_at_dusk",
        opened=1.0, answered=0.6, own=("find",), laid_open_in=-42, absent=1,
    ),
    Given(
        "strings_project", "skill_project", "strings", "One skill until the concert", -42, 20,
        (StepDone("goal", 0.95, -41, -36), StepDone("first", 0.9, -37, -32),
         StepDone("check_in", 0.85, -22, -18), StepDone("check_in", 0.5, -6, -1, 2)),
        "Small and yours. We look at it every two or three weeks.", "brandenburg",
        opened=0.9, answered=0.7,
    ),
    Given(
        "strings_check", "playing_check", "strings", "How I heard my take of Ferry", -20, -8,
        (StepDone("own", 0.85, -19, -15), StepDone("after", 0.8, -12, -8)),
        "Listen to your own take first, then to what I wrote.", "ferry_at_dusk",
        opened=1.0, answered=0.5, absent=1,
    ),
    _turn("strings_remarks_1", "strings", "brandenburg", ("Violin 1",), -12, 3, 0.9, 0.5, 1.0),
    _turn("strings_remarks_2", "strings", "brandenburg", ("Violin 2",), -8, 3, 0.9, 0.4, 0.8),
    _turn("strings_remarks_3", "strings", "brandenburg", ("Viola",), -4, 3, 0.85, 0.2, 0.4),
    _turn("strings_remarks_4", "strings", "brandenburg", ("Cello",), 0, 2, 0.0, 0.0, 0.0),
    Given(
        "strings_finds", "finds", "strings", "Finds", -60, None,
        (StepDone("find", 0.75, -50, -2), StepDone("find", 0.4, -30, -1, 2),
         StepDone("find", 0.15, -14, -1, 3)),
        "Music that is new to you, all year.", opened=0.8, answered=0.25, on_wall=12,
    ),
    Given(
        "strings_year", "year_reflection", "strings", "Looking back so far", -3, 24,
        (StepDone("back", 0.12, -2, -1), StepDone("ahead", 0.05, -1, -1)),
        "Your takes, goals, remarks and finds come first. Then it asks.", opened=0.4,
        answered=0.2, begun=5,
    ),
)  # fmt: skip
"""Everything given out so far, all twelve kinds."""
