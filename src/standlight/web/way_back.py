"""An address that only takes a form leads, when it is opened, to the page above it."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed, HttpResponseRedirect
from django.urls import Resolver404, resolve

ONLY_FORMS = "POST"
"""What such an address allows; what takes a recording's pieces too is no person's to open."""


def way_back(get_response: Callable[[HttpRequest], HttpResponse]) -> object:
    """Middleware: who reloads what a form was sent to comes back to where the form stands.

    A form's address begins with its page's, so the nearest address above is that page, or its
    place. Nothing is told by it: it is the same for every number, seen or not.
    """

    def answer(request: HttpRequest) -> HttpResponse:
        reply = get_response(request)
        opened = request.method in ("GET", "HEAD")
        if opened and isinstance(reply, HttpResponseNotAllowed) and reply["Allow"] == ONLY_FORMS:
            return HttpResponseRedirect(page_above(request.path_info))
        return reply

    return answer


def page_above(address: str) -> str:
    """The nearest address above ``address`` that there is; the first page at last."""
    steps = address.strip("/").split("/")
    for count in range(len(steps) - 1, 0, -1):
        above = f"/{'/'.join(steps[:count])}/"
        try:
            resolve(above)
        except Resolver404:
            continue
        return above
    return "/"
