"""Folder: pieces, their parts, who plays which."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight import score
from standlight.errors import StandlightError
from standlight.programme.actions import folder as actions
from standlight.programme.actions import octaves
from standlight.programme.models import ConcertCycle, Ensemble, Part, Piece, Seat
from standlight.programme.queries import folder as queries
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted, day_of, number_in

HERE = "folder"
MOST_SCORE_BYTES = 64_000_001
"""One more than the largest score that is read: enough to know that it is too large."""


@require_GET
@director_page
def folder(request: HttpRequest) -> HttpResponse:
    """Every piece, by ensemble and concert cycle."""
    context = {"page": queries.folder_page(request.user), "here": HERE}
    return render(request, "director/folder.html", context)


@require_http_methods(["GET", "POST"])
@director_page
def add_piece(request: HttpRequest) -> HttpResponse:
    """Add a piece: a score file, a typed line, or paper only."""
    slip = None
    if request.method == "POST":
        ensemble = seen_or_404(Ensemble, request, pk=number_in(request.POST, "ensemble"))
        how = ADDING.get(request.POST.get("how", ""), _add_score)
        try:
            piece = how(request, ensemble)
        except StandlightError as refused:
            slip = refused
        else:
            messages.success(request, f"{piece.title} is in the folder.")
            return redirect("piece", piece.pk)
    context = {
        "slip": slip,
        "cells": request.POST,
        "how": request.POST.get("how") or request.GET.get("how", "score"),
        "chosen": number_in(request.POST or request.GET, "ensemble"),
        "ensembles": list(Ensemble.objects.visible_to(request.user).prefetch_related("cycles")),
        "instruments": tuple(score.INSTRUMENTS),
        "owns_music": request.user.programme.owns_music,
        "here": HERE,
    }
    return render(request, "director/folder_add.html", context, status=422 if slip else 200)


def _add_score(request: HttpRequest, ensemble: Ensemble) -> Piece:
    """A piece from an uploaded score file."""
    upload = request.FILES.get("score")
    if upload is None:
        raise StandlightError("no score file was chosen")
    if request.POST.get("owns_music"):
        actions.confirm_owns_music(request.user)
    elif not request.user.programme.owns_music:
        raise StandlightError("the school has not yet confirmed that it owns the music it loads")
    return actions.add_score(
        request.user,
        ensemble,
        upload.read(MOST_SCORE_BYTES),
        name=upload.name,
        title=request.POST.get("title", ""),
        composer=request.POST.get("composer", ""),
        credit=request.POST.get("credit", ""),
        cycle=_cycle(request),
    )


def _add_line(request: HttpRequest, ensemble: Ensemble) -> Piece:
    """A piece from a typed line."""
    return actions.add_typed_line(
        request.user,
        ensemble,
        request.POST.get("line", ""),
        instrument=request.POST.get("instrument", ""),
        title=request.POST.get("title", ""),
        composer=request.POST.get("composer", ""),
        cycle=_cycle(request),
    )


def _add_paper(request: HttpRequest, ensemble: Ensemble) -> Piece:
    """A piece that exists on paper only."""
    return actions.add_paper_piece(
        request.user,
        ensemble,
        title=request.POST.get("title", ""),
        composer=request.POST.get("composer", ""),
        cycle=_cycle(request),
    )


ADDING: dict[str, Callable[[HttpRequest, Ensemble], Piece]] = {
    "score": _add_score,
    "line": _add_line,
    "paper": _add_paper,
}
"""How a piece may come into the folder."""


def _cycle(request: HttpRequest) -> ConcertCycle | None:
    """The concert cycle chosen on the page, ``None`` for none."""
    pk = number_in(request.POST, "cycle")
    return seen_or_404(ConcertCycle, request, pk=pk) if pk else None


@require_GET
@director_page
def piece(request: HttpRequest, pk: int) -> HttpResponse:
    """One piece: parts, ranges, remarks, who plays what."""
    row = _piece(request, pk)
    context = {"page": queries.piece_page(request.user, row), "here": HERE}
    return render(request, "director/folder_piece.html", context)


@require_POST
@director_page
def change_piece(request: HttpRequest, pk: int) -> HttpResponse:
    """Change title, composer, edition or cycle; or take the piece out of the folder."""
    row = _piece(request, pk)
    try:
        if request.POST.get("remove"):
            actions.remove_piece(request.user, row)
            messages.success(request, f"{row.title} is out of the folder.")
            return redirect("folder")
        actions.change_piece(
            request.user,
            row,
            title=request.POST.get("title", ""),
            composer=request.POST.get("composer", ""),
            credit=request.POST.get("credit", ""),
            cycle=_cycle(request),
        )
        messages.success(request, "Saved.")
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
    return redirect("piece", pk)


@require_POST
@director_page
def give_part(request: HttpRequest, pk: int) -> HttpResponse:
    """Give one musician a part: in place with scripts, by a whole page without."""
    row = _piece(request, pk)
    seat = seen_or_404(
        Seat.objects.select_related("section", "musician"),
        request,
        pk=number_in(request.POST, "seat"),
    )
    part_pk = number_in(request.POST, "part")
    part = seen_or_404(Part, request, pk=part_pk) if part_pk else None
    try:
        actions.give_part(request.user, seat, row, part)
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
        return redirect("piece", pk)
    if request.headers.get("HX-Request"):
        context = {
            "page": {"pk": row.pk, "parts": list(row.parts.all())},
            "row": queries.cast_line(row, seat),
            "saved": True,
        }
        return render(request, "director/folder_cast_row.html", context)
    return redirect(f"{request.path.removesuffix('cast/')}#seat-{seat.pk}")


@require_POST
@director_page
def answer_octave(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep whether a voice part sounds an octave lower than it is written."""
    row = _piece(request, pk)
    part = seen_or_404(Part, request, pk=number_in(request.POST, "part"), piece=row)
    part.piece = row
    answer = request.POST.get("answer", "")
    said = OCTAVE_SAID.get(answer, "").format(part=part.name)
    return acted(
        request,
        lambda: octaves.answer_octave(request.user, part, answer),
        said,
        redirect(f"{request.path.removesuffix('octave/')}#parts"),
    )


OCTAVE_SAID = {
    "lower": "{part} now sounds an octave lower. Passages already sent stay as they were.",
    "right": "{part} is right as it is written.",
}
"""What is said after each answer."""


@require_POST
@director_page
def cast_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the parts out anew; what was given by hand stays."""
    given = actions.cast_again(request.user, _piece(request, pk))
    messages.success(request, f"{given} musicians were given a part; parts given by hand stay.")
    return redirect("piece", pk)


@require_http_methods(["GET", "POST"])
@director_page
def add_cycle(request: HttpRequest) -> HttpResponse:
    """Make a concert cycle."""
    slip = None
    if request.method == "POST":
        ensemble = seen_or_404(Ensemble, request, pk=number_in(request.POST, "ensemble"))
        try:
            actions.make_cycle(
                request.user,
                ensemble,
                name=request.POST.get("name", ""),
                starts_on=day_of(request.POST.get("starts_on", "")),
                concert_on=day_of(request.POST.get("concert_on", "")),
            )
        except StandlightError as refused:
            slip = refused
        else:
            return redirect("folder")
    context = {
        "slip": slip,
        "cells": request.POST,
        "ensembles": list(Ensemble.objects.visible_to(request.user)),
        "chosen": number_in(request.POST or request.GET, "ensemble"),
        "today": timezone.localdate().isoformat(),
        "here": HERE,
    }
    return render(request, "director/folder_cycle.html", context, status=422 if slip else 200)


def _piece(request: HttpRequest, pk: int) -> Piece:
    """The piece, if the director sees it."""
    return seen_or_404(Piece.objects.select_related("ensemble"), request, pk=pk)


urlpatterns = [
    path("", folder, name="folder"),
    path("add/", add_piece, name="piece-add"),
    path("cycles/add/", add_cycle, name="cycle-add"),
    path("<int:pk>/", piece, name="piece"),
    path("<int:pk>/change/", change_piece, name="piece-change"),
    path("<int:pk>/octave/", answer_octave, name="piece-octave"),
    path("<int:pk>/cast/", give_part, name="piece-cast"),
    path("<int:pk>/cast-again/", cast_again, name="piece-cast-again"),
]
