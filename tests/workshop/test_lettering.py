"""Musical letters inside words become outlines in their place."""

import re

import pytest
from lxml import etree
from tests.scores import suite

from standlight.score import cut_passages, read_score
from standlight.workshop import engrave
from standlight.workshop.fonts import text_width
from standlight.workshop.glyphs import shape
from standlight.workshop.lettering import settle_words

SVG = "{http://www.w3.org/2000/svg}"
QUARTER, SHARP = "\ueca5", "\u266f"


def drawing(words: str) -> etree._Element:
    return etree.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg"><g>{words}</g></svg>')


def run(words: str, *, musical: bool = False) -> str:
    font = ' font-family="Bravura"' if musical else ""
    return f'<tspan font-size="{720 if musical else 400}px"{font}>{words}</tspan>'


def place(path: etree._Element) -> tuple[float, ...]:
    return tuple(map(float, re.findall(r"-?[\d.]+", path.get("transform"))))


@pytest.mark.parametrize(("anchor", "share"), [("start", 0), ("middle", 0.5), ("end", 1)])
def test_a_note_between_words_stands_where_the_words_before_it_end(anchor, share):
    inside = run("(") + run(QUARTER, musical=True) + run(" = 96)")
    root = drawing(f'<text x="1000" y="50" text-anchor="{anchor}">{inside}</text>')
    settle_words(root)
    note = shape(QUARTER)
    before, wide = text_width("(", 400), note.advance * 720 / note.units
    start = 1000 - share * (before + wide + text_width(" = 96)", 400))
    (path,) = root.iter(f"{SVG}path")
    assert path.get("d") == note.outline
    assert place(path) == pytest.approx((start + before, 50, 0.72, -0.72), abs=0.1)
    first, last = root.iter(f"{SVG}tspan")
    assert float(first.get("x")) == pytest.approx(start, abs=0.1)
    space = text_width(" ", 400)  # a reader drops the space that a text begins with
    assert float(last.get("x")) == pytest.approx(start + before + wide + space, abs=0.1)
    assert last.text == "= 96)"
    assert float(last.get("textLength")) == pytest.approx(text_width("= 96)", 400), abs=0.1)
    assert root.find(f".//{SVG}text").get("text-anchor") is None


def test_bold_words_are_as_wide_as_bold_words():
    inside = run("Allegro ") + run(QUARTER, musical=True)
    root = drawing(f'<text x="0" y="0" font-weight="bold">{inside}</text>')
    settle_words(root)
    (path,) = root.iter(f"{SVG}path")
    assert place(path)[0] == pytest.approx(text_width("Allegro ", 400, bold=True), abs=0.1)
    assert place(path)[0] != pytest.approx(text_width("Allegro ", 400), abs=5)


def test_a_new_line_begins_at_its_own_place():
    second = f'<tspan x="30" y="90">{run(SHARP, musical=True)}{run("9")}</tspan>'
    root = drawing(f'<text x="10" y="20">{run("one")}{second}</text>')
    settle_words(root)
    (path,) = root.iter(f"{SVG}path")
    assert place(path)[:2] == (30, 90)


def test_every_word_is_told_its_length_and_else_left_as_it_is():
    root = drawing(f'<text x="10" y="20" text-anchor="end">{run("dolce")}{run(" e ")}</text>')
    settle_words(root)
    text = root.find(f".//{SVG}text")
    assert (text.get("x"), text.get("text-anchor")) == ("10", "end")
    word, between = text
    assert float(word.get("textLength")) == pytest.approx(text_width("dolce", 400), abs=0.1)
    assert word.get("lengthAdjust") == "spacingAndGlyphs"
    assert "textLength" not in between.attrib and between.text == " e "


@pytest.mark.parametrize("name", ["31a", "31c", "61j", "71a", "74a"])
def test_no_drawing_of_the_suite_asks_for_a_music_font(name):
    data = suite(name)
    (cut,) = cut_passages(data, [(0, 0, len(read_score(data).measures) - 1)])
    svg = engrave(cut)
    assert "Bravura" not in svg
    private = {letter for letter in "".join(etree.fromstring(svg).itertext()) if letter > "\ue000"}
    assert not private  # SMuFL's letters begin at U+E000
