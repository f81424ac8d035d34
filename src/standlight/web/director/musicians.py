"""Musicians: each ensemble by section; roster and sign-in cards."""

from __future__ import annotations

import base64
from collections.abc import Mapping

import segno
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight import score
from standlight.errors import StandlightError
from standlight.programme.actions import cards, roster
from standlight.programme.models import Ensemble, Musician, Seat, Section
from standlight.programme.queries import roster as queries
from standlight.programme.queries.musician_growth import growth_part, with_growth
from standlight.programme.queries.second_adult import may_read_all
from standlight.programme.queries.tables import grade_choices
from standlight.programme.roster_file import LARGEST_ROSTER_BYTES, roster_csv
from standlight.web.access import director_page, seen_or_404
from standlight.web.director import musician_record
from standlight.web.fields import acted, number_in

HERE = "musicians"
WAITING_ROSTER = "roster_file"
"""Session key of a file that was looked at and not yet taken in."""

CARDS_A_PAGE = 8
"""Two columns of four on A4 and on Letter."""

OWN_MACHINE = ("127.0.0.1", "localhost", "[::1]")
"""Host names that only the computer itself can open."""


@require_GET
@director_page
def musicians(request: HttpRequest) -> HttpResponse:
    """Every ensemble by section; ``?names=hidden`` for the projector."""
    context = {
        "page": with_growth(request.user, queries.musicians_page(request.user)),
        "names_hidden": request.GET.get("names") == "hidden",
        "leads": request.user.is_lead,
        "reads_all": may_read_all(request.user),
        "here": HERE,
    }
    return render(request, "director/musicians.html", context)


@require_http_methods(["GET", "POST"])
@director_page
def roster_file(request: HttpRequest) -> HttpResponse:
    """Choose a roster file; posting it shows what it would do, and writes nothing."""
    if request.method == "GET":
        return render(request, "director/musicians_roster.html", {"here": HERE})
    upload = request.FILES.get("roster")
    try:
        if upload is None:
            raise StandlightError("no file was chosen")
        data = upload.read(LARGEST_ROSTER_BYTES + 1)
        preview = queries.roster_preview(request.user, data)
    except StandlightError as slip:
        context = {"slip": slip, "here": HERE}
        return render(request, "director/musicians_roster.html", context, status=422)
    request.session[WAITING_ROSTER] = base64.b64encode(data).decode("ascii")
    context = {"preview": preview, "file_name": upload.name, "here": HERE}
    return render(request, "director/musicians_roster_preview.html", context)


@require_POST
@director_page
def roster_confirm(request: HttpRequest) -> HttpResponse:
    """Take in the file that was looked at: all its good rows, or nothing."""
    waiting = request.session.get(WAITING_ROSTER)
    try:
        if waiting is None:
            raise StandlightError("there is no roster waiting", slip="choose the file again")
        receipt = roster.take_in_roster(
            request.user,
            base64.b64decode(waiting),
            leave_out_known=bool(request.POST.get("leave_out_known")),
        )
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
        return redirect("roster")
    del request.session[WAITING_ROSTER]
    messages.success(
        request,
        f"Taken in: {receipt.n_added} new, {receipt.n_changed} changed, "
        f"{receipt.n_sections_made} new sections, {receipt.n_left_out} rows left out.",
    )
    return redirect("musicians")


@require_GET
@director_page
def empty_roster(request: HttpRequest) -> HttpResponse:
    """The empty roster to fill in."""
    return _csv(roster_csv(), "roster-empty.csv")


@require_GET
@director_page
def present_roster(request: HttpRequest) -> HttpResponse:
    """The roster as it stands, in the same columns."""
    return _csv(roster_csv(queries.roster_rows(request.user)), "roster.csv")


def _csv(data: bytes, name: str) -> HttpResponse:
    """A file to save."""
    answer = HttpResponse(data, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@require_http_methods(["GET", "POST"])
@director_page
def add_musician(request: HttpRequest) -> HttpResponse:
    """Add one musician by hand."""
    slip = None
    if request.method == "POST":
        section = seen_or_404(Section, request, pk=number_in(request.POST, "section"))
        try:
            made = roster.add_musician(request.user, section, request.POST.dict())
        except StandlightError as refused:
            slip = refused
        else:
            messages.success(request, f"{made.name} is in {section.name}. Print their card next.")
            return redirect("musician", made.pk)
    context = {
        "slip": slip,
        "cells": request.POST,
        "sections": _sections(request),
        "ways": Musician.WAYS,
        "here": HERE,
    }
    return render(request, "director/musicians_add.html", context, status=422 if slip else 200)


@require_http_methods(["GET", "POST"])
@director_page
def musician(request: HttpRequest, pk: int) -> HttpResponse:
    """One musician: names, way, accommodation, seats, card."""
    row = seen_or_404(Musician.objects.select_related("account"), request, pk=pk)
    slip = None
    if request.method == "POST":
        try:
            ticked = request.POST.getlist("accommodations")
            roster.change_musician(request.user, row, request.POST.dict(), ticked)
        except StandlightError as refused:
            slip = refused
        else:
            messages.success(request, f"{row.name} is saved.")
            return redirect("musician", pk)
    context = {
        "page": queries.musician_page(request.user, row),
        "growth": growth_part(request.user, row),
        "slip": slip,
        "sections": _sections(request),
        "ways": Musician.WAYS,
        "here": HERE,
    }
    return render(request, "director/musicians_one.html", context, status=422 if slip else 200)


@require_POST
@director_page
def seat(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a musician a further seat."""
    row = seen_or_404(Musician, request, pk=pk)
    section = seen_or_404(Section, request, pk=number_in(request.POST, "section"))
    return acted(
        request,
        lambda: roster.seat_musician(request.user, row, section),
        f"{row.name} sits in {section.name} now.",
        redirect("musician", pk),
    )


@require_POST
@director_page
def seat_move(request: HttpRequest, pk: int) -> HttpResponse:
    """Move a seat to another section, or end it (no section)."""
    row = seen_or_404(Seat.objects.select_related("section", "musician"), request, pk=pk)
    if request.POST.get("leave"):
        return acted(
            request,
            lambda: roster.leave_seat(request.user, row),
            f"{row.musician.name} has left {row.section.name}. What they made is kept.",
            redirect("musicians"),
        )
    section = seen_or_404(Section, request, pk=number_in(request.POST, "section"))
    return acted(
        request,
        lambda: roster.move_seat(request.user, row, section),
        f"{row.musician.name} sits in {section.name} now.",
        redirect("musician", row.musician_id),
    )


@require_http_methods(["GET", "POST"])
@director_page
def add_ensemble(request: HttpRequest) -> HttpResponse:
    """Make an ensemble."""
    slip = None
    if request.method == "POST":
        try:
            made = roster.make_ensemble(request.user, **_ensemble_cells(request.POST))
        except StandlightError as refused:
            slip = refused
        else:
            return redirect("ensemble", made.pk)
    context = {
        "slip": slip,
        "cells": request.POST or {"period_minutes": 42},
        "kinds": Ensemble.KINDS,
        "music_grades": grade_choices(request.user),
        "here": HERE,
    }
    return render(
        request, "director/musicians_ensemble_add.html", context, status=422 if slip else 200
    )


@require_http_methods(["GET", "POST"])
@director_page
def ensemble(request: HttpRequest, pk: int) -> HttpResponse:
    """An ensemble's name and period, and its sections in concert order."""
    row = seen_or_404(Ensemble, request, pk=pk)
    if request.method == "POST":
        return acted(
            request,
            lambda: roster.change_ensemble(request.user, row, **_ensemble_cells(request.POST)),
            "Saved.",
            redirect("ensemble", pk),
        )
    context = {
        "ensemble": row,
        "sections": tuple(row.sections.all()),
        "kinds": Ensemble.KINDS,
        "music_grades": grade_choices(request.user),
        "instruments": tuple(score.INSTRUMENTS),
        "here": HERE,
    }
    return render(request, "director/musicians_ensemble.html", context)


@require_POST
@director_page
def add_section(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a section of an ensemble."""
    row = seen_or_404(Ensemble, request, pk=pk)
    name, instrument = request.POST.get("name", ""), request.POST.get("instrument", "")
    return acted(
        request,
        lambda: roster.make_section(request.user, row, name, instrument),
        f"{name} is a section now.",
        redirect("ensemble", pk),
    )


@require_POST
@director_page
def change_section(request: HttpRequest, pk: int) -> HttpResponse:
    """Rename a section, change its instrument, or move it in concert order."""
    row = seen_or_404(Section.objects.select_related("ensemble"), request, pk=pk)
    move = request.POST.get("move")
    if move in ("earlier", "later"):
        roster.move_section(request.user, row, earlier=move == "earlier")
        return redirect("ensemble", row.ensemble_id)
    name, instrument = request.POST.get("name", ""), request.POST.get("instrument", "")
    return acted(
        request,
        lambda: roster.change_section(request.user, row, name, instrument),
        f"{name} is saved.",
        redirect("ensemble", row.ensemble_id),
    )


@never_cache
@require_http_methods(["GET", "POST"])
@director_page
def card_sheet(request: HttpRequest) -> HttpResponse:
    """Choose whose cards to print; posting makes new PINs and answers with the sheet."""
    if request.method == "GET":
        context = {
            "page": queries.musicians_page(request.user),
            "whose": request.GET.get("whose", ""),
            "own_machine": _is_own_machine(request),
            "here": HERE,
        }
        return render(request, "director/musicians_cards.html", context)
    chosen = _chosen_musicians(request)
    printed = cards.issue_cards(request.user, chosen, new_codes=bool(request.POST.get("new_codes")))
    shown = [(card, _qr(request, card.code)) for card in printed]
    context = {
        "sheets": [shown[at : at + CARDS_A_PAGE] for at in range(0, len(shown), CARDS_A_PAGE)],
        "n_cards": len(shown),
        "address": request.get_host(),
        "own_machine": _is_own_machine(request),
        "here": HERE,
    }
    return render(request, "director/musicians_card_sheet.html", context)


def _chosen_musicians(request: HttpRequest) -> list[Musician]:
    """The musicians that ``whose`` names: ``all``, ``ensemble-3``, ``section-7`` or ``one-12``."""
    kind, _, number = request.POST.get("whose", "").partition("-")
    seen = Musician.objects.visible_to(request.user)
    present = {"seats__left_on__isnull": True}
    if kind == "all":
        return list(seen.filter(**present).distinct())
    if kind == "without":
        return list(seen.filter(account__password__startswith="!", **present).distinct())
    pk = number_in({"number": number}, "number")
    if kind == "ensemble":
        row = seen_or_404(Ensemble, request, pk=pk)
        return list(seen.filter(seats__section__ensemble=row, **present).distinct())
    if kind == "section":
        row = seen_or_404(Section, request, pk=pk)
        return list(seen.filter(seats__section=row, **present).distinct())
    return [seen_or_404(Musician, request, pk=pk)]


def _qr(request: HttpRequest, code: str) -> SafeString:
    """The card's address as an inline SVG without style attributes."""
    address = request.build_absolute_uri(reverse("card", args=[code]))
    drawn = segno.make(address, error="m", micro=False).svg_inline(
        border=2, omitsize=True, svgclass="qr", lineclass=None
    )
    return mark_safe(drawn)


def _is_own_machine(request: HttpRequest) -> bool:
    """True when the address in use opens on this computer only."""
    return request.get_host().rsplit(":", 1)[0] in OWN_MACHINE


def _ensemble_cells(cells: Mapping[str, str]) -> dict[str, object]:
    """The fields of an ensemble."""
    return {
        "name": cells.get("name", ""),
        "kind": cells.get("kind", ""),
        "period_number": number_in(cells, "period_number"),
        "period_minutes": number_in(cells, "period_minutes"),
        "music_grade": number_in(cells, "music_grade") if cells.get("music_grade") else None,
    }


def _sections(request: HttpRequest) -> list[Section]:
    """All sections the director sees, in the order of the day and the concert."""
    return list(
        Section.objects.visible_to(request.user)
        .select_related("ensemble")
        .order_by("ensemble__period_number", "ensemble_id", "order", "pk")
    )


urlpatterns = [
    path("", musicians, name="musicians"),
    path("roster/", roster_file, name="roster"),
    path("roster/confirm/", roster_confirm, name="roster-confirm"),
    path("roster/empty.csv", empty_roster, name="roster-empty"),
    path("roster/present.csv", present_roster, name="roster-present"),
    path("add/", add_musician, name="musician-add"),
    path("<int:pk>/", musician, name="musician"),
    path("<int:pk>/seat/", seat, name="musician-seat"),
    path("<int:pk>/everything/", musician_record.everything, name="musician-everything"),
    path("<int:pk>/remove/", musician_record.remove, name="musician-remove"),
    path("seats/<int:pk>/", seat_move, name="seat-move"),
    path("ensembles/add/", add_ensemble, name="ensemble-add"),
    path("ensembles/<int:pk>/", ensemble, name="ensemble"),
    path("ensembles/<int:pk>/sections/", add_section, name="section-add"),
    path("sections/<int:pk>/", change_section, name="section"),
    path("cards/", card_sheet, name="cards"),
]
