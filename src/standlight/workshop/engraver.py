"""The engraving tool, run as a child: a list of MusicXML files in, a list of SVGs out.

Arguments: page width in the engraver's own units, scale in percent. One page each, as
high as the music. Declines what the engraver cannot load.
"""

from __future__ import annotations

import sys
import zlib

import verovio

from standlight.workshop.child import declined, listed, told

_HIGHEST_PAGE = 60_000
"""The engraver's own bound; about 60 systems of a single part."""

_OPTIONS = {
    "adjustPageHeight": True,
    "breaks": "auto",
    "font": "Bravura",
    "footer": "none",
    "header": "none",
    "justifyVertically": False,
    "lyricSize": 4.0,
    "lyricWordSpace": 1.6,
    "mnumInterval": 0,
    "pageHeight": _HIGHEST_PAGE,
    "pageMarginBottom": 40,
    "pageMarginLeft": 50,
    "pageMarginRight": 10,
    "pageMarginTop": 40,
    "smuflTextFont": "none",
    "spacingSystem": 6,
    "svgFormatRaw": True,
    "svgRemoveXlink": True,
    "svgViewBox": True,
}


def main() -> None:
    """Engrave each task on standard input."""
    width, scale = (int(argument) for argument in sys.argv[1:3])
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    for musicxml in listed():
        # The ids that the engraver makes up depend on this file alone, not on its neighbours.
        seed = zlib.crc32(musicxml) % 1_000_000 + 1
        toolkit.setOptions(
            {**_OPTIONS, "pageWidth": width, "scale": scale, "xmlIdSeed": seed}
        )
        if not toolkit.loadData(musicxml.decode("utf-8", "replace")):
            declined("the engraver cannot read this notation (is it a score?)")
        elif toolkit.getPageCount() != 1:
            declined("there is too much music for one page, or none at all")
        else:
            told(toolkit.renderToSVG(1).encode("utf-8"))


if __name__ == "__main__":
    main()
