"""Checks: which of several tries counts, and until when a new one may come."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.views.decorators.http import require_POST

from standlight.programme.actions.tries import say_which_try
from standlight.programme.models import PlayingCheck
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted, day_of


@require_POST
@director_page
def tries(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep the rule for tries; the check's page says what it is now, or what is wrong."""
    row = seen_or_404(PlayingCheck, request, pk=pk)

    def keep() -> None:
        until = request.POST.get("tries_until", "").strip()
        counts = request.POST.get("try_counts", "")
        say_which_try(request.user, row, counts, day_of(until) if until else None)

    answer = redirect("check", row.pk)
    return acted(request, keep, "Saved. The musicians read it beside their answers.", answer)


urlpatterns = [path("<int:pk>/tries/", tries, name="check-tries")]
