"""Checks: the musicians of a group hear each other; what they write is read here first."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from standlight.programme.actions import peers as acts
from standlight.programme.models import PeerRound, PlayingCheck
from standlight.programme.queries.peers_page import peers_page
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted, day_of, number_in, numbers_in

HERE = "folder"

CHANGED = "the others were changed, decided, read or removed since you opened this page."
"""Why some lines that stood on the page could not be decided."""

NOTHING_DONE = "Not done: it was changed, decided, read or removed since you opened this page."
"""The same where none could."""


@never_cache
@require_GET
@director_page
def page(request: HttpRequest, pk: int) -> HttpResponse:
    """Where hearing each other stands for one check."""
    rows = PlayingCheck.objects.select_related("ensemble", "piece")
    check = seen_or_404(rows, request, pk=pk)
    context = {"here": HERE, "page": peers_page(request.user, check)}
    return render(request, "director/peers.html", context)


@require_POST
@director_page
def ask(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask the musicians, or keep what was changed."""
    check = seen_or_404(PlayingCheck.objects.select_related("ensemble"), request, pk=pk)

    def keep() -> None:
        acts.ask_group(
            request.user,
            check,
            acts.RoundTerms(
                tuple(request.POST.getlist("criterion")),
                number_in(request.POST, "takes_each"),
                day_of(request.POST.get("until", "").strip()),
                request.POST.get("shows_levels") == "yes",
            ),
        )

    asked = not PeerRound.objects.filter(check_row=check).exists()
    said = "The musicians are asked on their own page now." if asked else "Saved."
    return acted(request, keep, said, redirect("peers", check.pk))


@require_POST
@director_page
def open_now(request: HttpRequest, pk: int) -> HttpResponse:
    """Let those who said yes hear each other."""
    said = "It is open. Their page shows the takes."
    return _act(request, pk, lambda row: acts.open_round(request.user, row), said)


@require_POST
@director_page
def close(request: HttpRequest, pk: int) -> HttpResponse:
    """End it now."""
    said = "It has ended. What was sent stays."
    return _act(request, pk, lambda row: acts.close_round(request.user, row), said)


@require_POST
@director_page
def go_on(request: HttpRequest, pk: int) -> HttpResponse:
    """Open it again until another day."""

    def keep(row: PeerRound) -> None:
        acts.open_again(request.user, row, day_of(request.POST.get("until", "").strip()))

    return _act(request, pk, keep, "It is open again.")


@require_POST
@director_page
def drop(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask nobody any more."""
    said = "Nobody is asked any more, and every answer is forgotten."
    return _act(request, pk, lambda row: acts.drop_round(request.user, row), said)


@require_POST
@director_page
def lines(request: HttpRequest, pk: int) -> HttpResponse:
    """Pass lines on, or keep them back: one, or all that stood on the page."""
    chosen = numbers_in(request.POST.getlist("line"))
    passed = request.POST.get("to") == "owner"
    row = seen_or_404(
        PeerRound.objects.select_related("check_row__ensemble"), request, check_row=pk
    )
    waiting = request.POST.get("undecided") == "yes"
    done = acts.decide(request.user, row, chosen, passed=passed, undecided=waiting)
    if chosen and not done:
        messages.error(request, NOTHING_DONE)
    elif done < len(chosen):
        messages.error(request, f"{done} of {len(chosen)} done: {CHANGED}")
    elif done:
        messages.success(request, "Passed on, without a name." if passed else "Kept back.")
    return redirect("peers", pk)


def _act(
    request: HttpRequest, pk: int, act: Callable[[PeerRound], object], said: str
) -> HttpResponse:
    """Do something to the round of a check; its page says what was done, or why not."""
    row = seen_or_404(
        PeerRound.objects.select_related("check_row__ensemble"), request, check_row=pk
    )
    return acted(request, lambda: act(row), said, redirect("peers", pk))


urlpatterns = [
    path("<int:pk>/hear/", page, name="peers"),
    path("<int:pk>/hear/ask/", ask, name="peers-ask"),
    path("<int:pk>/hear/open/", open_now, name="peers-open"),
    path("<int:pk>/hear/close/", close, name="peers-close"),
    path("<int:pk>/hear/again/", go_on, name="peers-again"),
    path("<int:pk>/hear/drop/", drop, name="peers-drop"),
    path("<int:pk>/hear/lines/", lines, name="peers-lines"),
]
