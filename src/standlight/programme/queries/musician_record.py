"""All that is kept of one musician, in plain words and with its sounds, as one account may see it.

Left out is what is nobody's to read but its writer's: a sheet that was not sent, an answer that
its director still keeps back; and a director's wish about groups, which is about another as well.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Model, Q, QuerySet

from standlight.criteria import CRITERIA
from standlight.kinds import Field
from standlight.programme.models import (
    Account,
    AnchorTake,
    Arrival,
    GivenLevel,
    GuestLevel,
    Musician,
    MusicianGrowth,
    PeerLevel,
    PostedMark,
    Remark,
    Report,
    Sheet,
    Take,
    Turn,
    WorkExcuse,
)
from standlight.programme.queries.desk import printed_range
from standlight.programme.queries.groups_record import group_rows
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.peers_record import peer_record
from standlight.programme.queries.reading_answers import words_of
from standlight.programme.queries.talks_record import talk_rows
from standlight.ratings.levels import level_name

Json = dict[str, Any]

ENDINGS = {
    "audio/flac": "flac",
    "audio/mp4": "m4a",
    "audio/mpeg": "mp3",
    "audio/ogg": "ogg",
    "audio/wav": "wav",
    "audio/webm": "webm",
    "audio/x-wav": "wav",
    "video/mp4": "mp4",
    "video/webm": "webm",
}
"""How the name of a sound ends by its media type; another type ends in ``sound``."""

FLAC = "audio/flac"
"""What every listening copy and spoken answer is kept as."""


@dataclass(frozen=True, slots=True)
class KeptSound:
    """A kept sound and its name in the file."""

    name: str
    digest: str


@dataclass(frozen=True, slots=True)
class MusicianRecord:
    """Everything of one musician: ``rows`` as plain data, and the sounds that they name."""

    rows: Json
    sounds: tuple[KeptSound, ...]


def musician_record(account: Account, musician: Musician) -> MusicianRecord:
    """What is kept of ``musician`` in the groups that ``account`` sees."""
    sounds: list[KeptSound] = []
    sheets = _seen(Sheet, account, Q(author=musician.account_id) | Q(about=musician)).distinct()
    rows = {
        "musician": _person(musician),
        "turns": [_turn(account, turn, sounds) for turn in _turns(account, musician)],
        "sheets": [_sheet(sheet, sounds) for sheet in _sent(sheets)],
        "sheets_not_sent": sheets.filter(sent_at=None).count(),
        "remarks": [_remark(row) for row in _remarks(account, musician)],
        "marks": [_mark(row) for row in _seen(PostedMark, account, Q(musician=musician))],
        "work_not_asked_for": [
            {
                "work": row.assignment.title,
                "reason": row.get_reason_display(),
                "until": row.until,
            }
            for row in _seen(WorkExcuse, account, Q(musician=musician))
        ],
        "hearing_each_other": peer_record(account, musician),
        "waiting_recordings": [
            _arrival(row, sounds) for row in _seen(Arrival, account, Q(musician=musician))
        ],
        "growth": [
            {"ensemble": row.ensemble.name, "as_of": row.study.made_at, "found": row.body}
            for row in _seen(MusicianGrowth, account, Q(musician=musician))
        ],
        "groups": group_rows(account, musician),
        **talk_rows(account, musician),
    }
    return MusicianRecord(rows, tuple(sounds))


def _seen(model: type[Model], account: Account, rule: Q) -> QuerySet:
    """Rows of ``model`` that fit ``rule`` and that the account may see."""
    return model.objects.visible_to(account).filter(rule)


def _person(musician: Musician) -> Json:
    """Who they are, where they sit, and what is agreed."""
    return {
        "roster_id": musician.roster_id,
        "name": musician.name,
        "grade": musician.grade,
        "way": musician.get_way_display(),
        "agreed": musician.agreed_labels,
        "changed_goal": musician.changed_goal,
        "first_language": musician.first_language,
    }


def _turns(account: Account, musician: Musician) -> QuerySet:
    """The musician's turns by day, with what their rows need."""
    turns = _seen(Turn, account, Q(musician=musician))
    return turns.select_related(
        "check_row__piece", "check_row__ensemble", "answer__written_by", "answer__voice", "plan"
    )


def _turn(account: Account, turn: Turn, sounds: list[KeptSound]) -> Json:
    """One turn: what was sent, what was given, and what came back."""
    check = turn.check_row
    stem = f"{_plain(check.title)}-{check.pk}-try-{turn.attempt}"
    return {
        "check": check.title,
        "piece": check.piece.title,
        "ensemble": check.ensemble.name,
        "due_on": check.due_on,
        "try": turn.attempt,
        "way": turn.get_way_display(),
        "sent_at": turn.sent_at,
        "excused": turn.excused,
        "own_levels": {_criterion(key): level for key, level in turn.self_levels.items()},
        "own_words": turn.words,
        "takes": [_take(take, stem, sounds) for take in turn.takes.all()],
        "levels": _levels(account, turn),
        "agreed_levels": [
            {"levels": _worded(row.levels), "reason": row.reason}
            for row in AnchorTake.objects.filter(turn=turn)
        ],
        "answered_at": turn.answered_at,
        "answer": _answer(turn, stem, sounds),
        "own_plan": turn.plan.lines if hasattr(turn, "plan") else [],
    }


def _take(take: Take, stem: str, sounds: list[KeptSound]) -> Json:
    """One take, the name of its sound, and what was read in it."""
    digest, kind = (
        (take.digest, take.media_type) if take.digest else (take.playback_digest, FLAC)
    )
    return {
        "number": take.number,
        "sent_to_be_heard": take.chosen,
        "state": take.get_state_display(),
        "started_at": take.started_at,
        "seconds": take.seconds,
        "sound": _sound(f"{stem}-take-{take.number}", digest, kind, sounds),
        "readings": {row.method: row.body for row in Report.objects.filter(take=take)},
    }


def _levels(account: Account, turn: Turn) -> list[Json]:
    """The standing levels of a turn, a guest's and other musicians' among them, without names."""
    given = GivenLevel.objects.visible_to(account).filter(turn=turn, retired_at=None)
    guests = GuestLevel.objects.visible_to(account).filter(take__turn=turn, retired_at=None)
    rows = [(row, row.rater.shown_name) for row in given.select_related("rater")]
    rows += [(row, "a guest") for row in guests]
    peers = PeerLevel.objects.visible_to(account).filter(hearing__turn=turn, retired_at=None)
    rows += [(row, "somebody in the group") for row in peers]
    return [
        {
            "criterion": _criterion(row.criterion),
            "level": level_name(row.value),
            "given_by": by,
            "given_at": row.given_at,
        }
        for row, by in rows
    ]


def _answer(turn: Turn, stem: str, sounds: list[KeptSound]) -> Json | None:
    """The answer that was sent, ``None`` before."""
    if turn.answered_at is None or not hasattr(turn, "answer"):
        return None
    answer = turn.answer
    digest = answer.voice.digest if answer.voice else ""
    return {
        "strength": answer.strength,
        "next_step": answer.next_step,
        "strategy": answer.strategy,
        "spoken": _sound(f"{stem}-answer", digest, FLAC, sounds),
        "spoken_in_writing": answer.caption,
        "written_by": answer.written_by.shown_name,
        "written_at": answer.written_at,
    }


def _sent(sheets: QuerySet) -> QuerySet:
    """Sheets that somebody beside their author may read."""
    return (
        sheets.exclude(sent_at=None)
        .select_related("assignment__kind", "assignment__ensemble", "author", "reply")
        .prefetch_related("sounds", "levels__rater")
    )


def _sheet(sheet: Sheet, sounds: list[KeptSound]) -> Json:
    """One sheet with its questions, what was replied, and its sounds."""
    work = sheet.assignment
    fields = _fields(sheet)
    rubric = {row.key: row.name for row in kind_in(work.kind).rubric}
    stem = f"{_plain(work.title)}-{work.pk}-{_plain(sheet.step)}-{sheet.number}"
    reply = getattr(sheet, "reply", None)
    return {
        "work": work.title,
        "ensemble": work.ensemble.name,
        "written_by": sheet.author.shown_name,
        "number": sheet.number,
        "sent_at": sheet.sent_at,
        "answers": [_said(fields, *answer) for answer in sheet.answers.items()],
        "sounds": [
            {
                "question": fields[one.question].prompt if one.question in fields else "",
                "sound": _sound(f"{stem}-sound-{n}", one.digest, one.media_type or FLAC, sounds),
            }
            for n, one in enumerate(sheet.sounds.all(), start=1)
        ],
        "levels": [
            {
                "criterion": rubric.get(one.criterion, one.criterion),
                "level": level_name(one.value),
                "given_by": one.rater.shown_name,
            }
            for one in sheet.levels.all()
            if one.retired_at is None
        ],
        "reply": {"words": reply.words, "next_step": reply.next_step} if reply else None,
    }


def _fields(sheet: Sheet) -> dict[str, Field]:
    """Questions of the sheet's step by their keys."""
    steps = kind_in(sheet.assignment.kind).steps
    return {field.key: field for step in steps if step.key == sheet.step for field in step.fields}


def _said(fields: Mapping[str, Field], key: str, answer: object) -> Json:
    """One answer in words, and as it is kept."""
    field = fields.get(key)
    asked = field.prompt if field else key
    return {"question": asked, "words": words_of(field, answer) if field else "", "kept_as": answer}


def _remarks(account: Account, musician: Musician) -> QuerySet:
    """Words on measures, by the musician or on a turn of theirs; those of a draft stay out."""
    rule = Q(author=musician.account_id) | Q(turn__musician=musician)
    rows = _seen(Remark, account, rule).exclude(sheet__isnull=False, sheet__sent_at=None)
    return rows.select_related("piece", "author").order_by("made_at", "pk")


def _remark(row: Remark) -> Json:
    """One remark with its measures as they are printed."""
    return {
        "piece": row.piece.title,
        "measures": printed_range(row.piece.measures, row.first_measure, row.last_measure),
        "words": row.words,
        "by": row.author.shown_name,
        "made_at": row.made_at,
    }


def _mark(row: PostedMark) -> Json:
    """A mark as it stands, and its changes."""
    return {
        "period": row.marks.period.name,
        "ensemble": row.marks.ensemble.name,
        "mark": row.word,
        "percent": row.percent,
        "closed_as": row.body,
        "changes": [
            {
                "from": one.from_words,
                "to": one.to_words,
                "why": one.why,
                "changed_at": one.changed_at,
            }
            for one in row.changes.all()
        ],
    }


def _arrival(row: Arrival, sounds: list[KeptSound]) -> Json:
    """What waits to be the musician's take; of a long recording only where it lies in it."""
    return {
        "check": row.check_row.title,
        "brought_at": row.brought_at,
        "seconds": row.seconds,
        "from_s": row.start_s,
        "to_s": row.end_s,
        "sound": _sound(f"waiting-{row.pk}", row.digest, row.media_type, sounds),
    }


def _sound(stem: str, digest: str, media_type: str, sounds: list[KeptSound]) -> str:
    """Note a sound to go into the file; its name there, empty where none is kept."""
    if not digest:
        return ""
    ending = ENDINGS.get(media_type.partition(";")[0].strip().lower(), "sound")
    sounds.append(KeptSound(f"sounds/{len(sounds) + 1:03d}-{stem}.{ending}", digest))
    return sounds[-1].name


def _worded(levels: Mapping[str, str]) -> Json:
    """Levels by criterion, both in words."""
    return {_criterion(key): level_name(value) for key, value in levels.items()}


def _criterion(key: str) -> str:
    """A criterion's name as it is read."""
    return CRITERIA[key].name if key in CRITERIA else key


def _plain(words: str) -> str:
    """Words as a part of a file's name.

    >>> _plain("Lamp Tune, No. 2"), _plain("../x"), _plain("?")
    ('lamp-tune-no-2', 'x', 'work')
    """
    return "-".join(re.findall(r"[a-z0-9]+", words.lower()))[:60] or "work"
