"""Today: what the next rehearsals need, what waits."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.http import require_GET

from standlight.programme.queries.answers import kept_count
from standlight.programme.queries.today import today_page
from standlight.web.access import director_page


@director_page
@require_GET
def today(request: HttpRequest) -> HttpResponse:
    """One sheet a group, in the order of the day's periods."""
    context = {
        "here": "today",
        "page": today_page(request.user),
        "kept": kept_count(request.user),
    }
    return render(request, "director/today.html", context)


urlpatterns = [path("", today, name="today")]
