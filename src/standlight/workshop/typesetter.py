"""The page-making tool, run as a child: sheets as JSON on standard input, a PDF out.

The sheets (see ``pages.py``) are data to a fixed page design, never a program: no word of
theirs is read as markup. Text is set in the page-maker's own fonts, the words inside the
music in the engraver's; none comes from the system, nothing from the network.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import typst

from standlight.workshop.child import refuse
from standlight.workshop.fonts import unpack_text_fonts, with_named_font

DESIGN = """
#let given = json("sheets.json")
#set document(title: given.title)
#set text(font: "Libertinus Serif", size: 10.5pt, fill: rgb("#1f1c18"), lang: given.language)
#set par(leading: 0.6em, spacing: 0.7em)
#let quiet(words) = text(size: 9pt, fill: rgb("#5d564b"), words)
#let heading-of(sheet) = {
  if sheet.over != "" { quiet(sheet.over); parbreak() }
  if sheet.title != "" { text(size: 17pt, weight: "semibold", sheet.title); parbreak() }
  for line in sheet.lines { line; parbreak() }
}
#let questions-of(sheet) = {
  set par(spacing: 0.55em)
  for row in sheet.questions { strong(row.at(0)); [: ]; row.at(1); parbreak() }
}
#let foot(sheet) = { line(length: 100%, stroke: 0.4pt + rgb("#ddd5c6"))
  set par(spacing: 0.4em)
  for line in sheet.footer { quiet(line); parbreak() } }
#let sheet-of(sheet) = layout(size => {
  let above = heading-of(sheet)
  let below = questions-of(sheet)
  let taken = (above, below).map(part => measure(width: size.width, part).height).sum()
  let room = calc.max(size.height - taken - 14mm, size.height * 0.4)
  above
  if sheet.music != none {
    v(4mm, weak: true)
    let natural = image(sheet.music, width: size.width, alt: given.alt)
    let high = measure(natural).height
    if high <= room { natural } else { image(sheet.music, height: room, alt: given.alt) }
    v(4mm, weak: true)
  }
  below
})
#for sheet in given.sheets {
  page(
    paper: given.paper,
    margin: (x: 15mm, top: 15mm, bottom: 22mm),
    footer: foot(sheet),
    sheet-of(sheet),
  )
}
"""
"""The page: who and what, the music as wide as the paper (smaller if it would run over the
page), what is asked, and the credit at the foot. Ink and quiet text as on the screen."""

_ALTERNATIVE = "The passage as printed music"


def main() -> None:
    """Set the sheets that stand on standard input."""
    given = json.loads(sys.stdin.buffer.read())
    for number, svg in enumerate(given.pop("drawings")):
        Path(f"music{number}.svg").write_text(with_named_font(svg), encoding="utf-8")
    given["alt"] = _ALTERNATIVE
    Path("sheets.json").write_text(json.dumps(given), encoding="utf-8")
    Path("page.typ").write_text(DESIGN, encoding="utf-8")
    unpack_text_fonts(Path("fonts"))
    here = str(Path.cwd())
    try:
        page = typst.Compiler(
            "page.typ",
            root=here,
            font_paths=[str(Path("fonts").resolve())],
            ignore_system_fonts=True,
            package_path=here,
            package_cache_path=here,
        )
        pdf = page.compile(format="pdf", timestamp=given["made_unix_s"])
    except typst.TypstError as slip:
        refuse(f"these pages cannot be set: {slip.message}")
    sys.stdout.buffer.write(pdf)


if __name__ == "__main__":
    main()
