"""A musician's work of every kind: what is given out, a step's form, what was sent."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from standlight.errors import NotAllowed, StandlightError, UnreadableTake
from standlight.kinds import Step
from standlight.programme import notation
from standlight.programme.actions import sheets
from standlight.programme.actions.takes import TooLarge
from standlight.programme.models import Assignment, Sheet
from standlight.programme.queries.my_part import my_part
from standlight.programme.queries.my_work import work_page
from standlight.programme.queries.own_measure import own_measure
from standlight.programme.queries.sheets import last_sent, sheet_page, unsent_sheet
from standlight.programme.queries.work_steps import step_of
from standlight.web.access import musician_page, seen_or_404
from standlight.web.musician import work_saves
from standlight.web.musician.my_part import KEEP_OFFLINE
from standlight.web.sign_in import STATION
from standlight.web.work_fields import PREFIX, answers_in

FILE = ".file"
"""Ending of a file field's name, behind the name of its question."""


@never_cache
@require_safe
@musician_page
def all_work(request: HttpRequest) -> HttpResponse:
    """Everything that is given out, what is open first."""
    page = my_part(request.user)
    lines = [one for one in (page.next, *page.also_open, *page.back, *page.year) if one]
    work = list({line.pk: line for line in lines if line.is_work}.values())
    context = {
        "open": [line for line in work if line.is_open],
        "other": [line for line in work if not line.is_open],
        "station": _at_station(request),
    }
    return render(request, "musician/work_list.html", context)


@never_cache
@require_safe
@musician_page
def one_work(request: HttpRequest, pk: int) -> HttpResponse:
    """One piece of work: its steps, what is done, what the group showed."""
    assignment = _assignment(request, pk)
    page = work_page(request.user, assignment, timezone.localdate())
    context = {"page": page, "station": _at_station(request)}
    return _keepable(request, render(request, "musician/work_one.html", context))


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@musician_page
def form(request: HttpRequest, pk: int, step: str) -> HttpResponse:
    """The form of a step: the sheet that is open, or a blank one; posting keeps or sends it."""
    assignment = _assignment(request, pk)
    asked = _step_or_404(assignment, step)
    if request.method == "POST":
        return _posted(request, assignment, asked)
    sheet = unsent_sheet(request.user, assignment, step)
    last = last_sent(request.user, assignment, asked) if sheet._state.adding else None
    if last is not None:
        return redirect("my-sheet", key=last.pk)
    return _form_answer(request, sheet)


@never_cache
@require_http_methods(["PUT", "POST"])
@musician_page
def save(request: HttpRequest, pk: int, step: str) -> HttpResponse:
    """Keep what a script sends, and hand it in when it says so: JSON in, JSON out."""
    assignment = _assignment(request, pk)
    return work_saves.answer(request, assignment, _step_or_404(assignment, step))


@never_cache
@require_POST
@musician_page
def sound(request: HttpRequest, pk: int, step: str, question: str) -> HttpResponse:
    """Keep a recording that was made in the page."""
    assignment = _assignment(request, pk)
    _step_or_404(assignment, step)
    return work_saves.keep_recording(request, assignment, step, question)


@require_safe
@musician_page
def measure(request: HttpRequest, pk: int, printed: int) -> HttpResponse:
    """One measure of the musician's own part as a picture; 404 where there is none."""
    assignment = _assignment(request, pk)
    digest = own_measure(request.user, assignment, printed, request.GET.get("piece", ""))
    svg = notation.svg_of(digest, width_mm=notation.PHONE_MM) if digest else ""
    if not svg.startswith("<svg"):
        raise Http404
    answer = HttpResponse(svg, content_type="image/svg+xml")
    answer["Cache-Control"] = "private, max-age=3600"
    return answer


@never_cache
@require_safe
@musician_page
def one_sheet(request: HttpRequest, key: str) -> HttpResponse:
    """A sheet that was sent, and what came back; one still open goes to its form."""
    sheet = _own_sheet(request, key)
    if sheet.sent_at is None:
        return redirect("my-sheet-form", pk=sheet.assignment_id, step=sheet.step)
    sheets.see_reply(sheet)
    page = sheet_page(request.user, sheet, today=timezone.localdate())
    context = {"page": page, "station": _at_station(request)}
    return render(request, "musician/work_sent.html", context)


@never_cache
@require_POST
@musician_page
def again(request: HttpRequest, key: str) -> HttpResponse:
    """Take a sent sheet up again."""
    sheet = _own_sheet(request, key)
    try:
        sheets.take_up_again(sheet)
    except StandlightError as slip:
        messages.error(request, _sentence(slip))
        return redirect("my-sheet", key=key)
    return redirect("my-sheet-form", pk=sheet.assignment_id, step=sheet.step)


@never_cache
@require_POST
@musician_page
def consent(request: HttpRequest, key: str) -> HttpResponse:
    """Say yes or no to sharing, at any time."""
    sheet = _own_sheet(request, key)
    agrees = request.POST.get("agrees") == "yes"
    try:
        sheets.say_consent(sheet, request.POST.get("question", ""), agrees)
    except StandlightError as slip:
        messages.error(request, _sentence(slip))
    else:
        said = "Your group may see it." if agrees else "Your group does not see it."
        messages.success(request, said)
    return redirect("my-sheet", key=key)


def _posted(request: HttpRequest, assignment: Assignment, step: Step) -> HttpResponse:
    """Keep a plain form, and send it when its button said so; nothing typed is lost."""
    try:
        sheet = sheets.begin(request.user, assignment, step.key)
    except NotAllowed as slip:
        messages.error(request, _sentence(slip))
        return redirect("my-work", pk=assignment.pk)
    posted = request.POST.copy()
    slips = _keep_files(request, sheet, posted)
    answers = answers_in(step, posted)
    saved = sheets.save(
        sheet,
        {
            key: sheets.Save(answer, work_saves.new_stamp(), posted.get(f"seen.{key}", ""))
            for key, answer in answers.items()
            if sheet.answers.get(key) != answer
        },
    )
    slips += [*saved.refused.values(), *work_saves.clash_words(step, saved)]
    # What could not be kept still stands in the page, so that it can be mended there.
    shown = {**sheet.answers, **{key: answers[key] for key in saved.refused}}
    if slips or request.POST.get("act") != "send":
        if not slips:
            messages.success(request, "Saved. Nobody reads it until you send it.")
            return redirect("my-sheet-form", pk=assignment.pk, step=step.key)
        return _form_answer(request, sheet, answers=shown, slips=slips)
    try:
        sheets.send(sheet)
    except sheets.NotComplete:
        slip = "Not sent yet. Look at what is still open below."
        return _form_answer(request, sheet, answers=shown, slips=[slip], tell=True)
    if _at_station(request):
        return redirect("station-thanks")
    messages.success(request, "Sent. Your director reads it next.")
    return redirect("my-work", pk=assignment.pk)


def _keep_files(request: HttpRequest, sheet: Sheet, posted: QueryDict) -> list[str]:
    """Keep the recordings of a plain form and name them in it; a sentence for each that failed."""
    slips = []
    for name, brought in request.FILES.items():
        if not name.startswith(PREFIX) or not name.endswith(FILE):
            continue
        asked = name.removesuffix(FILE)
        if not isinstance(brought, UploadedFile) or not brought.size:
            continue
        try:
            kept = sheets.keep_sound(
                sheet, asked.rsplit(".", 1)[-1], brought.read(), brought.content_type or ""
            )
        except (TooLarge, UnreadableTake, NotAllowed) as slip:
            slips.append(_sentence(slip))
            continue
        posted[f"{asked}.sound"] = str(kept.key)
        posted.pop(f"{asked}.without", None)
    return slips


def _form_answer(
    request: HttpRequest,
    sheet: Sheet,
    *,
    answers: dict[str, Any] | None = None,
    slips: list[str] | None = None,
    tell: bool = False,
) -> HttpResponse:
    """The page of a form; with ``slips`` something has to be mended (400)."""
    page = sheet_page(
        request.user, sheet, today=timezone.localdate(), answers=answers, tell=tell
    )
    context = {"page": page, "station": _at_station(request), "slips": slips or []}
    reply = render(
        request, "musician/work_sheet.html", context, status=400 if slips else 200
    )
    return _keepable(request, reply)


def _assignment(request: HttpRequest, pk: int) -> Assignment:
    """The assignment with everything that its pages ask of it."""
    rows = Assignment.objects.select_related("kind", "ensemble", "piece")
    return seen_or_404(rows, request, pk=pk)


def _own_sheet(request: HttpRequest, key: str) -> Sheet:
    """A sheet that the musician wrote; a director's about them is shown beside it, not here."""
    rows = Sheet.objects.filter(author=request.user).select_related(
        "assignment__kind", "assignment__ensemble", "assignment__piece", "about"
    )
    return seen_or_404(rows, request, key=key)


def _step_or_404(assignment: Assignment, key: str) -> Step:
    """The step as this assignment asks it."""
    try:
        return step_of(assignment, key)
    except StandlightError:
        raise Http404 from None


def _keepable(request: HttpRequest, reply: HttpResponse) -> HttpResponse:
    """Let a musician's own device keep ``reply``; never a station, for it is shared."""
    if not _at_station(request) and request.method == "GET":
        reply[KEEP_OFFLINE] = "yes"
    return reply


def _at_station(request: HttpRequest) -> bool:
    """True when this browser is a shared station."""
    return bool(request.session.get(STATION))


def _sentence(error: StandlightError) -> str:
    """The error as a sentence that begins with a capital and ends with a full stop."""
    words = str(error)
    return f"{words[:1].upper()}{words[1:].rstrip('.')}."


urlpatterns = [
    path("", all_work, name="my-works"),
    path("<int:pk>/", one_work, name="my-work"),
    path("<int:pk>/measure-<int:printed>.svg", measure, name="my-sheet-measure"),
    path("sheet/<uuid:key>/", one_sheet, name="my-sheet"),
    path("sheet/<uuid:key>/again/", again, name="my-sheet-again"),
    path("sheet/<uuid:key>/consent/", consent, name="my-sheet-consent"),
    path("<int:pk>/<str:step>/", form, name="my-sheet-form"),
    path("<int:pk>/<str:step>/save/", save, name="my-sheet-save"),
    path("<int:pk>/<str:step>/sound/<str:question>/", sound, name="my-sheet-sound"),
]
