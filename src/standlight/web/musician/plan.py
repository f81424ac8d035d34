"""My part: the musician's plan about an answer."""

from __future__ import annotations

from dataclasses import replace

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from standlight.errors import StandlightError
from standlight.programme.actions.answers import MOST_PLAN_LINES, keep_plan
from standlight.programme.queries.my_part import came_back
from standlight.web.access import musician_page
from standlight.web.musician.my_part import answered_turn
from standlight.web.sign_in import STATION


@never_cache
@require_POST
@musician_page
def plan(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep the plan, up to three lines; what is too long comes back as it was written."""
    turn = answered_turn(request, pk)
    lines = [request.POST.get(f"line{number}", "") for number in range(1, MOST_PLAN_LINES + 1)]
    try:
        kept = keep_plan(turn, lines)
    except StandlightError as error:
        words = str(error)
        context = {
            "page": replace(came_back(request.user, turn), plan=tuple(lines)),
            "slip": f"{words[:1].upper()}{words[1:]}.",
            "station": bool(request.session.get(STATION)),
        }
        return render(request, "musician/came_back.html", context, status=400)
    messages.success(request, "Your plan is kept." if kept else "Your plan is empty now.")
    return redirect("my-answer", pk=pk)


urlpatterns = [path("came-back/<int:pk>/plan/", plan, name="my-plan")]
