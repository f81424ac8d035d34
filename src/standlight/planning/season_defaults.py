"""What a year holds when nobody has said otherwise: minutes of each kind, and how often.

All of it is common practice, no source, but for the 45 seconds from play to answer of a playing
check, which are this tool's own aim. A director changes any line.
"""

from __future__ import annotations

from standlight.planning.season_values import (
    AFTER_CONCERT,
    ANCHOR,
    BEFORE_CONCERT,
    BEFORE_LAST,
    CYCLE,
    EARLY,
    LATE,
    MIDDLE,
    PERIOD,
    SPREAD,
    YEAR,
    Holding,
)

FAR_APART_DAYS = 60
"""Two takes of an anchor lie this far apart before a line is drawn through them: the same
choice as in the room of ratings (``ratings.growth_anchors``)."""

REFLECTION_DAYS = 3
"""Days after a concert within which its reflection is due."""

MINUTES = {
    "score_study": (1.5, 25),
    "background_note": (2.0, 40),
    "skill_project": (0.75, 15),
    "rehearsal_remark": (0.1, 1),
    "ensemble_acts": (0.25, 4),
    "playing_check": (0.75, 15),
    "listening_map": (0.5, 20),
    "adjudication": (0.5, 25),
    "concert_reflection": (1.25, 25),
    "music_and_me": (1.0, 25),
    "finds": (0.2, 10),
    "year_reflection": (2.0, 40),
}
"""Minutes of the director, minutes of the musician, for one musician's work of each kind."""

OTHER_MINUTES = (1.0, 20)
"""The same for a kind that a director has made."""

IN_REHEARSAL = ("rehearsal_remark", "ensemble_acts")
"""Kinds that are done in rehearsal: they may fall into a concert's week."""

HOLDINGS = (
    Holding("study", "score_study", CYCLE, EARLY),
    Holding("early_check", "playing_check", CYCLE, EARLY, after="study"),
    Holding("late_check", "playing_check", CYCLE, BEFORE_CONCERT, least_gap=3, after="early_check"),
    Holding("check_in", "skill_project", CYCLE, SPREAD, every_weeks=3, least_gap=2, most_gap=4),
    Holding("acts", "ensemble_acts", CYCLE, SPREAD, times=2, least_gap=3),
    Holding("remark", "rehearsal_remark", CYCLE, SPREAD, every_weeks=2, least_gap=1),
    Holding("map", "listening_map", CYCLE, MIDDLE),
    Holding("adjudication", "adjudication", CYCLE, LATE, after="map"),
    Holding("reflection", "concert_reflection", CYCLE, AFTER_CONCERT),
    Holding("note", "background_note", YEAR, SPREAD, times=2, least_gap=8),
    Holding("music", "music_and_me", YEAR, SPREAD, times=2, least_gap=8),
    Holding("finds", "finds", PERIOD, SPREAD),
    Holding("anchor", "playing_check", YEAR, ANCHOR, times=2),
    Holding("year", "year_reflection", YEAR, BEFORE_LAST),
)
"""What a cycle, a period and a year hold."""
