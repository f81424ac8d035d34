"""A page for somebody signed in is kept by no browser, for the next person at that computer."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

NOT_KEPT = "private, no-store"
"""RFC 9111, 5.2.2.5: no cache keeps any part of it; browsers hold their history to it too."""


def not_kept(get_response: Callable[[HttpRequest], HttpResponse]) -> object:
    """Middleware: pages of who is signed in say that they are not to be kept.

    A view that says something of its own is left alone, and so are files, sounds and pictures,
    which carry a name that cannot be guessed and are asked for again and again.
    """

    def answer(request: HttpRequest) -> HttpResponse:
        reply = get_response(request)
        is_page = reply.get("Content-Type", "").startswith("text/html")
        signed_in = getattr(request, "user", None) is not None and request.user.is_authenticated
        if is_page and signed_in and not reply.has_header("Cache-Control"):
            reply["Cache-Control"] = NOT_KEPT
        return reply

    return answer
