"""Work of every kind: what is given out, giving it out, and who stands where with it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.kinds import Kind, narrowed, rules_of
from standlight.programme import store
from standlight.programme.actions import assignments as actions
from standlight.programme.giving_form import rules_from
from standlight.programme.models import Assignment, Ensemble, Musician, WorkExcuse
from standlight.programme.queries import given_work as queries
from standlight.programme.queries.kind_editor import drawn_step
from standlight.programme.queries.kinds import kind_in, latest_kinds
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted, day_of, number_in
from standlight.web.takes import ranged

HERE = "folder"
MOST_SOUND_BYTES = 64 * 1024 * 1024
"""Ten minutes of uncompressed stereo are about 100 MB; a concert recording is compressed."""

DAYS_TO_DUE = 7
"""A new form offers a week; common practice, no source."""

REASONS = (
    (WorkExcuse.EXCUSED, "Excused: not asked for"),
    (WorkExcuse.ABSENT, "Was absent"),
    (WorkExcuse.NOT_ASSESSED, "Not assessed"),
)
"""What can be chosen for one musician, in the words of the form."""


@require_GET
@director_page
def work(request: HttpRequest) -> HttpResponse:
    """What is given out, ensemble by ensemble."""
    context = {"groups": queries.given_page(request.user), "here": HERE}
    return render(request, "director/work_list.html", context)


@require_GET
@director_page
def choose(request: HttpRequest) -> HttpResponse:
    """Choose an ensemble and a kind; both are links to the form."""
    ensembles = list(Ensemble.objects.visible_to(request.user))
    asked = number_in(request.GET, "ensemble")
    chosen = next((one for one in ensembles if one.pk == asked), None)
    context = {
        "ensembles": ensembles,
        "ensemble": chosen or (ensembles[0] if len(ensembles) == 1 else None),
        "moments": queries.kinds_by_moment(request.user),
        "here": HERE,
    }
    return render(request, "director/work_choose.html", context)


@require_http_methods(["GET", "POST"])
@director_page
def give(request: HttpRequest, ensemble: int, kind: str) -> HttpResponse:
    """Give one kind of work out to one ensemble; a form with a slip comes back as typed."""
    group = seen_or_404(Ensemble, request, pk=ensemble)
    offered = _offered(request, kind)
    slip = None
    if request.method == "POST":
        try:
            made = actions.give_out(request.user, _giving(request, group, offered))
        except StandlightError as refused:
            slip = refused
        else:
            messages.success(request, "The draft is made. Look it over, then publish it.")
            return redirect("assignment", made.pk)
    today = timezone.localdate()
    cells = request.POST or {
        "title": offered.name,
        "starts_on": today.isoformat(),
        "due_on": (today + timedelta(days=DAYS_TO_DUE)).isoformat(),
    }
    page = queries.giving_page(group, offered, dict(request.POST.lists()))
    context = {
        "page": page,
        "slip": slip,
        "cells": cells,
        "sections": request.POST.getlist("section"),
        "chose_file": bool(request.FILES),
        "here": HERE,
    }
    return render(request, "director/work_give.html", context, status=422 if slip else 200)


@require_GET
@director_page
def assignment(request: HttpRequest, pk: int) -> HttpResponse:
    """One assignment: who stands where, in sections."""
    row = _assignment(request, pk)
    context = {"page": queries.assignment_page(row), "reasons": REASONS, "here": HERE}
    return render(request, "director/work_one.html", context)


@require_GET
@director_page
def form(request: HttpRequest, pk: int) -> HttpResponse:
    """The forms of an assignment as its musicians see them; nothing in them is kept."""
    row = _assignment(request, pk)
    steps = kind_in(row.kind).steps
    drawn = [
        drawn_step(narrowed(step, rules_of(row.rules.get(step.key) or {}, step)), number)
        for number, step in enumerate(steps, start=1)
    ]
    context = {"assignment": row, "drawn": drawn, "here": HERE}
    return render(request, "director/work_form.html", context)


@require_POST
@director_page
def act(request: HttpRequest, pk: int, act: str) -> HttpResponse:
    """One of the acts on an assignment that need nothing but a press."""
    row = _assignment(request, pk)
    if act not in ACTS:
        raise Http404
    do, said, to_page = ACTS[act]
    answer = redirect("assignment", pk) if to_page else redirect("work")
    try:
        made = do(row)
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
        return redirect("assignment", pk)
    messages.success(request, said)
    return redirect("assignment", made.pk) if isinstance(made, Assignment) else answer


@require_POST
@director_page
def move_day(request: HttpRequest, pk: int) -> HttpResponse:
    """Move the due day of everybody; an empty day is any time."""
    row = _assignment(request, pk)

    def move() -> None:
        text = request.POST.get("due_on", "").strip()
        actions.move_due(row, day_of(text) if text else None)

    return acted(request, move, "The day is moved.", redirect("assignment", pk))


@require_POST
@director_page
def excuse(request: HttpRequest, pk: int, musician: int) -> HttpResponse:
    """Say why one musician's work is not asked for, give a later day, or ask again."""
    row = _assignment(request, pk)
    who = seen_or_404(Musician, request, pk=musician)

    def change() -> None:
        reason = request.POST.get("reason", "")
        until = request.POST.get("until", "").strip()
        if not reason and not until:
            actions.ask_again(request.user, row, who)
        else:
            day = day_of(until) if until else None
            actions.excuse(request.user, row, who, reason or WorkExcuse.EXCUSED, day)

    answer = redirect("assignment", pk)
    answer["Location"] += f"#musician-{who.pk}"
    return acted(request, change, f"{who.name}: saved.", answer)


@require_GET
@director_page
def sound(request: HttpRequest, pk: int) -> HttpResponse:
    """The recording that was given with an assignment."""
    row = _assignment(request, pk)
    if not row.sound_digest:
        raise Http404
    return ranged(request, store.fetch(row.sound_digest), "audio/flac")


Act = tuple[Callable[[Assignment], object], str, bool]
ACTS: dict[str, Act] = {
    "publish": (actions.publish, "Published: the musicians see it now.", True),
    "take-back": (actions.take_back, "Taken back: no musician sees it.", True),
    "throw-away": (actions.throw_away, "The draft is thrown away.", False),
    "lay-open": (actions.lay_open, "The group now sees how others answered.", True),
    "next": (
        actions.next_sections,
        "The next section’s turn: a draft with its own days. Look it over, then publish it.",
        True,
    ),
}
"""Acts on an assignment: what is done, what is said after, and whether its page still is."""


def _assignment(request: HttpRequest, pk: int) -> Assignment:
    """The assignment, if the director sees it."""
    rows = Assignment.objects.select_related("kind", "ensemble__programme", "piece")
    return seen_or_404(rows, request, pk=pk)


def _offered(request: HttpRequest, key: str) -> Kind:
    """The kind as it is given out now; 404 for one that is not there or put away."""
    for one in latest_kinds(request.user.programme):
        if one.kind.key == key and not one.is_put_away:
            return one.kind
    raise Http404


def _giving(request: HttpRequest, ensemble: Ensemble, kind: Kind) -> actions.Giving:
    """What stands in the form."""
    cells = request.POST
    any_time = cells.get("when") == "any"
    if not any_time and not cells.get("due_on", "").strip():
        raise StandlightError("no due day is chosen", slip="or choose “any time”")
    return actions.Giving(
        ensemble_pk=ensemble.pk,
        kind_key=kind.key,
        title=cells.get("title", ""),
        note=cells.get("note", ""),
        piece_pk=number_in(cells, "piece") or None,
        section_pks=[number_in({"pk": one}, "pk") for one in cells.getlist("section")],
        rules=rules_from(kind, cells, cells.getlist),
        starts_on=day_of(cells.get("starts_on", "")),
        due_on=None if any_time else day_of(cells.get("due_on", "").strip()),
        sound=_sound(request) if cells.get("hearing") == "own" else None,
        sound_name=cells.get("sound_name", ""),
    )


def _sound(request: HttpRequest) -> bytes:
    """The audio file of the form."""
    upload = request.FILES.get("sound")
    if upload is None:
        raise StandlightError("no sound file was chosen", slip="or choose “a live hearing”")
    if upload.size > MOST_SOUND_BYTES:
        raise StandlightError("the file has more than 64 MB", slip="a film of the concert?")
    return upload.read()


urlpatterns = [
    path("", work, name="work"),
    path("give/", choose, name="work-choose"),
    path("give/<int:ensemble>/<str:kind>/", give, name="work-give"),
    path("<int:pk>/", assignment, name="assignment"),
    path("<int:pk>/form/", form, name="assignment-form"),
    path("<int:pk>/day/", move_day, name="assignment-day"),
    path("<int:pk>/sound/", sound, name="assignment-sound"),
    path("<int:pk>/excuse/<int:musician>/", excuse, name="assignment-excuse"),
    path("<int:pk>/act/<slug:act>/", act, name="assignment-act"),
]
