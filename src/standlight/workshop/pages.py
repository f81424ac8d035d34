"""Printed pages: words and drawings on A4 or Letter, all in one PDF."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from standlight.workshop.child import Limits, run_child

PAPERS = {"a4": "a4", "letter": "us-letter"}
"""The papers offered, and the page-maker's name of each (ISO 216; ANSI/ASME Y14.1)."""

MOST_SHEETS = 1_000
"""Pages in one file: three programmes of 300 musicians (our choice)."""

_LIMITS = Limits(
    memory_bytes=4_000_000_000, cpu_seconds=60, file_bytes=256_000_000, wall_seconds=90
)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One page to print; every word is plain text.

    ``over`` stands small above the ``title``, ``lines`` below it; ``svg`` is a drawing by
    `engrave`, or "" for a page without music; ``questions`` are (name, question) pairs,
    ``footer`` the lines at the foot of the page.
    """

    title: str
    over: str = ""
    lines: tuple[str, ...] = ()
    svg: str = ""
    questions: tuple[tuple[str, str], ...] = ()
    footer: tuple[str, ...] = ()


def pages_pdf(
    pages: Sequence[Sheet],
    *,
    paper: str = "a4",
    title: str = "",
    language: str = "en",
    made_unix_s: int = 0,
) -> bytes:
    """All ``pages`` in one PDF, in their order; ``paper`` is a key of `PAPERS`.

    The file's date is ``made_unix_s``, since this room asks no clock.
    Raises `ValueError` for no page, too many or an unknown paper, `WorkshopFailure` when the
    pages cannot be set.
    """
    if paper not in PAPERS:
        raise ValueError(f"{paper!r} is no paper offered; there are {', '.join(PAPERS)}")
    if not 1 <= len(pages) <= MOST_SHEETS:
        raise ValueError(f"{len(pages)} pages are not between 1 and {MOST_SHEETS:,}")
    different = dict.fromkeys(page.svg for page in pages if page.svg)
    drawings = {svg: number for number, svg in enumerate(different)}
    given = {
        "title": title,
        "language": language,
        "paper": PAPERS[paper],
        "made_unix_s": made_unix_s,
        "drawings": list(drawings),
        "sheets": [
            {
                "over": page.over,
                "title": page.title,
                "lines": page.lines,
                "music": f"music{drawings[page.svg]}.svg" if page.svg else None,
                "questions": page.questions,
                "footer": page.footer,
            }
            for page in pages
        ],
    }
    return run_child("typesetter", json.dumps(given).encode("utf-8"), limits=_LIMITS)
