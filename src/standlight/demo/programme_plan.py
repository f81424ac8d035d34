"""The frame of the demo programme as tables: who directs, which groups, pieces and checks."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path

from standlight.demo.faults import Trouble
from standlight.demo.plan import (
    CheckPlan,
    DirectorPlan,
    GroupPlan,
    PeriodPlan,
    PiecePlan,
    SectionPlan,
)

MUSIC_FOLDER = Path(__file__).resolve().parents[3] / "demo" / "music"
"""Where the demo's scores lie, beside the sources."""

SCHOOL = "Quillwater Middle and High School"
SAFETY_CONTACT = "Your school counselor, room 114, or any adult here you trust"
CONCERT_IN_DAYS = 16

DIRECTORS = (
    DirectorPlan("band_choir", "director", "Ms. Orla Winterbourne", is_lead=True),
    DirectorPlan("strings", "strings", "Mr. Teo Palmgren", is_lead=False),
)

GROUPS = (
    GroupPlan(
        "band",
        "Sixth Grade Band",
        "band",
        3,
        42,
        "band_choir",
        (6,),
        (
            SectionPlan("Flute", "Flute", 8),
            SectionPlan("Oboe", "Oboe", 2),
            SectionPlan("Bassoon", "Bassoon", 1),
            SectionPlan("Clarinet", "Clarinet in Bb", 11),
            SectionPlan("Bass clarinet", "Bass clarinet in Bb (treble clef)", 1),
            SectionPlan("Alto saxophone", "Alto saxophone in Eb", 6),
            SectionPlan("Tenor saxophone", "Tenor saxophone in Bb", 3),
            SectionPlan("Baritone saxophone", "Baritone saxophone in Eb", 1),
            SectionPlan("Trumpet", "Trumpet / cornet / flugelhorn in Bb", 9),
            SectionPlan("Horn", "Horn in F", 4),
            SectionPlan("Trombone", "Trombone", 6),
            SectionPlan("Baritone", "Baritone / euphonium (bass clef)", 3),
            SectionPlan("Tuba", "Tuba (bass clef, as written)", 2),
            SectionPlan("Percussion", "Snare drum", 7),
        ),
    ),
    GroupPlan(
        "choir",
        "Mixed Choir",
        "choir",
        5,
        42,
        "band_choir",
        (7, 8, 9, 10, 11, 12),
        (
            SectionPlan("Soprano", "Soprano", 18),
            SectionPlan("Alto", "Alto", 17),
            SectionPlan("Tenor", "Tenor", 10),
            SectionPlan("Bass", "Bass", 13),
        ),
    ),
    GroupPlan(
        "strings",
        "String Orchestra",
        "strings",
        7,
        48,
        "strings",
        (8, 9, 10, 11, 12),
        (
            SectionPlan("Violin 1", "Violin", 11),
            SectionPlan("Violin 2", "Violin", 11),
            SectionPlan("Viola", "Viola", 7),
            SectionPlan("Cello", "Cello", 8),
            SectionPlan("Double bass", "Double bass", 4),
        ),
    ),
)

OWN_CREDIT = "Written for this demo; CC0 1.0"
OPEN_SCORE = "OpenScore edition, CC0 1.0"

PIECES = (
    PiecePlan(
        "lantern_walk",
        "band",
        "Lantern Walk",
        "Written for this demo",
        OWN_CREDIT,
        "lantern_walk.musicxml",
        (
            ("Flute", ("Flute",)),
            ("Oboe", ("Oboe",)),
            ("Bassoon", ("Bassoon",)),
            ("Clarinet", ("Clarinet in Bb",)),
            ("Bass clarinet", ("Bass clarinet",)),
            ("Alto saxophone", ("Alto saxophone",)),
            ("Tenor saxophone", ("Tenor saxophone",)),
            ("Baritone saxophone", ("Baritone saxophone",)),
            ("Trumpet", ("Trumpet in Bb",)),
            ("Horn", ("Horn in F",)),
            ("Trombone", ("Trombone",)),
            ("Baritone", ("Baritone",)),
            ("Tuba", ("Tuba",)),
            ("Percussion", ("Snare drum", "Bells", "Bass drum", "Snare drum", "Bells")),
        ),
    ),
    PiecePlan(
        "paper_parade",
        "band",
        "Paper Parade",
        "Written for this demo",
        OWN_CREDIT,
        "paper_parade.musicxml",
        (("Percussion", ("Snare drum",)),),
    ),
    PiecePlan(
        "tenth_regiment",
        "band",
        "Tenth Regiment March",
        "R. B. Hall",
        "Public domain typesetting converted to MusicXML; side drums are missing",
        "tenth_regiment_hall.mxl",
        (
            ("Flute", ("Flute 1", "Flute 2")),
            ("Oboe", ("Oboe 1",)),
            ("Bassoon", ("Bassoon 1",)),
            ("Clarinet", ("Clarinet in Bb 1", "Clarinet in Bb 2", "Clarinet in Bb 3")),
            ("Bass clarinet", ("Bass Clarinet in Bb",)),
            ("Alto saxophone", ("Alto Saxophone",)),
            ("Tenor saxophone", ("Tenor Saxophone",)),
            ("Baritone saxophone", ("Baritone Saxophone",)),
            ("Trumpet", ("Cornet in Bb 2", "Cornet in Bb 3", "Trumpet in Bb 2")),
            ("Horn", ("Horn in F 1", "Horn in F 2", "Horn in F 3", "Horn in F 4")),
            ("Trombone", ("Trombone 1", "Trombone 2", "Trombone 3")),
            ("Baritone", ("Baritone T.C. in Bb",)),
            ("Tuba", ("Basses (Tuba)",)),
            ("Percussion", ("Bells", "Timpani")),
        ),
        turn=1,
    ),
    PiecePlan(
        "river_under_snow",
        "choir",
        "River Under Snow",
        "Written for this demo",
        OWN_CREDIT,
        "river_under_snow.musicxml",
        (
            ("Soprano", ("Soprano",)),
            ("Alto", ("Alto",)),
            ("Tenor", ("Tenor",)),
            ("Bass", ("Bass",)),
        ),
    ),
    PiecePlan(
        "blue_folder",
        "choir",
        "The Round in the Blue Folder",
        "",
        "On paper only",
        None,
    ),
    PiecePlan(
        "hensel",
        "choir",
        "Hörst du nicht die Bäume rauschen, op. 3 no. 1",
        "Fanny Hensel",
        OPEN_SCORE,
        "hensel_op3_1.mxl",
        (
            ("Soprano", ("Soprano",)),
            ("Alto", ("Alto",)),
            ("Tenor", ("Tenor",)),
            ("Bass", ("Bass",)),
        ),
    ),
    PiecePlan(
        "ferry_at_dusk",
        "strings",
        "Ferry at Dusk",
        "Written for this demo",
        OWN_CREDIT,
        "ferry_at_dusk.musicxml",
        (
            ("Violin 1", ("Violin 1",)),
            ("Violin 2", ("Violin 2",)),
            ("Viola", ("Viola",)),
            ("Cello", ("Cello",)),
            ("Double bass", ("Double bass",)),
        ),
    ),
    PiecePlan(
        "brandenburg",
        "strings",
        "Brandenburg Concerto no. 3, first movement",
        "J. S. Bach",
        OPEN_SCORE,
        "bach_bwv1048_1.mxl",
        (
            ("Violin 1", ("Violin 1", "Violin 2")),
            ("Violin 2", ("Violin 3", "Violin 2")),
            ("Viola", ("Viola 1", "Viola 2", "Viola 3")),
            ("Cello", ("Violoncello 1", "Violoncello 2", "Violoncello 3")),
            ("Double bass", ("Violone",)),
        ),
    ),
)

MISSING_SHARE = {
    "band_first": 0.12,
    "band_second": 0.15,
    "choir_first": 0.12,
    "choir_second": 0.15,
    "strings_first": 0.13,
    "strings_second": 0.45,  # not due yet: these have not sent so far
}
"""Share of those asked who have sent nothing, by check."""

ANSWERED_SHARE = {
    "band_first": 1.0,
    "band_second": 0.3,
    "choir_first": 1.0,
    "choir_second": 0.2,
    "strings_first": 1.0,
    "strings_second": 0.0,
}
"""Share of what was sent that the director has rated and answered, first sent first."""

UNSPOKEN = {
    "band_second": Trouble(
        10, 11, off_cents=-24.0, spread_cents=12.0, late_ms=60.0, spread_ms=45.0
    ),
    "choir_second": Trouble(10, 11, off_cents=-26.0, spread_cents=10.0, spread_ms=30.0),
    "strings_second": Trouble(2, 3, off_cents=20.0, spread_cents=12.0, spread_ms=30.0),
}
"""Trouble that most takes of a check have and that nobody mentions."""

UNSPOKEN_SHARE = 0.75
"""Share of a group that has it."""

FEARED = {
    "band_second": ("fast", 12, 13),
    "choir_second": ("high", 12, 12),
    "strings_second": ("run", 5, 6),
}
"""Measures everybody worries about, by check, that are in fact fine: which words, first, last."""


PRACTICED = (-12.0, -22.0)
"""Spread in cents and ms that the feared measures lose: they were practiced more than the rest."""


def school_day(day: date) -> date:
    """The day itself, or the Friday before when it falls on a weekend.

    >>> school_day(date(2026, 11, 29))
    datetime.date(2026, 11, 27)
    """
    return day - timedelta(days=max(0, day.weekday() - 4))


def checks(today: date) -> tuple[CheckPlan, ...]:
    """The programme's checks with their days, relative to ``today``."""

    def due(days: int) -> date:
        return school_day(today + timedelta(days=days))

    def published(days: int) -> datetime:
        return datetime.combine(school_day(today + timedelta(days=days)), time(7, 40))

    everyone = "Everyone plays these measures, so sections can practice together."
    return (
        CheckPlan(
            "band_first",
            "band",
            "lantern_walk",
            "Lantern Walk, the opening",
            ("notes", "rhythm", "tone"),
            80.0,
            due(-25),
            published(-33),
            (0, 7),
            "1 to 8",
            everyone,
            note="Heard live at the stand, two at a time.",
        ),
        CheckPlan(
            "band_second",
            "band",
            "lantern_walk",
            "Lantern Walk, letter A to the end",
            ("notes", "rhythm", "intonation", "dynamics"),
            88.0,
            due(-1),
            published(-9),
            (8, 15),
            "9 to 16",
            "The soft line, then the loud one with the eighth notes.",
            asks_self_rating=True,
            note="Make letter A really soft. Up to three takes.",
        ),
        CheckPlan(
            "choir_first",
            "choir",
            "blue_folder",
            "The round, letter B to the end",
            ("intonation", "diction", "tone"),
            72.0,
            due(-24),
            published(-32),
            None,
            "letter B to the end",
            "",
            note="In quartets, live.",
        ),
        CheckPlan(
            "choir_second",
            "choir",
            "river_under_snow",
            "River Under Snow, second verse",
            ("intonation", "rhythm", "diction"),
            76.0,
            due(-2),
            published(-10),
            (8, 15),
            "9 to 16",
            "The second verse: one soft line, one that grows.",
            asks_self_rating=True,
            note="Sing your own part. Take it an octave lower if your voice is changing.",
        ),
        CheckPlan(
            "strings_first",
            "strings",
            "ferry_at_dusk",
            "Ferry at Dusk, letter A to the end",
            ("intonation", "pulse", "tone"),
            100.0,
            due(-22),
            published(-30),
            (8, 23),
            "9 to 24",
            everyone,
        ),
        CheckPlan(
            "strings_second",
            "strings",
            "brandenburg",
            "Brandenburg, the opening",
            ("intonation", "rhythm", "articulation"),
            66.0,
            due(2) if (today + timedelta(days=2)).weekday() < 5 else today + timedelta(days=3),
            published(-6),
            (0, 8),
            "the opening to measure 8",
            "The opening: every part has the running notes.",
            asks_self_rating=True,
            note="Slow is fine. Bow in the middle.",
        ),
    )


def periods(today: date) -> tuple[PeriodPlan, ...]:
    """Two marking periods: one that has ended, one that runs."""
    split = today - timedelta(days=14)
    return (
        PeriodPlan("Marking period 1", today - timedelta(days=75), split - timedelta(days=1)),
        PeriodPlan("Marking period 2", split, today + timedelta(days=46)),
    )
