"""Desk: hear takes, give levels, answer."""

from __future__ import annotations

import re

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.views.decorators.http import require_GET, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import desk as acts
from standlight.programme.actions import sitting as sitting_acts
from standlight.programme.models import DeskSitting, PlayingCheck, Turn
from standlight.programme.queries import desk as pages
from standlight.programme.queries import desk_lines, desk_queue, desk_sitting
from standlight.programme.queries.answer_values import AnswerDraft
from standlight.programme.queries.answers import kept_count
from standlight.programme.queries.desk_orders import Queue
from standlight.programme.queries.desk_sitting import AGAIN, AtDesk
from standlight.programme.queries.reading import unread_writing
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import index_in

HEARD_AGAIN = (
    "You have just heard one of your earlier takes a second time. Its levels stay as they were; "
    "Raters shows how steady you are."
)
"""Said after a hidden repeat, when it can no longer lead the ear."""

SITTING_KEY = re.compile(r"[0-9]{1,9}$")

KEEPS_ANSWERS = "keeps_answers"
"""Name in the session of this sitting's choice: keep answers until all are sent."""

LEVEL_FIELD = "level-"
"""The form's field for a criterion's level is this and the criterion's key."""


@director_page
@require_GET
def desk(request: HttpRequest) -> HttpResponse:
    """The check with most takes waiting; when nothing waits, a sentence what to do."""
    waiting = desk_queue.checks_waiting(request.user)
    if waiting:
        return redirect("desk-check", check=waiting[0].pk)
    context = {
        "here": "desk",
        "checks": desk_queue.recent_checks(request.user),
        "writing": unread_writing(request.user),
        "kept": kept_count(request.user),
    }
    return render(request, "director/desk_empty.html", context)


@director_page
@require_GET
def desk_check(request: HttpRequest, check: int) -> HttpResponse:
    """The next take of this check that waits; its list when none does."""
    row = seen_or_404(PlayingCheck.objects.select_related("ensemble"), request, pk=check)
    return to_next(request, row, desk_sitting.sitting_of(request.user, row), None)


@director_page
@require_GET
def desk_list(request: HttpRequest, check: int) -> HttpResponse:
    """Everyone of the check by section, with their state."""
    row = seen_or_404(PlayingCheck.objects.select_related("ensemble"), request, pk=check)
    context = {
        "here": "desk",
        "page": desk_queue.check_list(row),
        "writing": unread_writing(request.user),
        "kept": kept_count(request.user),
        "others": [c for c in desk_queue.checks_waiting(request.user) if c.pk != row.pk],
    }
    return render(request, "director/desk_list.html", context)


@director_page
@require_GET
def desk_turn(request: HttpRequest, check: int, turn: int) -> HttpResponse:
    """One turn at the Desk."""
    return shown(request, sent_turn(request, check, turn))


@director_page
@require_POST
def desk_levels(request: HttpRequest, check: int, turn: int) -> HttpResponse:
    """Save the levels given so far; the readings come once the set is whole."""
    row = sent_turn(request, check, turn)
    at = at_of(request, row)
    given = {
        criterion: request.POST[LEVEL_FIELD + criterion]
        for criterion in at.criteria
        if request.POST.get(LEVEL_FIELD + criterion)
    }
    missing = [desk_lines.criterion_name(key) for key in at.criteria if key not in given]
    try:
        sitting = sitting_acts.keep_levels(request.user, row, at, given)
    except StandlightError as problem:
        return shown(request, row, slip=str(problem))
    if missing:
        kept = "Nothing is kept yet." if at.slipped == AGAIN else "What you gave is kept."
        return shown(request, row, slip=f"No level yet: {', '.join(missing)}. {kept}")
    if at.moves_on:
        if at.slipped == AGAIN:
            messages.info(request, HEARD_AGAIN)
        return to_next(request, sitting.check_row, sitting, row.pk)
    return redirect(reverse("desk-turn", args=[check, turn]) + at.query)


@director_page
@require_POST
def desk_remark(request: HttpRequest, check: int, turn: int) -> HttpResponse:
    """Keep a remark on measures for rehearsal."""
    row = sent_turn(request, check, turn)
    first, last = index_in(request, "first_measure"), index_in(request, "last_measure")
    try:
        if first is None and last is None:
            raise StandlightError("a remark needs its measures", slip="choose from and to")
        acts.remark_on_turn(
            request.user,
            row,
            first_measure=last if first is None else first,
            last_measure=first if last is None else last,
            words=request.POST.get("words", ""),
        )
    except StandlightError as problem:
        return shown(request, row, slip=str(problem))
    return redirect("desk-turn", check=check, turn=turn)


def to_next(
    request: HttpRequest,
    check: PlayingCheck,
    sitting: DeskSitting | None,
    current: int | None,
    queue: Queue | None = None,
) -> HttpResponse:
    """To the take after turn ``current``, in the ``queue`` as it was before; else to the list."""
    queue = queue or desk_sitting.queue_in(request.user, check, sitting)
    then = desk_sitting.following(request.user, check, sitting, queue, current)
    if then is None:
        return redirect("desk-list", check=check.pk)
    query = f"?s={sitting.pk}" if sitting is not None else ""
    return redirect(reverse("desk-turn", args=[then.check_pk, then.turn_pk]) + query)


def at_of(request: HttpRequest, turn: Turn) -> AtDesk:
    """On what terms the turn is heard: in the sitting that the address names."""
    key = request.GET.get("s", "")
    return desk_sitting.at_desk(request.user, turn, int(key) if SITTING_KEY.match(key) else None)


def sent_turn(request: HttpRequest, check: int, turn: int) -> Turn:
    """The sent turn of this check, or 404."""
    rows = Turn.objects.select_related("check_row__ensemble", "check_row__piece", "musician")
    return seen_or_404(rows, request, pk=turn, check_row=check, sent_at__isnull=False)


def shown(
    request: HttpRequest, turn: Turn, *, draft: AnswerDraft | None = None, slip: str = ""
) -> HttpResponse:
    """The Desk's page for ``turn``."""
    page = pages.desk_page(request.user, turn, draft, at_of(request, turn))
    context = {
        "here": "desk",
        "page": page,
        "slip": slip,
        "keeps": request.session.get(KEEPS_ANSWERS, False),
        "kept": kept_count(request.user),
    }
    return render(request, "director/desk.html", context)


urlpatterns = [
    path("", desk, name="desk"),
    path("<int:check>/", desk_check, name="desk-check"),
    path("<int:check>/all/", desk_list, name="desk-list"),
    path("<int:check>/<int:turn>/", desk_turn, name="desk-turn"),
    path("<int:check>/<int:turn>/levels/", desk_levels, name="desk-levels"),
    path("<int:check>/<int:turn>/remark/", desk_remark, name="desk-remark"),
]
