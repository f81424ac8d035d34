"""Desk: hear takes, give levels, answer."""

from __future__ import annotations

from dataclasses import replace

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import desk as acts
from standlight.programme.models import CommentLine, PlayingCheck, Turn
from standlight.programme.queries import desk as pages
from standlight.programme.queries import desk_lines, desk_queue
from standlight.programme.queries.desk_values import AnswerDraft
from standlight.programme.queries.reading import unread_writing
from standlight.web.access import director_page, seen_or_404

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
    }
    return render(request, "director/desk_empty.html", context)


@director_page
@require_GET
def desk_check(request: HttpRequest, check: int) -> HttpResponse:
    """The next take of this check that waits; its list when none does."""
    row = seen_or_404(PlayingCheck, request, pk=check)
    queue = desk_queue.queue_of(request.user, row)
    if not queue:
        return redirect("desk-list", check=row.pk)
    return redirect("desk-turn", check=row.pk, turn=queue[0])


@director_page
@require_GET
def desk_list(request: HttpRequest, check: int) -> HttpResponse:
    """Everyone of the check by section, with their state."""
    row = seen_or_404(PlayingCheck.objects.select_related("ensemble"), request, pk=check)
    context = {
        "here": "desk",
        "page": desk_queue.check_list(row),
        "writing": unread_writing(request.user),
        "others": [c for c in desk_queue.checks_waiting(request.user) if c.pk != row.pk],
    }
    return render(request, "director/desk_list.html", context)


@director_page
@require_GET
def desk_turn(request: HttpRequest, check: int, turn: int) -> HttpResponse:
    """One turn at the Desk."""
    return _shown(request, _turn(request, check, turn))


@director_page
@require_POST
def desk_levels(request: HttpRequest, check: int, turn: int) -> HttpResponse:
    """Save the levels given so far; the readings come once the set is whole."""
    row = _turn(request, check, turn)
    given = {
        criterion: request.POST[LEVEL_FIELD + criterion]
        for criterion in row.check_row.criteria
        if request.POST.get(LEVEL_FIELD + criterion)
    }
    try:
        acts.rate(request.user, row, given)
    except StandlightError as problem:
        return _shown(request, row, slip=str(problem))
    missing = [name for name in row.check_row.criteria if name not in given]
    if missing:
        words = ", ".join(desk_lines.criterion_name(key) for key in missing)
        return _shown(request, row, slip=f"No level yet: {words}. What you gave is kept.")
    return redirect("desk-turn", check=check, turn=turn)


@director_page
@require_POST
def desk_answer(request: HttpRequest, check: int, turn: int) -> HttpResponse:
    """Send the answer and go to the next take; a bank line's button only fills its field."""
    row = _turn(request, check, turn)
    draft = AnswerDraft(
        strength=request.POST.get("strength", ""),
        next_step=request.POST.get("next_step", ""),
        strategy=request.POST.get("strategy", ""),
        first_measure=_index(request, "first_measure"),
        last_measure=_index(request, "last_measure"),
    )
    if "use" in request.POST:
        return _shown(request, row, draft=_with_line(request, draft))
    following = desk_queue.next_in(desk_queue.queue_of(request.user, row.check_row), row.pk)
    try:
        acts.answer_turn(
            request.user,
            row,
            next_step=draft.next_step,
            strength=draft.strength,
            strategy=draft.strategy,
            first_measure=draft.first_measure,
            last_measure=draft.last_measure,
        )
        _keep_in_bank(request, row, draft)
    except StandlightError as problem:
        return _shown(request, row, draft=draft, slip=str(problem))
    if following is None:
        return redirect("desk-list", check=check)
    return redirect("desk-turn", check=check, turn=following)


@director_page
@require_POST
def desk_remark(request: HttpRequest, check: int, turn: int) -> HttpResponse:
    """Keep a remark on measures for rehearsal."""
    row = _turn(request, check, turn)
    first, last = _index(request, "first_measure"), _index(request, "last_measure")
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
        return _shown(request, row, slip=str(problem))
    return redirect("desk-turn", check=check, turn=turn)


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
    return render(request, "director/desk_lines.html", {"here": "desk", "page": page, "slip": slip})


@director_page
@require_http_methods(["GET", "POST"])
def line(request: HttpRequest, line: int) -> HttpResponse:
    """Change one line of the bank, or take it out."""
    row = seen_or_404(CommentLine, request, pk=line)
    slip = ""
    if request.method == "POST":
        try:
            if "drop" in request.POST:
                acts.drop_line(row)
            else:
                _keep_line(request, row)
            return redirect("desk-lines")
        except StandlightError as problem:
            slip = str(problem)
            row.refresh_from_db()
    context = {"here": "desk", "page": desk_lines.line_page(row), "slip": slip}
    return render(request, "director/desk_line.html", context)


def _turn(request: HttpRequest, check: int, turn: int) -> Turn:
    """The sent turn of this check, or 404."""
    rows = Turn.objects.select_related("check_row__ensemble", "check_row__piece", "musician")
    return seen_or_404(rows, request, pk=turn, check_row=check, sent_at__isnull=False)


def _shown(
    request: HttpRequest, turn: Turn, *, draft: AnswerDraft | None = None, slip: str = ""
) -> HttpResponse:
    """The Desk's page for ``turn``."""
    page = pages.desk_page(request.user, turn, draft)
    return render(request, "director/desk.html", {"here": "desk", "page": page, "slip": slip})


def _index(request: HttpRequest, name: str) -> int | None:
    """A measure's index from a select; empty is none, and so is what is no number."""
    text = request.POST.get(name, "")
    return int(text) if text.isdigit() and len(text) < 7 else None


def _with_line(request: HttpRequest, draft: AnswerDraft) -> AnswerDraft:
    """The draft with the chosen bank line in its place."""
    chosen = get_object_or_404(
        CommentLine.objects.visible_to(request.user), pk=_index(request, "use") or 0
    )
    return replace(draft, **{chosen.place: chosen.text})


def _keep_in_bank(request: HttpRequest, turn: Turn, draft: AnswerDraft) -> None:
    """Add the next step to the bank for the lowest level given, when the box is ticked."""
    place = pages.bank_place(request.user, turn)
    if request.POST.get("keep_line") and place is not None:
        criterion, level = place
        acts.keep_line(
            request.user,
            criterion=criterion,
            place=CommentLine.NEXT_STEP,
            level=level,
            text=draft.next_step,
        )


def _keep_line(request: HttpRequest, row: CommentLine | None) -> None:
    """Add or change a line from the form's fields."""
    acts.keep_line(
        request.user,
        criterion=request.POST.get("criterion", ""),
        place=request.POST.get("place", ""),
        level=_index(request, "level"),
        text=request.POST.get("text", ""),
        line=row,
    )


urlpatterns = [
    path("", desk, name="desk"),
    path("lines/", lines, name="desk-lines"),
    path("lines/<int:line>/", line, name="desk-line"),
    path("<int:check>/", desk_check, name="desk-check"),
    path("<int:check>/all/", desk_list, name="desk-list"),
    path("<int:check>/<int:turn>/", desk_turn, name="desk-turn"),
    path("<int:check>/<int:turn>/levels/", desk_levels, name="desk-levels"),
    path("<int:check>/<int:turn>/answer/", desk_answer, name="desk-answer"),
    path("<int:check>/<int:turn>/remark/", desk_remark, name="desk-remark"),
]
