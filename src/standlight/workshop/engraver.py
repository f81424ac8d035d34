"""The engraving tool, run as a child: MusicXML on standard input, SVG on standard output.

Arguments: page width in the engraver's own units, scale in percent, id seed. One page,
as high as the music. Refuses what the engraver cannot load.
"""

from __future__ import annotations

import sys

import verovio

from standlight.workshop.child import refuse

_HIGHEST_PAGE = 60_000
"""The engraver's own bound; about 60 systems of a single part."""


def main() -> None:
    """Engrave what stands on standard input."""
    width, scale, seed = (int(argument) for argument in sys.argv[1:4])
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(
        {
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
            "pageWidth": width,
            "scale": scale,
            "smuflTextFont": "none",
            "spacingSystem": 6,
            "svgViewBox": True,
            "xmlIdSeed": seed,
        }
    )
    if not toolkit.loadData(sys.stdin.buffer.read().decode("utf-8")):
        refuse("the engraver cannot read this notation (is it a score?)")
    if toolkit.getPageCount() != 1:
        refuse("there is too much music for one page, or none at all")
    sys.stdout.buffer.write(toolkit.renderToSVG(1).encode("utf-8"))


if __name__ == "__main__":
    main()
