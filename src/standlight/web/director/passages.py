"""The passages of a check: one part opened, its ends moved, one place for all, substitutes."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import checks as actions
from standlight.programme.actions import substitutes
from standlight.programme.models import CheckPassage, Part, PlayingCheck
from standlight.programme.notation import svg_of
from standlight.programme.queries import bounds as bars
from standlight.programme.queries import passage_page as queries
from standlight.programme.queries.checks import check_page
from standlight.programme.queries.place_page import place_page
from standlight.programme.queries.substitutes import substitutes_page
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted, measures_in, number_in

HERE = "folder"


@require_http_methods(["GET", "POST"])
@director_page
def passage(request: HttpRequest, pk: int) -> HttpResponse:
    """One part opened, a piece of a page with scripts; posting moves it to other measures."""
    row = _passage(request, pk)
    if request.method == "POST":
        return acted(
            request,
            lambda: actions.move_passage(request.user, row, *measures_in(request.POST)),
            "Moved.",
            _back(row),
        )
    if row.part is None:
        return redirect("check", row.check_row_id)
    page = check_page(request.user, row.check_row, with_music=False)
    slip = ""
    try:
        part = queries.part_page(row.check_row, page, row, _trial(request.GET))
    except StandlightError as refused:
        slip = str(refused)
        part = queries.part_page(row.check_row, page, row, None)
    context = {"part": part, "slip": slip, "here": HERE}
    bare = bool(request.headers.get("HX-Request"))
    name = "director/checks_part.html" if bare else "director/checks_part_page.html"
    return render(request, name, context)


@require_GET
@director_page
def look(request: HttpRequest, pk: int) -> HttpResponse:
    """What other measures of a part ask and show, and the skyline for so many measures."""
    row = _passage(request, pk)
    span = _trial(request.GET)
    survey = queries.survey_or_none(row.check_row)
    if row.part is None or span is None or survey is None:
        raise Http404
    if not request.headers.get("HX-Request"):
        query = request.GET.urlencode()
        return redirect(f"{reverse('passage-move', args=[pk])}?{query}#ends-{pk}")
    try:
        seen = queries.seen_at(row.check_row, survey, row, *span)
    except StandlightError as slip:
        return render(request, "director/checks_look.html", {"slip": str(slip)})
    context = {
        "pk": row.pk,
        "seen": seen,
        "is_passage": span == (row.first_measure, row.last_measure),
        "bars": bars.bars_of(survey, row.part.index, span[1] - span[0] + 1),
        "swap": True,
    }
    return render(request, "director/checks_look.html", context)


@require_GET
@director_page
def music(request: HttpRequest, pk: int) -> HttpResponse:
    """One passage, drawn: a piece of a page with scripts, a small page without."""
    row = _passage(request, pk)
    context = {"svg": svg_of(row.notation_digest), "passage": row, "here": HERE}
    bare = bool(request.headers.get("HX-Request"))
    name = "director/checks_music_bare.html" if bare else "director/checks_music.html"
    return render(request, name, context)


@require_GET
@director_page
def place(request: HttpRequest, pk: int) -> HttpResponse:
    """One place seen across the parts, before it is used."""
    check = _check(request, pk)
    survey = queries.survey_or_none(check)
    if survey is None:
        return redirect("check", pk)
    page = check_page(request.user, check, with_music=False)
    try:
        found = place_page(check, page, survey, _trial(request.GET))
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
        return redirect("check-place", pk)
    return render(request, "director/checks_place.html", {"page": found, "here": HERE})


@require_POST
@director_page
def same_place(request: HttpRequest, pk: int) -> HttpResponse:
    """Put everyone who plays there at one place, or find passages anew."""
    check = _check(request, pk)
    answer = redirect("check", pk)
    if request.POST.get("propose"):
        keep_chosen = request.POST["propose"] == "others"
        return acted(
            request,
            lambda: actions.propose_again(request.user, check, keep_chosen=keep_chosen),
            "Passages are found anew.",
            answer,
        )
    try:
        moved, stayed = actions.same_place(request.user, check, *measures_in(request.POST))
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
        return answer
    words = f"{_parts(moved)} moved there"
    if stayed:
        words += f"; {_parts(stayed)} had too little there and did not"
    messages.success(request, f"{words}.")
    return answer


@require_POST
@director_page
def nearest(request: HttpRequest, pk: int) -> HttpResponse:
    """Give every part without a passage the nearest place it has."""
    check = _check(request, pk)
    return acted(
        request,
        lambda: actions.give_nearest(request.user, check),
        "Each has its nearest place now; what it misses is said beside it.",
        redirect("check", pk),
    )


@require_POST
@director_page
def keep_places(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep every passage where it is and say anew what it shows."""
    check = _check(request, pk)
    return acted(
        request,
        lambda: actions.say_again(request.user, check),
        "The places stay; what they show is said for the new criteria and tempo.",
        redirect("check", pk),
    )


@require_http_methods(["GET", "POST"])
@director_page
def substitute(request: HttpRequest, pk: int) -> HttpResponse:
    """What a part could play instead of its own line; posting lets it."""
    row = _passage(request, pk)
    if row.part is None:
        raise Http404
    slip, typed = "", ""
    if request.method == "POST":
        how = SUBSTITUTES.get(request.POST.get("how", ""))
        if how is None:
            raise Http404
        try:
            how(request, row)
        except StandlightError as refused:
            slip, typed = str(refused), request.POST.get("line", "")
        else:
            messages.success(request, f"{row.part.name} plays {row.printed}.")
            return _back(row)
    other = number_in(request.GET, "part")
    looked_at = (
        seen_or_404(Part.objects.select_related("piece"), request, pk=other) if other else None
    )
    page = substitutes_page(row.check_row, row, looked_at)
    context = {"page": page, "slip": slip, "line": typed or page.line, "here": HERE}
    return render(
        request, "director/checks_substitute.html", context, status=422 if slip else 200
    )


def _typed_line(request: HttpRequest, row: CheckPassage) -> None:
    """Let the part play the line that was typed."""
    cells = request.POST
    substitutes.play_typed_line(
        request.user, row, cells.get("line", ""), instrument=cells.get("instrument", "")
    )


def _other_piece(request: HttpRequest, row: CheckPassage) -> None:
    """Let the part play measures of another piece."""
    cells = request.POST
    part = seen_or_404(Part.objects.select_related("piece"), request, pk=number_in(cells, "part"))
    substitutes.play_other_piece(request.user, row, part, *measures_in(cells))


def _from_paper(request: HttpRequest, row: CheckPassage) -> None:
    """Let the part play what stands on paper."""
    substitutes.play_from_paper(request.user, row, request.POST.get("printed", ""))


SUBSTITUTES: Mapping[str, Callable[[HttpRequest, CheckPassage], None]] = {
    "line": _typed_line,
    "piece": _other_piece,
    "paper": _from_paper,
}
"""Ways to give a part something else, by the form's word."""


def _trial(cells: Mapping[str, str]) -> tuple[int, int] | None:
    """The measures named in an address, ``None`` when there are none."""
    if "first" not in cells or "last" not in cells:
        return None
    return measures_in(cells)


def _parts(number: int) -> str:
    """A number of parts in words."""
    return f"{number} part{'' if number == 1 else 's'}"


def _check(request: HttpRequest, pk: int) -> PlayingCheck:
    """The check, if the director sees it."""
    rows = PlayingCheck.objects.select_related("piece__ensemble", "ensemble__programme")
    return seen_or_404(rows, request, pk=pk)


def _passage(request: HttpRequest, pk: int) -> CheckPassage:
    """The passage with its check and part, if the director sees it."""
    rows = CheckPassage.objects.select_related(
        "part__piece", "check_row__piece", "check_row__ensemble__programme"
    )
    return seen_or_404(rows, request, pk=pk)


def _back(row: CheckPassage) -> HttpResponse:
    """To the part on the check's page, opened."""
    place = f"{reverse('check', args=[row.check_row_id])}?open={row.pk}#passage-{row.pk}"
    return redirect(place)


urlpatterns = [
    path("<int:pk>/place/", place, name="check-place"),
    path("<int:pk>/same-place/", same_place, name="check-same-place"),
    path("<int:pk>/nearest/", nearest, name="check-nearest"),
    path("<int:pk>/keep-places/", keep_places, name="check-keep-places"),
    path("passages/<int:pk>/", passage, name="passage-move"),
    path("passages/<int:pk>/look/", look, name="passage-look"),
    path("passages/<int:pk>/music/", music, name="passage-music"),
    path("passages/<int:pk>/substitute/", substitute, name="passage-substitute"),
]
