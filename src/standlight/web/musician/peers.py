"""Hear each other: a musician says yes or no, hears takes of others, reads what was passed on."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
    require_safe,
)

from standlight.errors import StandlightError
from standlight.programme import store
from standlight.programme.actions import peers as acts
from standlight.programme.models import PeerHearing, PeerRound
from standlight.programme.queries import peers_mine as pages
from standlight.programme.queries.reading_wall import may_see_wall
from standlight.web.access import musician_page, seen_or_404
from standlight.web.fields import acted, index_in
from standlight.web.sign_in import STATION
from standlight.web.takes import ranged

LEVEL_FIELD = "level-"
"""The form's field for a criterion's level is this and the criterion's key."""

CONSENT_SAID = {True: "Thank you. Your answer is kept.", False: "Your answer is kept."}


@never_cache
@require_safe
@musician_page
def first(request: HttpRequest, pk: int) -> HttpResponse:
    """The question, the takes to hear, what was passed on, and how it was heard."""
    row = _round(request, pk)
    musician = pages.musician_of(request.user)
    page = pages.my_hear_page(musician, row)
    acts.note_read(musician, row)
    return render(request, "musician/peers.html", {"page": page, "station": _at_station(request)})


@require_POST
@musician_page
def consent(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep a yes or a no."""
    row = _round(request, pk)
    yes = request.POST.get("may_hear") == "yes"
    terms = request.POST.get("terms", "")
    musician = pages.musician_of(request.user)

    def keep() -> None:
        acts.say_consent(musician, row, yes=yes, terms=terms)

    return acted(request, keep, CONSENT_SAID[yes], redirect("my-hear", pk))


@require_POST
@musician_page
def following(request: HttpRequest, pk: int) -> HttpResponse:
    """Hand out the next take to hear."""
    row = _round(request, pk)
    try:
        hearing = acts.hand_next(pages.musician_of(request.user), row)
    except StandlightError as slip:
        messages.error(request, _sentence(slip))
        return redirect("my-hear", pk)
    return redirect("my-hear-take", pk, hearing.place)


@never_cache
@require_http_methods(["GET", "POST"])
@musician_page
def hear(request: HttpRequest, pk: int, place: int) -> HttpResponse:
    """One take: its sound, its music, the levels, what went well and where."""
    hearing = _hearing(request, pk, place)
    if hearing is None:
        return render(request, "musician/peers_gone.html", {"pk": pk}, status=404)
    slip, typed, stamp = "", None, ""
    if request.method == "POST":
        typed = request.POST
        try:
            acts.send_hearing(hearing, _said(request, hearing), request.POST.get("seen", ""))
            messages.success(request, "Sent. Your director reads it first.")
            return redirect("my-hear", pk)
        except acts.SentMeanwhile as meanwhile:
            slip, stamp = _sentence(meanwhile), meanwhile.stamp
        except StandlightError as problem:
            slip, stamp = _sentence(problem), request.POST.get("seen", "")
    page = pages.my_hearing(hearing, typed)
    context = {
        "page": page,
        "slip": slip,
        "stamp": stamp if slip else page.stamp,
        "station": _at_station(request),
    }
    return render(request, "musician/peers_hear.html", context, status=400 if slip else 200)


@require_GET
@musician_page
def sound(request: HttpRequest, pk: int, place: int) -> HttpResponse:
    """The sound of a take that was handed out, and of no other."""
    hearing = _hearing(request, pk, place)
    take = pages.sound_of(hearing) if hearing is not None else None
    digest = take and (take.playback_digest or take.digest)
    if not digest:
        raise Http404
    acts.note_heard(hearing)
    kind = "audio/flac" if take.playback_digest else take.media_type or "audio/webm"
    reply = ranged(request, store.fetch(digest), kind)
    # Its owner may take it back: no browser keeps it.
    reply["Cache-Control"] = "private, no-store"
    return reply


def _round(request: HttpRequest, pk: int) -> PeerRound:
    """The round of a check in a group that the musician sits in today; 404 for any other."""
    rows = PeerRound.objects.select_related("check_row__piece", "check_row__ensemble__programme")
    row = seen_or_404(rows, request, check_row=pk)
    if not may_see_wall(request.user, row.check_row.ensemble):
        raise Http404
    return row


def _hearing(request: HttpRequest, pk: int, place: int) -> PeerHearing | None:
    """The musician's own hearing of that number; ``None`` where the take is gone altogether."""
    row = _round(request, pk)
    rows = PeerHearing.objects.visible_to(request.user).select_related(
        "round__check_row__ensemble", "turn__check_row__piece", "turn__check_row__ensemble",
        "turn__musician", "listener__programme",
    )  # fmt: skip
    return rows.filter(round=row, place=place).first()


def _said(request: HttpRequest, hearing: PeerHearing) -> acts.PeerSaid:
    """What the form holds."""
    levels = {key: request.POST.get(LEVEL_FIELD + key, "") for key in hearing.round.criteria}
    return acts.PeerSaid(
        levels={key: value for key, value in levels.items() if value},
        well=request.POST.get("well", ""),
        first_measure=index_in(request, "first"),
        last_measure=index_in(request, "last"),
        printed=request.POST.get("printed", ""),
        to_try=request.POST.get("to_try", ""),
    )


def _at_station(request: HttpRequest) -> bool:
    """True when this browser is a shared station."""
    return bool(request.session.get(STATION))


def _sentence(error: StandlightError) -> str:
    """The error as a sentence that begins with a capital and ends with a full stop."""
    words = str(error)
    return f"{words[:1].upper()}{words[1:]}."


urlpatterns = [
    path("hear/<int:pk>/", first, name="my-hear"),
    path("hear/<int:pk>/consent/", consent, name="my-hear-consent"),
    path("hear/<int:pk>/next/", following, name="my-hear-next"),
    path("hear/<int:pk>/<int:place>/", hear, name="my-hear-take"),
    path("hear/<int:pk>/<int:place>/sound", sound, name="my-hear-sound"),
]
