"""One screen for everybody in the last two minutes of class."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.views.decorators.http import require_http_methods

from standlight.programme.actions.class_screen import say_in_class, take_back_said
from standlight.programme.models import Assignment, Piece
from standlight.programme.queries.class_screen import class_screen
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted, number_in

HERE = "folder"


@require_http_methods(["GET", "HEAD", "POST"])
@director_page
def screen(request: HttpRequest, pk: int) -> HttpResponse:
    """The number keys, what happened, and what was said today; a press keeps one spot."""
    rows = Assignment.objects.select_related("kind", "ensemble")
    row = seen_or_404(rows, request, pk=pk)
    page = class_screen(row, number_in(request.GET, "piece"))
    if page is None:
        raise Http404
    if request.method != "POST":
        typed = {name: number_in(request.GET, name) or "" for name in ("first", "last")}
        context = {"page": page, "here": HERE, "typed": typed}
        return render(request, "director/class_screen.html", context)
    answer = redirect(f"{reverse('class-screen', args=[pk])}?piece={request.POST.get('piece', '')}")
    if request.POST.get("take_back"):
        return acted(
            request,
            lambda: take_back_said(request.user, row),
            "The last one is taken back.",
            answer,
        )
    piece = seen_or_404(Piece, request, pk=number_in(request.POST, "piece"))
    first = number_in(request.POST, "first")
    measures = (first, number_in(request.POST, "last") or first)
    what = request.POST.get("what", "")
    if not what:
        # Enter in a number, on a page without script: the measures stay as they were typed.
        messages.error(request, "Tap what happened there.")
        typed = urlencode({"first": first or "", "last": number_in(request.POST, "last") or ""})
        return redirect(f"{answer.url}&{typed}")
    return acted(
        request,
        lambda: say_in_class(request.user, row, piece, measures, what),
        f"Measure {first}: {what}.",
        answer,
    )


urlpatterns = [path("<int:pk>/screen/", screen, name="class-screen")]
