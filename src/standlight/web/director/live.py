"""Live at the stand: levels without a recording."""

from __future__ import annotations

import random

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.views.decorators.http import require_http_methods

from standlight.errors import StandlightError
from standlight.programme.actions.live import MOST_AT_ONCE, HeardAtStand, hear_live
from standlight.programme.models import Musician, PlayingCheck
from standlight.programme.queries import live as pages
from standlight.web.access import director_page, seen_or_404


@director_page
@require_http_methods(["GET", "POST"])
def live(request: HttpRequest, check: int) -> HttpResponse:
    """The form for the chosen musicians; a posted one is kept and the next group is shown."""
    row = seen_or_404(PlayingCheck.objects.select_related("ensemble", "piece"), request, pk=check)
    asked = request.POST if request.method == "POST" else request.GET
    section, size = _number(asked.get("section")), _number(asked.get("size")) or 1
    if request.method == "POST":
        return _kept(request, row, section, size)
    if "draw" in request.GET:
        who = pages.draw_of(row, size=size, chance=random.SystemRandom())
        return _to(row, section, size, who)
    who = [number for text in request.GET.get("who", "").split(",") if (number := _number(text))]
    if not who:
        who = pages.group_of(row, section=section, size=size)
    return _shown(request, row, who, section, size)


def _kept(
    request: HttpRequest, check: PlayingCheck, section: int | None, size: int
) -> HttpResponse:
    """Keep the posted levels, all or none, then go to the next group."""
    who = [number for text in request.POST.getlist("musician") if (number := _number(text))]
    people = Musician.objects.visible_to(request.user).filter(
        seats__section__ensemble=check.ensemble, pk__in=who
    )
    known = {person.pk: person for person in people.distinct()}
    heard = [
        HeardAtStand(
            musician=known[pk],
            attempt=_number(request.POST.get(f"attempt-{pk}")) or 1,
            levels={
                key: given
                for key in check.criteria
                if (given := request.POST.get(pages.level_field(pk, key)))
            },
            next_step=request.POST.get(pages.next_field(pk), ""),
        )
        for pk in who
        if pk in known
    ]
    try:
        turns = hear_live(request.user, check, heard)
    except StandlightError as problem:
        return _shown(request, check, who, section, size, slip=str(problem))
    names = ", ".join(turn.musician.name for turn in turns)
    messages.success(request, f"Kept: {names}." if names else "No level was given; nothing kept.")
    return _to(check, section, size, () if names else who)


def _shown(
    request: HttpRequest,
    check: PlayingCheck,
    who: list[int],
    section: int | None,
    size: int,
    *,
    slip: str = "",
) -> HttpResponse:
    """The form for ``who``; what was tapped comes back when there was a slip."""
    context = {
        "here": "desk",
        "page": pages.live_page(check, who, request.POST.dict()),
        "section": section,
        "size": size,
        "sizes": range(1, MOST_AT_ONCE + 1),
        "slip": slip,
    }
    return render(request, "director/live.html", context)


def _to(
    check: PlayingCheck, section: int | None, size: int, who: list[int] | tuple[int, ...]
) -> HttpResponse:
    """To the form of this group, by address, so that a reload shows the same people."""
    asked = f"?size={size}" + (f"&section={section}" if section else "")
    if who:
        asked += "&who=" + ",".join(str(pk) for pk in who)
    return HttpResponseRedirect(reverse("live-check", args=[check.pk]) + asked)


def _number(text: str | None) -> int | None:
    """A whole number from a form, ``None`` for anything else."""
    return int(text) if text and text.isdigit() and len(text) < 10 else None


urlpatterns = [path("<int:check>/", live, name="live-check")]
