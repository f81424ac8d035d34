"""Rehearse: the place, the strip of a piece, the plan of a rehearsal and all that changes it."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.views.decorators.http import require_GET, require_POST

from standlight.programme.actions import rehearse as acts
from standlight.programme.actions import rehearse_podium as said
from standlight.programme.models import (
    Ensemble,
    Piece,
    PlannedBlock,
    PlannedRehearsal,
    Remark,
    Section,
)
from standlight.programme.queries.rehearse import next_plan, rehearse_page
from standlight.programme.queries.rehearse_plan import plan_page
from standlight.programme.queries.rehearse_strip import strip_page
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted, day_of, index_in, measures_in, number_in, numbers_in

HERE = "rehearse"


@director_page
@require_GET
def rehearse(request: HttpRequest) -> HttpResponse:
    """Every ensemble: rehearsals ahead, the last one, the strips of its pieces."""
    context = {"here": HERE, "page": rehearse_page(request.user)}
    return render(request, "director/rehearse.html", context)


@director_page
@require_POST
def draw(request: HttpRequest) -> HttpResponse:
    """Draw up the plan of one rehearsal and open it."""
    ensemble = seen_or_404(Ensemble, request, pk=number_in(request.POST, "ensemble"))
    made: list[PlannedRehearsal] = []

    def act() -> None:
        made.append(
            acts.draw_up(
                request.user,
                ensemble,
                day_of(request.POST.get("day", "")),
                number_in(request.POST, "minutes"),
                _pieces(request, ensemble.pk),
            )
        )

    answer = acted(request, act, "The plan is drawn up. Change what you like.", _to_place())
    return _to_plan(made[0]) if made else answer


@director_page
@require_GET
def strip(request: HttpRequest, piece: int) -> HttpResponse:
    """Three voices on one piece, its spots, blind spots and false worries."""
    row = _piece(request, piece)
    only = request.GET.get("only") == "rated"
    page = strip_page(row, next_plan(row.ensemble_id), only_rated=only)
    return render(request, "director/rehearse_strip.html", {"here": HERE, "page": page})


@director_page
@require_POST
def remark(request: HttpRequest, piece: int) -> HttpResponse:
    """Keep a director's remark on measures of the piece."""
    row = _piece(request, piece)
    first = number_in(request.POST, "first")
    section = number_in(request.POST, "section")
    word = said.Said(
        piece=row,
        first=first,
        last=number_in(request.POST, "last") or first,
        words=request.POST.get("words", ""),
        section=seen_or_404(Section, request, pk=section) if section else None,
        aim=request.POST.get("aim", ""),
    )
    return acted(
        request,
        lambda: said.remark(request.user, word),
        "Your remark is kept. It counts from the next plan on.",
        _to_strip(row),
    )


@director_page
@require_POST
def mend(request: HttpRequest, piece: int, remark: int) -> HttpResponse:
    """Move a remark that lies on no measure to the nearest that there is."""
    row = _piece(request, piece)
    kept = seen_or_404(Remark.objects.select_related("piece"), request, pk=remark, piece=row)
    return acted(
        request,
        lambda: said.mend_remark(request.user, kept, measures_in(request.POST)),
        "The remark stands there now.",
        _to_strip(row),
    )


@director_page
@require_POST
def length(request: HttpRequest, piece: int) -> HttpResponse:
    """Say how many measures a piece on paper has."""
    row = _piece(request, piece)
    measures = number_in(request.POST, "measures")
    return acted(
        request,
        lambda: said.set_length(request.user, row, measures),
        f"{row.title} has {measures} measures.",
        _to_strip(row),
    )


@director_page
@require_GET
def plan(request: HttpRequest, plan: int) -> HttpResponse:
    """The plan: a column of blocks, why each is there, and what can be changed."""
    page = plan_page(_plan(request, plan))
    return render(request, "director/rehearse_plan.html", {"here": HERE, "page": page})


@director_page
@require_GET
def printed(request: HttpRequest, plan: int) -> HttpResponse:
    """The plan for a substitute, on one printed page."""
    page = plan_page(_plan(request, plan))
    return render(request, "director/rehearse_print.html", {"here": HERE, "page": page})


@director_page
@require_POST
def again(request: HttpRequest, plan: int) -> HttpResponse:
    """Draw the plan anew from what is known by now."""
    words = "Drawn anew from what is known by now."
    return _changed(request, plan, lambda row: acts.draw_again(request.user, row), words)


@director_page
@require_POST
def as_drawn(request: HttpRequest, plan: int) -> HttpResponse:
    """Forget the changes to the plan."""
    words = "Your changes are taken back. Blocks of your own stay."
    return _changed(request, plan, lambda row: acts.take_back_wishes(request.user, row), words)


@director_page
@require_POST
def let_go(request: HttpRequest, plan: int) -> HttpResponse:
    """Throw the plan away."""
    row = _plan(request, plan)
    answer = _to_place()
    return acted(
        request, lambda: acts.let_go_plan(request.user, row), "The plan is gone.", answer
    )


@director_page
@require_POST
def period(request: HttpRequest, plan: int) -> HttpResponse:
    """Change the minutes and the pieces of the rehearsal."""
    minutes = number_in(request.POST, "minutes")

    def act(row: PlannedRehearsal) -> None:
        acts.set_period(request.user, row, minutes, _pieces(request, row.ensemble_id))

    return _changed(request, plan, act, "Drawn anew for these minutes and pieces.")


@director_page
@require_POST
def put_in(request: HttpRequest, plan: int) -> HttpResponse:
    """Put measures into the plan: a spot's own (0-based), or printed numbers that were typed."""
    piece = _piece(request, number_in(request.POST, "piece"))
    minutes = number_in(request.POST, "minutes") or None

    def act(row: PlannedRehearsal) -> None:
        acts.pin(request.user, row, piece, _places(request, piece), minutes)

    return _changed(request, plan, act, "It is in the plan.")


@director_page
@require_POST
def add(request: HttpRequest, plan: int) -> HttpResponse:
    """Add a block of the director's own."""
    piece_pk = number_in(request.POST, "piece")
    piece = _piece(request, piece_pk) if piece_pk else None
    typed = bool(request.POST.get("printed_first", "").strip())

    def act(row: PlannedRehearsal) -> None:
        acts.add_own(
            request.user,
            row,
            title=request.POST.get("title", ""),
            minutes=number_in(request.POST, "minutes"),
            piece=piece,
            measures=_places(request, piece) if piece is not None and typed else None,
            how=request.POST.get("how", ""),
        )

    return _changed(request, plan, act, "Your block is in the plan.")


@director_page
@require_POST
def block(request: HttpRequest, plan: int, block: int, act: str) -> HttpResponse:
    """Change one block by one of `BLOCK_ACTS`."""
    row = _plan(request, plan)
    rows = PlannedBlock.objects.select_related("plan__ensemble", "piece")
    one = seen_or_404(rows, request, pk=block, plan=row)
    do, done = BLOCK_ACTS[act]
    answer = HttpResponseRedirect(f"{reverse('rehearse-plan', args=[row.pk])}#blocks")
    return acted(request, lambda: do(request, one), done, answer)


def _changed(
    request: HttpRequest, plan: int, act: Callable[[PlannedRehearsal], object], words: str
) -> HttpResponse:
    """Do something to a plan; its page says what was done, or why not."""
    row = _plan(request, plan)
    return acted(request, lambda: act(row), words, _to_plan(row))


def _keep(request: HttpRequest, one: PlannedBlock) -> None:
    """Pin a drawn block as it stands, so that it stays whatever is heard next."""
    measures = (one.first_measure or 0, one.last_measure or 0)
    acts.pin(request.user, one.plan, one.piece, measures, one.minutes)


BLOCK_ACTS: dict[str, tuple[Callable[[HttpRequest, PlannedBlock], object], str]] = {
    "drop": (
        lambda request, one: acts.drop(request.user, one),
        "Left out. Its minutes went to the others.",
    ),
    "minutes": (
        lambda request, one: acts.stretch(
            request.user, one, number_in(request.POST, "minutes") or None
        ),
        "The minutes are set. The others share what is left.",
    ),
    "up": (lambda request, one: acts.move(request.user, one, -1), "Moved up."),
    "down": (lambda request, one: acts.move(request.user, one, 1), "Moved down."),
    "keep": (_keep, "This block stays, whatever is heard next."),
    "words": (
        lambda request, one: acts.set_texts(request.user, one, request.POST.dict()),
        "The words are kept.",
    ),
}
"""What can be done with one block: the act, and what is said then."""


def _piece(request: HttpRequest, pk: int) -> Piece:
    return seen_or_404(Piece.objects.select_related("ensemble"), request, pk=pk)


def _plan(request: HttpRequest, pk: int) -> PlannedRehearsal:
    return seen_or_404(PlannedRehearsal.objects.select_related("ensemble"), request, pk=pk)


def _pieces(request: HttpRequest, ensemble_pk: int) -> list[Piece]:
    """The chosen pieces of the ensemble."""
    chosen = numbers_in(request.POST.getlist("piece"))[:100]
    return list(Piece.objects.visible_to(request.user).filter(pk__in=chosen, ensemble=ensemble_pk))


def _places(request: HttpRequest, piece: Piece) -> tuple[int, int]:
    """0-based measures of a form: as indexes, or as printed numbers."""
    first, last = index_in(request, "first"), index_in(request, "last")
    if first is not None and last is not None:
        return first, last
    start = number_in(request.POST, "printed_first")
    end = number_in(request.POST, "printed_last") or start
    return said.measure_index(piece, start), said.measure_index(piece, end)


def _to_place() -> HttpResponse:
    return redirect("rehearse")


def _to_strip(piece: Piece) -> HttpResponse:
    return redirect("rehearse-strip", piece=piece.pk)


def _to_plan(plan: PlannedRehearsal) -> HttpResponse:
    return redirect("rehearse-plan", plan=plan.pk)


urlpatterns = [
    path("", rehearse, name="rehearse"),
    path("draw/", draw, name="rehearse-draw"),
    path("piece/<int:piece>/", strip, name="rehearse-strip"),
    path("piece/<int:piece>/remark/", remark, name="rehearse-remark"),
    path("piece/<int:piece>/remark/<int:remark>/mend/", mend, name="rehearse-mend"),
    path("piece/<int:piece>/length/", length, name="rehearse-length"),
    path("plan/<int:plan>/", plan, name="rehearse-plan"),
    path("plan/<int:plan>/print/", printed, name="rehearse-print"),
    path("plan/<int:plan>/again/", again, name="rehearse-again"),
    path("plan/<int:plan>/as-drawn/", as_drawn, name="rehearse-as-drawn"),
    path("plan/<int:plan>/let-go/", let_go, name="rehearse-let-go"),
    path("plan/<int:plan>/period/", period, name="rehearse-period"),
    path("plan/<int:plan>/put-in/", put_in, name="rehearse-put-in"),
    path("plan/<int:plan>/add/", add, name="rehearse-add"),
    *(
        path(f"plan/<int:plan>/block/<int:block>/{act}/", block, {"act": act},
             name=f"rehearse-block-{act}")
        for act in BLOCK_ACTS
    ),
]  # fmt: skip
