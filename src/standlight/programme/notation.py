"""Engraved music, kept: a passage is drawn once in a child process and then read from a file.

Drawing costs about half a second, most of it the child's start, so every page
asks here, and a page with many passages asks for all at once. What comes back may be put
into a page as it is: an ``<svg>``, or one sentence in a paragraph when the music cannot be
drawn.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable
from functools import partial
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django_q.tasks import async_task

from standlight import workshop
from standlight.errors import StandlightError
from standlight.programme import store
from standlight.score import has_engraving

WIDE_MM = 180.0
"""Width of a passage on a desk screen and on a printed page: A4 and Letter less their margins."""

PHONE_MM = 90.0
"""Width for a phone: about two measures a system, large enough to read at arm's length."""

EDITION = 2
"""Raised when the engraver's drawing changes, so that older drawings are left behind."""

DRAWN_AT_ONCE = 24
"""Passages in one errand: 48 drawings by two children take about two seconds, within a lease."""

DRAW = "standlight.programme.notation.draw_all"
"""The errand's dotted name, as the engine stores it."""


NO_ENGRAVING = "There is no music to show for a piece from a MIDI file: use the printed part."
"""What stands in the place of music that was never engraved."""


def svg_of(notation_digest: str, *, width_mm: float = WIDE_MM) -> SafeString:
    """The music kept under ``notation_digest``, drawn ``width_mm`` wide; safe to put in a page.

    It begins with ``<svg`` when it is music. Otherwise (no notation, a lost file, an
    engraver that died) it is ``<p class="slip">`` with a sentence: this never raises for music
    that cannot be drawn.
    """
    return svgs_of([notation_digest], width_mm=width_mm)[notation_digest]


def svgs_of(
    notation_digests: Iterable[str], *, width_mm: float = WIDE_MM
) -> dict[str, SafeString]:
    """`svg_of` for many passages by digest; what is not kept yet is drawn by one child."""
    found = dict.fromkeys(notation_digests)
    scores = {}
    for digest in found:
        found[digest] = drawn(digest, width_mm=width_mm)
        if not digest:
            found[digest] = _slip("There is no notation for this passage.")
        elif found[digest] is None:
            try:
                notation = store.fetch(digest)
            except StandlightError as failure:
                found[digest] = _undrawable(failure)
                continue
            if has_engraving(notation):
                scores[digest] = notation
            else:
                found[digest] = _slip(NO_ENGRAVING)
    if scores:
        drawings = workshop.engrave_many(list(scores.values()), width_mm=width_mm)
        for digest, drawing in zip(scores, drawings, strict=True):
            if isinstance(drawing, str):
                _keep(_place(digest, width_mm), drawing)
                found[digest] = mark_safe(drawing)
            else:
                found[digest] = _undrawable(drawing)
    return found


def drawn(notation_digest: str, *, width_mm: float = WIDE_MM) -> SafeString | None:
    """The drawing if it is kept already, else ``None``; quick, starts no child."""
    if not notation_digest:
        return None
    try:
        svg = _place(notation_digest, width_mm).read_text(encoding="utf-8")
    except FileNotFoundError:
        return None
    return mark_safe(svg)


def ask_to_draw(notation_digests: list[str]) -> None:
    """Queue the drawing of these passages, wide and for phones, after the present transaction."""
    waiting = sorted(set(filter(None, notation_digests)))
    for start in range(0, len(waiting), DRAWN_AT_ONCE):
        some = waiting[start : start + DRAWN_AT_ONCE]
        transaction.on_commit(partial(async_task, DRAW, some))


def draw_all(notation_digests: list[str]) -> int:
    """Draw every passage in both widths; how many drawings are now kept. Safe to repeat."""
    return sum(
        svg.startswith("<svg")
        for width_mm in (WIDE_MM, PHONE_MM)
        for svg in svgs_of(notation_digests, width_mm=width_mm).values()
    )


def _undrawable(failure: StandlightError) -> SafeString:
    """What stands in the place of music that cannot be drawn."""
    return _slip(f"This music could not be drawn: {failure}. Use the printed part.")


def _slip(sentence: str) -> SafeString:
    """A sentence in a paragraph."""
    return format_html('<p class="slip">{}</p>', sentence)


def _place(notation_digest: str, width_mm: float) -> Path:
    """Where a drawing is or would be kept."""
    store.path_of(notation_digest)  # refuses what is no digest
    name = f"{notation_digest}-{width_mm:g}-{EDITION}.svg"
    return Path(settings.STANDLIGHT_FILES) / "svg" / name


def _keep(place: Path, svg: str) -> None:
    """Write a drawing whole or not at all."""
    place.parent.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(dir=place.parent)
    with os.fdopen(handle, "w", encoding="utf-8") as out:
        out.write(svg)
    os.replace(temporary, place)
