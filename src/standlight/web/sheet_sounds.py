"""Sound beside takes: recordings inside sheets, what an assignment plays, spoken answers."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import path
from django.views.decorators.http import require_safe

from standlight.programme import store
from standlight.programme.models import AnswerSound, Assignment, SheetSound
from standlight.web.access import seen_or_404
from standlight.web.takes import ranged

FLAC = "audio/flac"


@require_safe
@login_required
def sheet_sound(request: HttpRequest, key: str) -> HttpResponse:
    """A recording for its owner, and for directors once its sheet is sent."""
    sound = seen_or_404(SheetSound.objects.select_related("sheet"), request, key=key)
    draft = sound.sheet.sent_at is None and sound.sheet.author_id != request.user.pk
    if draft or sound.removed_at is not None or not sound.digest:
        raise Http404
    return ranged(request, store.fetch(sound.digest), sound.media_type or FLAC)


@require_safe
@login_required
def work_sound(request: HttpRequest, pk: int) -> HttpResponse:
    """The recording that an assignment asks to listen to."""
    assignment = seen_or_404(Assignment, request, pk=pk)
    if not assignment.sound_digest:
        raise Http404
    return ranged(request, store.fetch(assignment.sound_digest), FLAC)


@require_safe
@login_required
def answer_sound(request: HttpRequest, key: str) -> HttpResponse:
    """A spoken answer for its director, and for its musician once it is sent."""
    sound = seen_or_404(AnswerSound, request, key=key)
    if sound.removed_at is not None:
        raise Http404
    return ranged(request, store.fetch(sound.digest), FLAC)


urlpatterns = [
    path("answer/<uuid:key>/", answer_sound, name="answer-sound"),
    path("sheet/<uuid:key>/", sheet_sound, name="sheet-sound"),
    path("work/<int:pk>/", work_sound, name="work-sound"),
]
