"""Raters: what the levels say, how steady an ear is, how alike two people rate."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from standlight.programme.queries.calibration import ears_part
from standlight.programme.queries.raters import raters_page
from standlight.programme.queries.raters_tasks import tasks_page
from standlight.programme.queries.raters_twice import twice_page
from standlight.web.access import director_page
from standlight.web.fields import number_in

HERE = "raters"


@never_cache
@require_GET
@director_page
def raters(request: HttpRequest) -> HttpResponse:
    """What the levels say and cannot say, own steadiness, and how alike two people rate."""
    ears = ears_part(request.user)
    context = {"here": HERE, "page": raters_page(request.user), "ears": ears}
    return render(request, "director/raters.html", context)


@never_cache
@require_GET
@director_page
def tasks(request: HttpRequest) -> HttpResponse:
    """What each task told us."""
    context = {"here": HERE, "page": tasks_page(request.user)}
    return render(request, "director/raters_tasks.html", context)


@never_cache
@require_GET
@director_page
def twice(request: HttpRequest) -> HttpResponse:
    """Which takes a second person should hear in so many minutes; 404 where there is none."""
    minutes = number_in(request.GET, "minutes") if request.GET.get("minutes") else None
    page = twice_page(request.user, minutes)
    if page is None:
        raise Http404
    return render(request, "director/raters_twice.html", {"here": HERE, "page": page})


urlpatterns = [
    path("", raters, name="raters"),
    path("tasks/", tasks, name="raters-tasks"),
    path("twice/", twice, name="raters-twice"),
]
