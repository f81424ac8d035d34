"""Sound for whoever may hear it: the seekable listening copy, in byte ranges (RFC 9110, 14.2)."""

from __future__ import annotations

import re

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import path

from standlight.programme import store
from standlight.programme.models import Take
from standlight.web.access import seen_or_404

_RANGE = re.compile(r"bytes=(\d*)-(\d*)$")


def ranged(request: HttpRequest, data: bytes, media_type: str) -> HttpResponse:
    """``data`` whole, or the one range asked for (206), or 416 when it lies outside."""
    asked = _RANGE.match(request.headers.get("Range", ""))
    status, first, last = 200, 0, len(data) - 1
    if asked and asked.group(0) != "bytes=-":
        if asked[1]:
            first = int(asked[1])
            last = min(int(asked[2]), last) if asked[2] else last
        else:
            first = max(0, len(data) - int(asked[2]))
        status = 206
        if first > last:
            return HttpResponse(status=416, headers={"Content-Range": f"bytes */{len(data)}"})
    answer = HttpResponse(data[first : last + 1], status=status, content_type=media_type)
    answer["Accept-Ranges"] = "bytes"
    answer["Cache-Control"] = "private, max-age=3600"
    if status == 206:
        answer["Content-Range"] = f"bytes {first}-{last}/{len(data)}"
    return answer


@login_required
def sound(request: HttpRequest, key: str) -> HttpResponse:
    """A take's listening copy, or the file as it came while the copy is not made yet."""
    take = seen_or_404(Take, request, key=key)
    if take.playback_digest:
        return ranged(request, store.fetch(take.playback_digest), "audio/flac")
    if take.digest and take.has_sound:
        return ranged(request, store.fetch(take.digest), take.media_type or "audio/webm")
    raise Http404


urlpatterns = [path("<uuid:key>/sound", sound, name="take-sound")]
