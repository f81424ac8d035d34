"""What every figure about raters, growth and tasks means: one page for whoever is signed in."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.http import require_GET

from standlight.ratings import FIGURES


@require_GET
@login_required
def figures(request: HttpRequest) -> HttpResponse:
    """All figures in the order of their table."""
    return render(request, "figures.html", {"figures": tuple(FIGURES.values())})


urlpatterns = [path("", figures, name="figures")]
