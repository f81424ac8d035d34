"""The workshop: foreign machinery in child processes with limits, bytes in and bytes out.

`engrave` and `engrave_many` draw MusicXML as SVG, `engrave_png` as a picture, `pages_pdf`
puts drawings and words on printed pages; `decode` gives a take's samples, `playback_copy` a
seekable copy of its sound; `score_of_midi` makes a MIDI file a score. Everything here may
fail on a damaged file; then it raises `WorkshopFailure` (or the error of its own trade) and
nothing else is harmed.
"""

from importlib import import_module
from typing import Any

from standlight.workshop.child import Limits, refuse, run_child, run_list
from standlight.workshop.engraving import engrave, engrave_many
from standlight.workshop.pages import PAPERS, Sheet, pages_pdf
from standlight.workshop.pictures import engrave_png

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

_LATER = {
    "decode": "decoding",
    "playback_copy": "decoding",
    "is_midi": "reading_midi",
    "score_of_midi": "reading_midi",
}
"""What needs numpy, by its module; engraving does not, and its children start faster without."""


def __getattr__(name: str) -> Any:
    """The half that needs numpy, brought in when first asked for."""
    if name in _LATER:
        return getattr(import_module(f"standlight.workshop.{_LATER[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
