"""Printed pages: one PDF, real letters from named fonts, words that are never a program."""

import re
import zlib

import pytest
from tests.scores import real

from standlight.errors import WorkshopFailure
from standlight.score import cut_passages
from standlight.workshop import Sheet, engrave, pages_pdf, run_child

POINTS_PER_MM = 72 / 25.4
TWO_BYTES = re.compile(rb"\\([0-7]{3})|\\(.)|(.)", re.DOTALL)
ESCAPES = {b"n": 10, b"r": 13, b"t": 9, b"b": 8, b"f": 12}  # ISO 32000-1, table 3


@pytest.fixture(scope="module")
def svg():
    (cut,) = cut_passages(real("sullivan_long_day_closes_ttbb.mxl"), [(0, 1, 8)])
    return engrave(cut)


def sheet(svg="", **more):
    return Sheet(
        title="Closing song", over="Singing check, Choir", lines=("Ana Őze. Tenor 1",), svg=svg,
        questions=(("Tone", "Is the sound clear?"),), footer=("Sullivan. Public domain.",), **more,
    )  # fmt: skip


def parts_of(pdf: bytes) -> list[bytes]:
    """The file itself and every stream in it, unpacked (ISO 32000-1, 7.3.8 and 7.4.4)."""
    parts = [pdf]
    for start in re.finditer(rb"stream\r?\n", pdf):
        try:
            parts.append(zlib.decompressobj().decompress(pdf[start.end() :]))
        except zlib.error:
            continue
    return parts


def pages_in(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height in mm of every page."""
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", b"\n".join(parts_of(pdf)))
    return [(float(w) / POINTS_PER_MM, float(h) / POINTS_PER_MM) for w, h in boxes]


def fonts_in(pdf: bytes) -> set[str]:
    """Family names of the fonts embedded (a subset's tag left off)."""
    names = re.findall(rb"/BaseFont\s*/(?:[A-Z]{6}\+)?([A-Za-z]+)", b"\n".join(parts_of(pdf)))
    return {name.decode() for name in names}


def glyphs_shown(pdf: bytes) -> list[int]:
    """The glyph numbers of all text shown: two bytes each, in the strings of TJ and Tj."""
    glyphs = []
    for part in parts_of(pdf)[1:]:
        for text in re.findall(rb"BT .*?ET", part, re.DOTALL):
            for string in re.findall(rb"\(((?:\\.|[^\\)])*)\)", text, re.DOTALL):
                codes = bytes(
                    int(octal, 8) if octal else ESCAPES.get(escape, ord(escape or plain))
                    for octal, escape, plain in TWO_BYTES.findall(string)
                )
                glyphs.extend(a * 256 + b for a, b in zip(codes[::2], codes[1::2], strict=True))
    return glyphs


def test_every_sheet_is_a_page_of_the_paper_asked_for(svg):
    a4 = pages_in(pages_pdf([sheet(svg), sheet(), sheet(svg)]))
    assert len(a4) == 3
    for width, height in a4:
        assert (width, height) == pytest.approx((210, 297), abs=0.2)  # ISO 216
    letter = pages_in(pages_pdf([sheet(svg)], paper="letter"))
    assert letter == [pytest.approx((215.9, 279.4), abs=0.2)]  # ANSI/ASME Y14.1


def test_all_fonts_come_from_the_wheels_and_every_letter_has_its_glyph(svg):
    pdf = pages_pdf([sheet(svg)])
    assert fonts_in(pdf) == {"LibertinusSerif", "LiberationSerif"}
    assert len(glyphs_shown(pdf)) > 150  # the words of the page and of the song
    assert 0 not in glyphs_shown(pdf)  # glyph 0 is the box for what a font lacks


def test_the_control_a_letter_that_no_font_has_is_a_box():
    pdf = pages_pdf([Sheet(title="\U00010fff")])
    assert 0 in glyphs_shown(pdf)


def test_words_are_words_whatever_they_look_like():
    odd = '#import "x.typ" $a$ *b* _c_ <d> @e \\ // /* #panic("f") "g'
    plain = pages_pdf([sheet(), sheet()])
    pdf = pages_pdf([Sheet(title=odd, over=odd, lines=(odd,), questions=((odd, odd),),
                           footer=(odd,))])  # fmt: skip
    assert len(pages_in(pdf)) == 1 and len(pages_in(plain)) == 2
    letters = len(odd.replace(" ", ""))
    assert len(glyphs_shown(pdf)) >= 6 * letters  # all of it is printed, six times


def test_music_that_is_too_high_is_made_smaller_so_that_a_sheet_stays_a_page():
    tall = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 600 6000" width="600"'
        ' height="6000"><path d="M0 0 L600 6000"/></svg>'
    )
    assert len(pages_in(pages_pdf([sheet(tall)]))) == 1


def test_the_file_s_date_and_title_are_those_given():
    pdf = b"".join(parts_of(pages_pdf([sheet()], title="Check 1", made_unix_s=1_780_000_000)))
    assert b"D:20260528" in pdf  # 28 May 2026, by date -u -d @1780000000
    assert b"Check 1" in pdf


@pytest.mark.parametrize(
    ("sheets", "paper", "says"),
    [([], "a4", "0 pages"), ([sheet()], "foolscap", "no paper"), ([sheet()] * 1001, "a4", "1001")],
)
def test_no_page_too_many_and_an_unknown_paper_are_refused(sheets, paper, says):
    with pytest.raises(ValueError, match=says):
        pages_pdf(sheets, paper=paper)


def test_a_drawing_that_is_none_fails_with_a_sentence():
    with pytest.raises(WorkshopFailure, match="cannot be set"):
        pages_pdf([sheet("<svg")])
    with pytest.raises(WorkshopFailure):
        run_child("typesetter", b"no json")
