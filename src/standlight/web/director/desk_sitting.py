"""Desk: in which order takes are heard, with names or codes; a rest; where a take begins."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import sitting as acts
from standlight.programme.models import DeskSitting, PlayingCheck, Take
from standlight.programme.queries.desk_sitting import order_page
from standlight.web.access import director_page, seen_or_404


@director_page
@require_http_methods(["GET", "POST"])
def order(request: HttpRequest, check: int) -> HttpResponse:
    """Choose the order of a check's takes and names or codes, then hear the next."""
    row = seen_or_404(PlayingCheck.objects.select_related("ensemble"), request, pk=check)
    slip = ""
    if request.method == "POST":
        try:
            acts.choose_order(
                request.user,
                row,
                order=request.POST.get("order", ""),
                blind=request.POST.get("names") == "codes",
            )
            return redirect("desk-check", check=row.pk)
        except StandlightError as problem:
            slip = str(problem)
    context = {"here": "desk", "page": order_page(request.user, row), "slip": slip}
    return render(request, "director/desk_order.html", context)


@director_page
@require_POST
def rested(request: HttpRequest, check: int) -> HttpResponse:
    """Put the break prompt aside."""
    row = seen_or_404(DeskSitting, request, account=request.user, check_row=check)
    acts.go_on_rested(row)
    return redirect("desk-check", check=check)


@director_page
@require_POST
def take_start(request: HttpRequest, key: str) -> HttpResponse:
    """Keep where a take's sound begins; then back to its turn."""
    take = seen_or_404(Take.objects.select_related("turn"), request, key=key)
    try:
        acts.start_take_at(request.user, take, float(request.POST.get("seconds", "")))
    except ValueError:
        pass  # No number: nothing to keep, and the start stays where it was.
    except StandlightError:
        return HttpResponse("The take is shorter than that.", status=422)
    return redirect("desk-turn", check=take.turn.check_row_id, turn=take.turn_id)


urlpatterns = [
    path("<int:check>/order/", order, name="desk-order"),
    path("<int:check>/rested/", rested, name="desk-rested"),
    path("start/<uuid:key>/", take_start, name="take-start"),
]
