"""Bringing recordings in: files in bulk and one long recording, and the screen that matches them.

``bring-in.js`` sends many files one request each; without it one form brings them all.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from pathlib import Path

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import (
    Http404,
    HttpRequest,
    HttpResponse,
    HttpResponseRedirect,
    JsonResponse,
    StreamingHttpResponse,
)
from django.shortcuts import render
from django.urls import path, reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.programme import store
from standlight.programme.actions import bringing as acts
from standlight.programme.actions.retention import UNCLAIMED_DAYS
from standlight.programme.forgetting import forget_arrival, forget_recording
from standlight.programme.models import (
    Arrival,
    LongRecording,
    Musician,
    PlayingCheck,
    Section,
)
from standlight.programme.queries import bringing as pages
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import number_in
from standlight.web.takes import ranged

LEFT_OUT = ""
"""The value of "leave out" in a row's list."""

BLOCK_BYTES = 64 * 1024
_RANGE = re.compile(r"bytes=(\d+)-(\d*)$")


@director_page
@require_http_methods(["GET", "POST"])
def bring_in(request: HttpRequest, check: int) -> HttpResponse:
    """The screen of a check's files; a POST brings files in."""
    row = _check(request, check)
    if request.method == "POST":
        return _brought(request, row)
    return _shown(request, row)


def _check(request: HttpRequest, pk: int) -> PlayingCheck:
    return seen_or_404(PlayingCheck.objects.select_related("ensemble", "piece"), request, pk=pk)


def _shown(
    request: HttpRequest,
    check: PlayingCheck,
    recording: LongRecording | None = None,
    *,
    slip: str = "",
) -> HttpResponse:
    order = request.GET.get("order", "")
    page = pages.bring_page(
        request.user,
        check,
        recording=recording,
        order=int(order) if order.isdecimal() else None,
        unclaimed_days=UNCLAIMED_DAYS,
    )
    return render(request, "director/bringing.html", {"here": "desk", "page": page, "slip": slip})


def _brought(request: HttpRequest, check: PlayingCheck) -> HttpResponse:
    """Keep each file of the form; one that cannot be kept is told and hinders no other."""
    files = request.FILES.getlist("files")
    kept, slips = 0, []
    for file in files:
        try:
            acts.bring_file(
                request.user,
                check,
                file.read(acts.LARGEST_FILE_BYTES + 1),
                name=file.name or "",
                media_type=file.content_type or "",
                file_time=_time(request.POST.get("modified", "")),
            )
            kept += 1
        except StandlightError as problem:
            slips.append(_of_file(file, problem))
    if request.headers.get("Accept") == "application/json":
        return JsonResponse({"kept": kept, "slips": slips})
    if not files:
        slips.append("No file was chosen.")
    for slip in slips:
        messages.warning(request, slip)
    if kept:
        messages.success(request, f"{kept} recording{'s' * (kept != 1)} brought in.")
    return HttpResponseRedirect(reverse("bring-in", args=[check.pk]))


def _of_file(file: UploadedFile, problem: StandlightError) -> str:
    """A slip that names its file once."""
    name = file.name or "a file"
    return f"{name}: {problem.what if problem.where == name and not problem.slip else problem}."


def _time(text: str) -> datetime.datetime | None:
    """The file's time as the browser tells it, milliseconds since 1970; ``None`` for anything else.

    >>> _time("1764120000000").isoformat()
    '2025-11-26T01:20:00+00:00'
    >>> _time("yesterday") is None
    True
    """
    if not (text.isdecimal() and len(text) < 15):
        return None
    return datetime.datetime.fromtimestamp(int(text) / 1000, tz=datetime.UTC)


@director_page
@require_POST
def bring_long(request: HttpRequest, check: int) -> HttpResponse:
    """Take one long recording in and go to its parts."""
    row = _check(request, check)
    file = request.FILES.get("long")
    section = request.POST.get("section", "")
    try:
        if file is None:
            raise StandlightError("No file was chosen.")
        recording = acts.bring_long(
            request.user,
            row,
            file.read(acts.LARGEST_LONG_BYTES + 1),
            name=file.name or "",
            section=(
                seen_or_404(
                    Section.objects.filter(ensemble=row.ensemble), request, pk=int(section)
                )
                if section.isdecimal()
                else None
            ),
        )
    except StandlightError as problem:
        messages.warning(request, _of_file(file, problem) if file else str(problem))
        return HttpResponseRedirect(reverse("bring-in", args=[check]))
    return HttpResponseRedirect(reverse("bring-in-long", args=[check, recording.pk]))


@director_page
@require_GET
def long_recording(request: HttpRequest, check: int, recording: int) -> HttpResponse:
    """The parts of one long recording."""
    row = _check(request, check)
    return _shown(request, row, _recording(request, row, recording))


def _recording(request: HttpRequest, check: PlayingCheck, pk: int) -> LongRecording:
    rows = LongRecording.objects.filter(check_row=check).select_related("section")
    return seen_or_404(rows, request, pk=pk)


@director_page
@require_POST
def act(request: HttpRequest, check: int, recording: int | None = None) -> HttpResponse:
    """What the matching form asks: every row's choice is kept first, then the button is obeyed."""
    row = _check(request, check)
    long = _recording(request, row, recording) if recording is not None else None
    rows = list(
        Arrival.objects.visible_to(request.user)
        .filter(check_row=row, recording=long)
        .select_related("recording")
    )
    word, _, number = request.POST.get("do", "").partition(":")
    try:
        acts.settle(rows, _choices(request, rows, row))
        if word == "keep":
            return _kept(request, row, rows, long)
        _obey(request, word, rows, number, long)
    except StandlightError as problem:
        return _shown(request, row, long, slip=str(problem))
    if word == "away-all" and long is not None:
        return HttpResponseRedirect(reverse("bring-in", args=[check]))
    return HttpResponseRedirect(_address(check, recording) + (f"#row-{number}" if number else ""))


def _address(check: int, recording: int | None) -> str:
    if recording is None:
        return reverse("bring-in", args=[check])
    return reverse("bring-in-long", args=[check, recording])


def _choices(
    request: HttpRequest, rows: list[Arrival], check: PlayingCheck
) -> dict[int, int | None]:
    """The rows whose posted choice is another than the one the page had proposed."""
    allowed = pages.open_musicians(check)
    choices: dict[int, int | None] = {}
    for arrival in rows:
        given = request.POST.get(f"who-{arrival.pk}")
        if given is None or given == request.POST.get(f"was-{arrival.pk}", LEFT_OUT):
            continue
        musician = int(given) if given.isdecimal() else None
        choices[arrival.pk] = musician if musician in allowed else None
    return choices


def _obey(
    request: HttpRequest, word: str, rows: list[Arrival], number: str, long: LongRecording | None
) -> None:
    """Join, split, move or throw away one row; put names in order; throw all away."""
    if word == "order":
        acts.unsettle(rows)
    elif word == "away-all":
        for arrival in rows:
            forget_arrival(arrival)
        if long is not None:
            forget_recording(long)
    elif word in _ONE_ROW:
        arrival = next((one for one in rows if str(one.pk) == number), None)
        if arrival is None:
            raise StandlightError("this row is not here any more")
        arrival.refresh_from_db()
        _ONE_ROW[word](request, arrival)


def _split(request: HttpRequest, arrival: Arrival) -> None:
    acts.split_at(arrival, _second(request.POST.get(f"split-{arrival.pk}", "")))


def _move(request: HttpRequest, arrival: Arrival) -> None:
    start_s = _second(request.POST.get(f"start-{arrival.pk}", ""))
    acts.move_ends(arrival, start_s, _second(request.POST.get(f"end-{arrival.pk}", "")))


_ONE_ROW = {
    "join": lambda request, arrival: acts.join_next(arrival),
    "split": _split,
    "move": _move,
    "away": lambda request, arrival: forget_arrival(arrival),
}


def _second(text: str) -> float:
    """Seconds from "83.5" or "1:23.5"; raises ``StandlightError`` for anything else.

    >>> _second("1:23.5"), _second("9")
    (83.5, 9.0)
    """
    found = re.fullmatch(r"\s*(?:(\d{1,3}):)?(\d{1,5}(?:[.,]\d+)?)\s*", text)
    if not found:
        raise StandlightError(f"{text!r} is no place in the recording", slip="such as 1:23.5")
    return 60 * int(found[1] or 0) + float(found[2].replace(",", "."))


def _kept(
    request: HttpRequest, check: PlayingCheck, rows: list[Arrival], long: LongRecording | None
) -> HttpResponse:
    """Make takes of the rows that have a name in the form."""
    wanted = {
        arrival.pk: given
        for arrival in rows
        if (given := number_in(request.POST, f"who-{arrival.pk}"))
    }
    people = (
        Musician.objects.visible_to(request.user)
        .filter(seats__section__ensemble=check.ensemble)
        .in_bulk(set(wanted.values()))
    )
    chosen = [
        (arrival, people[wanted[arrival.pk]])
        for arrival in rows
        if wanted.get(arrival.pk) in people
    ]
    done = acts.keep_chosen(request.user, check, chosen)
    for sentence in done.stayed:
        messages.warning(request, f"Not kept. {sentence}")
    count = len(done.kept)
    names = ", ".join(done.kept)
    messages.success(
        request,
        f"{count} take{'s' * (count != 1)} kept: {names}. They wait at the Desk."
        if count
        else "Nothing was kept: no row has a name.",
    )
    if long is not None and LongRecording.objects.filter(pk=long.pk).exists():
        return HttpResponseRedirect(_address(check.pk, long.pk))
    return HttpResponseRedirect(_address(check.pk, None))


@director_page
@require_GET
def arrival_sound(request: HttpRequest, check: int, arrival: int) -> HttpResponse:
    """The listening copy of one file."""
    row = seen_or_404(Arrival, request, pk=arrival, check_row=check)
    if not row.playback_digest:
        raise Http404
    return ranged(request, store.fetch(row.playback_digest), "audio/flac")


@director_page
@require_GET
def recording_sound(request: HttpRequest, check: int, recording: int) -> HttpResponse:
    """The copy of a long recording, streamed from the disk in the range asked for."""
    row = seen_or_404(LongRecording, request, pk=recording, check_row=check)
    place = store.path_of(row.copy_digest)
    if not place.exists():
        raise Http404
    size = place.stat().st_size
    asked = _RANGE.match(request.headers.get("Range", ""))
    first = int(asked[1]) if asked else 0
    last = min(int(asked[2]), size - 1) if asked and asked[2] else size - 1
    if first > last:
        return HttpResponse(status=416, headers={"Content-Range": f"bytes */{size}"})
    answer = StreamingHttpResponse(
        _blocks(place, first, last), status=206 if asked else 200, content_type="audio/flac"
    )
    answer["Accept-Ranges"] = "bytes"
    answer["Content-Length"] = str(last - first + 1)
    answer["Cache-Control"] = "private, max-age=3600"
    if asked:
        answer["Content-Range"] = f"bytes {first}-{last}/{size}"
    return answer


def _blocks(place: Path, first: int, last: int) -> Iterator[bytes]:
    """The bytes of a file from ``first`` to ``last``, both included."""
    with place.open("rb") as source:
        source.seek(first)
        left = last - first + 1
        while left and (block := source.read(min(BLOCK_BYTES, left))):
            left -= len(block)
            yield block


urlpatterns = [
    path("<int:check>/bring-in/", bring_in, name="bring-in"),
    path("<int:check>/bring-in/rows/", act, name="bring-in-act"),
    path("<int:check>/bring-in/long/", bring_long, name="bring-in-long-new"),
    path("<int:check>/bring-in/file/<int:arrival>/sound", arrival_sound, name="arrival-sound"),
    path("<int:check>/bring-in/<int:recording>/", long_recording, name="bring-in-long"),
    path("<int:check>/bring-in/<int:recording>/rows/", act, name="bring-in-long-act"),
    path("<int:check>/bring-in/<int:recording>/sound", recording_sound, name="long-sound"),
]
