"""Engraving in a child: ids kept, nothing a strict page forbids, failures in words."""

import re

import pytest
from lxml import etree
from tests.scores import real, suite

from standlight.errors import WorkshopFailure
from standlight.score import cut_passages, line_to_musicxml, read_passage, read_score
from standlight.workshop import engrave, engrave_many
from standlight.workshop.engraving import MOST_IN_ONE_CHILD, cleaned

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


def test_many_drawings_are_those_of_one_at_a_time_whatever_stands_beside_them():
    cuts = cut_passages(real("tenth_regiment_hall.mxl"), [(4, 8, 15), (26, 30, 37), (0, 0, 5)])
    drawn = engrave_many([cuts[0], b"not music", *cuts[1:], cuts[0]], width_mm=90)
    assert isinstance(drawn[1], WorkshopFailure) and "cannot read" in str(drawn[1])
    alone = [engrave(cut, width_mm=90) for cut in cuts]
    assert [drawn[0], drawn[2], drawn[3], drawn[4]] == [*alone, alone[0]]


def test_more_drawings_than_one_child_makes_come_in_order():
    lines = [
        line_to_musicxml(f"{step}4 w", instrument="Flute")
        for step in "CDEFGAB" * (MOST_IN_ONE_CHILD // 7 + 1)
    ]
    drawn = engrave_many(lines)
    assert len(drawn) == len(lines) > MOST_IN_ONE_CHILD
    assert drawn[:7] == drawn[7:14] and drawn[-1] == drawn[6] and len(set(drawn)) == 7
    assert engrave_many([]) == []


def test_only_ids_of_our_own_notes_and_measures_are_left():
    (cut,) = cut_passages(real("sullivan_long_day_closes_ttbb.mxl"), [(0, 1, 8)])
    root = etree.fromstring(engrave(cut))
    defined = {one.get("id") for one in root.iterfind(f".//{SVG}defs/{SVG}g")}
    used = {one.get("href") for one in root.iter(f"{SVG}use")}
    assert {f"#{name}" for name in defined} == used
    others = {one.get("id") for one in root.iter() if one.get("id")} - defined
    notes = {f"n{index}" for index in range(len(read_passage(cut).notes))}
    assert others == notes | {f"m{index}" for index in range(8)}


def test_rests_counted_together_in_the_print_are_drawn_measure_by_measure():
    """The suite's file 02c holds a rest over several measures (its own description)."""
    data = suite("02c")
    count = len(read_score(data).measures)
    (cut,) = cut_passages(data, [(0, 0, count - 1)])
    root = etree.fromstring(engrave(cut))
    drawn = [one for one in root.iter(f"{SVG}g") if one.get("class") == "measure"]
    assert len(drawn) == count > 3
    assert not [one for one in root.iter(f"{SVG}g") if one.get("class") == "multiRest"]


def test_the_words_of_a_song_are_drawn():
    (cut,) = cut_passages(real("sullivan_long_day_closes_ttbb.mxl"), [(0, 1, 8)])
    words = [one.text for one in etree.fromstring(cut).iterfind(".//lyric/text")]
    drawn = "".join(etree.fromstring(engrave(cut)).itertext())
    assert len(words) > 10 and all(word in drawn for word in words)


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
