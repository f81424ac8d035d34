"""My part: what is due, the recorder, what came back."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from standlight.errors import StandlightError
from standlight.programme import notation
from standlight.programme.actions import takes
from standlight.programme.actions.answers import open_answer
from standlight.programme.actions.terms import begin_here
from standlight.programme.models import Musician, PlayingCheck, Take, Turn
from standlight.programme.queries.my_check import check_page, notation_of
from standlight.programme.queries.my_part import came_back, my_part
from standlight.programme.queries.terms import terms_page
from standlight.web.access import musician_page, seen_or_404
from standlight.web.musician.permits import Permit
from standlight.web.musician.upload import read_spot
from standlight.web.sign_in import STATION
from standlight.web.worker_scripts import worker_script

WIDTHS_MM = {"wide": notation.WIDE_MM, "phone": notation.PHONE_MM}
"""Widths the music is drawn in, by the word in its address."""

KEEP_OFFLINE = "Keep-Offline"
"""Answer header: the device may keep this page for a moment without network."""


@never_cache
@require_safe
@musician_page
def first_page(request: HttpRequest) -> HttpResponse:
    """The next thing, what came back, the rest of the year."""
    context = {"page": my_part(request.user), "station": _at_station(request)}
    return _keepable(request, render(request, "musician/my_part.html", context))


@never_cache
@require_safe
@musician_page
def one_check(request: HttpRequest, pk: int) -> HttpResponse:
    """One check: the music, the recorder, the takes, sending."""
    check = seen_or_404(PlayingCheck, request, pk=pk)
    begin_here(_musician(request), check)
    return _check_answer(request, check)


@never_cache
@require_POST
@musician_page
def file_take(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep a recording that comes as one file."""
    check = seen_or_404(PlayingCheck, request, pk=pk)
    musician = _musician(request)
    brought = request.FILES.get("take")
    if not isinstance(brought, UploadedFile):
        return _check_answer(request, check, slip="Choose a file first, then press Keep this file.")
    if (brought.size or 0) > takes.LARGEST_FILE_BYTES:
        return _check_answer(
            request,
            check,
            slip="This file is too large. Record only the sound, or a shorter video.",
        )
    try:
        takes.keep_file(
            musician,
            check,
            brought.read(),
            media_type=brought.content_type or "",
            name=brought.name or "",
            begun=takes.Begun(at_station=_at_station(request)),
        )
    except StandlightError as error:
        return _check_answer(request, check, slip=_sentence(error))
    messages.success(request, "Your file is kept. Choose a take below and send it.")
    return redirect("my-check", pk=pk)


@never_cache
@require_POST
@musician_page
def send(request: HttpRequest, pk: int) -> HttpResponse:
    """Send the turn by the plain form."""
    check = seen_or_404(PlayingCheck, request, pk=pk)
    take = Take.objects.visible_to(request.user).filter(turn__check_row=check)
    chosen = take.filter(key=request.POST["take"]).first() if _is_key(request) else None
    if chosen is None:
        return _check_answer(request, check, slip="Choose the take you want to send.")
    levels = {key: request.POST.get(f"level-{key}", "") for key in check.criteria}
    try:
        takes.send_turn(
            (chosen.turn.musician_id, check.pk, chosen.turn.attempt),
            chosen.key,
            self_levels=levels,
            words=request.POST.get("words", ""),
            spot=read_spot(request.POST),
            at_station=_at_station(request),
        )
    except StandlightError as error:
        return _check_answer(request, check, slip=_sentence(error))
    if _at_station(request):
        return redirect("station-thanks")
    messages.success(request, "Sent. Your director hears it next. You can close this page.")
    return redirect("my-part")


@never_cache
@require_POST
@musician_page
def let_go(request: HttpRequest, pk: int, key: str) -> HttpResponse:
    """Throw one of the kept takes away."""
    check = seen_or_404(PlayingCheck, request, pk=pk)
    take = seen_or_404(Take, request, key=key, turn__check_row=check)
    try:
        takes.let_go((take.turn.musician_id, check.pk, take.turn.attempt), take.key)
    except StandlightError as error:
        return _check_answer(request, check, slip=_sentence(error))
    messages.success(request, "That take is gone.")
    return redirect("my-check", pk=pk)


@require_safe
@musician_page
def music(request: HttpRequest, pk: int, width: str) -> HttpResponse:
    """The musician's passage drawn for a phone or a wide screen, as a picture of its own."""
    check = seen_or_404(PlayingCheck, request, pk=pk)
    if width not in WIDTHS_MM:
        raise Http404
    svg = notation.svg_of(notation_of(request.user, check), width_mm=WIDTHS_MM[width])
    if not svg.startswith("<svg"):
        raise Http404
    answer = HttpResponse(svg, content_type="image/svg+xml")
    answer["Cache-Control"] = "private, no-cache"
    return answer


@never_cache
@require_safe
@musician_page
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """What came back for one turn; opening it is noted once."""
    turn = answered_turn(request, pk)
    open_answer(turn.answer)
    context = {"page": came_back(request.user, turn), "station": _at_station(request)}
    return render(request, "musician/came_back.html", context)


def answered_turn(request: HttpRequest, pk: int) -> Turn:
    """The reader's own turn of that key to which an answer was sent; 404 otherwise."""
    rows = Turn.objects.select_related(
        "check_row__piece", "check_row__ensemble", "answer__written_by"
    )
    return seen_or_404(
        rows, request, pk=pk, answered_at__isnull=False, answer__isnull=False
    )


@require_safe
def recording_worker(request: HttpRequest) -> HttpResponse:
    """The script that keeps the recording page without network, at the root so that it may."""
    return worker_script("recording-worker.js")


def _check_answer(request: HttpRequest, check: PlayingCheck, *, slip: str = "") -> HttpResponse:
    """The page of a check, with a sentence when something has to be done again."""
    page = check_page(request.user, check)
    terms = terms_page(check, at_station=_at_station(request), start_at=page.start_at)
    permit = ""
    if page.attempt is not None:
        permit = Permit(
            _musician(request).pk, check.pk, page.attempt, _at_station(request)
        ).signed()
    context: dict[str, Any] = {
        "page": page,
        "terms": terms,
        "permit": permit,
        "slip": slip,
        "station": _at_station(request),
        "told": request.POST,
        "words_length": takes.WORDS_LENGTH,
        "spot_length": takes.SPOT_LENGTH,
    }
    reply = render(request, "musician/check.html", context, status=400 if slip else 200)
    return _keepable(request, reply)


def _keepable(request: HttpRequest, reply: HttpResponse) -> HttpResponse:
    """Let a musician's own device keep ``reply``; never a station, for it is shared."""
    if not _at_station(request) and request.method == "GET":
        reply[KEEP_OFFLINE] = "yes"
    return reply


def _musician(request: HttpRequest) -> Musician:
    """The musician who is signed in."""
    return Musician.objects.get(account=request.user)


def _at_station(request: HttpRequest) -> bool:
    """True when this browser is a shared station."""
    return bool(request.session.get(STATION))


def _is_key(request: HttpRequest) -> bool:
    """True when the form carries a take's key."""
    given = request.POST.get("take", "")
    return len(given) == 36 and set(given) <= set("0123456789abcdef-")


def _sentence(error: StandlightError) -> str:
    """The error as a sentence that begins with a capital and ends with a full stop."""
    words = str(error)
    return f"{words[:1].upper()}{words[1:]}."


urlpatterns = [
    path("", first_page, name="my-part"),
    path("check/<int:pk>/", one_check, name="my-check"),
    path("check/<int:pk>/file/", file_take, name="my-file"),
    path("check/<int:pk>/send/", send, name="my-send"),
    path("check/<int:pk>/take/<uuid:key>/let-go/", let_go, name="my-let-go"),
    path("check/<int:pk>/music-<str:width>.svg", music, name="my-music"),
    path("came-back/<int:pk>/", answer, name="my-answer"),
]
