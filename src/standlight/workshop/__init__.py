"""The workshop: foreign machinery in child processes with limits, bytes in and bytes out.

`engrave` draws MusicXML as SVG. Everything here may fail on a damaged file; then it
raises `WorkshopFailure` (or the error of its own trade) and nothing else is harmed.
"""

from standlight.workshop.child import Limits, refuse, run_child
from standlight.workshop.engraving import engrave

__all__ = ["Limits", "engrave", "refuse", "run_child"]
