"""Engrave a small score as a PNG picture."""

from __future__ import annotations

from standlight.workshop.child import Limits, run_child
from standlight.workshop.engraving import engrave

FINE_DOTS_PER_INCH = 200
"""Enough for a page beside a laser printer's 300 and a screen's 96 (our choice)."""

_LIMITS = Limits(
    memory_bytes=2_000_000_000, cpu_seconds=30, file_bytes=64_000_000, wall_seconds=60
)


def engrave_png(
    musicxml: bytes,
    *,
    width_mm: float = 180,
    dots_per_inch: float = FINE_DOTS_PER_INCH,
    scale: int = 40,
) -> bytes:
    """The music as a PNG on white, ``width_mm`` wide when printed at its own resolution.

    Music and words as in `engrave`; the text font comes with the engraver, none from the
    system. Raises `WorkshopFailure`.
    """
    if not 36 <= dots_per_inch <= 600:
        raise ValueError(f"{dots_per_inch} dots to an inch is outside 36 to 600")
    svg = engrave(musicxml, width_mm=width_mm, scale=scale)
    return run_child(
        "rasteriser", svg.encode("utf-8"), arguments=[str(dots_per_inch)], limits=_LIMITS
    )
