"""The Desk's reading side in bulk: side by side, searched, on the wall, on paper."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.http import require_GET

from standlight.kinds import Step
from standlight.programme.models import Assignment, Ensemble
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading import places_of
from standlight.programme.queries.reading_search import search_page
from standlight.programme.queries.reading_sheet import readable
from standlight.programme.queries.reading_together import together_page
from standlight.programme.queries.reading_wall import print_page, wall_page
from standlight.web.access import director_page, seen_or_404
from standlight.web.director.reading import assignment_of
from standlight.web.fields import number_in

LONGEST_QUERY = 200
"""Characters of a search; more is a pasted page, which nobody wrote twice."""


@director_page
@require_GET
def together(request: HttpRequest, assignment: int) -> HttpResponse:
    """The first step of an assignment, side by side."""
    row = assignment_of(request, assignment)
    first = kind_in(row.kind).steps[0]
    return redirect("reading-together-step", assignment=row.pk, step=first.key)


@director_page
@require_GET
def together_step(request: HttpRequest, assignment: int, step: str) -> HttpResponse:
    """All answers to one question of a step."""
    row = assignment_of(request, assignment)
    page = together_page(request.user, row, step_or_404(row, step), request.GET.get("prompt", ""))
    return render(request, "director/reading_together.html", {"here": "desk", "page": page})


@director_page
@require_GET
def to_print(request: HttpRequest, assignment: int, step: str) -> HttpResponse:
    """One step as a list to print, with ticks for sheets and questions."""
    row = assignment_of(request, assignment)
    found = step_or_404(row, step)
    places = places_of(row.ensemble)
    sheets = sorted(
        readable(request.user, row).filter(step=found.key),
        key=lambda sheet: (places.get(sheet.about_id, (len(places), ""))[0], sheet.number),
    )
    chosen = "chosen" in request.GET
    page = print_page(
        row,
        found,
        sheets,
        ticked=set(request.GET.getlist("sheet")) if chosen else None,
        fields=set(request.GET.getlist("field")) if chosen else None,
        names="names" in request.GET if chosen else True,
    )
    return render(request, "director/reading_print.html", {"here": "desk", "page": page})


@director_page
@require_GET
def search(request: HttpRequest) -> HttpResponse:
    """Answers that hold some words, in one assignment, one ensemble or all."""
    assignment = ensemble = None
    if request.GET.get("assignment"):
        assignment = assignment_of(request, number_in(request.GET, "assignment"))
    if request.GET.get("ensemble"):
        ensemble = seen_or_404(Ensemble, request, pk=number_in(request.GET, "ensemble"))
    query = request.GET.get("q", "")[:LONGEST_QUERY]
    page = search_page(request.user, query, ensemble=ensemble, assignment=assignment)
    return render(request, "director/reading_search.html", {"here": "desk", "page": page})


@director_page
@require_GET
def wall(request: HttpRequest, ensemble: int) -> HttpResponse:
    """What a group shares: what waits, and what is on its wall."""
    row = seen_or_404(Ensemble, request, pk=ensemble)
    page = wall_page(request.user, row, number_in(request.GET, "from"))
    return render(request, "director/reading_wall.html", {"here": "desk", "page": page})


def step_or_404(assignment: Assignment, key: str) -> Step:
    """The step of the assignment's kind, as the edition has it, or 404."""
    for step in kind_in(assignment.kind).steps:
        if step.key == key:
            return step
    raise Http404


urlpatterns = [
    path("search/", search, name="reading-search"),
    path("wall/<int:ensemble>/", wall, name="reading-wall"),
    path("<int:assignment>/together/", together, name="reading-together"),
    path("<int:assignment>/together/<str:step>/", together_step, name="reading-together-step"),
    path("<int:assignment>/print/<str:step>/", to_print, name="reading-print"),
]
