"""Raters: anchor takes with agreed levels, and calibrating one's ear on them."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import calibration as acts
from standlight.programme.models import AnchorTake, Calibration, PlayingCheck, Turn
from standlight.programme.queries import calibration as pages
from standlight.programme.queries.guests import may_be_given
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted

HERE = "raters"
LEVEL_FIELD = "level-"
"""The form's field for a criterion's level is this and the criterion's key."""


@never_cache
@require_GET
@director_page
def anchors(request: HttpRequest, check: int) -> HttpResponse:
    """The anchor takes of a check, and takes to choose more from."""
    row = the_check(request, check)
    context = {"here": HERE, "page": pages.anchors_page(request.user, row)}
    return render(request, "director/calibration_anchors.html", context)


@never_cache
@require_http_methods(["GET", "POST"])
@director_page
def anchor(request: HttpRequest, check: int, turn: int) -> HttpResponse:
    """Agree on the levels of one take, with the reason."""
    row = may_be_given(request.user, the_check(request, check)).filter(pk=turn)
    row = row.select_related("check_row__piece", "musician").first()
    if row is None:
        raise Http404
    slip, typed = "", {}
    if request.method == "POST":
        given = levels_in(request, row.check_row.criteria)
        typed = {**given, "reason": request.POST.get("reason", "")}
        try:
            acts.agree_on(request.user, row, given, typed["reason"])
            return redirect("anchors", check=check)
        except StandlightError as problem:
            slip = f"{problem}."
    page = pages.anchor_page(request.user, row, typed)
    context = {"here": HERE, "page": page, "slip": slip}
    return render(request, "director/calibration_anchor.html", context)


@require_POST
@director_page
def drop(request: HttpRequest, check: int, turn: int) -> HttpResponse:
    """Make an anchor take a plain one again."""
    row = seen_or_404(AnchorTake, request, turn=turn, turn__check_row=check)
    answer = redirect("anchors", check=check)
    return acted(request, lambda: acts.drop_anchor(row), "It is a plain take again.", answer)


@never_cache
@require_http_methods(["GET", "POST"])
@director_page
def begin(request: HttpRequest, check: int) -> HttpResponse:
    """Before a calibration; a press begins it, or goes on."""
    row = the_check(request, check)
    slip = ""
    if request.method == "POST":
        try:
            return onward(acts.begin_calibration(request.user, row))
        except StandlightError as problem:
            slip = f"{problem}."
    page = pages.calibration_begin(request.user, row, acts.MOST_TAKES)
    context = {"here": HERE, "page": page, "slip": slip}
    return render(request, "director/calibration_begin.html", context)


@never_cache
@require_http_methods(["GET", "POST"])
@director_page
def hear(request: HttpRequest, calibration: int, place: int) -> HttpResponse:
    """One anchor take, blind; saved levels lead to the next, the last to how near one was."""
    row = own(request, calibration)
    if not 1 <= place <= len(row.takes):
        raise Http404
    take = row.takes[place - 1]
    if take["given"]:
        return onward(row)
    rows = Turn.objects.select_related("check_row__piece", "musician")
    turn = seen_or_404(rows, request, pk=take["turn"])
    slip, typed = "", {}
    if request.method == "POST":
        typed = levels_in(request, turn.check_row.criteria)
        try:
            return onward(acts.calibrate(row, place, typed))
        except StandlightError as problem:
            slip = f"{problem}."
    page = pages.calibration_hears(row, place, turn, typed)
    context = {"here": HERE, "page": page, "slip": slip}
    return render(request, "director/calibration_hear.html", context)


@never_cache
@require_GET
@director_page
def near(request: HttpRequest, calibration: int) -> HttpResponse:
    """How near one was."""
    row = own(request, calibration)
    if row.done_at is None:
        return onward(row)
    context = {"here": HERE, "page": pages.calibration_page(row)}
    return render(request, "director/calibration_near.html", context)


def the_check(request: HttpRequest, check: int) -> PlayingCheck:
    """The check, for who directs it."""
    return seen_or_404(PlayingCheck.objects.select_related("ensemble"), request, pk=check)


def own(request: HttpRequest, calibration: int) -> Calibration:
    """One's own calibration: nobody hears another's, the lead neither."""
    rows = Calibration.objects.select_related("check_row")
    return seen_or_404(rows, request, pk=calibration, account=request.user)


def levels_in(request: HttpRequest, criteria: list[str]) -> dict[str, str]:
    """The levels that the form brought."""
    given = {key: request.POST.get(LEVEL_FIELD + key, "") for key in criteria}
    return {key: value for key, value in given.items() if value}


def onward(calibration: Calibration) -> HttpResponse:
    """To the next anchor take, or to how near one was."""
    place = pages.next_place(calibration)
    if place is None:
        return redirect("calibration-near", calibration=calibration.pk)
    return redirect("calibration-hear", calibration=calibration.pk, place=place)


urlpatterns = [
    path("anchors/<int:check>/", anchors, name="anchors"),
    path("anchors/<int:check>/<int:turn>/", anchor, name="anchor"),
    path("anchors/<int:check>/<int:turn>/drop/", drop, name="anchor-drop"),
    path("calibration/<int:check>/", begin, name="calibration"),
    path("calibration/of/<int:calibration>/", near, name="calibration-near"),
    path("calibration/of/<int:calibration>/<int:place>/", hear, name="calibration-hear"),
]
