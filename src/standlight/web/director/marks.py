"""Marks: a marking period's table, its policy, and a mark on one page."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import marks as acts
from standlight.programme.marking_terms import typed_terms
from standlight.programme.models import Ensemble, MarkingPeriod, Musician, PlayingCheck
from standlight.programme.queries import marks as pages
from standlight.programme.queries.marks_files import marks_csv
from standlight.programme.queries.marks_one import one_mark_page
from standlight.programme.queries.marks_policy import policy_page
from standlight.programme.queries.marks_works import columns_of
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import day_or_none


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
    return _table(request, *_seen(request, ensemble, period))


@director_page
@require_http_methods(["GET", "HEAD", "POST"])
def marks_policy(request: HttpRequest, ensemble: int, period: int) -> HttpResponse:
    """Choose how the period's marks are made."""
    group, span = _seen(request, ensemble, period)
    if request.method != "POST":
        return _policy(request, group, span)
    try:
        columns = [(column.key, column.title) for column in columns_of(group, span)]
        acts.choose_terms(group, span, typed_terms(request.POST.dict(), columns))
    except StandlightError as problem:
        return _policy(request, group, span, typed=request.POST.dict(), slip=str(problem))
    messages.success(request, "The marks below follow the new policy. Nothing is final yet.")
    return redirect("marks-period", ensemble=group.pk, period=span.pk)


@director_page
@require_POST
def close_period(request: HttpRequest, ensemble: int, period: int) -> HttpResponse:
    """Close the period as the director has seen it."""
    group, span = _seen(request, ensemble, period)
    try:
        acts.close_period(
            request.user,
            group,
            span,
            seen=request.POST.get("seen", ""),
            looked=request.POST.get("looked") == "yes",
        )
    except StandlightError as problem:
        return _table(request, group, span, slip=str(problem))
    messages.success(request, f"{span.name} is closed. Every mark is kept with its reason.")
    return redirect("marks-period", ensemble=group.pk, period=span.pk)


@director_page
@require_GET
def marks_file(request: HttpRequest, ensemble: int, period: int) -> HttpResponse:
    """The table as it stands, as one file; nothing is remembered of it."""
    page = pages.period_page(*_seen(request, ensemble, period))
    draft = "" if page.closed_at else " not closed"
    return _download(marks_csv(page), f"marks {page.ensemble} {page.period}{draft}")


@director_page
@require_POST
def marks_export(request: HttpRequest, ensemble: int, period: int) -> HttpResponse:
    """A file of the closed period; what it tells is remembered."""
    group, span = _seen(request, ensemble, period)
    only_new = request.POST.get("rows") == "new"
    try:
        made = acts.export(
            request.user,
            pages.marks_of(group, span),
            request.POST.get("form", ""),
            only_new=only_new,
        )
    except StandlightError as problem:
        return _table(request, group, span, slip=str(problem))
    new = " only new" if only_new else ""
    return _download(made.data, f"{made.name} {group.name} {span.name}{new}")


@director_page
@require_GET
def marks_pages(request: HttpRequest, ensemble: int, period: int) -> HttpResponse:
    """Everybody's mark on a page of its own, to print."""
    found = one_mark_page(*_seen(request, ensemble, period))
    return _one(request, found, is_all=True)


@director_page
@require_GET
def marks_one(request: HttpRequest, ensemble: int, period: int, musician: int) -> HttpResponse:
    """One mark on one page that a parent can follow."""
    return _one(request, one_mark_page(*_seen(request, ensemble, period), musician))


@director_page
@require_POST
def change_mark(request: HttpRequest, ensemble: int, period: int, musician: int) -> HttpResponse:
    """Change a posted mark, with a reason."""
    group, span = _seen(request, ensemble, period)
    person = seen_or_404(
        Musician.objects.filter(seats__section__ensemble=group).distinct(), request, pk=musician
    )
    try:
        acts.change_mark(
            request.user,
            pages.marks_of(group, span),
            person,
            to=request.POST.get("to", ""),
            why=request.POST.get("why", ""),
        )
    except StandlightError as problem:
        found = one_mark_page(group, span, person.pk)
        return _one(request, found, slip=str(problem), typed=request.POST)
    messages.success(request, "The mark is changed, and the change is kept with its reason.")
    return redirect("marks-one", ensemble=group.pk, period=span.pk, musician=person.pk)


@director_page
@require_POST
def add_period(request: HttpRequest) -> HttpResponse:
    """Add a marking period and open it."""
    try:
        row = acts.add_period(
            request.user,
            name=request.POST.get("name", ""),
            starts_on=day_or_none(request.POST.get("starts_on", "")),
            ends_on=day_or_none(request.POST.get("ends_on", "")),
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
        found = one_mark_page(row.ensemble, kept, person.pk)
        return _one(request, found, slip=str(problem))
    return redirect("marks-one", ensemble=row.ensemble_id, period=kept.pk, musician=person.pk)


def _seen(request: HttpRequest, ensemble: int, period: int) -> tuple[Ensemble, MarkingPeriod]:
    return (
        seen_or_404(Ensemble, request, pk=ensemble),
        seen_or_404(MarkingPeriod, request, pk=period),
    )


def _table(
    request: HttpRequest, ensemble: Ensemble, period: MarkingPeriod, *, slip: str = ""
) -> HttpResponse:
    context = {
        "here": "marks",
        "page": pages.period_page(ensemble, period),
        "choice": pages.marks_choice(request.user),
        "in_words": request.GET.get("levels") == "words",
        "slip": slip,
    }
    return render(request, "director/marks.html", context)


def _policy(
    request: HttpRequest,
    ensemble: Ensemble,
    period: MarkingPeriod,
    *,
    typed: dict[str, str] | None = None,
    slip: str = "",
) -> HttpResponse:
    context = {"here": "marks", "page": policy_page(ensemble, period, typed), "slip": slip}
    return render(request, "director/marks_policy.html", context)


def _one(
    request: HttpRequest,
    found: object,
    *,
    is_all: bool = False,
    slip: str = "",
    typed: object = None,
) -> HttpResponse:
    if found is None:
        raise Http404
    context = {"here": "marks", "found": found, "is_all": is_all, "slip": slip, "typed": typed}
    return render(request, "director/marks_one.html", context)


def _begin(request: HttpRequest, *, slip: str = "") -> HttpResponse:
    context = {"here": "marks", "choice": pages.marks_choice(request.user), "slip": slip}
    return render(request, "director/marks_begin.html", context)


def _download(data: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(data, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{slugify(name)}.csv"'
    return answer


urlpatterns = [
    path("", marks, name="marks"),
    path("periods/", add_period, name="marks-add-period"),
    path("<int:ensemble>/<int:period>/", marks_period, name="marks-period"),
    path("<int:ensemble>/<int:period>/policy/", marks_policy, name="marks-policy"),
    path("<int:ensemble>/<int:period>/close/", close_period, name="marks-close"),
    path("<int:ensemble>/<int:period>/marks.csv", marks_file, name="marks-file"),
    path("<int:ensemble>/<int:period>/file/", marks_export, name="marks-export"),
    path("<int:ensemble>/<int:period>/pages/", marks_pages, name="marks-pages"),
    path("<int:ensemble>/<int:period>/<int:musician>/", marks_one, name="marks-one"),
    path("<int:ensemble>/<int:period>/<int:musician>/change/", change_mark, name="marks-change"),
    path("<int:period>/excuse/<int:check>/<int:musician>/", excuse, name="marks-excuse"),
]
