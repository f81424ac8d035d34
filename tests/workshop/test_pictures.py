"""Pictures hold real letters, with no font of the machine: checked against FreeType's drawing."""

import base64
import io
import re
import struct
import subprocess
import sys

import numpy as np
import pytest
from fontTools.ttLib import TTFont
from lxml import etree
from PIL import Image, ImageDraw, ImageFont
from tests.scores import real, suite

from standlight.errors import WorkshopFailure
from standlight.score import cut_passages, line_to_musicxml
from standlight.workshop import child, engrave, engrave_png, run_child
from standlight.workshop.fonts import text_width, unpack_text_fonts
from standlight.workshop.glyphs import font_data

SVG = "{http://www.w3.org/2000/svg}"
DOTS = 600
INK = 128
BOLD, ITALIC = 1, 2  # OpenType, table head, macStyle


@pytest.fixture(scope="module")
def march():
    """A line with words, rehearsal marks and dynamics, drawn both ways."""
    (cut,) = cut_passages(suite("31a"), [(0, 0, 4)])
    return engrave(cut), engrave_png(cut, dots_per_inch=DOTS)


@pytest.fixture(scope="module")
def fonts(tmp_path_factory):
    """The wheel's text fonts by macStyle, and its music font, as files."""
    folder = tmp_path_factory.mktemp("fonts")
    found = {TTFont(place)["head"].macStyle & 3: place for place in unpack_text_fonts(folder)}
    packed = re.search(r"base64,([\w+/=]+)", (font_data() / "Bravura.css").read_text())
    music = TTFont(io.BytesIO(base64.b64decode(packed[1])))
    music.flavor = None
    music.save(folder / "music.otf")
    return {**found, "music": folder / "music.otf"}


def ink(png: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(png)).convert("L")) < INK


def dots_of_a_unit(root: etree._Element) -> float:
    """How many dots one unit of the inner drawing measures."""
    inner = root.find(f"{SVG}svg")
    inner_width = float(inner.get("viewBox").split()[2])
    return float(root.get("width")) * DOTS / 96 / inner_width


def margin(root: etree._Element) -> tuple[float, float]:
    group = next(one for one in root.iter(f"{SVG}g") if one.get("class") == "page-margin")
    x, y = re.findall(r"-?[\d.]+", group.get("transform"))
    return float(x), float(y)


def drawn_by_freetype(shape, words, font, size, place):
    picture = Image.new("L", (shape[1], shape[0]), 255)
    ImageDraw.Draw(picture).text(
        place, words, font=ImageFont.truetype(str(font), size), anchor="ls", fill=0
    )
    return np.asarray(picture) < INK


def shared(found, expected):
    """Share of dots on which two drawings agree, of those that either has (Jaccard)."""
    rows, columns = np.nonzero(expected)
    box = np.s_[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]
    return (found & expected)[box].sum() / (found | expected)[box].sum()


def test_words_are_the_letters_that_freetype_draws_from_the_same_font(march, fonts):
    svg, png = march
    root, picture = etree.fromstring(svg), ink(png)
    unit, (left, top) = dots_of_a_unit(root), margin(root)
    seen = 0
    for text in root.iter(f"{SVG}text"):
        look = {a.get("class"): a for a in text.iterancestors(f"{SVG}g")}
        style = (BOLD if "reh" in look else 0) | (ITALIC if {"dir", "mNum"} & set(look) else 0)
        runs = [run for run in text.iter(f"{SVG}tspan") if run.text and run.text.strip()]
        if len(runs) != 1 or text.get("text-anchor") or "syl" not in look:
            continue
        size = float(runs[0].get("font-size").removesuffix("px")) * unit
        place = ((float(text.get("x")) + left) * unit, (float(text.get("y")) + top) * unit)
        natural = ImageFont.truetype(str(fonts[style]), size).getlength(runs[0].text)
        if natural != pytest.approx(text_width(runs[0].text, size), rel=0.005):
            continue  # FreeType kerns it, the engraver does not
        expected = drawn_by_freetype(picture.shape, runs[0].text, fonts[style], size, place)
        other = "\u25a1" * len(runs[0].text)  # boxes, as a missing font would show
        boxes = drawn_by_freetype(picture.shape, other, fonts[style], size, place)
        assert shared(picture, expected) > 0.7 > 0.4 > shared(picture, boxes), runs[0].text
        seen += 1
    assert seen >= 10


def test_a_tempo_s_note_is_the_glyph_that_freetype_draws_from_the_music_font(fonts):
    """SMuFL: metNoteQuarterUp is U+ECA5, metAugmentationDot U+ECB7."""
    line = line_to_musicxml("C4 q D4 E4 F4", instrument="Flute")
    mark = (
        b'<direction placement="above"><direction-type><metronome><beat-unit>quarter</beat-unit>'
        b"<per-minute>96</per-minute></metronome></direction-type></direction><note"
    )
    score = line.replace(b"<note", mark, 1)
    root, picture = etree.fromstring(engrave(score)), ink(engrave_png(score, dots_per_inch=DOTS))
    assert "Bravura" not in engrave(score)
    unit, (left, top) = dots_of_a_unit(root), margin(root)
    tempo = next(one for one in root.iter(f"{SVG}g") if one.get("class") == "tempo")
    x, y, scale, _ = map(float, re.findall(r"-?[\d.]+", tempo.find(f"{SVG}path").get("transform")))
    expected = drawn_by_freetype(
        picture.shape, "\ueca5", fonts["music"], scale * 1000 * unit,
        ((x + left) * unit, (y + top) * unit),
    )  # fmt: skip
    assert shared(picture, expected) > 0.8


def test_the_picture_is_the_same_where_the_system_has_no_fonts_at_all(march, tmp_path):
    svg, png = march
    answer = subprocess.run(
        [sys.executable, "-m", "standlight.workshop.rasteriser", str(DOTS)],
        input=svg.encode(), capture_output=True, check=True, cwd=tmp_path,
        env={
            "PYTHONPATH": str(child._SOURCES), "FONTCONFIG_FILE": str(tmp_path / "none"),
            "FONTCONFIG_PATH": str(tmp_path), "HOME": str(tmp_path),
            "XDG_DATA_HOME": str(tmp_path), "XDG_DATA_DIRS": str(tmp_path),
        },
    )  # fmt: skip
    assert answer.stdout == png


def test_without_the_wheel_s_fonts_the_words_would_be_missing(march):
    """The control: the same machinery, given no font, draws no letter (so none is the system's)."""
    import resvg_py

    svg, png = march
    bare = bytes(
        resvg_py.svg_to_bytes(
            svg_string=svg, zoom=DOTS / 96, background="white", skip_system_fonts=True
        )
    )
    lost = ink(png) & ~ink(bare)
    assert not (ink(bare) & ~ink(png)).any()
    assert lost.sum() > 5_000


def test_a_picture_knows_its_size_on_paper():
    png = engrave_png(
        line_to_musicxml("C4 q D4 E4 F4", instrument="Flute"), width_mm=100, dots_per_inch=150
    )
    place = png.index(b"pHYs")
    across, down, metres = struct.unpack_from(">IIB", png, place + 4)
    picture = Image.open(io.BytesIO(png))
    assert (across, down, metres) == (5906, 5906, 1)  # 150 dots / 0.0254 m
    assert picture.info["dpi"] == pytest.approx((150, 150), abs=0.1)
    assert picture.width / across * 1000 == pytest.approx(100, abs=0.5)


def test_widths_are_those_of_times():
    """Adobe's Times-Roman metrics (AFM): A 722, W 944, figures 500 of 1000."""
    for letters, width in (("A", 722), ("W", 944), ("07", 1000)):
        assert text_width(letters, 1000) == pytest.approx(width, abs=1)
    assert text_width("A", 1000, bold=True) == pytest.approx(722, abs=1)  # Times-Bold
    assert text_width("A", 1000, italic=True) == pytest.approx(611, abs=1)  # Times-Italic


def test_what_is_no_drawing_and_a_size_that_makes_no_sense_are_refused():
    with pytest.raises(WorkshopFailure, match="cannot be made a picture"):
        run_child("rasteriser", b"<svg", arguments=["96"])
    with pytest.raises(ValueError, match="36 to 600"):
        engrave_png(b"", dots_per_inch=5)


def test_a_real_page_with_lyrics_is_a_picture(tmp_path):
    (cut,) = cut_passages(real("sullivan_long_day_closes_ttbb.mxl"), [(0, 1, 8)])
    picture = Image.open(io.BytesIO(engrave_png(cut, dots_per_inch=96)))
    assert picture.format == "PNG" and picture.width == pytest.approx(680, abs=2)
