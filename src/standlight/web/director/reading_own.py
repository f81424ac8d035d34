"""A director's own sheet, to lay over the group's, and what a director saw of each musician."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlencode
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path, reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.kinds import Field, Step
from standlight.programme.actions import sheets
from standlight.programme.actions.replies import show_seen
from standlight.programme.models import Assignment, Musician, Sheet
from standlight.programme.queries.reading_own import (
    example_of,
    own_page,
    saw_page,
    side_of,
    tapped,
)
from standlight.programme.queries.work_steps import step_of
from standlight.web.access import director_page
from standlight.web.director.reading import assignment_of
from standlight.web.fields import number_in
from standlight.web.work_fields import answers_in

SAW, EXAMPLE = "saw-", "example-"
"""Names of a musician's fields: this and the musician's number."""


@never_cache
@director_page
@require_http_methods(["GET", "POST"])
def own(request: HttpRequest, assignment: int, step: str) -> HttpResponse:
    """The form of a step for the director; posting keeps it or sends it."""
    row, asked = _asked(request, assignment, step, "own")
    if request.method == "GET":
        return _own_answer(request, row, asked)
    try:
        sheet = sheets.begin(request.user, row, asked.key)
        answers = answers_in(asked, request.POST)
        saved = sheets.save(sheet, {key: _save(sheet, key, one) for key, one in answers.items()})
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
        return redirect("reading-own", assignment=assignment, step=step)
    if saved.refused:
        return _own_answer(request, row, asked, answers, slips=tuple(saved.refused.values()))
    if request.POST.get("act") != "send":
        messages.success(request, "Kept. It is laid over the group's once you send it.")
        return redirect("reading-own", assignment=assignment, step=step)
    try:
        sheets.send(sheet)
    except sheets.NotComplete as slip:
        return _own_answer(request, row, asked, answers, slips=(f"{slip}",), tell=True)
    return redirect("reading-together-step", assignment=assignment, step=step)


@director_page
@require_POST
def own_again(request: HttpRequest, assignment: int, sheet: UUID) -> HttpResponse:
    """Take the own sheet up again."""
    row = assignment_of(request, assignment)
    mine = Sheet.objects.filter(assignment=row, author=request.user, about__isnull=True)
    found = get_object_or_404(mine, key=sheet)
    try:
        sheets.take_up_again(found)
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
    return redirect("reading-own", assignment=assignment, step=found.step)


@never_cache
@director_page
@require_http_methods(["GET", "POST"])
def each(request: HttpRequest, assignment: int, step: str) -> HttpResponse:
    """One musician a line, one question at a time; posting keeps the taps, or shows them too."""
    row, asked = _asked(request, assignment, step, "each")
    if not tapped(asked):
        raise Http404
    prompt = request.GET.get("prompt", "") or request.POST.get("prompt", "")
    page = saw_page(request.user, row, asked, prompt)
    if request.method == "POST":
        _keep_taps(request, row, asked, page.prompt)
        if request.POST.get("act") == "show":
            count = show_seen(request.user, row, asked.key)
            messages.success(request, f"Shown to {count} musician{'s' if count != 1 else ''}.")
        else:
            messages.success(request, "Kept. Musicians see it once you show it.")
        here = reverse("reading-each", args=[assignment, step])
        return redirect(f"{here}?{urlencode({'prompt': page.prompt})}")
    return render(request, "director/reading_each.html", {"here": "desk", "page": page})


def _asked(
    request: HttpRequest, assignment: int, step: str, side: str
) -> tuple[Assignment, Step]:
    """The assignment and its step, or 404 where a director has no such side of it."""
    row = assignment_of(request, assignment)
    if side_of(row, step) != side:
        raise Http404
    try:
        return row, step_of(row, step)
    except StandlightError:
        raise Http404 from None


def _own_answer(
    request: HttpRequest,
    row: Assignment,
    step: Step,
    answers: dict[str, object] | None = None,
    *,
    slips: tuple[str, ...] = (),
    tell: bool = False,
) -> HttpResponse:
    """The page of the own sheet."""
    page = own_page(request.user, row, step, answers, tell=tell)
    context = {"here": "desk", "page": page, "slips": slips}
    return render(request, "director/reading_own.html", context, status=400 if slips else 200)


def _save(sheet: Sheet, key: str, answer: object) -> sheets.Save:
    """A save that knows what it overwrites: a director's own form has one window."""
    return sheets.Save(answer, str(uuid4()), sheet.stamps.get(key, ""))


def _keep_taps(request: HttpRequest, row: Assignment, step: Step, prompt: str) -> None:
    """Keep every line in which something is tapped, or was and is no more."""
    field = next(one for one in tapped(step) if one.key == prompt)
    example = example_of(step, field)
    held = {
        sheet.about_id: sheet
        for sheet in Sheet.objects.filter(
            assignment=row, author=request.user, step=step.key, about__isnull=False,
            sent_at__isnull=True,
        )
    }  # fmt: skip
    there = Musician.objects.visible_to(request.user).filter(
        seats__section__ensemble=row.ensemble_id
    )
    for musician in there.distinct():
        answers = _line(request, musician.pk, field, example)
        before = held[musician.pk].answers if musician.pk in held else {}
        changed = {key: one for key, one in answers.items() if one != (before.get(key) or None)}
        if changed:
            sheet = sheets.begin(request.user, row, step.key, about=musician)
            sheets.save(sheet, {key: _save(sheet, key, one) for key, one in changed.items()})


def _line(
    request: HttpRequest, musician: int, field: Field, example: Field | None
) -> dict[str, object]:
    """What one musician's line says; ``None`` for nothing tapped."""
    found: dict[str, object] = {field.key: TAPPED[field.type](request, f"{SAW}{musician}")}
    if example is not None:
        words = " ".join(request.POST.get(f"{EXAMPLE}{musician}", "").split())
        found[example.key] = words or None
    return found


def _one(request: HttpRequest, name: str) -> object:
    return request.POST.get(name) or None


def _several(request: HttpRequest, name: str) -> object:
    return request.POST.getlist(name) or None


def _step_number(request: HttpRequest, name: str) -> object:
    return number_in(request.POST, name) if request.POST.get(name) else None


TAPPED: dict[str, Callable[[HttpRequest, str], object]] = {
    "choice": _one,
    "levels": _one,
    "several": _several,
    "scale": _step_number,
}
"""Type of question to how a tapped answer is read."""

urlpatterns = [
    path("<int:assignment>/own/<str:step>/", own, name="reading-own"),
    path("<int:assignment>/own/<uuid:sheet>/again/", own_again, name="reading-own-again"),
    path("<int:assignment>/each/<str:step>/", each, name="reading-each"),
]
