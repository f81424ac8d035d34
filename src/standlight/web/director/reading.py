"""The Desk's reading side: stacks of writing, one sheet at a time, levels and two-line replies."""

from __future__ import annotations

from dataclasses import replace
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import desk as desk_acts
from standlight.programme.actions import replies as acts
from standlight.programme.models import Assignment, CommentLine, Sheet
from standlight.programme.queries import reading as stacks
from standlight.programme.queries import reading_list
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading_sheet import (
    LINE_OF,
    bank_place,
    own_levels,
    readable,
    reading_page,
)
from standlight.programme.queries.reading_values import ReplyDraft
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import number_in

LEVEL_FIELD = "level-"
"""The form's field for a row's level is this and the row's key."""


@director_page
@require_GET
def reading(request: HttpRequest) -> HttpResponse:
    """Every stack of writing, the one whose oldest unread sheet waits longest first."""
    context = {"here": "desk", "page": stacks.stacks_page(request.user)}
    return render(request, "director/reading_stacks.html", context)


@director_page
@require_GET
def stack(request: HttpRequest, assignment: int) -> HttpResponse:
    """The oldest unread sheet of a stack; its list when everything is opened."""
    row = assignment_of(request, assignment)
    first = stacks.first_unread(stacks.order_of(request.user, row))
    if first is None:
        return redirect("reading-all", assignment=row.pk)
    return redirect("reading-sheet", assignment=row.pk, sheet=first)


@director_page
@require_GET
def everyone(request: HttpRequest, assignment: int) -> HttpResponse:
    """A stack as a list by section."""
    page = reading_list.list_page(request.user, assignment_of(request, assignment))
    return render(request, "director/reading_list.html", {"here": "desk", "page": page})


@director_page
@require_http_methods(["GET", "POST"])
def sheet(request: HttpRequest, assignment: int, sheet: UUID) -> HttpResponse:
    """One sheet to read; posted, the levels and the reply are kept and the next one comes."""
    row = _sheet(request, assignment, sheet)
    if request.method == "POST":
        return _answered(request, row)
    acts.open_sheet(request.user, row)
    return _shown(request, row)


@director_page
@require_POST
def levels(request: HttpRequest, assignment: int, sheet: UUID) -> HttpResponse:
    """Keep the levels given so far, for whoever leaves the page in the middle."""
    _give_levels(request, _sheet(request, assignment, sheet))
    return HttpResponse(status=204)


@director_page
@require_POST
def wall(request: HttpRequest, assignment: int, sheet: UUID) -> HttpResponse:
    """Put a shared sheet on the group's wall, or take it off."""
    row = _sheet(request, assignment, sheet)
    try:
        if request.POST.get("on") == "yes":
            acts.put_on_wall(request.user, row)
        else:
            acts.take_off_wall(request.user, row)
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
    if request.POST.get("back") == "wall":
        return redirect("reading-wall", ensemble=row.assignment.ensemble_id)
    return redirect("reading-sheet", assignment=assignment, sheet=sheet)


@director_page
@require_http_methods(["GET", "POST"])
def lines(request: HttpRequest) -> HttpResponse:
    """Lines of the comment bank for replies, each to take out."""
    if request.method == "POST":
        rows = reading_list.reply_lines(request.user)
        desk_acts.drop_line(seen_or_404(rows, request, pk=number_in(request.POST, "drop")))
        return redirect("reading-lines")
    context = {"here": "desk", "kinds": reading_list.bank_of(request.user)}
    return render(request, "director/reading_lines.html", context)


def assignment_of(request: HttpRequest, pk: int) -> Assignment:
    """The assignment that this person may see, or 404."""
    rows = Assignment.objects.select_related("kind", "piece", "ensemble")
    return seen_or_404(rows, request, pk=pk)


def _sheet(request: HttpRequest, assignment: int, key: UUID) -> Sheet:
    """A sent sheet of this assignment, or 404; a draft is not told either."""
    row = assignment_of(request, assignment)
    return get_object_or_404(readable(request.user, row), key=key)


def _shown(
    request: HttpRequest, row: Sheet, *, draft: ReplyDraft | None = None, slip: str = ""
) -> HttpResponse:
    """The page of one sheet."""
    page = reading_page(request.user, row, draft)
    return render(
        request, "director/reading_sheet.html", {"here": "desk", "page": page, "slip": slip}
    )


def _answered(request: HttpRequest, row: Sheet) -> HttpResponse:
    """Keep what the form holds and go on; a bank line's button only fills its line."""
    draft = ReplyDraft(request.POST.get("words", ""), request.POST.get("next_step", ""))
    if "use" in request.POST:
        return _shown(request, row, draft=_with_line(request, draft))
    order = stacks.order_of(request.user, row.assignment)
    _, following = stacks.neighbours(order, row.key)
    try:
        given = _give_levels(request, row)
        if draft.words.strip() or draft.next_step.strip() or not given:
            acts.reply(request.user, row, draft.words, draft.next_step)
            _keep_in_bank(request, row, draft)
    except StandlightError as slip:
        return _shown(request, row, draft=draft, slip=f"{slip}.")
    if following is None:
        return redirect("reading-all", assignment=row.assignment_id)
    return redirect("reading-sheet", assignment=row.assignment_id, sheet=following)


def _give_levels(request: HttpRequest, row: Sheet) -> bool:
    """Keep every level that the form holds; True when there was one."""
    given = {
        key: request.POST[LEVEL_FIELD + key]
        for key in (one.key for one in stacks.rubric_of(kind_in(row.assignment.kind), row.step))
        if request.POST.get(LEVEL_FIELD + key)
    }
    for key, value in given.items():
        acts.give_level(request.user, row, key, value)
    return bool(given)


def _with_line(request: HttpRequest, draft: ReplyDraft) -> ReplyDraft:
    """The draft with the chosen bank line in its place."""
    rows = CommentLine.objects.visible_to(request.user).filter(place__in=LINE_OF)
    chosen = get_object_or_404(rows, pk=number_in(request.POST, "use"))
    return replace(draft, **{LINE_OF[chosen.place]: chosen.text})


def _keep_in_bank(request: HttpRequest, row: Sheet, draft: ReplyDraft) -> None:
    """Add the lines to the bank, for the levels given or for this kind, when the box is ticked."""
    given = own_levels(request.user, row)
    for place, name in LINE_OF.items():
        text = getattr(draft, name)
        if request.POST.get("keep") and text.strip():
            key, level = bank_place(place, given)
            acts.keep_reply_line(
                request.user, kind_in(row.assignment.kind), place, text, row=key, level=level
            )


_SHEET = "<int:assignment>/<uuid:sheet>/"

urlpatterns = [
    path("", reading, name="reading"),
    path("lines/", lines, name="reading-lines"),
    path("<int:assignment>/", stack, name="reading-stack"),
    path("<int:assignment>/all/", everyone, name="reading-all"),
    path(_SHEET, sheet, name="reading-sheet"),
    path(_SHEET + "levels/", levels, name="reading-levels"),
    path(_SHEET + "wall/", wall, name="reading-sheet-wall"),
]
