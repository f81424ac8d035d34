"""The whole group's picture of a check, beside its list at the Desk."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.http import require_GET

from standlight.programme.models import PlayingCheck
from standlight.programme.queries.group_picture import group_page
from standlight.web.access import director_page, seen_or_404


@director_page
@require_GET
def desk_group(request: HttpRequest, check: int) -> HttpResponse:
    """Which measures and criteria trouble which sections, counted over the rated takes."""
    rows = PlayingCheck.objects.select_related("ensemble", "piece")
    page = group_page(request.user, seen_or_404(rows, request, pk=check))
    return render(request, "director/desk_group.html", {"here": "desk", "page": page})


urlpatterns = [path("<int:check>/group/", desk_group, name="desk-group")]
