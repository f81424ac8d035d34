"""Playing checks: a passage for every part, published, printed, launched."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight.criteria import CRITERIA
from standlight.errors import StandlightError
from standlight.programme import store
from standlight.programme.actions import checks as actions
from standlight.programme.actions.folder import confirm_owns_music
from standlight.programme.actions.terms import checked_terms, keep_terms
from standlight.programme.models import Piece, PlayingCheck, Section
from standlight.programme.pitch_targets import CHOICES, EQUAL, TONICS
from standlight.programme.queries import checks as queries
from standlight.programme.queries import print_pages as printing
from standlight.programme.queries.passage_page import PartPage, part_page, passages_page
from standlight.programme.queries.shifting import ranges_page
from standlight.programme.queries.terms import terms_of, terms_sentences
from standlight.web.access import director_page, seen_or_404
from standlight.web.director import checks_again, passages
from standlight.web.director.checks_terms import terms_cells, terms_in
from standlight.web.fields import acted, day_of, number_in
from standlight.web.takes import ranged

HERE = "folder"
MOST_SOUND_BYTES = 64 * 1024 * 1024
"""Ten minutes of uncompressed stereo are about 100 MB; a model take is a minute, compressed."""

FIRST_CHOICE = ("tone", "intonation", "rhythm")
"""Ticked on a new form: one criterion for the ear alone, two with readings."""

DAYS_TO_DUE = 7
"""A new form offers a week; common practice, no source."""


DEFAULT_TEMPO = 80
"""Beats a minute on a new form when the score gives no tempo; common practice, no source."""


@require_GET
@director_page
def checks(request: HttpRequest) -> HttpResponse:
    """Every check with where it stands."""
    lines = queries.check_lines(request.user)
    context = {
        "checks": [line for line in lines if not line.earlier],
        "earlier": [line for line in lines if line.earlier],
        "here": HERE,
    }
    return render(request, "director/checks.html", context)


@require_http_methods(["GET", "POST"])
@director_page
def make_check(request: HttpRequest, piece: int) -> HttpResponse:
    """Make a check of a piece."""
    row = seen_or_404(Piece.objects.select_related("ensemble"), request, pk=piece)
    slip, beat = None, queries.beat_of(row)
    if request.method == "POST":
        try:
            facts = _facts(request.POST, beat)
            if facts.due_on < timezone.localdate():
                raise StandlightError("the due day has already passed")
            terms = terms_in(request.POST)
            checked_terms(terms, together=facts.together, on_paper=row.on_paper_only)
            made = actions.make_check(
                request.user, row, facts, printed=request.POST.get("printed", "")
            )
            keep_terms(request.user, made, terms)
        except StandlightError as refused:
            slip = refused
        else:
            return redirect("check", made.pk)
    offered = {
        "title": row.title,
        "tempo": f"{row.tempo_qpm / beat.quarters if row.tempo_qpm else DEFAULT_TEMPO:.0f}",
        "due_on": (timezone.localdate() + timedelta(days=DAYS_TO_DUE)).isoformat(),
        "pitch_target": EQUAL,
    }
    context = {
        "slip": slip,
        "piece": row,
        "beat": beat,
        "cells": request.POST or offered,
        "chosen": request.POST.getlist("criteria") if request.POST else list(FIRST_CHOICE),
        "criteria": [queries.criterion_words(criterion) for criterion in CRITERIA.values()],
        **_pitch_choices(),
        "here": HERE,
    }
    return render(request, "director/checks_make.html", context, status=422 if slip else 200)


@require_http_methods(["GET", "POST"])
@director_page
def check(request: HttpRequest, pk: int) -> HttpResponse:
    """One check: its passages and facts; posting changes the facts."""
    row = _check(request, pk)
    beat = queries.beat_of(row.piece)
    if request.method == "POST":
        return _change(request, row, beat)
    page = queries.check_page(request.user, row, with_music=False)
    terms = terms_of(row)
    context = {
        "page": page,
        "terms": terms_sentences(terms),
        "parts": passages_page(row, page),
        "again": "again" in request.GET,
        "again_on": checks_again.offered_day(page.due_on).isoformat(),
        "opened": _opened(request, row, page),
        "ranges": ranges_page(row),
        "beat": beat,
        "chosen": page.criteria_keys,
        "cells": {
            "title": page.title,
            "tempo": f"{page.tempo_qpm / beat.quarters:g}",
            "due_on": page.due_on.isoformat(),
            "note": page.note,
            "asks_self_rating": page.asks_self_rating,
            "together": page.together,
            "pitch_target": page.pitch_target,
            "tonic": page.tonic,
            **terms_cells(terms),
        },
        **_pitch_choices(),
        "criteria": [queries.criterion_words(criterion) for criterion in CRITERIA.values()],
        "here": HERE,
    }
    return render(request, "director/checks_one.html", context)


@require_POST
@director_page
def say_where(request: HttpRequest, pk: int) -> HttpResponse:
    """Name the printed measures of a paper check, for everyone or one section."""
    row = _check(request, pk)
    section_pk = number_in(request.POST, "section")
    section = seen_or_404(Section, request, pk=section_pk) if section_pk else None
    printed = request.POST.get("printed", "")
    return _done(request, row, lambda: actions.say_where(request.user, row, section, printed))


@require_POST
@director_page
def publish(request: HttpRequest, pk: int) -> HttpResponse:
    """Open the check to its musicians, or throw a draft away."""
    row = _check(request, pk)
    if request.POST.get("remove"):
        try:
            actions.remove_check(request.user, row)
        except StandlightError as slip:
            messages.error(request, f"{slip}.")
            return redirect("check", pk)
        messages.success(request, f"{row.title} is thrown away.")
        return redirect("checks")
    if request.POST.get("owns_music"):
        confirm_owns_music(request.user)
        row = _check(request, pk)
    return _done(request, row, lambda: actions.publish(request.user, row), said="Published.")


@require_GET
@director_page
def print_pages(request: HttpRequest, pk: int) -> HttpResponse:
    """Passages to print: one page a part, or one a musician (``?by=musician``)."""
    row = _check(request, pk)
    by_musician = request.GET.get("by") == "musician"
    pages = printing.print_pages(
        row, queries.check_page(request.user, row), by_musician=by_musician
    )
    context = {"pages": pages, "page": pages.check, "by_musician": by_musician, "here": HERE}
    return render(request, "director/checks_print.html", context)


@require_GET
@director_page
def print_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """The same pages in one PDF; ``?paper=letter`` for US Letter, else A4."""
    row = _check(request, pk)
    page = queries.check_page(request.user, row)
    pages = printing.print_pages(row, page, by_musician=request.GET.get("by") == "musician")
    paper = request.GET.get("paper", "a4")
    if paper not in printing.PAPERS:
        raise Http404
    try:
        pdf = printing.pages_pdf(pages, paper=paper)
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
        return redirect("check-print", pk)
    name = f"{slugify(row.title) or 'check'}.pdf"
    return HttpResponse(
        pdf,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )


@require_GET
@director_page
def launch(request: HttpRequest, pk: int) -> HttpResponse:
    """What the class sees on the wall before it begins."""
    row = _check(request, pk)
    page = queries.drawn_page(queries.check_page(request.user, row))
    terms = terms_sentences(terms_of(row))
    context = {"page": page, "terms": terms, "here": HERE}
    return render(request, "director/checks_launch.html", context)


@require_http_methods(["GET", "POST"])
@director_page
def model_take(request: HttpRequest, pk: int) -> HttpResponse:
    """The model take's sound; posting a file keeps it."""
    row = _check(request, pk)
    if request.method == "GET":
        if not row.model_take_digest:
            raise Http404
        return ranged(request, store.fetch(row.model_take_digest), "audio/flac")
    upload = request.FILES.get("sound")

    def keep() -> None:
        if upload is None:
            raise StandlightError("no sound file was chosen")
        if upload.size > MOST_SOUND_BYTES:
            raise StandlightError(
                "the file has more than 64 MB", slip="a video of a whole concert?"
            )
        actions.keep_model_take(request.user, row, upload.read())

    return _done(request, row, keep, said="The model take is kept.")


def _check(request: HttpRequest, pk: int) -> PlayingCheck:
    """The check, if the director sees it."""
    rows = PlayingCheck.objects.select_related("piece__ensemble", "ensemble__programme")
    return seen_or_404(rows, request, pk=pk)


def _facts(cells: QueryDict, beat: queries.Beat) -> actions.CheckFacts:
    """What stands in the form, where the tempo counts the beats of the piece."""
    try:
        tempo_qpm = float(cells.get("tempo", "")) * beat.quarters
    except ValueError:
        raise StandlightError(f"{cells.get('tempo', '')!r} is no tempo") from None
    return actions.CheckFacts(
        title=cells.get("title", ""),
        criteria=cells.getlist("criteria"),
        tempo_qpm=tempo_qpm,
        due_on=day_of(cells.get("due_on", "")),
        asks_self_rating=bool(cells.get("asks_self_rating")),
        note=cells.get("note", ""),
        together=bool(cells.get("together")),
        pitch_target=cells.get("pitch_target", EQUAL),
        tonic=cells.get("tonic", ""),
    )


def _pitch_choices() -> dict[str, object]:
    """What intonation can be read against, and the tonics to choose from."""
    tonics = [(key, words) for key, (words, _) in TONICS.items()]
    return {"pitch_targets": CHOICES.items(), "tonics": tonics}


def _change(request: HttpRequest, row: PlayingCheck, beat: queries.Beat) -> HttpResponse:
    """Change the facts; where passages depend on them, the next page offers to find them again."""
    answer = redirect("check", row.pk)
    try:
        facts, terms = _facts(request.POST, beat), terms_in(request.POST)
        checked_terms(terms, together=facts.together, on_paper=row.piece.on_paper_only)
        depends = actions.change_check(request.user, row, facts)
        keep_terms(request.user, row, terms)
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
        return answer
    messages.success(request, "Saved.")
    if depends:
        answer["Location"] += "?again=1"
    return answer


def _opened(
    request: HttpRequest, row: PlayingCheck, page: queries.CheckPage
) -> PartPage | None:
    """The part that the address says is open."""
    pk = number_in(request.GET, "open")
    passage = row.passages.filter(pk=pk, part__isnull=False).select_related("part").first()
    if passage is None:
        return None
    return part_page(row, page, passage, None)


def _done(
    request: HttpRequest,
    row: PlayingCheck,
    act: Callable[[], object],
    place: str = "",
    said: str = "Saved.",
) -> HttpResponse:
    """Do ``act`` and go back to the check, with what was done or why not."""
    answer = redirect("check", row.pk)
    answer["Location"] += place
    return acted(request, act, said, answer)


urlpatterns = [
    path("", checks, name="checks"),
    path("make/<int:piece>/", make_check, name="check-make"),
    path("<int:pk>/", check, name="check"),
    path("<int:pk>/where/", say_where, name="check-where"),
    path("<int:pk>/publish/", publish, name="check-publish"),
    path("<int:pk>/print/", print_pages, name="check-print"),
    path("<int:pk>/print.pdf", print_pdf, name="check-pdf"),
    path("<int:pk>/launch/", launch, name="check-launch"),
    path("<int:pk>/model-take/", model_take, name="check-model-take"),
    *checks_again.urlpatterns,
    *passages.urlpatterns,
]
