"""Who may open a page: one decorator a kind of person, 404 for everyone else."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar

from django.contrib.auth.views import redirect_to_login
from django.db.models import Model, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

View = Callable[..., HttpResponse]
Row = TypeVar("Row", bound=Model)


def _page_for(fits: Callable[[Any], bool]) -> Callable[[View], View]:
    """A decorator: signed out goes to the sign-in page, the wrong person gets a 404."""

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            if not fits(request.user):
                raise Http404
            return view(request, *args, **kwargs)

        return guarded

    return decorate


director_page = _page_for(lambda account: account.is_director)
"""Only directors of some ensemble, or the lead."""

musician_page = _page_for(lambda account: account.is_musician)
"""Only musicians."""


def seen_or_404(rows: type[Row] | QuerySet, request: HttpRequest, **lookup: Any) -> Row:
    """The one row that matches ``lookup`` and that the person may see; ``Http404`` otherwise."""
    manager = rows if isinstance(rows, QuerySet) else rows.objects
    return get_object_or_404(manager.visible_to(request.user), **lookup)
