"""Written work of the cast's band: two kinds of our own making, given out, with sheets sent."""

import datetime
import uuid

from django.utils import timezone

from standlight.programme.models import Assignment, KindEdition, Piece, Sheet

STUDY = {
    "key": "listening_letter",
    "name": "Listening letter",
    "edition": 1,
    "aim": "Say what you hear.",
    "process": ["respond"],
    "seen_by": ["owner", "director", "second_adult", "group"],
    "rubric": [
        {"key": "heard", "name": "What was heard", "question": "Is it in the music?",
         "descriptors": ["One word", "A word and a place", "A reason", "A reason that convinces"]},
        {"key": "words", "name": "Words", "question": "Do the words fit?",
         "descriptors": ["Any words", "Some fit", "Most fit", "Each word fits"],
         "steps": ["letter"]},
    ],
    "marked": True,
    "steps": [
        {
            "key": "letter",
            "name": "Letter",
            "due": {"moment": "any"},
            "least_times": 1,
            "most_times": None,
            "fields": [
                {"key": "story", "type": "long", "prompt": "What do you hear?"},
                {"key": "why", "type": "short", "prompt": "Why?", "required": False},
                {"key": "mood", "type": "choice", "prompt": "Which mood?", "required": False,
                 "options": [{"key": "calm", "label": "calm"}, {"key": "wild", "label": "wild"}]},
                {"key": "sure", "type": "scale", "prompt": "How sure are you?", "least": 1,
                 "most": 5, "required": False},
                {"key": "place", "type": "measure", "prompt": "Where is the top?",
                 "required": False},
                {"key": "sources", "type": "rows", "prompt": "Where did I look?", "required": False,
                 "columns": [{"key": "name", "type": "short", "prompt": "Name"},
                             {"key": "use", "type": "short", "prompt": "What I took from it",
                              "required": False}]},
                {"key": "share", "type": "consent", "prompt": "Show my group", "required": False},
            ],
        },
        {
            "key": "after",
            "name": "Afterwards",
            "due": {"moment": "end"},
            "fields": [{"key": "now", "type": "long", "prompt": "What do you hear now?"}],
        },
    ],
}  # fmt: skip


LEVELS = [
    {"key": str(n), "label": name}
    for n, name in enumerate(("Beginning", "Developing", "Secure", "Extending"), start=1)
]
RATED = {
    "key": "hear_them",
    "name": "Hear them",
    "edition": 1,
    "aim": "Say how they play.",
    "process": ["respond"],
    "seen_by": ["owner", "director", "second_adult"],
    "director_side": "own",
    "steps": [
        {
            "key": "judge",
            "name": "Levels",
            "due": {"moment": "any"},
            "fields": [
                {"key": "balance", "type": "levels", "prompt": "Balance", "options": LEVELS},
                {"key": "time", "type": "levels", "prompt": "Time", "options": LEVELS},
                {"key": "sure", "type": "scale", "prompt": "How sure?", "least": 1, "most": 4},
            ],
        }
    ],
}


def assignment_of(cast, body=STUDY, *, group=None, **more):
    """``body`` given out to the band (or ``group``) by the lead."""
    edition, _ = KindEdition.objects.get_or_create(
        programme=cast.programme, key=body["key"], edition=1, defaults={"body": body}
    )
    today = timezone.localdate()
    return Assignment.objects.create(
        ensemble=group or cast.band, kind=edition, starts_on=today, made_by=cast.director,
        published_at=timezone.now(), **{"title": "Letter on the Ode", **more},
    )  # fmt: skip


def sheet_of(assignment, musician, *, step="letter", number=1, ago=0, sent=True, **answers):
    """A sheet of ``musician``, sent ``ago`` days ago, with an answer a keyword."""
    answers = answers or {"story": "The horns fade like a lamp."}
    sent_at = timezone.now() - datetime.timedelta(ago) if sent else None
    return Sheet.objects.create(
        key=uuid.uuid4(), assignment=assignment, author=musician.account, about=musician,
        step=step, number=number, answers=answers, sent_at=sent_at,
    )  # fmt: skip


def own_sheet(assignment, director, *, step="letter", sent=True, about=None, **answers):
    """A director's own sheet."""
    return Sheet.objects.create(
        assignment=assignment, author=director, about=about, step=step, answers=answers,
        sent_at=timezone.now() if sent else None,
    )  # fmt: skip


def piece_of(cast, count=60, title="Ode"):
    """A piece with printed measures 1 to ``count``."""
    measures = [{"index": n, "printed": str(n + 1), "movement": 0} for n in range(count)]
    return Piece.objects.create(ensemble=cast.band, title=title, measures=measures)
