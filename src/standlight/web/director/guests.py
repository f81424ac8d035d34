"""Raters: asking a guest to hear some takes of a check, by a link that ends."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions.guests import ask_guest, close_link, token_of
from standlight.programme.models import GuestLink, PlayingCheck
from standlight.programme.queries import guests as pages
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted, number_in, numbers_in

HERE = "raters"
DAYS = (1, 3, 7, 14, 30)
USUAL_DAYS = 7
"""A week holds two evenings and a weekend; our choice."""

ALL, COMMON, TICKED = "all", "common", "ticked"
"""Which takes: every one, the one in eight that every rater hears, or those ticked."""


@never_cache
@require_GET
@director_page
def guests(request: HttpRequest) -> HttpResponse:
    """Links that were made, and checks to ask about."""
    context = {"here": HERE, "page": pages.guests_page(request.user)}
    return render(request, "director/guests.html", context)


@never_cache
@require_http_methods(["GET", "POST"])
@director_page
def ask(request: HttpRequest, check: int) -> HttpResponse:
    """Choose takes, days and how the levels count; then the link is there."""
    row = seen_or_404(PlayingCheck.objects.select_related("ensemble"), request, pk=check)
    takes = pages.givable(request.user, row)
    slip = ""
    if request.method == "POST":
        try:
            link = ask_guest(
                request.user,
                row,
                chosen(request, takes),
                label=request.POST.get("label", ""),
                days=number_in(request.POST, "days"),
                counts_as=request.POST.get("counts_as", ""),
                note=request.POST.get("note", ""),
            )
            return redirect("guest-link", link=link.pk)
        except StandlightError as problem:
            slip = f"{problem}."
    typed = request.POST
    context = {
        "here": HERE,
        "check": row,
        "takes": takes,
        "n_common": sum(take.common for take in takes),
        "ticked": ticked(request),
        "which": typed.get("which", ALL),
        "days": DAYS,
        "usual_days": number_in(typed, "days") or USUAL_DAYS,
        "counts": GuestLink.COUNTS_AS.items(),
        "counts_as": typed.get("counts_as", GuestLink.BESIDE),
        "typed": typed,
        "slip": slip,
    }
    return render(request, "director/guests_ask.html", context)


@never_cache
@require_GET
@director_page
def one(request: HttpRequest, link: int) -> HttpResponse:
    """One link: its address, until when, what came back."""
    rows = GuestLink.objects.select_related("check_row__ensemble")
    row = seen_or_404(rows, request, pk=link)
    address = request.build_absolute_uri(reverse("guest", args=[token_of(row)]))
    context = {"here": HERE, "page": pages.link_page(request.user, row), "address": address}
    return render(request, "director/guests_one.html", context)


@require_POST
@director_page
def close(request: HttpRequest, link: int) -> HttpResponse:
    """End a link now."""
    row = seen_or_404(GuestLink, request, pk=link)
    answer = redirect("guest-link", link=row.pk)
    return acted(request, lambda: close_link(row), "The link is closed.", answer)


def chosen(request: HttpRequest, takes: tuple[pages.GivableTake, ...]) -> set[int]:
    """The turns that the form asks for."""
    which = request.POST.get("which", "")
    if which == ALL:
        return {take.turn_pk for take in takes}
    if which == COMMON:
        return {take.turn_pk for take in takes if take.common}
    return ticked(request)


def ticked(request: HttpRequest) -> set[int]:
    """The turns that are ticked; what is no number is none."""
    return set(numbers_in(request.POST.getlist("turn")))


urlpatterns = [
    path("guests/", guests, name="guests"),
    path("guests/check/<int:check>/", ask, name="guest-ask"),
    path("guests/<int:link>/", one, name="guest-link"),
    path("guests/<int:link>/close/", close, name="guest-close"),
]
