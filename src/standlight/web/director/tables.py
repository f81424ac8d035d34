"""Ranges, grades and weights: three tables that the lead director makes the programme's own."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.http import require_http_methods

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions import tables as actions
from standlight.programme.queries import tables as queries
from standlight.programme.table_words import RowSlip, read_rows
from standlight.web.access import director_page

HERE = "folder"
TABLES = {"ranges": "Ranges", "grades": "Grades", "weights": "Weights"}
"""The tables by name, in the order of their tabs; each has a template of its name."""


@require_http_methods(["GET", "POST"])
@director_page
def table(request: HttpRequest, name: str = "ranges") -> HttpResponse:
    """One table; posting keeps it, or puts a row or all of it back."""
    if name not in TABLES:
        raise Http404
    return _kept(request, name) if request.method == "POST" else _shown(request, name)


def _kept(request: HttpRequest, name: str) -> HttpResponse:
    """Keep what the form sent; a form with slips comes back as it was typed."""
    typed = _typed(request)
    back = request.POST.get("put_back", "")
    typed.pop(back, None)
    read = read_rows(name, typed)
    try:
        if request.POST.get("put_all_back"):
            actions.put_table_back(request.user, name)
            said = f"{TABLES[name]}: the whole table is as it ships."
        elif read.slips:
            return _shown(request, name, typed=typed, slips=read.slips, status=422)
        else:
            own = actions.keep_table(request.user, name, read.rows, put_back=(back,))
            said = f"{TABLES[name]} saved: {_cells(own)}. Passages proposed from now on use them."
    except NotAllowed as slip:
        messages.error(request, f"Not saved: {slip}.")
        return redirect("table", name)
    except StandlightError as slip:
        slips = (RowSlip("", f"{slip}."),)
        return _shown(request, name, typed=typed, slips=slips, status=422)
    messages.success(request, said)
    return redirect("table", name)


def _typed(request: HttpRequest) -> dict[str, dict[str, str]]:
    """The fields of the form by row and cell; a field is named ``cell:row``."""
    typed: dict[str, dict[str, str]] = {}
    for name, text in request.POST.items():
        cell, colon, row = name.partition(":")
        if colon:
            typed.setdefault(row, {})[cell] = text
    return typed


def _cells(count: int) -> str:
    """How many cells are the programme's own."""
    return f"{count or 'no'} cell{'s' * (count != 1)} of your own"


def _shown(request: HttpRequest, name: str, *, status: int = 200, **more: object) -> HttpResponse:
    """The page."""
    context = {
        "page": queries.table_page(request.user, name, **more),
        "tables": TABLES,
        "here": HERE,
    }
    return render(request, f"director/tables_{name}.html", context, status=status)


urlpatterns = [
    path("", table, name="tables"),
    path("<slug:name>/", table, name="table"),
]
