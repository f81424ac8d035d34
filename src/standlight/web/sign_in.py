"""Signing in: a director by name and password, a musician by card and PIN."""

from __future__ import annotations

from django import forms
from django.contrib.auth import login, logout
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST

STATION = "station"
"""Session key: this browser is a shared station, so a musician is signed out after sending."""


class ModestArgon2Hasher(Argon2PasswordHasher):
    """Argon2id at 19 MiB, two passes, one lane (OWASP's password storage minimum).

    Django's default takes 100 MiB a sign-in: a class of thirty with cards would
    need 3 GB at once on a school's small server.
    """

    memory_cost = 19 * 1024
    time_cost = 2
    parallelism = 1


def _plain(typed: str) -> str:
    """A card code or name as it is stored, however it was typed."""
    return typed.replace(" ", "").lower()


def typed_name(request: HttpRequest | None, credentials: dict | None = None) -> str | None:
    """The name that wrong tries are counted under, so that another spelling counts as well."""
    typed = (credentials or {}).get("username") or (request.POST.get("username") if request else "")
    return _plain(typed) if typed else None


class CardForm(AuthenticationForm):
    """Card code and PIN, or name and password: the same two fields."""

    username = forms.CharField(label="Card code or name", max_length=60, strip=True)
    password = forms.CharField(label="PIN or password", widget=forms.PasswordInput)
    error_messages = {
        "invalid_login": "That card code and PIN do not go together. Look at the card again, "
        "or ask your director for a new one.",
        "inactive": "This card is switched off. Ask your director for a new one.",
    }

    def clean_username(self) -> str:
        """Cards are printed in groups; spaces and case do not matter."""
        return _plain(self.cleaned_data["username"])


def _after(request: HttpRequest) -> str:
    """Where to go after signing in: the page asked for, if it is ours."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    if wanted and url_has_allowed_host_and_scheme(wanted, allowed_hosts={request.get_host()}):
        return wanted
    return reverse("home")


@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest, code: str = "") -> HttpResponse:
    """The sign-in page; a card's QR brings its code along, so that only the PIN is typed."""
    form = CardForm(request, data=request.POST or None, initial={"username": code})
    if request.method == "POST" and form.is_valid():
        station = request.session.get(STATION)
        login(request, form.get_user())
        if station:
            request.session[STATION] = station
        return HttpResponseRedirect(_after(request))
    context = {
        "form": form,
        "code": code,
        "next": _after(request),
        "station": request.session.get(STATION),
    }
    return render(request, "sign_in.html", context)


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Sign out; a station stays a station for the next musician."""
    station = request.session.get(STATION)
    logout(request)
    if station:
        request.session[STATION] = station
        return redirect("station")
    return redirect("sign-in")


def home(request: HttpRequest) -> HttpResponse:
    """The first place of whoever is signed in."""
    if not request.user.is_authenticated:
        return redirect("sign-in")
    return redirect("today" if request.user.is_director else "my-part")
