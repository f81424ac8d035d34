"""Groups: making discussion groups and sectionals, wishes, changing them by hand, print, screen."""

from __future__ import annotations

from collections.abc import Mapping

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import groups as acts
from standlight.programme.models import Ensemble, Grouping, GroupWish
from standlight.programme.queries import groups as pages
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted, number_in, numbers_in

HERE = "musicians"
BOXES = ("by_levels", "by_earlier", "with_roles")


@never_cache
@require_GET
@director_page
def groups(request: HttpRequest) -> HttpResponse:
    """Every ensemble with the groups that were made of it."""
    context = {"here": HERE, "ensembles": pages.groups_page(request.user)}
    return render(request, "director/groups.html", context)


@never_cache
@require_http_methods(["GET", "POST"])
@director_page
def make(request: HttpRequest, ensemble: int) -> HttpResponse:
    """Say who, how large and what matters; then the draft is there."""
    row = seen_or_404(Ensemble, request, pk=ensemble)
    typed = request.POST
    sent = request.method == "POST"
    page = pages.making_page(
        row,
        set(numbers_in(request.POST.getlist("section"))) if sent else None,
        set(numbers_in(request.POST.getlist("absent"))) if sent else (),
    )
    slip = ""
    if sent:
        asked = Grouping(
            ensemble=row,
            title=typed.get("title", ""),
            size=number_in(typed, "size"),
            parts=typed.get("parts", ""),
            **{name: bool(typed.get(name)) for name in BOXES},
            **pages.question_of(page, typed.get("question", "")),
        )
        try:
            made = acts.make(request.user, asked, pages.chosen_people(page))
            return redirect("grouping", ensemble=row.pk, pk=made.pk)
        except StandlightError as problem:
            slip = f"{problem}."
    context = {
        "here": HERE,
        "page": page,
        "slip": slip,
        "typed": typed,
        "size": typed.get("size", number_in(request.GET, "size") or pages.USUAL_SIZE),
        "parts": typed.get("parts", pages.USUAL_PARTS),
        "boxes": {name: bool(typed.get(name)) if sent else True for name in BOXES},
    }
    return render(request, "director/groups_make.html", context)


@never_cache
@require_http_methods(["GET", "POST"])
@director_page
def wishes(request: HttpRequest, ensemble: int) -> HttpResponse:
    """Who is to be kept apart or together; a form adds a wish."""
    row = seen_or_404(Ensemble, request, pk=ensemble)
    if request.method == "POST":
        apart = request.POST.get("way") != "together"
        pair = number_in(request.POST, "one"), number_in(request.POST, "other")
        return acted(
            request,
            lambda: acts.add_wish(request.user, row, *pair, apart),
            "The wish is kept. It counts when groups are made.",
            redirect("group-wishes", ensemble=row.pk),
        )
    context = {"here": HERE, "page": pages.wishes_page(row)}
    return render(request, "director/groups_wishes.html", context)


@require_POST
@director_page
def wish_drop(request: HttpRequest, ensemble: int, pk: int) -> HttpResponse:
    """Give a wish up."""
    wish = seen_or_404(GroupWish, request, pk=pk, ensemble=ensemble)
    answer = redirect("group-wishes", ensemble=ensemble)
    return acted(request, lambda: acts.drop_wish(wish), "The wish is given up.", answer)


@never_cache
@require_GET
@director_page
def one(request: HttpRequest, ensemble: int, pk: int) -> HttpResponse:
    """One grouping: who sits where, what speaks for it, what is against it."""
    page = pages.grouping_page(_row(request, ensemble, pk))
    return render(request, "director/groups_one.html", {"here": HERE, "page": page})


@require_POST
@director_page
def again(request: HttpRequest, ensemble: int, pk: int) -> HttpResponse:
    """Another draw by the same wishes."""
    row = _row(request, ensemble, pk)
    answer = redirect("grouping", ensemble=ensemble, pk=pk)
    return acted(request, lambda: acts.draw_again(row), "Here is another way to sit.", answer)


@require_POST
@director_page
def swap(request: HttpRequest, ensemble: int, pk: int) -> HttpResponse:
    """Two musicians change places."""
    row = _row(request, ensemble, pk)
    try:
        names = acts.swap(row, *(_sits(request.POST, name) for name in ("one", "other")))
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
    else:
        messages.success(request, f"{names} have changed places.")
    return redirect("grouping", ensemble=ensemble, pk=pk)


@require_POST
@director_page
def keep(request: HttpRequest, ensemble: int, pk: int) -> HttpResponse:
    """Keep a draft under a title."""
    row = _row(request, ensemble, pk)
    answer = redirect("grouping", ensemble=ensemble, pk=pk)
    title = request.POST.get("title", "")
    return acted(request, lambda: acts.keep(row, title), "The groups are kept.", answer)


@require_POST
@director_page
def share(request: HttpRequest, ensemble: int, pk: int) -> HttpResponse:
    """Show each musician their own group, or no longer."""
    row = _row(request, ensemble, pk)
    shown = request.POST.get("shown") == "yes"
    said = (
        "Each musician now reads the names of their own group."
        if shown
        else "The groups are no longer shown to musicians."
    )
    answer = redirect("grouping", ensemble=ensemble, pk=pk)
    return acted(request, lambda: acts.share(row, shown), said, answer)


@require_POST
@director_page
def drop(request: HttpRequest, ensemble: int, pk: int) -> HttpResponse:
    """Remove groups."""
    row = _row(request, ensemble, pk)
    return acted(request, lambda: acts.drop(row), "The groups are removed.", redirect("groups"))


@never_cache
@require_GET
@director_page
def to_print(request: HttpRequest, ensemble: int, pk: int) -> HttpResponse:
    """Names and roles on paper, nothing else."""
    page = pages.names_page(_row(request, ensemble, pk))
    return render(request, "director/groups_print.html", {"here": HERE, "page": page})


@never_cache
@require_GET
@director_page
def screen(request: HttpRequest, ensemble: int, pk: int) -> HttpResponse:
    """Names and roles in large print for everybody in the room."""
    page = pages.names_page(_row(request, ensemble, pk))
    return render(request, "director/groups_screen.html", {"here": HERE, "page": page})


def _row(request: HttpRequest, ensemble: int, pk: int) -> Grouping:
    """The grouping of the address, if the director may see it."""
    rows = Grouping.objects.select_related("ensemble", "assignment__kind")
    return seen_or_404(rows, request, pk=pk, ensemble=ensemble)


def _sits(typed: Mapping[str, str], name: str) -> acts.Sits:
    """A musician and their group from a choice such as ``17 in 3``; nobody from anything else."""
    pair = dict(zip(("pk", "number"), typed.get(name, "").split(" in "), strict=False))
    return acts.Sits(number_in(pair, "pk"), number_in(pair, "number"))


urlpatterns = [
    path("", groups, name="groups"),
    path("<int:ensemble>/", make, name="groups-make"),
    path("<int:ensemble>/wishes/", wishes, name="group-wishes"),
    path("<int:ensemble>/wishes/<int:pk>/drop/", wish_drop, name="group-wish-drop"),
    path("<int:ensemble>/<int:pk>/", one, name="grouping"),
    path("<int:ensemble>/<int:pk>/again/", again, name="grouping-again"),
    path("<int:ensemble>/<int:pk>/swap/", swap, name="grouping-swap"),
    path("<int:ensemble>/<int:pk>/keep/", keep, name="grouping-keep"),
    path("<int:ensemble>/<int:pk>/share/", share, name="grouping-share"),
    path("<int:ensemble>/<int:pk>/drop/", drop, name="grouping-drop"),
    path("<int:ensemble>/<int:pk>/print/", to_print, name="grouping-print"),
    path("<int:ensemble>/<int:pk>/screen/", screen, name="grouping-screen"),
]
