"""Own versions: ranges of a singing check and who sings it otherwise; lines of divided parts."""

from __future__ import annotations

from collections.abc import Mapping

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.views.decorators.http import require_GET, require_POST

from standlight.programme.actions import shifting as actions
from standlight.programme.models import CheckPassage, Musician, PlayingCheck, Seat
from standlight.programme.queries import shifting as queries
from standlight.programme.queries.lines import lines_page
from standlight.score import LINES, shift_words
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted, number_in

HERE = "folder"
PLAN_WORDS = {
    "halves": "the first half of the names has the upper line, the rest the lower",
    "upper": "the upper line for all who have not sent anything yet",
    "lower": "the lower line for all who have not sent anything yet",
    "all": "all notes for all who have not sent anything yet",
}
"""What was done for a whole part, by the plans of ``actions.shifting.PLANS``."""


@require_GET
@director_page
def ranges(request: HttpRequest, pk: int) -> HttpResponse:
    """Every sung part of a check: who sings it, what lies outside, how it is set for them."""
    check = seen_or_404(PlayingCheck.objects.select_related("ensemble"), request, pk=pk)
    context = {"page": queries.ranges_page(check), "here": HERE}
    return render(request, "director/checks_ranges.html", context)


@require_POST
@director_page
def own_version(request: HttpRequest, pk: int) -> HttpResponse:
    """Set a passage for one singer, or for everyone on the part who has not sent anything."""
    passage = _passage(request, pk)
    move = _move_in(request.POST.get("fitting") or request.POST.get("semitones", ""))
    if request.POST.get("whole_part"):
        return acted(
            request,
            lambda: actions.set_part_version(request.user, passage, move),
            f"{passage.part.name}: {shift_words(move)} for all who have not sent anything yet.",
            _back(passage),
        )
    musician = seen_or_404(Musician, request, pk=number_in(request.POST, "musician"))
    return acted(
        request,
        lambda: actions.set_own_version(request.user, passage, musician, move),
        f"{musician.name}: {shift_words(move)}.",
        _back(passage),
    )


@require_POST
@director_page
def singing_range(request: HttpRequest, pk: int) -> HttpResponse:
    """Mark a singer's comfortable range, and whether the voice is changing."""
    passage = _passage(request, pk)
    seats = Seat.objects.select_related("section", "musician")
    seat = seen_or_404(seats, request, pk=number_in(request.POST, "seat"))
    cells = request.POST
    return acted(
        request,
        lambda: actions.mark_range(
            request.user,
            seat,
            cells.get("lowest", ""),
            cells.get("highest", ""),
            voice_changing=bool(cells.get("voice_changing")),
        ),
        f"{seat.musician.name}: range kept.",
        _back(passage),
    )


@require_GET
@director_page
def lines(request: HttpRequest, pk: int) -> HttpResponse:
    """Every part of a check that divides: who has the upper line, the lower one, or all of it."""
    check = seen_or_404(PlayingCheck.objects.select_related("ensemble", "piece"), request, pk=pk)
    context = {"page": lines_page(check), "choices": LINES, "here": HERE}
    return render(request, "director/checks_lines.html", context)


@require_POST
@director_page
def passage_lines(request: HttpRequest, pk: int) -> HttpResponse:
    """Give everyone on a divided part their line: by a plan, or as chosen one by one."""
    passage = _passage(request, pk)
    plan = request.POST.get("plan", "")
    if plan and plan not in PLAN_WORDS:
        raise Http404

    def give() -> None:
        chosen = actions.planned_lines(passage, plan) if plan else _lines_in(request.POST)
        actions.set_lines(request.user, passage, chosen)

    said = f"{passage.part.name}: {PLAN_WORDS.get(plan, 'lines kept')}."
    return acted(request, give, said, _back(passage, "check-lines"))


def _lines_in(cells: Mapping[str, str]) -> dict[int, str]:
    """The line chosen for each musician, by key; a name that holds no number is left out."""
    found = {name: name.removeprefix("line-") for name in cells if name.startswith("line-")}
    return {
        int(number): cells[name]
        for name, number in found.items()
        if number.isascii() and number.isdigit() and len(number) < 18
    }


def _passage(request: HttpRequest, pk: int) -> CheckPassage:
    """A part's passage, if the director sees it."""
    rows = CheckPassage.objects.select_related("check_row", "part").filter(part__isnull=False)
    return seen_or_404(rows, request, pk=pk)


def _move_in(text: str) -> int:
    """The semitones chosen; what is no offer is no page of ours, so ``Http404``."""
    offered = {str(semitones): semitones for semitones in queries.OFFERED}
    if text not in offered:
        raise Http404
    return offered[text]


def _back(passage: CheckPassage, page: str = "check-ranges") -> HttpResponse:
    """To the part on the page of ranges, or of lines."""
    return redirect(f"{reverse(page, args=[passage.check_row_id])}#part-{passage.pk}")


urlpatterns = [
    path("<int:pk>/ranges/", ranges, name="check-ranges"),
    path("<int:pk>/lines/", lines, name="check-lines"),
    path("passages/<int:pk>/lines/", passage_lines, name="passage-lines"),
    path("passages/<int:pk>/own-version/", own_version, name="own-version"),
    path("passages/<int:pk>/singing-range/", singing_range, name="singing-range"),
]
