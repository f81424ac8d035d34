"""Scripts that keep pages without network: served where their pages are, never from a cache."""

from __future__ import annotations

from django.contrib.staticfiles import finders
from django.http import Http404, HttpResponse


def worker_script(name: str) -> HttpResponse:
    """The static script ``name`` as an answer of its own; raises ``Http404`` where there is none.

    A worker may act only on addresses below its own, so it cannot come from the static files.
    """
    place = finders.find(name)
    if place is None:
        raise Http404
    with open(place, encoding="utf-8") as script:
        reply = HttpResponse(script.read(), content_type="text/javascript")
    reply["Cache-Control"] = "no-cache"
    return reply
