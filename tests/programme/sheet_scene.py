"""Work given out to the cast's band, and answers that are complete, for the pages of sheets."""

import datetime

from django.utils import timezone

from standlight.programme.actions import assignments, sheets
from standlight.programme.actions.kinds import keep_kind
from standlight.programme.models import KindEdition, Piece

OPTIONS = [{"key": "slow", "label": "Slowly"}, {"key": "loop", "label": "Five times"}]
EVERYTHING = {
    "key": "everything", "name": "Everything", "edition": 1, "aim": "Try each question once.",
    "process": ["respond"], "cadence": "", "seen_by": ["owner", "director", "second_adult"],
    "standards": [],
    "steps": [
        {
            "key": "all", "name": "All", "due": {"moment": "any"},
            "fields": [
                {"key": "short", "type": "short", "prompt": "One word?", "least": 1, "most": 5},
                {"key": "long", "type": "long", "prompt": "More words?", "least": 3, "most": 20,
                 "required": False},
                {"key": "choice", "type": "choice", "prompt": "Which one?", "options": OPTIONS},
                {"key": "several", "type": "several", "prompt": "Which ones?", "least": 1,
                 "options": OPTIONS},
                {"key": "levels", "type": "levels", "prompt": "How far?", "options": OPTIONS},
                {"key": "scale", "type": "scale", "prompt": "How close?", "least": 1, "most": 4,
                 "options": [{"key": "l", "label": "far"}, {"key": "h", "label": "near"}]},
                {"key": "rows", "type": "rows", "prompt": "A list", "least": 1, "most": 3,
                 "columns": [
                     {"key": "name", "type": "short", "prompt": "Name"},
                     {"key": "where", "type": "measure", "prompt": "Where", "required": False},
                 ]},
                {"key": "recording", "type": "recording", "prompt": "My spot", "required": False},
                {"key": "measure", "type": "measure", "prompt": "Hardest measure?"},
                {"key": "clock", "type": "clock", "prompt": "When?", "required": False},
                {"key": "spot", "type": "spot", "prompt": "Which spot?"},
                {"key": "source", "type": "source", "prompt": "A source", "required": False},
                {"key": "consent", "type": "consent", "prompt": "Show it to my group",
                 "required": False},
            ],
        }
    ],
}  # fmt: skip
"""A kind with one question of every type."""

CHOOSING = {
    "key": "choosing", "name": "Choosing", "edition": 1, "aim": "Answer two of three.",
    "process": ["respond"], "cadence": "", "seen_by": ["owner", "director", "second_adult"],
    "standards": [],
    "steps": [
        {
            "key": "some", "name": "Some", "due": {"moment": "any"},
            "fields": [
                {"key": key, "type": "short", "prompt": f"Prompt {key}?"} for key in "abc"
            ],
            "choices": [
                {"key": "two", "prompt": "Two prompts", "of": ["a", "b", "c"], "least": 2,
                 "most": 2}
            ],
        }
    ],
}  # fmt: skip
"""A kind with one choice."""

WHOLE = {
    "short": "Fine", "choice": "slow", "several": ["slow"], "levels": "loop", "scale": 3,
    "rows": [{"name": "Oboe", "where": {"measure": 34, "words": "solo"}}],
    "measure": {"measure": 33, "words": "the run"},
    "spot": {"piece": "Ode", "from_measure": 34, "to_measure": 35, "what": "I was late",
             "try": "Count"},
}  # fmt: skip
"""Answers that complete `EVERYTHING`."""


def ode(cast):
    """A piece of three measures that print 33 to 35."""
    return Piece.objects.create(
        ensemble=cast.band, title="Ode",
        measures=[{"index": i, "printed": str(i + 33), "movement": 0} for i in range(3)],
    )  # fmt: skip


def give(cast, kind, *, due_in=3, title="", **more):
    """Publish work of ``kind``: a definition, or the key of one that ships."""
    if not isinstance(kind, str):
        keep_kind(cast.director, kind)
        kind = kind["key"]
    day = timezone.localdate()
    assignment = assignments.give_out(
        cast.director,
        assignments.Giving(
            ensemble_pk=cast.band.pk, kind_key=kind, title=title or kind.replace("_", " "),
            starts_on=day, due_on=None if due_in is None else day + datetime.timedelta(due_in),
            **more,
        ),
    )  # fmt: skip
    assignments.publish(assignment)
    return assignment


def saves(answers, *, seen=None, mark="1"):
    """The answers as saves of one window; ``mark`` tells its stamps from another's."""
    return {
        key: sheets.Save(answer, f"{mark}-{key}", (seen or {}).get(key, ""))
        for key, answer in answers.items()
    }


def write(cast, assignment, answers, *, step=None, musician=None):
    """A sheet of the musician with ``answers``, not sent."""
    musician = musician or cast.musician
    step = step or KindEdition.objects.get(pk=assignment.kind_id).body["steps"][0]["key"]
    sheet = sheets.begin(musician.account, assignment, step)
    sheets.save(sheet, saves(answers))
    return sheet
