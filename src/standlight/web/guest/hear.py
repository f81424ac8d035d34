"""A guest hears the takes of one link under codes and gives levels; nothing else opens."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from standlight.criteria import CRITERIA
from standlight.errors import NotAllowed, StandlightError
from standlight.programme import store
from standlight.programme.actions.guests import guest_rates, link_of, note_opened
from standlight.programme.models import GuestLink
from standlight.programme.queries import guests as pages
from standlight.web.takes import ranged

LEVEL_FIELD = "level-"
"""The form's field for a criterion's level is this and the criterion's key."""

GONE = 410
"""The address was good once and is no more (RFC 9110, 15.5.11)."""

GuestView = Callable[..., HttpResponse]


def guest_view(view: GuestView) -> GuestView:
    """Hand the view the link of its address; a forged one is 404, an ended one a sentence.

    A musician who is signed in has no business with somebody else's takes: 404 for them, too.
    """

    @never_cache
    @wraps(view)
    def guarded(request: HttpRequest, token: str, **more: object) -> HttpResponse:
        link = link_of(token)
        if link is None or getattr(request.user, "is_musician", False):
            raise Http404
        if pages.state_of(link) != pages.OPEN:
            closed = pages.state_of(link) == pages.CLOSED
            answer = render(request, "guest/ended.html", {"closed": closed}, status=GONE)
        else:
            answer = view(request, link, token, **more)
        answer["X-Robots-Tag"] = "noindex"
        return answer

    return guarded


@require_GET
@guest_view
def first(request: HttpRequest, link: GuestLink, token: str) -> HttpResponse:
    """Who asks, until when the link works, and the takes by code."""
    if not request.user.is_authenticated:
        note_opened(link)
    return render(request, "guest/first.html", {"page": pages.guest_page(link), "token": token})


@require_http_methods(["GET", "POST"])
@guest_view
def hear(request: HttpRequest, link: GuestLink, token: str, place: int) -> HttpResponse:
    """One take: its sound, its music, its levels; saved levels lead to the next take."""
    take = pages.guest_take(link, place)
    if take is None:
        return render(request, "guest/gone.html", {"token": token}, status=404)
    slip, typed = "", {}
    if request.method == "POST":
        typed = {
            key: request.POST[LEVEL_FIELD + key]
            for key in pages.asked_of(link)
            if request.POST.get(LEVEL_FIELD + key)
        }
        missing = [CRITERIA[key].name for key in pages.asked_of(link) if key not in typed]
        try:
            # A director who looks at the guest's page is no second ear.
            if request.user.is_authenticated:
                raise NotAllowed("you are signed in, and only the guest gives levels here")
            guest_rates(take, typed)
            if not missing:
                return to_next(link, token)
            slip = f"No level yet: {', '.join(missing)}. What you gave is kept."
        except StandlightError as problem:
            slip = f"{problem}."
    page = pages.guest_hears(link, take, typed)
    return render(request, "guest/hear.html", {"page": page, "token": token, "slip": slip})


@require_GET
@guest_view
def sound(request: HttpRequest, link: GuestLink, token: str, place: int) -> HttpResponse:
    """The sound of one take of the link."""
    take = pages.guest_take(link, place)
    recording = pages.sound_of(take) if take is not None else None
    digest = recording and (recording.playback_digest or recording.digest)
    if not digest:
        raise Http404
    kind = "audio/flac" if recording.playback_digest else recording.media_type or "audio/webm"
    return ranged(request, store.fetch(digest), kind)


def to_next(link: GuestLink, token: str) -> HttpResponse:
    """To the next take without levels; to the list when all are done."""
    place = pages.guest_page(link).next_place
    if place is None:
        return redirect("guest", token=token)
    return redirect("guest-hear", token=token, place=place)


urlpatterns = [
    path("<str:token>/", first, name="guest"),
    path("<str:token>/<int:place>/", hear, name="guest-hear"),
    path("<str:token>/<int:place>/sound", sound, name="guest-sound"),
]
