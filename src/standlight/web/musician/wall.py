"""The wall of a musician's group: what its members share and a director has put up."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from standlight.programme.models import Ensemble
from standlight.programme.queries.reading_wall import may_see_wall, wall_of
from standlight.web.access import musician_page, seen_or_404
from standlight.web.sign_in import STATION


@never_cache
@require_safe
@musician_page
def wall(request: HttpRequest, ensemble: int) -> HttpResponse:
    """The wall of an ensemble that the musician sits in today; 404 for any other."""
    row = seen_or_404(Ensemble, request, pk=ensemble)
    if not may_see_wall(request.user, row):
        raise Http404
    context = {
        "ensemble": row.name,
        "wall": wall_of(row),
        "station": bool(request.session.get(STATION)),
    }
    return render(request, "musician/wall.html", context)


urlpatterns = [path("<int:ensemble>/", wall, name="my-wall")]
