"""My part: asking a director for a talk, and what was agreed in talks before."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import talks as acts
from standlight.programme.models import Ensemble, Musician, TalkAsked, TalkStep
from standlight.programme.queries.talks import my_talks
from standlight.web.access import musician_page, seen_or_404
from standlight.web.fields import acted, number_in
from standlight.web.sign_in import STATION


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@musician_page
def talks(request: HttpRequest) -> HttpResponse:
    """What was agreed, and the form to ask; words are never needed."""
    slip, page = "", my_talks(request.user)
    if request.method == "POST":
        ensemble = seen_or_404(
            Ensemble.objects.filter(pk__in=[one.pk for one in page.groups]),
            request,
            pk=number_in(request.POST, "ensemble"),
        )
        musician = Musician.objects.get(account=request.user)
        try:
            acts.ask(musician, ensemble, request.POST.get("words", ""))
        except StandlightError as problem:
            words = str(problem)
            slip = f"{words[:1].upper()}{words[1:]}."
        else:
            messages.success(request, "Your director will see it.")
            return redirect("my-talks")
    context = {
        "page": page,
        "slip": slip,
        "typed": request.POST,
        "station": bool(request.session.get(STATION)),
    }
    return render(request, "musician/talks.html", context)


@require_POST
@musician_page
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back what nobody has read yet."""
    asked = seen_or_404(TalkAsked, request, pk=pk, talked_at__isnull=True)
    answer = redirect("my-talks")
    return acted(request, lambda: acts.take_back(asked), "It is taken back.", answer)


@require_POST
@musician_page
def step_done(request: HttpRequest, pk: int) -> HttpResponse:
    """Say that an agreed step is done, or is not after all."""
    step = seen_or_404(TalkStep, request, pk=pk)
    done = request.POST.get("done") == "yes"
    said = "Done. Your director sees it." if done else "It is open again."
    answer = redirect("my-talks")
    return acted(request, lambda: acts.say_done(request.user, step, done), said, answer)


urlpatterns = [
    path("", talks, name="my-talks"),
    path("asked/<int:pk>/", take_back, name="my-talk-back"),
    path("steps/<int:pk>/", step_done, name="my-talk-step"),
]
