"""Talks: who may need one, the page of both sides, what was agreed, the rules behind the list."""

from __future__ import annotations

from datetime import date

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import talks as acts
from standlight.programme.models import Ensemble, Musician, TalkStep
from standlight.programme.queries import talks as pages
from standlight.programme.queries.second_adult import may_read_all
from standlight.programme.queries.talks_brief import on_one_page
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import acted, day_of, number_in

HERE = "talks"
WROTE_SINCE = "They wrote something since you opened the page. It still waits: read it here."
BLANK_STEPS = range(1, 4)
"""Steps that the form has room for; more go into a second note."""


@never_cache
@require_GET
@director_page
def talks(request: HttpRequest) -> HttpResponse:
    """Every ensemble with who may need a talk, by section, then by name."""
    context = {"here": HERE, "page": pages.talks_page(request.user, request.GET.get("rule", ""))}
    return render(request, "director/talks.html", context)


@never_cache
@require_GET
@director_page
def rules(request: HttpRequest) -> HttpResponse:
    """The rules, and which are switched off in this school."""
    context = {
        "here": HERE,
        "rules": pages.rules_page(request.user),
        "leads": request.user.is_lead,
    }
    return render(request, "director/talks_rules.html", context)


@require_POST
@director_page
def rule_switch(request: HttpRequest, code: str) -> HttpResponse:
    """Switch a rule on or off for the whole school."""
    on = request.POST.get("on") == "yes"
    return acted(
        request,
        lambda: acts.switch_rule(request.user, code, on),
        f"The rule is {'on' if on else 'off'}.",
        redirect("talk-rules"),
    )


@never_cache
@require_GET
@director_page
def notes(request: HttpRequest) -> HttpResponse:
    """What a second adult and the lead read: every request and note of the school."""
    if not may_read_all(request.user):
        raise Http404
    number = max(number_in(request.GET, "page"), 1)
    context = {"here": HERE, "page": pages.notes_page(request.user, number)}
    return render(request, "director/talks_notes.html", context)


@never_cache
@require_GET
@director_page
def one(request: HttpRequest, ensemble: int, musician: int) -> HttpResponse:
    """Both sides, what was agreed, and the form to note a talk; a request counts as read now."""
    group, person = _rows(request, ensemble, musician)
    acts.read_asked(group, person)
    return _page(request, group, person)


@require_POST
@director_page
def note(request: HttpRequest, ensemble: int, musician: int) -> HttpResponse:
    """Note a talk and the steps that were agreed on."""
    group, person = _rows(request, ensemble, musician)
    try:
        acts.note(
            request.user,
            group,
            person,
            day_of(request.POST.get("held_on", "")),
            request.POST.get("words", ""),
            _steps(request),
            seen=request.POST.get("seen", ""),
        )
    except StandlightError as problem:
        acts.read_asked(group, person)
        return _page(request, group, person, slip=f"{problem}.")
    messages.success(request, f"The talk is noted. {person.given_name} reads it under Talks.")
    if pages.still_asks(group, person):
        messages.warning(request, WROTE_SINCE)
    return redirect("talk", ensemble=group.pk, musician=person.pk)


@require_POST
@director_page
def over(request: HttpRequest, ensemble: int, musician: int) -> HttpResponse:
    """A request is over, with nothing to write down."""
    group, person = _rows(request, ensemble, musician)
    answer = redirect("talk", ensemble=group.pk, musician=person.pk)
    seen = request.POST.get("seen", "")
    return acted(
        request, lambda: acts.close_asked(group, person, seen), "The request is over.", answer
    )


@require_POST
@director_page
def rest(request: HttpRequest, ensemble: int, musician: int) -> HttpResponse:
    """Let a rule be silent about this musician until a day, or end that."""
    group, person = _rows(request, ensemble, musician)
    code = request.POST.get("code", "")
    try:
        ends = bool(request.POST.get("end"))
        until = date.min if ends else day_of(request.POST.get("until", ""))
        acts.rest_rule(request.user, group, person, code, until)
    except StandlightError as problem:
        messages.error(request, f"{problem}.")
    else:
        messages.success(request, "Changed for this musician.")
    return redirect("talk", ensemble=group.pk, musician=person.pk)


@require_POST
@director_page
def step_done(request: HttpRequest, ensemble: int, musician: int, step: int) -> HttpResponse:
    """An agreed step is done, or is not after all."""
    group, person = _rows(request, ensemble, musician)
    row = seen_or_404(TalkStep, request, pk=step, talk__ensemble=group, talk__musician=person)
    done = request.POST.get("done") == "yes"
    answer = redirect("talk", ensemble=group.pk, musician=person.pk)
    said = "The step is done." if done else "The step is open again."
    return acted(request, lambda: acts.say_done(request.user, row, done), said, answer)


@never_cache
@require_GET
@director_page
def to_print(request: HttpRequest, ensemble: int, musician: int) -> HttpResponse:
    """The page of both sides on one sheet, with lines for what is agreed."""
    group, person = _rows(request, ensemble, musician)
    context = {"here": HERE, "page": on_one_page(pages.talk_page(request.user, group, person))}
    return render(request, "director/talks_print.html", context)


def _page(
    request: HttpRequest, ensemble: Ensemble, musician: Musician, slip: str = ""
) -> HttpResponse:
    """The page of one conversation, with what was typed where it could not be kept."""
    typed = request.POST if slip else {}
    context = {
        "here": HERE,
        "page": pages.talk_page(request.user, ensemble, musician),
        "slip": slip,
        "typed": typed,
        "steps": [
            (number, typed.get(f"step{number}", ""), typed.get(f"due{number}", ""))
            for number in BLANK_STEPS
        ],
    }
    return render(request, "director/talks_one.html", context)


def _steps(request: HttpRequest) -> list[tuple[str, date]]:
    """The steps that were filled; raises ``StandlightError`` for one without a day."""
    found = []
    for number in BLANK_STEPS:
        words = request.POST.get(f"step{number}", "").strip()
        due = request.POST.get(f"due{number}", "").strip()
        if words and not due:
            raise StandlightError(f"the step “{words}” has no day", slip="choose the day beside it")
        if words or due:
            found.append((words, day_of(due)))
    return found


def _rows(request: HttpRequest, ensemble: int, musician: int) -> tuple[Ensemble, Musician]:
    """The ensemble and the musician of the address, if the director may see both together."""
    group = seen_or_404(Ensemble.objects.select_related("programme"), request, pk=ensemble)
    person = seen_or_404(Musician.objects.select_related("account"), request, pk=musician)
    if not pages.sits_in(person, group):
        raise Http404
    return group, person


urlpatterns = [
    path("", talks, name="talks"),
    path("rules/", rules, name="talk-rules"),
    path("rules/<slug:code>/", rule_switch, name="talk-rule"),
    path("notes/", notes, name="talk-notes"),
    path("<int:ensemble>/<int:musician>/", one, name="talk"),
    path("<int:ensemble>/<int:musician>/note/", note, name="talk-note"),
    path("<int:ensemble>/<int:musician>/over/", over, name="talk-over"),
    path("<int:ensemble>/<int:musician>/rest/", rest, name="talk-rest"),
    path("<int:ensemble>/<int:musician>/print/", to_print, name="talk-print"),
    path("<int:ensemble>/<int:musician>/steps/<int:step>/", step_done, name="talk-step"),
]
