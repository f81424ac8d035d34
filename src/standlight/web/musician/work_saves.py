"""Saving a sheet by script: what a page sends every few seconds, and once to hand it in.

``PUT`` JSON ``{"sheet": key or "", "send": bool, "saves": {question: {"fields": [[name, value]],
"stamp", "seen", "tried"}}}``; the answer says what is kept. Every request may be repeated: a save
is known by its stamp, also after the sheet was sent.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any
from uuid import UUID, uuid4

from django.http import HttpRequest, HttpResponse, JsonResponse

from standlight.errors import NotAllowed, StandlightError
from standlight.kinds import Field, Step
from standlight.programme.actions import sheets
from standlight.programme.models import Assignment, Sheet
from standlight.programme.queries.reading_answers import words_of
from standlight.web.work_fields import Pairs, answer_in

LARGEST_SAVE_BYTES = 4 * 1024 * 1024
LATELY = 20
"""Sent sheets of a step among which a repeated save is looked for."""

STATUSES: tuple[tuple[type[StandlightError], int], ...] = (
    (NotAllowed, 409),
    (sheets.TooLarge, 413),
    (StandlightError, 400),
)
"""Which answer an error becomes; the page keeps the text and shows the sentence."""


def new_stamp() -> str:
    """The stamp of a save by a plain form."""
    return str(uuid4())


def answer(request: HttpRequest, assignment: Assignment, step: Step) -> HttpResponse:
    """Do what the request asks and say what is kept."""
    try:
        told = _told(request)
        return JsonResponse(_kept(request, assignment, step, told))
    except StandlightError as slip:
        return _refusal(slip)


def keep_recording(
    request: HttpRequest, assignment: Assignment, step: str, question: str
) -> HttpResponse:
    """Keep the bytes of the request as a recording; its key comes back."""
    try:
        length = int(request.headers.get("Content-Length") or 0)
        if length > sheets.LARGEST_FILE_BYTES:
            raise sheets.TooLarge(f"this recording has {length} bytes")
        sheet = _sheet(request, assignment, step, request.headers.get("Sheet-Key", ""))
        data = request.read(sheets.LARGEST_FILE_BYTES + 1)
        kept = sheets.keep_sound(sheet, question, data, request.content_type or "")
    except StandlightError as slip:
        return _refusal(slip)
    return JsonResponse(
        {"sheet": str(sheet.pk), "sound": str(kept.key), "stamp": sheet.stamps.get(question, "")}
    )


def clash_words(step: Step, saved: sheets.Saved) -> list[str]:
    """What another window had kept, in words."""
    fields = {field.key: field for field in step.fields}
    return [
        f"“{fields[one.question].prompt}” was changed in another window. There it said: "
        f"“{words_of(fields[one.question], one.answer)}”. Both are kept; yours stands here."
        for one in saved.clashes
    ]


def _kept(
    request: HttpRequest, assignment: Assignment, step: Step, told: Mapping[str, Any]
) -> dict[str, Any]:
    """Keep the answers, send when asked; what stands now."""
    fields = {field.key: field for field in step.fields}
    saves = dict(_saves(fields, told.get("saves")))
    stamps = {one.stamp for one in saves.values()}
    done = _sent_already(request, assignment, step.key, str(told.get("sheet") or ""), stamps)
    if done is not None:
        return _standing(done, done.stamps, sent=True)
    sheet = _sheet(request, assignment, step.key, str(told.get("sheet") or ""))
    saved = sheets.save(sheet, saves)
    unknown = set(told.get("saves") or {}) - set(fields)
    refused = {**saved.refused, **dict.fromkeys(unknown, "This question is not asked here.")}
    found = {
        **_standing(sheet, saved.stamps, sent=False),
        "clashes": [
            {"question": one.question, "words": words_of(fields[one.question], one.answer)}
            for one in saved.clashes
        ],
        "refused": refused,
    }
    if told.get("send") and not refused:
        try:
            sheets.send(sheet)
        except sheets.NotComplete as slip:
            standing = slip.standing
            found["open"] = [[one.key, one.words] for one in (*standing.open, *standing.wrong)]
        else:
            found["sent"] = True
    return found


def _standing(sheet: Sheet, stamps: Mapping[str, str], *, sent: bool) -> dict[str, Any]:
    """The part of an answer that every request gets."""
    return {
        "sheet": str(sheet.pk), "stamps": dict(stamps), "clashes": [], "refused": {}, "open": [],
        "sent": sent,
    }  # fmt: skip


def _sent_already(
    request: HttpRequest, assignment: Assignment, step: str, key: str, stamps: set[str]
) -> Sheet | None:
    """The sent sheet that holds every one of these saves: an answer got lost on its way back."""
    rows = Sheet.objects.filter(
        assignment=assignment, author=request.user, step=step, sent_at__isnull=False
    ).order_by("-sent_at")
    for row in rows[:LATELY]:
        if stamps <= set(row.stamps.values()) and (stamps or str(row.pk) == key):
            return row
    return None


def _sheet(request: HttpRequest, assignment: Assignment, step: str, key: str) -> Sheet:
    """The sheet that the page knows, else the open one; raises ``NotAllowed`` for one sent."""
    if not key:
        return sheets.begin(request.user, assignment, step)
    try:
        wanted = UUID(key)
    except ValueError:
        raise StandlightError("this is no sheet", where=key[:40]) from None
    rows = Sheet.objects.filter(assignment=assignment, author=request.user, step=step)
    row = rows.select_related("assignment__kind", "about").filter(pk=wanted).first()
    if row is None:
        raise NotAllowed("this sheet is not yours, or it is gone")
    return row


def _saves(
    fields: Mapping[str, Field], told: object
) -> Iterable[tuple[str, sheets.Save]]:
    """The answers of a request, each read by the type of its question."""
    for key, one in told.items() if isinstance(told, dict) else ():
        if key not in fields or not isinstance(one, dict) or not one.get("stamp"):
            continue
        tried = one.get("tried")
        yield key, sheets.Save(
            answer_in(fields[key], Pairs(one.get("fields"))),
            str(one["stamp"])[:40],
            str(one.get("seen") or ""),
            tuple(str(stamp) for stamp in tried) if isinstance(tried, list) else (),
        )


def _told(request: HttpRequest) -> dict[str, Any]:
    """The JSON object of the request."""
    data = request.read(LARGEST_SAVE_BYTES + 1)
    if len(data) > LARGEST_SAVE_BYTES:
        raise sheets.TooLarge(
            "this is more text than can be kept", slip="a whole book was pasted?"
        )
    try:
        told = json.loads(data or b"{}")
    except ValueError:
        raise StandlightError("the request is no JSON", slip="cut off on its way?") from None
    if not isinstance(told, dict):
        raise StandlightError("the request is no JSON object")
    return told


def _refusal(slip: StandlightError) -> HttpResponse:
    """An error as JSON with its sentence."""
    status = next(code for kind, code in STATUSES if isinstance(slip, kind))
    return JsonResponse({"error": f"{slip}."}, status=status)
