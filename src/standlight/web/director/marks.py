"""Marks: a marking period."""

from __future__ import annotations

import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils.dateparse import parse_date
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import marks as acts
from standlight.programme.models import Ensemble, MarkingPeriod, Musician, PlayingCheck
from standlight.programme.queries import marks as pages
from standlight.web.access import director_page, seen_or_404


@director_page
@require_GET
def marks(request: HttpRequest) -> HttpResponse:
    """The first ensemble's present period, or how to begin."""
    ensemble = Ensemble.objects.visible_to(request.user).first()
    period = pages.present_period(request.user)
    if ensemble is None or period is None:
        return _begin(request)
    return redirect("marks-period", ensemble=ensemble.pk, period=period.pk)


@director_page
@require_GET
def marks_period(request: HttpRequest, ensemble: int, period: int) -> HttpResponse:
    """The table of one ensemble and period."""
    return _table(request, ensemble, period)


@director_page
@require_GET
def marks_file(request: HttpRequest, ensemble: int, period: int) -> HttpResponse:
    """The same as one file for the school's system."""
    page = pages.period_page(
        seen_or_404(Ensemble, request, pk=ensemble), seen_or_404(MarkingPeriod, request, pk=period)
    )
    name = slugify(f"marks {page.ensemble} {page.period}")
    answer = HttpResponse(pages.marks_csv(page), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer


@director_page
@require_POST
def add_period(request: HttpRequest) -> HttpResponse:
    """Add a marking period and open it."""
    try:
        row = acts.add_period(
            request.user,
            name=request.POST.get("name", ""),
            starts_on=_day(request.POST.get("starts_on", "")),
            ends_on=_day(request.POST.get("ends_on", "")),
        )
    except StandlightError as problem:
        return _begin(request, slip=str(problem))
    ensemble = Ensemble.objects.visible_to(request.user).first()
    if ensemble is None:
        return redirect("marks")
    return redirect("marks-period", ensemble=ensemble.pk, period=row.pk)


@director_page
@require_POST
def excuse(request: HttpRequest, period: int, check: int, musician: int) -> HttpResponse:
    """Excuse a musician from a check, or ask again."""
    row = seen_or_404(PlayingCheck, request, pk=check)
    person = seen_or_404(
        Musician.objects.filter(seats__section__ensemble=row.ensemble_id).distinct(),
        request,
        pk=musician,
    )
    kept = seen_or_404(MarkingPeriod, request, pk=period)
    try:
        acts.excuse(row, person, request.POST.get("excused") == "yes")
    except StandlightError as problem:
        return _table(request, row.ensemble_id, kept.pk, slip=str(problem))
    return redirect("marks-period", ensemble=row.ensemble_id, period=kept.pk)


def _table(request: HttpRequest, ensemble: int, period: int, *, slip: str = "") -> HttpResponse:
    page = pages.period_page(
        seen_or_404(Ensemble, request, pk=ensemble), seen_or_404(MarkingPeriod, request, pk=period)
    )
    context = {
        "here": "marks",
        "page": page,
        "choice": pages.marks_choice(request.user),
        "in_words": request.GET.get("levels") == "words",
        "slip": slip,
    }
    return render(request, "director/marks.html", context)


def _begin(request: HttpRequest, *, slip: str = "") -> HttpResponse:
    context = {"here": "marks", "choice": pages.marks_choice(request.user), "slip": slip}
    return render(request, "director/marks_begin.html", context)


def _day(text: str) -> datetime.date | None:
    """A day from a date field; ``None`` when it is empty or no date."""
    try:
        return parse_date(text)
    except ValueError:
        return None


urlpatterns = [
    path("", marks, name="marks"),
    path("periods/", add_period, name="marks-add-period"),
    path("<int:ensemble>/<int:period>/", marks_period, name="marks-period"),
    path("<int:ensemble>/<int:period>/marks.csv", marks_file, name="marks-file"),
    path("<int:period>/excuse/<int:check>/<int:musician>/", excuse, name="marks-excuse"),
]
