"""My part: the groups that a director has shared."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from standlight.programme.queries.groups_mine import my_groups
from standlight.web.access import musician_page
from standlight.web.sign_in import STATION


@never_cache
@require_safe
@musician_page
def groups(request: HttpRequest) -> HttpResponse:
    """Names of those I sit with and what I do; never why."""
    context = {
        "groups": my_groups(request.user),
        "station": bool(request.session.get(STATION)),
    }
    return render(request, "musician/groups.html", context)


urlpatterns = [path("", groups, name="my-groups")]
