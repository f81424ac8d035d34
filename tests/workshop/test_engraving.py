"""Engraving in a child: ids kept, nothing a strict page forbids, failures in words."""

import re

import pytest
from lxml import etree
from tests.scores import real

from standlight.errors import WorkshopFailure
from standlight.score import cut_passages, line_to_musicxml, read_passage, read_score
from standlight.workshop import engrave
from standlight.workshop.engraving import cleaned

SVG = "{http://www.w3.org/2000/svg}"
PLACES = {
    "tenth_regiment_hall.mxl": [(4, 8, 15), (26, 30, 37)],
    "sullivan_long_day_closes_ttbb.mxl": [(0, 1, 8), (4, 0, 5)],
    "hensel_quartet_e_flat.mxl": [(0, 100, 107)],
    "beethoven_op21_1.mxl": [(13, 199, 204)],
}


@pytest.mark.parametrize("name", PLACES)
def test_every_note_of_the_passage_is_drawn_with_its_id(name):
    for cut in cut_passages(real(name), PLACES[name]):
        ids = set(re.findall(r'id="(n\d+)"', engrave(cut)))
        assert ids == {f"n{index}" for index in range(len(read_passage(cut).notes))}


def test_the_drawing_holds_nothing_that_a_strict_page_forbids():
    (cut,) = cut_passages(real("tenth_regiment_hall.mxl"), [(4, 8, 15)])
    root = etree.fromstring(engrave(cut))
    for element in root.iter():
        assert etree.QName(element).localname not in {"style", "script", "image", "foreignObject"}
        for attribute, value in element.attrib.items():
            assert attribute != "style" and not attribute.startswith("on")
            if attribute.endswith("href"):
                assert value.startswith("#")


def test_the_drawing_is_the_same_each_time_and_as_wide_as_asked():
    line = line_to_musicxml("C4 q D4 E4 F4 | G4 w", instrument="Flute")
    assert engrave(line) == engrave(line)
    width = float(etree.fromstring(engrave(line, width_mm=100)).get("width"))
    assert width == pytest.approx(100 * 96 / 25.4, abs=2)  # CSS: 96 px to 25.4 mm


def test_a_phone_shows_two_plain_measures_a_system():
    line = " | ".join(["C4 q D4 E4 F4"] * 8)
    root = etree.fromstring(engrave(line_to_musicxml(line, instrument="Flute"), width_mm=88))
    systems = [group for group in root.iter(f"{SVG}g") if group.get("class") == "system"]
    a_system = [len([g for g in one.iter(f"{SVG}g") if g.get("class") == "measure"])
                for one in systems]  # fmt: skip
    assert max(a_system) <= 3
    assert sum(a_system) / len(a_system) >= 1.6


@pytest.mark.parametrize("data", [b"", b"not music", b"<score-partwise/>", b"\xff\xfe\x00bad"])
def test_what_is_no_notation_fails_with_a_sentence(data):
    with pytest.raises(WorkshopFailure):
        engrave(data)


def test_a_hostile_drawing_is_cleaned():
    hostile = (
        b'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
        b' viewBox="0 0 10 10" onload="x()"><script>x()</script><style>*{}</style>'
        b'<a href="http://example.org"><path d="M0 0"/></a>'
        b'<g class="placeholder"><ellipse/></g>'
        b'<use xlink:href="http://example.org#a"/><path style="fill:red" d="M0 0"/></svg>'
    )
    clean = cleaned(hostile)
    for slip in ("script", "<style", "style=", "onload", "example.org", "placeholder"):
        assert slip not in clean


def test_a_width_that_makes_no_sense_is_refused():
    with pytest.raises(ValueError, match="width"):
        engrave(b"", width_mm=5)


def test_reading_and_drawing_agree_on_the_number_of_measures():
    data = real("tenth_regiment_hall.mxl")
    score = read_score(data)
    (cut,) = cut_passages(data, [(0, 0, 20)])
    measures = set(re.findall(r'id="(m\d+)"', engrave(cut)))
    assert len(measures) == len(score.measures[0:21])
