"""The podium page: one block fills the screen, and works on a tablet without network."""

from __future__ import annotations

import datetime
import json
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from standlight.programme.actions import rehearse_podium as acts
from standlight.programme.clean_text import one_line_of
from standlight.programme.models import Piece, PlannedRehearsal, Section
from standlight.programme.queries.rehearse_plan import podium_page
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted, number_in
from standlight.web.worker_scripts import worker_script

KEEP_OFFLINE = "Keep-Offline"
"""Answer header: the device may keep this page for a while without network."""

UNREADABLE = (ValueError, KeyError, TypeError, AttributeError, OverflowError, OSError)
"""What reading a tap or remark of the wrong form raises; the last two by moments beyond time."""

MISSHAPEN = (ValueError, KeyError, TypeError, AttributeError, RecursionError)
"""What a sending of the wrong form raises; the last by lists inside lists without end."""

LARGEST_SENDING = 256 * 1024
"""Bytes of one sending: some hundreds of taps and remarks."""


@never_cache
@require_safe
@director_page
def podium(request: HttpRequest, plan: int) -> HttpResponse:
    """The rehearsal block by block, large, without anybody's name."""
    page = podium_page(request.user, _plan(request, plan))
    # No spine on the stand: only the block, and the way back.
    context = {"here": "rehearse", "page": page, "places": ()}
    answer = render(request, "director/rehearse_podium.html", context)
    answer[KEEP_OFFLINE] = "yes"
    return answer


@never_cache
@require_POST
@director_page
def send(request: HttpRequest, plan: int) -> HttpResponse:
    """Keep what a tablet gathered: ``{"owner": key, "taps": [...], "remarks": [...]}``.

    Answers with the keys kept and refused. ``owner`` is who tapped: on a shared tablet that may be
    another than who is signed in, and then nothing is kept and 409 comes back. A refusal of the
    whole names who was asked, so that the tablet throws nothing away for somebody else's answer.
    """
    try:
        row = _plan(request, plan)
    except Http404:
        return _refused(request, "That plan is not there any more.", 404)
    if len(request.body) > LARGEST_SENDING:
        return _refused(request, "too much at once", 413)
    try:
        sent = json.loads(request.body)
        owner = sent["owner"]
        keyed = [(str(UUID(one["key"])), kind, one) for kind in READERS for one in sent[kind]]
    except MISSHAPEN:
        return _refused(request, "this is no sending of a podium page", 400)
    if str(owner) != str(request.user.pk):
        return _refused(request, "somebody else is signed in", 409)
    read: dict[str, list] = {kind: [] for kind in READERS}
    refused = {}
    for key, kind, one in keyed:
        try:
            read[kind].append(READERS[kind](request, one))
        except (*UNREADABLE, Http404):
            # One that cannot be read must not keep the others on the tablet for ever.
            refused[key] = "One thing from this tablet could not be read."
    kept = acts.keep_podium(request.user, row, read["taps"], read["remarks"])
    return JsonResponse({"kept": kept.kept, "refused": {**refused, **kept.refused}})


@require_POST
@director_page
def tap(request: HttpRequest, plan: int) -> HttpResponse:
    """The same tap by a plain form."""
    row = _plan(request, plan)
    key = one_line_of(request.POST.get("block", ""), 80)
    state = request.POST.get("state", "")
    return acted(
        request,
        lambda: acts.tap(request.user, row, key, state, timezone.now()),
        "Kept.",
        redirect("rehearse-podium", plan=row.pk),
    )


@require_POST
@director_page
def remark(request: HttpRequest, plan: int) -> HttpResponse:
    """The same remark by a plain form."""
    row = _plan(request, plan)
    cells = request.POST
    aim, _, strategy = cells.get("tag", "").partition(":")
    section = number_in(cells, "section")
    first = number_in(cells, "first")
    said = acts.Said(
        piece=seen_or_404(Piece, request, pk=number_in(cells, "piece")),
        first=first,
        last=number_in(cells, "last") or first,
        words=cells.get("words", ""),
        section=seen_or_404(Section, request, pk=section) if section else None,
        aim=aim,
        strategy=strategy,
    )
    return acted(
        request,
        lambda: acts.remark(request.user, said, plan=row),
        "Your remark is kept.",
        redirect("rehearse-podium", plan=row.pk),
    )


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The script that keeps the podium page without network, where its pages are."""
    return worker_script("rehearse-worker.js")


def _refused(request: HttpRequest, error: str, status: int) -> JsonResponse:
    """A refusal of a whole sending, with the key of who is signed in."""
    return JsonResponse({"error": error, "owner": request.user.pk}, status=status)


def _plan(request: HttpRequest, pk: int) -> PlannedRehearsal:
    return seen_or_404(PlannedRehearsal.objects.select_related("ensemble"), request, pk=pk)


def _when(milliseconds: object) -> datetime.datetime:
    """A moment as a browser counts it; raises ``ValueError`` for none."""
    if not isinstance(milliseconds, int | float):
        raise ValueError("no moment")
    return datetime.datetime.fromtimestamp(milliseconds / 1000, datetime.UTC)


def _tap(_request: HttpRequest, one: dict) -> acts.Tapped:
    """One tap as it was sent; raises ``ValueError`` for what is none."""
    if one["state"] not in ("open", "done", "not_done"):
        raise ValueError("no state of a block")
    block = one_line_of(one["block"], 80)
    return acts.Tapped(str(UUID(one["key"])), block, one["state"], _when(one["at"]))


def _said(request: HttpRequest, one: dict) -> acts.SaidThere:
    """One remark as it was sent; ``Http404`` for a piece or section that is another's."""
    section = one.get("section") or 0
    first = int(one["first"] or 0)
    said = acts.Said(
        piece=seen_or_404(Piece, request, pk=int(one["piece"])),
        first=first,
        last=int(one.get("last") or first),
        words=str(one.get("words") or ""),
        section=seen_or_404(Section, request, pk=int(section)) if section else None,
        aim=str(one.get("aim") or ""),
        strategy=str(one.get("strategy") or ""),
    )
    return acts.SaidThere(UUID(one["key"]), said, _when(one["at"]))


READERS = {"taps": _tap, "remarks": _said}
"""What a tablet may send, and how one of it is read."""

urlpatterns = [
    path("worker.js", worker, name="rehearse-worker"),
    path("<int:plan>/", podium, name="rehearse-podium"),
    path("<int:plan>/send/", send, name="rehearse-podium-send"),
    path("<int:plan>/tap/", tap, name="rehearse-podium-tap"),
    path("<int:plan>/remark/", remark, name="rehearse-podium-remark"),
]
