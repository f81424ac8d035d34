"""Desk: the comment bank, its lines in other languages, and when the readings are shown."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.http import require_http_methods

from standlight.errors import StandlightError
from standlight.programme.actions import desk as acts
from standlight.programme.actions.bank import translate_line
from standlight.programme.models import CommentLine
from standlight.programme.queries import desk_lines
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import index_in


@director_page
@require_http_methods(["GET", "POST"])
def lines(request: HttpRequest) -> HttpResponse:
    """The comment bank, and whether readings come before the levels."""
    slip = ""
    if request.method == "POST":
        try:
            if "prefer" in request.POST:
                acts.prefer_readings_first(request.user, request.POST.get("first") == "yes")
            else:
                _keep_line(request, None)
            return redirect("desk-lines")
        except StandlightError as problem:
            slip = str(problem)
    page = desk_lines.lines_page(request.user)
    typed = desk_lines.typed(page, request.POST) if slip else page
    return render(
        request, "director/desk_lines.html", {"here": "desk", "page": typed, "slip": slip}
    )


@director_page
@require_http_methods(["GET", "POST"])
def line(request: HttpRequest, line: int) -> HttpResponse:
    """Change one line of the bank, say it in another language, or take it out."""
    row = seen_or_404(CommentLine, request, pk=line)
    slip = ""
    if request.method == "POST":
        try:
            if "drop" in request.POST:
                acts.drop_line(row)
            elif "language" in request.POST:
                translate_line(row, request.POST["language"], request.POST.get("translation", ""))
                return redirect("desk-line", line=row.pk)
            else:
                _keep_line(request, row)
            return redirect("desk-lines")
        except StandlightError as problem:
            slip = str(problem)
            row.refresh_from_db()
    page = desk_lines.line_page(row)
    typed = desk_lines.typed(page, request.POST) if slip else page
    return render(
        request, "director/desk_line.html", {"here": "desk", "page": typed, "slip": slip}
    )


def _keep_line(request: HttpRequest, row: CommentLine | None) -> None:
    """Add or change a line from the form's fields."""
    acts.keep_line(
        request.user,
        criterion=request.POST.get("criterion", ""),
        place=request.POST.get("place", ""),
        level=index_in(request, "level"),
        text=request.POST.get("text", ""),
        line=row,
    )


urlpatterns = [
    path("lines/", lines, name="desk-lines"),
    path("lines/<int:line>/", line, name="desk-line"),
]
