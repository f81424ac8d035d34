"""Reading what a form sent, and saying what came of it: the same for every place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.dateparse import parse_date

from standlight.errors import StandlightError


def number_in(cells: Mapping[str, str], name: str) -> int:
    """The whole number in a field; 0, which no row has, for anything else.

    >>> number_in({"pk": "12"}, "pk"), number_in({"pk": "-1"}, "pk"), number_in({}, "pk")
    (12, 0, 0)
    """
    text = cells.get(name) or ""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 18 else 0


def numbers_in(texts: Iterable[str]) -> list[int]:
    """The whole numbers among posted texts, in order; what is no number is left out.

    >>> numbers_in(["12", "", "-1", "seven", "3", "9" * 40])
    [12, 3]
    """
    return [int(one) for one in texts if one.isascii() and one.isdigit() and len(one) < 18]


def index_in(request: HttpRequest, name: str) -> int | None:
    """A posted index from a select; empty is none, and so is what is no number."""
    text = request.POST.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 18 else None


def measures_in(cells: Mapping[str, str]) -> tuple[int, int]:
    """First and last measure as 0-based indexes; raises `StandlightError` where one is missing.

    >>> measures_in({"first": "0", "last": "7"})
    (0, 7)
    """
    ends = [(cells.get(name) or "").strip() for name in ("first", "last")]
    if not all(end.isascii() and end.isdigit() and len(end) < 9 for end in ends):
        raise StandlightError(
            "no first and last measure were chosen", slip="an old page? Load it again"
        )
    return int(ends[0]), int(ends[1])


def day_of(text: str) -> date:
    """A day as a date field writes it (``2026-11-25``); raises `StandlightError` otherwise.

    >>> day_of("2027-03-09")
    datetime.date(2027, 3, 9)
    """
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise StandlightError(
            f"{text!r} is no day", slip="write it as year-month-day, such as 2027-03-09"
        ) from None


def day_or_none(text: str) -> date | None:
    """A day as a date field writes it; ``None`` when it is empty or no day.

    >>> day_or_none("2027-03-09"), day_or_none(""), day_or_none("2027-02-30")
    (datetime.date(2027, 3, 9), None, None)
    """
    try:
        return parse_date(text)
    except ValueError:
        return None


def acted(
    request: HttpRequest, act: Callable[[], object], said: str, answer: HttpResponse
) -> HttpResponse:
    """Do ``act`` and give ``answer``; the next page says what was done, or why not."""
    try:
        act()
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
    else:
        messages.success(request, said)
    return answer
