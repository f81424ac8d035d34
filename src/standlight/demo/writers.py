"""Which module of words writes which kind of work: a table."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from standlight.demo.written import (
    concerts,
    listening,
    outside,
    projects,
    rehearsals,
    studies,
    year,
)
from standlight.demo.written.pen import Pen


@dataclass(frozen=True, slots=True)
class Sitting:
    """One sitting: ``number`` from 1, and what the work is about (a spot's piece, a skill)."""

    step: str
    number: int = 1
    piece: str = ""
    last_measure: int = 0
    topic: projects.Topic | None = None


WRITERS: dict[str, Callable[[Pen, Sitting], dict]] = {
    "score_study": lambda pen, at: studies.score_study(pen, at.step),
    "background_note": lambda pen, at: studies.background_note(pen, at.step),
    "skill_project": lambda pen, at: projects.skill_project(pen, at.step, at.topic, at.number),
    "rehearsal_remark": lambda pen, at: rehearsals.rehearsal_remark(
        pen, piece=at.piece, last_measure=at.last_measure
    ),
    "ensemble_acts": lambda pen, at: rehearsals.ensemble_acts(pen),
    "playing_check": lambda pen, at: projects.playing_check(pen, at.step),
    "listening_map": lambda pen, at: listening.listening_map(pen, at.step),
    "adjudication": lambda pen, at: listening.adjudication(pen, at.step),
    "concert_reflection": lambda pen, at: concerts.concert_reflection(pen),
    "music_and_me": lambda pen, at: outside.music_and_me(pen),
    "finds": lambda pen, at: year.finds(pen),
    "year_reflection": lambda pen, at: year.year_reflection(pen, at.step),
}
"""Kind to what somebody writes at a sitting: answers as ``kinds`` reads them."""
