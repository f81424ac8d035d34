"""The drawing tool, run as a child: an SVG on standard input, a PNG on standard output.

Argument: dots to an inch. White paper, the wheel's own text font, none of the system's.
"""

from __future__ import annotations

import struct
import sys
import zlib
from pathlib import Path

import resvg_py

from standlight.workshop.child import refuse
from standlight.workshop.fonts import TEXT_FONT, unpack_text_fonts, with_named_font

_CSS_DOTS_PER_INCH = 96
_MM_PER_METRE_OF_INCH = 0.0254
"""An inch is 0.0254 m; the PNG standard counts dots to a metre."""

_HEADER_END = 33
"""PNG: 8 bytes of signature and the IHDR chunk of 25."""


def main() -> None:
    """Draw what stands on standard input."""
    dots_per_inch = float(sys.argv[1])
    svg = with_named_font(sys.stdin.buffer.read().decode("utf-8"))
    fonts = unpack_text_fonts(Path("fonts"))
    try:
        picture = resvg_py.svg_to_bytes(
            svg_string=svg,
            zoom=dots_per_inch / _CSS_DOTS_PER_INCH,
            background="white",
            font_family=TEXT_FONT,
            serif_family=TEXT_FONT,
            font_files=[str(font.resolve()) for font in fonts],
            skip_system_fonts=True,
        )
    except ValueError as slip:
        refuse(f"this drawing cannot be made a picture: {slip}")
    sys.stdout.buffer.write(with_size(bytes(picture), dots_per_inch))


def with_size(png: bytes, dots_per_inch: float) -> bytes:
    """The picture with its resolution told (chunk ``pHYs``), so that it prints at its size."""
    dots = round(dots_per_inch / _MM_PER_METRE_OF_INCH)
    content = b"pHYs" + struct.pack(">IIB", dots, dots, 1)
    chunk = struct.pack(">I", 9) + content + struct.pack(">I", zlib.crc32(content))
    return png[:_HEADER_END] + chunk + png[_HEADER_END:]


if __name__ == "__main__":
    main()
