"""Asking the same passage again, from the page of a check."""

from __future__ import annotations

from datetime import date, timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_POST

from standlight.errors import StandlightError
from standlight.programme.actions.checks_again import ask_again
from standlight.programme.models import PlayingCheck
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import day_of

WEEKS_LATER = 6
"""Weeks after the first time that the form offers: far enough apart to show growth, near enough
to stay inside a concert cycle; our choice, no source."""


def offered_day(first_due: date) -> date:
    """The day the form offers for asking again; never one that has passed."""
    later = first_due + timedelta(weeks=WEEKS_LATER)
    return max(later, timezone.localdate() + timedelta(weeks=1))


@require_POST
@director_page
def again(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a draft that asks the same passages again, and open it."""
    check = seen_or_404(PlayingCheck, request, pk=pk)
    try:
        made = ask_again(request.user, check, day_of(request.POST.get("due_on", "")))
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
        return redirect("check", pk)
    messages.success(request, "The same passages, as a draft. Publish it when you like.")
    return redirect("check", made.pk)


urlpatterns = [path("<int:pk>/again/", again, name="check-again")]
