"""Takes on their way: numbered pieces, safe to repeat.

``PUT /upload/<key>/<number>`` brings one piece as raw bytes, ``PUT /upload/<key>/whole`` says how
many there are and answers which are missing, ``PUT /upload/<key>/send`` sends the turn and
``DELETE /upload/<key>`` lets the take go. Each carries the header ``Upload-Permit``.

The views are exempt from the cross-site token because they read no cookie: a foreign page
cannot know the permit, and a browser never adds a header of that name by itself.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions import takes
from standlight.web.musician.permits import Permit, read_permit

STATUSES: tuple[tuple[type[StandlightError], int], ...] = (
    (takes.TooLarge, 413),
    (takes.PieceConflict, 409),
    (NotAllowed, 403),
    (StandlightError, 400),
)
"""Which answer an error becomes; the page stops trying on each of them."""


def permitted(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Hand the permit of the request to ``view``; errors become JSON with their sentence."""

    @wraps(view)
    def guarded(request: HttpRequest, **kwargs: Any) -> HttpResponse:
        try:
            permit = read_permit(request.headers.get("Upload-Permit", ""))
            return view(request, permit, **kwargs)
        except StandlightError as error:
            status = next(code for kind, code in STATUSES if isinstance(error, kind))
            return JsonResponse({"error": str(error)}, status=status)

    return never_cache(csrf_exempt(guarded))


@permitted
@require_http_methods(["PUT", "POST"])
def piece(request: HttpRequest, permit: Permit, key: UUID, number: int) -> HttpResponse:
    """Take one piece in."""
    length = int(request.headers.get("Content-Length") or 0)
    if length > takes.LARGEST_PIECE_BYTES:
        raise takes.TooLarge(f"this piece has {length} bytes", where=f"piece {number}")
    data = request.read(takes.LARGEST_PIECE_BYTES + 1)
    takes.keep_piece(permit.turn_key, key, number, data, permit.begun)
    return JsonResponse({"kept": number})


@permitted
@require_http_methods(["PUT", "POST"])
def whole(request: HttpRequest, permit: Permit, key: UUID) -> HttpResponse:
    """Join the take, or say which numbers are missing."""
    told = _told(request)
    settings = told.get("settings")
    missing = takes.make_whole(
        permit.turn_key,
        key,
        n_pieces=_whole_number(told.get("n_pieces"), "n_pieces"),
        media_type=_audio_type(told.get("media_type")),
        settings=_small(settings if isinstance(settings, dict) else {}),
        number=told.get("number") if isinstance(told.get("number"), int) else None,
        begun=permit.begun,
    )
    return JsonResponse({"missing": list(missing)})


@permitted
@require_http_methods(["PUT", "POST"])
def send(request: HttpRequest, permit: Permit, key: UUID) -> HttpResponse:
    """Send the turn with this take; queued on the device while there is no network."""
    told = _told(request)
    levels = told.get("self_levels")
    takes.send_turn(
        permit.turn_key,
        key,
        self_levels=levels if isinstance(levels, dict) else {},
        words=str(told.get("words") or ""),
        spot=read_spot(told),
        at_station=permit.at_station,
    )
    return JsonResponse({"sent": True})


@permitted
@require_http_methods(["DELETE"])
def one_take(request: HttpRequest, permit: Permit, key: UUID) -> HttpResponse:
    """Let the take go."""
    takes.let_go(permit.turn_key, key)
    return JsonResponse({"gone": True})


def read_spot(told: Mapping[str, Any]) -> takes.Spot | None:
    """The spot of a form or of JSON: two 0-based measures and words, ``None`` when not chosen."""
    first, last = told.get("spot_first"), told.get("spot_last")
    if first in (None, ""):
        return None
    return takes.Spot(
        _whole_number(first, "spot_first"),
        _whole_number(first if last in (None, "") else last, "spot_last"),
        str(told.get("spot_words") or ""),
    )


def _told(request: HttpRequest) -> dict[str, Any]:
    """The JSON object of the request."""
    try:
        told = json.loads(request.read(64 * 1024) or b"{}")
    except ValueError:
        raise StandlightError("the request is no JSON", slip="cut off on its way?") from None
    if not isinstance(told, dict):
        raise StandlightError("the request is no JSON object")
    return told


def _whole_number(given: Any, name: str) -> int:
    """``given`` as a whole number of 0 or more."""
    if isinstance(given, bool) or not str(given).isdecimal():
        raise StandlightError(f"{given!r} is no whole number", where=name)
    return int(str(given))


def _audio_type(given: Any) -> str:
    """A media type of sound; the recorder never sends another."""
    media_type = str(given or "")
    if not media_type.startswith("audio/"):
        raise StandlightError(f"{media_type[:40]!r} is no sound", slip="use the file field")
    return media_type


def _small(settings: dict[str, Any]) -> dict[str, Any]:
    """Settings of the microphone track: plain values under short names only."""
    kinds = str | int | float
    plain = {name: value for name, value in settings.items() if isinstance(value, kinds)}
    # Device identifiers can single out a machine and help nobody to hear better.
    return {name[:40]: value for name, value in plain.items() if not name.endswith("Id")}


urlpatterns = [
    path("<uuid:key>", one_take, name="upload-take"),
    path("<uuid:key>/<int:number>", piece, name="upload-piece"),
    path("<uuid:key>/whole", whole, name="upload-whole"),
    path("<uuid:key>/send", send, name="upload-send"),
]
