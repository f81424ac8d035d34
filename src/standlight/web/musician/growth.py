"""A musician's own growth: own levels over time, and the own view beside the director's."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from standlight.programme.queries.musician_growth import my_growth
from standlight.web.access import musician_page
from standlight.web.sign_in import STATION


@never_cache
@require_safe
@musician_page
def growth(request: HttpRequest) -> HttpResponse:
    """Nothing of other people and nothing of who rates how stands on it."""
    context = {
        "growth": my_growth(request.user),
        "station": bool(request.session.get(STATION)),
    }
    return render(request, "musician/growth.html", context)


urlpatterns = [path("", growth, name="my-growth")]
