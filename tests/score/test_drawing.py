"""Readings under the music: drawn at their notes, told apart without colour."""

import re

import pytest
from lxml import etree

from standlight.score import (
    DOUBTED,
    PASSED,
    NotationMark,
    draw_readings,
    heard_name,
    line_to_musicxml,
    read_passage,
)
from standlight.workshop import engrave

SVG = "{http://www.w3.org/2000/svg}"
LINE = "time 4/4 C4 q D4 E4 F4 | G4 q F4 E4 D4 | C4 q D4 E4 F4 | G4 q F4 E4 D4"


@pytest.fixture(scope="module")
def music() -> str:
    return engrave(line_to_musicxml(LINE, instrument="Clarinet in Bb"), width_mm=88)


def drawn(music: str, *marks: NotationMark) -> etree._Element:
    return etree.fromstring(draw_readings(music, marks))


def titles(root: etree._Element) -> list[str]:
    return [title.text for title in root.iter(f"{SVG}title")]


def classes(root: etree._Element) -> list[str]:
    return [
        group.get("class") for group in root.iter(f"{SVG}g")
        if (group.get("class") or "").startswith("reading ")
    ]  # fmt: skip


def height(root: etree._Element) -> float:
    return float(root.get("viewBox").split()[3])


def test_every_mark_has_a_sentence(music):
    root = drawn(
        music,
        NotationMark(0, 23.4, -80.0),
        NotationMark(1, -14.6, 95.0, unsure=True),
        NotationMark(2, None, None, "missing"),
        NotationMark(3, None, None, "other_pitch", heard="F#4"),
    )
    assert set(titles(root)) == {
        "note 1: 23 cents sharp",
        "note 1: 80 ms early",
        "note 2: 15 cents flat (unsure)",
        "note 2: 95 ms late (unsure)",
        "note 3: not heard",
        "note 4: heard as F#4",
    }


@pytest.mark.parametrize("index", [4, 5, 6, 7])
def test_a_note_that_went_on_has_a_dashed_line_to_its_right(music, index):
    root = drawn(music, NotationMark(index, None, None, longer=True))
    assert titles(root) == [
        f"note {index + 1}: went on longer than written, held or played twice"
    ]
    head = root.find(f".//{SVG}g[@id='n{index}']/{SVG}g[@class='notehead']/{SVG}use")
    x, y = map(float, re.findall(r"[\d.]+", head.get("transform"))[:2])
    (group,) = [one for one in root.iter(f"{SVG}g") if one.get("class") == "reading longer"]
    assert group.get("stroke-dasharray")
    numbers = re.findall(r"[\d.]+", group.find(f"{SVG}path").get("d"))
    first_x, first_y, last_x, last_y = map(float, numbers[:4])
    assert x < first_x < last_x
    assert first_y == last_y == pytest.approx(y, abs=100.0)  # half a space, in tenths of a unit
    staff = [path.get("d") for path in root.iterfind(f".//{SVG}g[@class='staff']/{SVG}path")]
    on_lines = {float(re.findall(r"[\d.]+", line)[1]) for line in staff}
    assert min(abs(first_y - line_y) for line_y in on_lines) > 50.0
    assert height(root) == height(etree.fromstring(music))


def test_sharp_points_up_and_flat_down_late_right_and_early_left(music):
    root = drawn(music, NotationMark(0, 30.0, 90.0), NotationMark(1, -30.0, -90.0))
    corners = {}
    for group in root.iter(f"{SVG}g"):
        polygon = group.find(f"{SVG}polygon")
        if (group.get("class") or "").startswith("reading ") and polygon is not None:
            points = [tuple(map(int, pair.split(","))) for pair in polygon.get("points").split()]
            corners[group.get("class")] = points
    base, _, tip = corners["reading pitch above"]
    assert tip[1] < base[1]
    base, _, tip = corners["reading pitch below"]
    assert tip[1] > base[1]
    base, _, tip = corners["reading time above"]
    assert tip[0] > base[0]
    base, _, tip = corners["reading time below"]
    assert tip[0] < base[0]


def test_small_deviations_are_small_and_without_number(music):
    root = drawn(music, NotationMark(0, 4.0, 12.0))
    assert classes(root) == ["reading pitch small", "reading time small"]
    numbers = [text.text for text in root.iter(f"{SVG}text") if text.get("class")]
    assert numbers == ["cents", "ms"]


def test_unsure_is_an_outline(music):
    root = drawn(music, NotationMark(0, 30.0, None, unsure=True))
    (group,) = [g for g in root.iter(f"{SVG}g") if g.get("class") == "reading pitch above unsure"]
    assert group.get("fill") == "none"
    assert group.get("stroke") != "none"


def test_the_picture_grows_only_under_systems_that_show_something(music):
    plain = height(etree.fromstring(music))
    assert height(drawn(music)) == plain
    one = height(drawn(music, NotationMark(0, 20.0, None)))
    both = height(drawn(music, NotationMark(0, 20.0, 90.0)))
    last = height(drawn(music, NotationMark(0, 20.0, None), NotationMark(15, 20.0, None)))
    assert plain < one < both
    assert one < last


def test_a_mark_stands_at_its_notes_head(music):
    root = drawn(music, NotationMark(5, 40.0, None))
    head = root.find(f".//{SVG}g[@id='n5']/{SVG}g[@class='notehead']/{SVG}use")
    at = float(re.search(r"translate\(([\d.]+)", head.get("transform")).group(1))
    (polygon,) = root.findall(f".//{SVG}g[@class='readings']//{SVG}polygon")
    tip = polygon.get("points").split()[-1]
    assert 0 < float(tip.split(",")[0]) - at < 200  # inside the head's width


def test_numbers_never_overlap_and_the_largest_stay():
    tight = engrave(
        line_to_musicxml("C4 t " + "C4 " * 31, instrument="Flute"), width_mm=88, scale=30
    )
    marks = [NotationMark(index, 15.0 + index, None) for index in range(32)]
    root = drawn(tight, *marks)
    spans = []
    for text in root.iter(f"{SVG}text"):
        if text.get("class") == "reading-number" and text.text != "cents":
            size = float(text.get("font-size").removesuffix("px"))
            half = size * 0.56 * len(text.text) / 2
            spans.append((float(text.get("x")) - half, float(text.get("x")) + half, text.text))
    spans.sort()
    assert "+46" in {words for _, _, words in spans}
    for one, following in zip(spans, spans[1:], strict=False):
        assert one[1] <= following[0]


def test_no_style_and_no_script_comes_in(music):
    marks = [NotationMark(0, 20.0, 40.0), NotationMark(1, None, None, "missing")]
    svg = draw_readings(music, marks)
    assert "style=" not in svg.replace("font-style=", "")
    assert "<style" not in svg and "<script" not in svg


def test_a_mark_without_its_note_is_refused(music):
    with pytest.raises(ValueError, match="note 99"):
        draw_readings(music, [NotationMark(99, 1.0, None)])


def test_a_picture_that_is_no_music_is_refused():
    with pytest.raises(ValueError, match="no system"):
        draw_readings('<svg xmlns="http://www.w3.org/2000/svg"/>', [])


def test_a_heard_pitch_is_named_as_the_musician_writes_it():
    passage = read_passage(line_to_musicxml(LINE, instrument="Clarinet in Bb"))
    assert passage.notes[0].midi == 58  # a written C4 sounds a whole tone lower
    assert heard_name(58.2, passage.notes[0]) == "C4"


def test_what_is_not_called_out_is_a_grey_dot_and_what_may_be_off_a_grey_outline(music):
    root = drawn(
        music,
        NotationMark(0, 20.0, -95.0, cents_as=PASSED, ms_as=PASSED),
        NotationMark(1, -60.0, None, cents_as=DOUBTED),
        NotationMark(2, -28.0, 120.0),
    )
    assert sorted(classes(root)) == [
        "reading pitch below", "reading pitch small", "reading pitch small unsure",
        "reading time above", "reading time small",
    ]
    numbers = {text.text for text in root.iter(f"{SVG}text") if text.get("class")}
    assert numbers == {"cents", "ms", "−28", "+120"}
    shapes = {
        group.get("class"): {child.tag.removeprefix(SVG) for child in group}
        for group in root.iter(f"{SVG}g") if (group.get("class") or "").startswith("reading ")
    }  # fmt: skip
    assert "circle" in shapes["reading pitch small"] and "circle" in shapes["reading time small"]
    assert "polygon" in shapes["reading pitch small unsure"]
    assert {"note 1: 95 ms early", "note 2: 60 cents flat (unsure)"} <= set(titles(root))
