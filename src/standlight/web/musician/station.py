"""Station: one shared computer, card after card.

A director opens the page while signed in, marks the browser and is signed out. From then on
each musician signs in with a card, records, sends, and is signed out by sending.
"""

from __future__ import annotations

from django.contrib.auth import logout
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from standlight.web.access import director_page
from standlight.web.sign_in import STATION, CardForm


@never_cache
@require_safe
def station(request: HttpRequest) -> HttpResponse:
    """The card page of a station; for a director the button that makes or ends one."""
    marked = bool(request.session.get(STATION))
    account = request.user
    if account.is_authenticated and account.is_director:
        return render(request, "musician/station_set_up.html", {"marked": marked})
    if not marked:
        if account.is_authenticated:
            raise Http404
        return redirect("sign-in")
    if account.is_authenticated:
        return redirect("my-part")
    context = {"form": CardForm(request), "next": reverse("my-part"), "thanks": False}
    return render(request, "musician/station.html", context)


@never_cache
@require_POST
@director_page
def begin(request: HttpRequest) -> HttpResponse:
    """Make this browser a station and sign the director out."""
    logout(request)
    request.session[STATION] = True
    return redirect("station")


@never_cache
@require_POST
@director_page
def end(request: HttpRequest) -> HttpResponse:
    """Make a station an ordinary browser again; the director stays signed in."""
    request.session.pop(STATION, None)
    return redirect("station")


@never_cache
@require_http_methods(["GET", "POST"])
def thanks(request: HttpRequest) -> HttpResponse:
    """After sending: sign the musician out and show the card page again, with thanks."""
    if not request.session.get(STATION):
        raise Http404
    if request.user.is_authenticated:
        if not request.user.is_musician:
            raise Http404
        logout(request)
        request.session[STATION] = True
    context = {"form": CardForm(request), "next": reverse("my-part"), "thanks": True}
    return render(request, "musician/station.html", context)


urlpatterns = [
    path("", station, name="station"),
    path("begin/", begin, name="station-begin"),
    path("end/", end, name="station-end"),
    path("thanks/", thanks, name="station-thanks"),
]
