"""What a kind of work is: steps in time, each a small form of fields with rules of choice."""

from __future__ import annotations

from dataclasses import dataclass

from standlight.errors import StandlightError


class UnreadableKind(StandlightError):
    """A definition breaks the form; ``problems`` are all its faults, one sentence each."""

    def __init__(self, problems: tuple[str, ...]) -> None:
        """Keep all ``problems``; the error's own sentence is the first."""
        super().__init__(problems[0])
        self.problems = problems


@dataclass(frozen=True, slots=True)
class Option:
    """One thing to choose: ``key`` is stored, ``label`` is read."""

    key: str
    label: str


@dataclass(frozen=True, slots=True)
class Field:
    """One question: ``type`` is a key of ``FIELD_TYPES``.

    ``least`` and ``most`` count what the type counts (words, rows, options; a scale's ends);
    None is no limit. ``columns`` are the fields of one row of a list.
    """

    key: str
    type: str
    prompt: str
    help: str = ""
    required: bool = True
    least: int | None = None
    most: int | None = None
    options: tuple[Option, ...] = ()
    columns: tuple[Field, ...] = ()


@dataclass(frozen=True, slots=True)
class Choice:
    """How many of which: ``of`` names fields of the step, or other choices of it.

    A choice counts as answered when ``least`` of its members are; more than ``most`` (None: all)
    may not be. What is in a choice is not required by itself.
    """

    key: str
    prompt: str
    of: tuple[str, ...]
    least: int
    most: int | None = None


@dataclass(frozen=True, slots=True)
class Due:
    """When a step falls in its assignment: ``moment`` is a key of ``MOMENTS``.

    ``weeks_least`` and ``weeks_most`` hold for a step that comes again.
    """

    moment: str
    weeks_least: int | None = None
    weeks_most: int | None = None


MOMENTS = {
    "start": "at the start",
    "again": "every {weeks_least} to {weeks_most} weeks",
    "end": "at the end",
    "any": "at any time",
}
"""When a step is done, in words."""


@dataclass(frozen=True, slots=True)
class Step:
    """One sitting: its fields, its choices, when it falls, how often it is done.

    ``laid_before`` are keys of ``LAID_BEFORE``: what the tool shows above the questions.
    """

    key: str
    name: str
    due: Due
    fields: tuple[Field, ...]
    choices: tuple[Choice, ...] = ()
    least_times: int = 1
    most_times: int | None = 1
    laid_before: tuple[str, ...] = ()


LAID_BEFORE = {
    "takes": "my first take and my latest",
    "goals": "the goals I set",
    "remarks": "my remarks on spots in the music",
    "finds": "my finds",
    "earlier": "what I wrote in the steps before",
    "group": "how the group and my director heard or saw it",
    "answer": "what my director answered",
}
"""What a step can lay in front of a musician before it asks, in their words."""


LEVELS = ("Beginning", "Developing", "Secure", "Extending")
"""What the levels 1 to 4 of a rubric's row are called, the lowest first."""


@dataclass(frozen=True, slots=True)
class RubricRow:
    """One thing to look for in what was written, with a sentence for each of ``LEVELS``.

    ``descriptors`` tell what can be seen in the answer, never who wrote it or how hard they
    tried. ``steps`` are keys of the steps whose answers show it; () for all.
    """

    key: str
    name: str
    question: str
    descriptors: tuple[str, str, str, str]
    steps: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of work. ``edition`` counts changes: an answer keeps the one it was given to.

    ``process`` and ``standards`` are keys of the standards table; ``seen_by`` are keys of
    ``READERS``; ``rubric`` are the rows that a director gives levels for, none for most.
    ``director_side`` is a key of ``DIRECTOR_SIDES``, ``director_steps`` are keys of the steps
    that the director then fills (() for all), ``needs`` are keys of ``NEEDS``, ``moment`` is one
    of ``OCCASIONS``; what is not ``marked`` is never part of a musicianship mark.
    """

    key: str
    name: str
    edition: int
    aim: str
    process: tuple[str, ...]
    cadence: str
    seen_by: tuple[str, ...]
    steps: tuple[Step, ...]
    rubric: tuple[RubricRow, ...] = ()
    standards: tuple[str, ...] = ()
    director_side: str = ""
    director_steps: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    marked: bool = True
    moment: str = ""

    def rows_at(self, step: str) -> tuple[RubricRow, ...]:
        """Rows of the rubric that the answers of a step can show, by the step's key."""
        return tuple(row for row in self.rubric if not row.steps or step in row.steps)

    def side_at(self, step: str) -> str:
        """How the director fills a step, by its key: a key of ``DIRECTOR_SIDES``, "" for not."""
        asked = not self.director_steps or step in self.director_steps
        return self.director_side if asked else ""


DIRECTOR_SIDES = {
    "": "the musicians alone fill the form",
    "own": "the director fills the form once too, to lay over the group's answers afterwards",
    "each": "the director fills the form about each musician too",
}
"""Whether the director fills the same form, in a director's words."""

NEEDS = {
    "piece": "a piece of the folder",
    "sound": "a recording that the director gives, or a performance heard live",
}
"""What an assignment of a kind must bring along, in a director's words."""

OCCASIONS = {
    "": "whenever it fits",
    "before": "before rehearsal",
    "in_rehearsal": "in rehearsal",
    "listening": "listening and judging",
    "concert": "at the concert and beyond school",
    "year": "across the year",
}
"""Where in a musician's year a kind belongs: the headings of the list of kinds."""

READERS = {
    "director": "your director",
    "second_adult": "a second adult of the school",
    "owner": "you",
    "group": "your group, where you say so",
}
"""Who may read answers, in a musician's words."""

ALWAYS_READ_BY = ("owner", "director", "second_adult")
"""A second adult can always see what one adult and one musician write to each other."""

PROCESSES = ("perform", "respond", "connect")
"""Artistic processes that a kind serves (National Core Arts Standards 2014, names only)."""
