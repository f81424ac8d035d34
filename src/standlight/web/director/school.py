"""The school: its name, whom to turn to, its adults; and what a second adult reads."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions import school as acts
from standlight.programme.models import Account, Assignment
from standlight.programme.queries.school import school_page
from standlight.programme.queries.second_adult import may_read_all, writing_lines, writing_page
from standlight.web.access import director_page
from standlight.web.fields import acted, number_in

HERE = "musicians"


@never_cache
@require_http_methods(["GET", "POST"])
@director_page
def school(request: HttpRequest) -> HttpResponse:
    """Name and contact, and every adult with what they may see; the lead's own page."""
    if not request.user.is_lead:
        raise Http404
    if request.method == "POST":
        given = (request.POST.get("name", ""), request.POST.get("safety_contact", ""))
        return acted(
            request,
            lambda: acts.keep_school(request.user, *given),
            "The school is saved.",
            redirect("school"),
        )
    context = {"page": school_page(request.user), "here": HERE}
    return render(request, "director/school.html", context)


@never_cache
@require_POST
@director_page
def adult_add(request: HttpRequest) -> HttpResponse:
    """A new adult; the password is shown on the answer and nowhere again."""
    try:
        adult, password = acts.add_adult(
            request.user,
            request.POST.get("shown_name", ""),
            request.POST.get("sign_in", ""),
            ensembles=_ensembles(request),
            reads_writing=bool(request.POST.get("reads_writing")),
        )
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
        return redirect("school")
    context = {"adult": adult, "password": password, "here": HERE}
    return render(request, "director/school_password.html", context)


@never_cache
@require_POST
@director_page
def adult_change(request: HttpRequest, pk: int) -> HttpResponse:
    """What one adult directs and reads."""
    adult = get_object_or_404(Account, pk=pk, programme=request.user.programme_id)
    return acted(
        request,
        lambda: acts.change_adult(
            request.user,
            adult,
            ensembles=_ensembles(request),
            reads_writing=bool(request.POST.get("reads_writing")),
            is_active=not request.POST.get("left"),
        ),
        f"{adult.shown_name} is saved.",
        redirect("school"),
    )


@require_GET
@director_page
def writing(request: HttpRequest) -> HttpResponse:
    """All work for which something was sent, for who reads all writing."""
    if not may_read_all(request.user):
        raise Http404
    context = {"lines": writing_lines(request.user), "here": HERE}
    return render(request, "director/writing.html", context)


@require_GET
@director_page
def writing_one(request: HttpRequest, pk: int) -> HttpResponse:
    """What was sent for one piece of work and what was replied; nothing can be changed here."""
    if not may_read_all(request.user):
        raise Http404
    assignment = get_object_or_404(
        Assignment.objects.select_related("kind", "ensemble"),
        pk=pk,
        ensemble__programme=request.user.programme_id,
    )
    page = writing_page(assignment, max(number_in(request.GET, "page"), 1))
    return render(request, "director/writing_one.html", {"page": page, "here": HERE})


def _ensembles(request: HttpRequest) -> list[int]:
    """The ensembles that are ticked."""
    return [int(one) for one in request.POST.getlist("ensembles") if one.isdecimal()]


urlpatterns = [
    path("school/", school, name="school"),
    path("school/adults/", adult_add, name="adult-add"),
    path("school/adults/<int:pk>/", adult_change, name="adult-change"),
    path("writing/", writing, name="writing"),
    path("writing/<int:pk>/", writing_one, name="writing-one"),
]
