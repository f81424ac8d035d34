"""Kinds of work: the list, and the editor in which a director changes one or makes a new one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from standlight.errors import StandlightError
from standlight.kinds import KINDS, UnreadableKind, data_of
from standlight.programme.actions import kinds as actions
from standlight.programme.kind_reading import Fault, ReadKind, read_kind
from standlight.programme.kind_typed import NEW_KIND, TypedKind, pressed, read_typed, typed_of
from standlight.programme.queries import kind_editor as editor
from standlight.programme.queries.kinds import Latest, kinds_listed, latest_kinds
from standlight.web.access import director_page

HERE = "folder"
SAVE, LOOK = "save", "look"
"""What the two buttons of the editor send that move nothing about."""


@require_GET
@director_page
def kinds(request: HttpRequest) -> HttpResponse:
    """Every kind: shipped, changed, own; those put away below."""
    context = {"page": kinds_listed(request.user.programme), "here": HERE}
    return render(request, "director/kinds_list.html", context)


@require_http_methods(["GET", "POST"])
@director_page
def new_kind(request: HttpRequest) -> HttpResponse:
    """Make a kind from nothing, or from a copy of another (``?from=KEY``)."""
    if request.method == "POST":
        return _posted(request, "")
    typed = NEW_KIND
    if "from" in request.GET:
        copied = _latest(request, request.GET["from"])
        kind = replace(copied.kind, name=f"{copied.kind.name}, our way")
        typed = replace(typed_of(kind, 1), key="", edition="")
    return _editor(request, typed, is_new=True)


@require_http_methods(["GET", "POST"])
@director_page
def kind(request: HttpRequest, key: str) -> HttpResponse:
    """Change a kind; each save that changes something is an edition."""
    latest = _latest(request, key)
    if request.method == "POST":
        return _posted(request, key)
    return _editor(request, typed_of(latest.kind, latest.edition), is_new=False)


@require_POST
@director_page
def preview(request: HttpRequest) -> HttpResponse:
    """The musician's form of what stands in the editor now."""
    read = read_kind(read_typed(dict(request.POST.lists())), ())
    return render(request, "director/kinds_preview.html", {"drawn": editor.drawn(read.data)})


@require_POST
@director_page
def act(request: HttpRequest, key: str, act: str) -> HttpResponse:
    """Put a kind away, bring it back, or let it be as it ships."""
    latest = _latest(request, key)
    if act not in _ACTS or (act == "as-shipped" and key not in KINDS):
        raise Http404
    try:
        _ACTS[act](request, key)
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
    else:
        messages.success(request, f"{latest.kind.name} {_SAID[act]}")
    return redirect("kinds")


_ACTS = {
    "put-away": lambda request, key: actions.put_away(request.user, key),
    "bring-back": lambda request, key: actions.bring_back(request.user, key),
    "as-shipped": lambda request, key: actions.keep_kind(request.user, data_of(KINDS[key])),
}
_SAID = {
    "put-away": "is put away. What was given out stays.",
    "bring-back": "is offered again.",
    "as-shipped": "is as it ships again.",
}


def _posted(request: HttpRequest, key: str) -> HttpResponse:
    """Keep what stands in the editor, or move something about in it and show it again."""
    lists = dict(request.POST.lists())
    typed = replace(read_typed(lists), key=key)
    press = request.POST.get("press", SAVE)
    told = bool(request.POST.get("told"))
    if press != SAVE:
        done = pressed(typed, press)
        read = _read(request, done.kind)
        faults = read.faults if told else ()
        return _editor(
            request, done.kind, read, faults, is_new=not key, fresh=done.place, told=told
        )
    read = _read(request, typed)
    faults = list(read.faults)
    if not faults:
        try:
            return _kept(request, typed, read)
        except UnreadableKind as slip:
            faults = [Fault("", problem) for problem in slip.problems]
        except StandlightError as slip:
            faults = [Fault("", f"{slip}.")]
    return _editor(request, typed, read, faults, is_new=not key, status=422, told=True)


def _kept(request: HttpRequest, typed: TypedKind, read: ReadKind) -> HttpResponse:
    """Keep a definition without faults; the next page says what became of it."""
    before = {one.kind.key: one.edition for one in latest_kinds(request.user.programme)}
    row = actions.keep_kind(request.user, read.data)
    was = before.get(row.key)
    if was == row.edition:
        messages.success(request, f"{read.data['name']}: nothing was changed.")
    else:
        messages.success(request, f"{read.data['name']} is kept. It can be given out now.")
    if was and was != row.edition and typed.edition and typed.edition != str(was):
        messages.warning(
            request,
            f"Somebody else had changed it since you opened it. Theirs is edition {was}, yours "
            f"is edition {row.edition}; both are kept.",
        )
    return redirect("kinds")


def _read(request: HttpRequest, typed: TypedKind) -> ReadKind:
    """What was typed as a definition; a new kind gets a key that no other has."""
    taken = () if typed.key else [one.kind.key for one in latest_kinds(request.user.programme)]
    return read_kind(typed, taken)


def _editor(
    request: HttpRequest,
    typed: TypedKind,
    read: ReadKind | None = None,
    faults: Iterable[Fault] = (),
    *,
    is_new: bool,
    fresh: str = "",
    status: int = 200,
    told: bool = False,
) -> HttpResponse:
    """The editor's page; once faults were ``told`` they are told until the kind stands."""
    read = read or _read(request, typed)
    page = editor.editor_page(typed, read.data, faults, is_new=is_new, fresh=fresh)
    context = {"page": page, "told": told, "here": HERE}
    return render(request, "director/kinds_edit.html", context, status=status)


def _latest(request: HttpRequest, key: str) -> Latest:
    """The kind as it stands in the programme; 404 for one that is not there."""
    for one in latest_kinds(request.user.programme):
        if one.kind.key == key:
            return one
    raise Http404


urlpatterns = [
    path("", kinds, name="kinds"),
    path("new/", new_kind, name="kind-new"),
    path("preview/", preview, name="kind-preview"),
    path("of/<str:key>/", kind, name="kind"),
    path("of/<str:key>/<slug:act>/", act, name="kind-act"),
]
