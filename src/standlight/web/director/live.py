"""Live at the stand: levels without a recording."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions.live import (
    MOST_DRAWN,
    HeardAtStand,
    draw_for,
    hear_again,
    hear_live,
    tell_absent,
)
from standlight.programme.drawing import MOST_AT_ONCE
from standlight.programme.models import Draw, Musician, PlayingCheck, Turn
from standlight.programme.queries import live as pages
from standlight.web.access import director_page, seen_or_404
from standlight.web.fields import numbers_in

USUALLY_DRAWN = 5
"""Offered first: five at half a minute are a warm-up's length (our choice)."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Where the next musicians come from: a section, how many at once, or today's draw."""

    section: int | None
    size: int
    drawn: bool

    def address(self, check: PlayingCheck, who: list[int] | tuple[int, ...] = ()) -> str:
        """The form of this choice, for ``who``, so that a reload shows the same people."""
        asked = {
            "size": self.size,
            "section": self.section or "",
            "drawn": "yes" if self.drawn else "",
            "who": ",".join(str(pk) for pk in who),
        }
        query = urlencode({name: given for name, given in asked.items() if given}, safe=",")
        return f"{reverse('live-check', args=[check.pk])}?{query}"


@director_page
@require_http_methods(["GET", "POST"])
def live(request: HttpRequest, check: int) -> HttpResponse:
    """The form for the chosen musicians; a posted one is kept and the next group is shown."""
    row = _check(request, check)
    choice = _choice(request)
    if request.method == "POST":
        return _kept(request, row, choice)
    who = numbers_in(request.GET.get("who", "").split(","))
    if not who:
        who = pages.group_of(row, section=choice.section, size=choice.size, drawn=choice.drawn)
    return _shown(request, row, who, choice)


def _check(request: HttpRequest, pk: int) -> PlayingCheck:
    return seen_or_404(PlayingCheck.objects.select_related("ensemble", "piece"), request, pk=pk)


def _choice(request: HttpRequest) -> Choice:
    asked = request.POST if request.method == "POST" else request.GET
    size = _number(asked.get("size")) or 1
    return Choice(_number(asked.get("section")), size, asked.get("drawn") == "yes")


def _kept(request: HttpRequest, check: PlayingCheck, choice: Choice) -> HttpResponse:
    """Keep the posted levels, all or none, then go to the next group."""
    who = numbers_in(request.POST.getlist("musician"))
    people = Musician.objects.visible_to(request.user).filter(
        seats__section__ensemble=check.ensemble, pk__in=who
    )
    known = {person.pk: person for person in people.distinct()}
    heard = [
        HeardAtStand(
            musician=known[pk],
            attempt=_number(request.POST.get(f"attempt-{pk}")) or 1,
            levels=_levels(request, check, pk),
            next_step=request.POST.get(pages.next_field(pk), ""),
        )
        for pk in who
        if pk in known
    ]
    following = pages.group_of(
        check, section=choice.section, size=choice.size, after=who, drawn=choice.drawn
    )
    try:
        turns = hear_live(request.user, check, heard)
    except StandlightError as problem:
        return _shown(request, check, who, choice, slip=str(problem))
    names = ", ".join(turn.musician.name for turn in turns)
    messages.success(request, f"Kept: {names}." if names else "No level was given; nothing kept.")
    return HttpResponseRedirect(choice.address(check, following if names else who))


def _levels(request: HttpRequest, check: PlayingCheck, pk: int) -> dict[str, str]:
    """The levels tapped for one musician."""
    given = {key: request.POST.get(pages.level_field(pk, key)) for key in check.criteria}
    return {key: value for key, value in given.items() if value}


def _shown(
    request: HttpRequest, check: PlayingCheck, who: list[int], choice: Choice, *, slip: str = ""
) -> HttpResponse:
    """The form for ``who``; what was tapped comes back when there was a slip."""
    page = pages.live_page(
        request.user,
        check,
        who,
        request.POST.dict(),
        section=choice.section,
        drawn=choice.drawn,
    )
    context = {
        "here": "desk",
        "page": page,
        "choice": choice,
        "sizes": range(1, MOST_AT_ONCE + 1),
        "usual": USUALLY_DRAWN,
        "most_drawn": MOST_DRAWN,
        "skip": choice.address(check, [one.pk for one in page.following]),
        "slip": slip,
    }
    return render(request, "director/live.html", context)


@director_page
@require_POST
def draw(request: HttpRequest, check: int) -> HttpResponse:
    """Draw some for today by lot, then hear the first of them."""
    row = _check(request, check)
    choice = Choice(None, 1, True)
    try:
        count = _number(request.POST.get("count")) or 0
        drawn = draw_for(row, pages.pot_of(row), count=count, day=timezone.localdate())
        if not drawn:
            messages.warning(
                request,
                "Nobody more can be drawn today: everyone here was heard in this round, or was"
                " drawn. Who is not here comes next time, before a new round begins.",
            )
    except StandlightError as problem:
        messages.warning(request, str(problem))
    return HttpResponseRedirect(choice.address(row))


@director_page
@require_POST
def absent(request: HttpRequest, check: int, drawn: int) -> HttpResponse:
    """Say that somebody drawn is not here, or is after all."""
    row = _check(request, check)
    told = seen_or_404(Draw.objects.select_related("musician"), request, pk=drawn, check_row=row)
    tell_absent(told, request.POST.get("absent") == "yes")
    return HttpResponseRedirect(Choice(None, 1, True).address(row))


@director_page
@require_http_methods(["GET", "POST"])
def again(request: HttpRequest, check: int, turn: int) -> HttpResponse:
    """One more hearing of a live turn that is in question."""
    row = _check(request, check)
    turns = Turn.objects.filter(check_row=row, way=Turn.LIVE, sent_at__isnull=False)
    heard = seen_or_404(
        turns.select_related("musician", "section", "check_row__piece"), request, pk=turn
    )
    slip = ""
    if request.method == "POST":
        try:
            hear_again(
                request.user,
                heard,
                _levels(request, row, heard.musician_id),
                hearing=max(_number(request.POST.get("hearing")) or 2, 2),
                next_step=request.POST.get("next", ""),
            )
        except StandlightError as problem:
            slip = str(problem)
        else:
            messages.success(
                request,
                f"Kept: {heard.musician.name}. The new levels count, the old are on record.",
            )
            return HttpResponseRedirect(reverse("live-check", args=[check]))
    page = pages.live_page(request.user, row, [])
    line = pages.again_line(heard, request.POST.dict())
    context = {"here": "desk", "page": page, "row": line, "slip": slip}
    return render(request, "director/live_again.html", context)


def _number(text: str | None) -> int | None:
    """A whole number from a form, ``None`` for anything else."""
    return int(text) if text and text.isdecimal() and len(text) < 10 else None


urlpatterns = [
    path("<int:check>/", live, name="live-check"),
    path("<int:check>/draw/", draw, name="live-draw"),
    path("<int:check>/drawn/<int:drawn>/", absent, name="live-absent"),
    path("<int:check>/again/<int:turn>/", again, name="live-again"),
]
