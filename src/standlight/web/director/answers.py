"""Desk: answers, sent at once or kept until all are sent; a spoken one."""

from __future__ import annotations

from dataclasses import replace

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path, reverse
from django.views.decorators.http import require_GET, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import answers as acts
from standlight.programme.actions import sitting as sitting_acts
from standlight.programme.actions.desk import keep_line
from standlight.programme.fill_ins import fill_in
from standlight.programme.models import CommentLine, Turn
from standlight.programme.queries import desk as pages
from standlight.programme.queries import desk_sitting
from standlight.programme.queries.answer_values import AnswerDraft
from standlight.programme.queries.answers import facts_by_place, kept_page
from standlight.web.access import director_page
from standlight.web.director import desk as at_desk
from standlight.web.fields import index_in

LATER = "later"
"""What the form's button says when the answer is kept instead of sent."""

CHOSEN = "answer-"
"""The kept list's field for a turn is this and the turn's key; its value is the stamp shown."""


@director_page
@require_POST
def answer(request: HttpRequest, check: int, turn: int) -> HttpResponse:
    """Send or keep the answer and go to the next take; a bank line's button only fills its field.

    Whatever refuses it, what was written and spoken stands in the form again.
    """
    row = at_desk.sent_turn(request, check, turn)
    draft = _draft(request)
    if "use" in request.POST:
        return at_desk.shown(request, row, draft=_with_line(request, row, draft))
    at = at_desk.at_of(request, row)
    queue = desk_sitting.queue_in(request.user, row.check_row, at.sitting)
    act = acts.keep_answer if request.POST.get("when") == LATER else acts.send_answer
    try:
        draft = _with_voice(request, row, draft)
        act(request.user, row, draft, request.POST.get("seen"))
        _keep_in_bank(request, row, draft)
    except StandlightError as problem:
        return at_desk.shown(request, row, draft=draft, slip=str(problem))
    sitting = sitting_acts.went_on(request.user, row.check_row)
    return at_desk.to_next(request, row.check_row, sitting, row.pk, queue)


@director_page
@require_POST
def take_back(request: HttpRequest, check: int, turn: int) -> HttpResponse:
    """Drop a kept answer; the take waits again."""
    row = at_desk.sent_turn(request, check, turn)
    acts.take_back(request.user, row)
    return redirect(reverse("desk-turn", args=[check, turn]))


@director_page
@require_POST
def when(request: HttpRequest) -> HttpResponse:
    """Choose for this sitting: send each answer at once, or keep them until all are sent."""
    request.session[at_desk.KEEPS_ANSWERS] = request.POST.get("when") == LATER
    check, turn = index_in(request, "check"), index_in(request, "turn")
    if check is None or turn is None:
        return redirect("desk")
    return redirect("desk-turn", check=check, turn=turn)


@director_page
@require_GET
def kept(request: HttpRequest) -> HttpResponse:
    """Every answer that is kept, ready to be sent together."""
    context = {"here": "desk", "page": kept_page(request.user), "field": CHOSEN}
    return render(request, "director/desk_kept.html", context)


@director_page
@require_POST
def send_kept(request: HttpRequest) -> HttpResponse:
    """Send the kept answers that are ticked; what stays is told."""
    chosen = {
        int(name[len(CHOSEN) :]): stamp
        for name, stamp in request.POST.items()
        if name.startswith(CHOSEN) and name[len(CHOSEN) :].isdecimal() and len(name) < 25
    }
    if not chosen:
        messages.error(request, "Tick the answers that you want to send.")
        return redirect("desk-kept")
    batch = acts.send_kept(request.user, chosen)
    if batch.sent:
        said = "1 answer is" if batch.sent == 1 else f"{batch.sent} answers are"
        messages.success(request, f"{said} sent. The musicians see {_them(batch.sent)} now.")
    for sentence in batch.stayed:
        messages.error(request, f"Not sent. {sentence}")
    return redirect("desk-kept")


def _them(count: int) -> str:
    return "it" if count == 1 else "them"


def _draft(request: HttpRequest) -> AnswerDraft:
    """What stands in the form."""
    pairs = {
        place: (index_in(request, f"{place}_first"), index_in(request, f"{place}_last"))
        for place in (CommentLine.STRENGTH, CommentLine.STRATEGY)
    }
    return AnswerDraft(
        strength=request.POST.get("strength", ""),
        next_step=request.POST.get("next_step", ""),
        strategy=request.POST.get("strategy", ""),
        first_measure=index_in(request, "first_measure"),
        last_measure=index_in(request, "last_measure"),
        places=pairs,
        voice="" if request.POST.get("voice_off") else request.POST.get("voice", ""),
        caption=request.POST.get("caption", ""),
    )


def _with_voice(request: HttpRequest, turn: Turn, draft: AnswerDraft) -> AnswerDraft:
    """The draft with the recording that came with the form, kept so that no refusal loses it."""
    brought = request.FILES.get("spoken")
    if not isinstance(brought, UploadedFile):
        return draft
    if (brought.size or 0) > acts.LARGEST_VOICE_BYTES:
        raise StandlightError(
            "this file is too large for a spoken answer", slip="was it another recording?"
        )
    return replace(draft, voice=str(acts.keep_voice(request.user, turn, brought.read()).key))


def _with_line(request: HttpRequest, turn: Turn, draft: AnswerDraft) -> AnswerDraft:
    """The draft with the chosen bank line, filled in, in its place."""
    chosen = get_object_or_404(
        CommentLine.objects.visible_to(request.user), pk=index_in(request, "use") or 0
    )
    if chosen.place not in CommentLine.PLACES:
        return draft
    pairs = {**draft.places, CommentLine.NEXT_STEP: (draft.first_measure, draft.last_measure)}
    facts = facts_by_place(turn, pairs)[chosen.place][0]
    return replace(draft, **{chosen.place: fill_in(chosen.text, facts)})


def _keep_in_bank(request: HttpRequest, turn: Turn, draft: AnswerDraft) -> None:
    """Add the next step to the bank for the lowest level given, when the box is ticked."""
    place = pages.bank_place(request.user, turn)
    if request.POST.get("keep_line") and place is not None and draft.next_step.strip():
        criterion, level = place
        keep_line(
            request.user,
            criterion=criterion,
            place=CommentLine.NEXT_STEP,
            level=level,
            text=draft.next_step,
        )


urlpatterns = [
    path("kept/", kept, name="desk-kept"),
    path("kept/send/", send_kept, name="desk-send-kept"),
    path("kept/when/", when, name="desk-when"),
    path("<int:check>/<int:turn>/answer/", answer, name="desk-answer"),
    path("<int:check>/<int:turn>/take-back/", take_back, name="desk-take-back"),
]
