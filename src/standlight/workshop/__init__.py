"""The workshop: foreign machinery in child processes with limits, bytes in and bytes out.

`engrave` and `engrave_many` draw MusicXML as SVG, `engrave_png` as a picture, `pages_pdf`
puts drawings and words on printed pages; `decode` gives a take's samples, `playback_copy` a
seekable copy of its sound; `score_of_midi` makes a MIDI file a score. Everything here may fail on a damaged file; then it
raises `WorkshopFailure` (or the error of its own trade) and nothing else is harmed.
"""

from typing import Any

from standlight.workshop.child import Limits, refuse, run_child, run_list
from standlight.workshop.engraving import engrave, engrave_many
from standlight.workshop.pages import PAPERS, Sheet, pages_pdf
from standlight.workshop.pictures import engrave_png
from standlight.workshop.reading_midi import is_midi, score_of_midi

__all__ = [
    "PAPERS",
    "Limits",
    "Sheet",
    "decode",
    "engrave",
    "engrave_many",
    "engrave_png",
    "is_midi",
    "pages_pdf",
    "playback_copy",
    "refuse",
    "run_child",
    "run_list",
    "score_of_midi",
]


def __getattr__(name: str) -> Any:
    """The decoding half, brought in when first asked for: it needs numpy, engraving does not."""
    if name in ("decode", "playback_copy"):
        from standlight.workshop import decoding

        return getattr(decoding, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
