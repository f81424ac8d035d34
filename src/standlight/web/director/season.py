"""Season: the year as weeks by group, one piece of work in it, and what it is planned from."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import season as acts
from standlight.programme.models import (
    ConcertCycle,
    Ensemble,
    PlayingCheck,
    SchoolYear,
    SeasonDays,
    SeasonItem,
    SeasonPlan,
)
from standlight.programme.queries import season as pages
from standlight.programme.queries.season_frame import calendar_page
from standlight.programme.queries.season_item import item_page
from standlight.programme.queries.season_request import plan_of
from standlight.programme.queries.season_values import CycleLine
from standlight.programme.season_terms import typed_terms
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted, day_or_none, number_in

HERE = "season"
USUAL_HOURS = "5"
"""Hours a week on a new form; common practice, no source."""


@require_GET
@director_page
def season(request: HttpRequest) -> HttpResponse:
    """The director's own year, or how to begin."""
    plan = plan_of(request.user)
    if plan is None:
        return _begin(request)
    page = pages.season_page(plan, timezone.localdate())
    return render(request, "director/season.html", {"here": HERE, "page": page})


@require_POST
@director_page
def begin(request: HttpRequest) -> HttpResponse:
    """Begin a year."""
    try:
        acts.begin_plan(
            request.user,
            starts_on=day_or_none(request.POST.get("starts_on", "")),
            ends_on=day_or_none(request.POST.get("ends_on", "")),
            hours=_number(request, "hours"),
        )
    except StandlightError as slip:
        return _begin(request, slip=slip)
    return redirect("season-frame")


@require_POST
@director_page
def draw(request: HttpRequest) -> HttpResponse:
    """Draw the plan up; most of what stands is kept unless it is drawn afresh."""
    plan = _own(request)
    afresh = request.POST.get("how") == "afresh"
    try:
        year = acts.draw_up(plan, timezone.localdate(), afresh=afresh)
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
    else:
        messages.success(request, _kept(year.kept, year.compared, afresh))
    return redirect("season")


@require_POST
@director_page
def lose(request: HttpRequest) -> HttpResponse:
    """A week is lost: the plan is drawn up again, most of it kept."""
    plan = _own(request)
    monday = day_or_none(request.POST.get("monday", ""))
    try:
        if monday is None:
            raise StandlightError("no week was chosen")
        year = acts.lose_week(plan, monday, timezone.localdate())
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
    else:
        messages.success(request, _kept(year.kept, year.compared, False))
    return redirect("season")


@require_GET
@director_page
def calendar_file(request: HttpRequest) -> HttpResponse:
    """The year for a calendar."""
    plan = plan_of(request.user)
    if plan is None:
        raise Http404
    data = pages.season_calendar(plan, timezone.localdate())
    answer = HttpResponse(data, content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="season-{plan.starts_on.year}.ics"'
    return answer


@require_GET
@director_page
def item(request: HttpRequest, pk: int) -> HttpResponse:
    """One piece of work."""
    page = item_page(_item(request, pk), timezone.localdate())
    if page is None:
        raise Http404
    return render(request, "director/season_item.html", {"here": HERE, "page": page})


@require_POST
@director_page
def item_move(request: HttpRequest, pk: int) -> HttpResponse:
    """Put it into another week; dragging on the year's page sends this form too."""
    row = _item(request, pk)
    monday = day_or_none(request.POST.get("monday", ""))
    to_year = request.POST.get("to") == "season"

    def move() -> None:
        if monday is None:
            raise StandlightError("no week was chosen")
        acts.move_item(row, monday, timezone.localdate())

    answer = redirect("season") if to_year else redirect("season-item", pk)
    return acted(request, move, "Moved, and kept there. The hours below are the new ones.", answer)


@require_POST
@director_page
def item_pin(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep it in its week, or let it move again."""
    row = _item(request, pk)
    pinned = request.POST.get("pinned") == "yes"
    said = "It stays in this week." if pinned else "It may move at the next plan."
    return acted(request, lambda: acts.pin_item(row, pinned), said, redirect("season-item", pk))


@require_POST
@director_page
def item_lighten(request: HttpRequest, pk: int) -> HttpResponse:
    """Fewer musicians by draw, or less time for each."""
    row = _item(request, pk)

    def lighten() -> None:
        percent, each = _number(request, "share"), request.POST.get("each", "").strip()
        acts.lighten_item(row, share=percent / 100, each=_number(request, "each") if each else None)

    back = "season" if request.POST.get("to") == "season" else None
    answer = redirect(back) if back else redirect("season-item", pk)
    return acted(request, lighten, "Saved. The hours are the new ones.", answer)


@require_POST
@director_page
def item_give(request: HttpRequest, pk: int) -> HttpResponse:
    """Make the draft of the real work."""
    row = _item(request, pk)
    page = item_page(row, timezone.localdate())
    if page is None or page.due_on is None:
        messages.error(request, "It has no day yet. Give it a week first.")
        return redirect("season-item", pk)
    try:
        made = acts.give_out_item(
            request.user, row, title=request.POST.get("title", ""), due_on=page.due_on,
            piece_pk=number_in(request.POST, "piece") or None,
        )  # fmt: skip
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
        return redirect("season-item", pk)
    messages.success(request, "The draft is made. Look it over, then publish it.")
    return redirect("assignment", made.pk)


@require_POST
@director_page
def item_tie(request: HttpRequest, pk: int) -> HttpResponse:
    """Say which check it has become."""
    row = _item(request, pk)
    chosen = number_in(request.POST, "check")
    check = seen_or_404(PlayingCheck, request, pk=chosen) if chosen else None
    return acted(request, lambda: acts.tie_check(row, check), "Saved.", redirect("season-item", pk))


@require_http_methods(["GET", "HEAD", "POST"])
@director_page
def frame(request: HttpRequest) -> HttpResponse:
    """The calendar; posting saves the year's days and hours."""
    plan = _own(request)
    if request.method != "POST":
        return _frame(request, plan)

    def save() -> None:
        acts.set_frame(
            plan,
            starts_on=day_or_none(request.POST.get("starts_on", "")),
            ends_on=day_or_none(request.POST.get("ends_on", "")),
            hours=_number(request, "hours"),
            musician_minutes=int(_number(request, "musician_minutes")),
        )

    return _saved(request, plan, save, "year")


@require_POST
@director_page
def frame_days(request: HttpRequest) -> HttpResponse:
    """Add days that are not like others."""
    plan = _own(request)
    chosen = number_in(request.POST, "ensemble")
    ensemble = seen_or_404(Ensemble, request, pk=chosen) if chosen else None

    def save() -> None:
        acts.add_days(
            plan,
            request.POST.get("sort", ""),
            first=day_or_none(request.POST.get("first", "")),
            last=day_or_none(request.POST.get("last", "")),
            name=request.POST.get("name", ""),
            ensemble=ensemble,
        )

    return _saved(request, plan, save, "days")


@require_POST
@director_page
def days_drop(request: HttpRequest, pk: int) -> HttpResponse:
    """Take days out again."""
    days = seen_or_404(SeasonDays, request, pk=pk)
    said = "Taken out. Draw the plan up again, and those weeks can be used."
    to_year = request.POST.get("to") == "season"
    answer = redirect("season" if to_year else "season-frame")
    return acted(request, lambda: acts.drop_days(days), said, answer)


@require_POST
@director_page
def frame_cycle(request: HttpRequest, ensemble: int) -> HttpResponse:
    """Make or change a concert cycle of an ensemble."""
    plan = _own(request)
    group = seen_or_404(Ensemble, request, pk=ensemble)
    chosen = number_in(request.POST, "cycle")
    cycle = (
        seen_or_404(ConcertCycle.objects.filter(ensemble=group), request, pk=chosen)
        if chosen else None
    )  # fmt: skip
    cells = {name: request.POST.get(name, "") for name in ("name", "starts_on", "concert_on")}
    try:
        acts.set_cycle(
            request.user, plan, group, cycle, name=cells["name"],
            starts_on=day_or_none(cells["starts_on"]),
            concert_on=day_or_none(cells["concert_on"]),
        )  # fmt: skip
    except StandlightError as slip:
        typed = CycleLine(chosen, group.pk, **cells, slip=f"Not saved. {slip}.")
        return _frame(request, plan, typed={chosen or -group.pk: typed})
    messages.success(request, f"Saved: {cells['name']} of {group.name}.")
    return redirect("season-frame")


@require_POST
@director_page
def frame_terms(request: HttpRequest) -> HttpResponse:
    """How often each thing is held and how long it takes."""
    plan = _own(request)
    return _saved(
        request, plan, lambda: acts.set_terms(plan, typed_terms(request.POST.dict())), "terms"
    )


def _own(request: HttpRequest) -> SeasonPlan:
    """The director's own year; 404 before there is one."""
    plan = plan_of(request.user)
    if plan is None:
        raise Http404
    return plan


def _item(request: HttpRequest, pk: int) -> SeasonItem:
    rows = SeasonItem.objects.select_related(
        "plan__owner", "plan__programme", "ensemble", "assignment", "check_row"
    )
    return seen_or_404(rows, request, pk=pk)


def _begin(request: HttpRequest, *, slip: StandlightError | None = None) -> HttpResponse:
    year = SchoolYear.objects.filter(programme=request.user.programme).order_by("-starts_on")
    latest = year.first()
    cells = request.POST or {
        "starts_on": latest.starts_on.isoformat() if latest else "",
        "ends_on": latest.ends_on.isoformat() if latest else "",
        "hours": USUAL_HOURS,
    }
    context = {"here": HERE, "cells": cells, "slip": slip}
    return render(request, "director/season_begin.html", context, status=422 if slip else 200)


def _frame(
    request: HttpRequest,
    plan: SeasonPlan,
    *,
    typed: dict[int, CycleLine] | None = None,
    slip: StandlightError | None = None,
    where: str = "",
) -> HttpResponse:
    # A refused action has changed the row in memory, not in the database.
    plan.refresh_from_db()
    context = {
        "here": HERE,
        "page": calendar_page(plan, timezone.localdate(), typed),
        "slip": slip,
        "where": where,
        "cells": request.POST,
    }
    status = 422 if slip or typed else 200
    return render(request, "director/season_frame.html", context, status=status)


def _saved(
    request: HttpRequest, plan: SeasonPlan, save: Callable[[], None], where: str
) -> HttpResponse:
    """Save a form of the calendar; one with a slip comes back as typed."""
    try:
        save()
    except StandlightError as slip:
        return _frame(request, plan, slip=slip, where=where)
    messages.success(request, "Saved. Draw the plan up again when the calendar is as it should be.")
    return redirect("season-frame")


def _kept(kept: int, compared: int, afresh: bool) -> str:
    if not compared or afresh:
        return "The plan is drawn up."
    moved = compared - kept
    if not moved:
        return "The plan is drawn up again. Nothing had to move."
    pieces = "piece of work has" if moved == 1 else "pieces of work have"
    return f"The plan is drawn up again. {moved} {pieces} moved; {kept} of {compared} stay."


def _number(request: HttpRequest, name: str) -> float:
    """A number of a field; raises `StandlightError` for what is none."""
    text = request.POST.get(name, "").strip().replace(",", ".")
    try:
        number = float(text)
    except ValueError:
        raise StandlightError(f"{text!r} is no number", slip="write 5 or 4.5") from None
    if number != number or abs(number) > 1_000_000:
        raise StandlightError(f"{text!r} is no number", slip="write 5 or 4.5")
    return number


urlpatterns = [
    path("", season, name="season"),
    path("begin/", begin, name="season-begin"),
    path("draw/", draw, name="season-draw"),
    path("lost/", lose, name="season-lose"),
    path("season.ics", calendar_file, name="season-file"),
    path("calendar/", frame, name="season-frame"),
    path("calendar/days/", frame_days, name="season-days"),
    path("calendar/days/<int:pk>/", days_drop, name="season-days-drop"),
    path("calendar/cycle/<int:ensemble>/", frame_cycle, name="season-cycle"),
    path("calendar/terms/", frame_terms, name="season-terms"),
    path("item/<int:pk>/", item, name="season-item"),
    path("item/<int:pk>/move/", item_move, name="season-item-move"),
    path("item/<int:pk>/pin/", item_pin, name="season-item-pin"),
    path("item/<int:pk>/lighten/", item_lighten, name="season-item-lighten"),
    path("item/<int:pk>/give/", item_give, name="season-item-give"),
    path("item/<int:pk>/check/", item_tie, name="season-item-check"),
]
