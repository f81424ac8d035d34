"""Tempo and loudness under the measures: where the strokes lie, and what the words say."""

import re
from dataclasses import replace

import pytest
from lxml import etree

from standlight.score import (
    LinePoint,
    draw_loudness,
    draw_tempo,
    line_to_musicxml,
    loudness_words,
    read_passage,
    tempo_words,
)
from standlight.score.lines_drawing import BOTTOM, LEFT, RIGHT, TOP

SVG = "{http://www.w3.org/2000/svg}"
LINE = "time 4/4 C4 q D4 E4 F4 | G4 q F4 E4 D4 | C4 q D4 E4 F4 | G4 q F4 E4 D4"


@pytest.fixture(scope="module")
def passage():
    """Four measures printed 33 to 36, p in the first two and f in the last two."""
    whole = read_passage(line_to_musicxml(LINE, instrument="Flute"))
    notes = tuple(
        replace(note, dynamic="p" if note.measure < 2 else "f") for note in whole.notes
    )
    measures = tuple(replace(one, printed=str(33 + one.index)) for one in whole.measures)
    return replace(whole, notes=notes, measures=measures)


def steady(value, count=16, **more):
    return [LinePoint(float(q), value, **more) for q in range(count)]


def corners(svg, name="heard-line"):
    """The corners of each drawn stretch, as numbers."""
    return [
        [tuple(map(float, pair.split(","))) for pair in line.get("points").split()]
        for line in etree.fromstring(svg).iter(f"{SVG}polyline")
        if line.get("class") == name
    ]


def test_a_steady_tempo_is_a_level_line_on_the_dashed_one(passage):
    svg = draw_tempo(steady(96.0), 96.0, passage)
    (line,) = corners(svg)
    assert len({y for _, y in line}) == 1
    (dashed,) = [
        path for path in etree.fromstring(svg).iter(f"{SVG}path")
        if path.get("stroke-dasharray") not in (None, "none")
    ]  # fmt: skip
    assert float(re.findall(r"[\d.]+", dashed.get("d"))[1]) == pytest.approx(line[0][1], abs=0.06)


def test_time_runs_to_the_right_and_faster_is_higher(passage):
    points = [LinePoint(float(q), 90.0 + q) for q in range(17)]
    (line,) = corners(draw_tempo(points, 96.0, passage))
    assert line[0][0] == LEFT and line[-1][0] == RIGHT
    assert [x for x, _ in line] == sorted(x for x, _ in line)
    assert [y for _, y in line] == sorted((y for _, y in line), reverse=True)
    assert all(TOP <= y <= BOTTOM for _, y in line)


def test_no_line_joins_two_stretches(passage):
    points = steady(96.0, 6) + [LinePoint(q, 96.0, stretch=1) for q in (8.0, 9.0, 10.0)]
    assert [len(run) for run in corners(draw_tempo(points, 96.0, passage))] == [6, 3]


def test_an_uncertain_stretch_has_a_wider_band(passage):
    def height(se):
        root = etree.fromstring(draw_tempo(steady(96.0, se=se), 96.0, passage))
        ys = [float(pair.split(",")[1]) for pair in next(root.iter(f"{SVG}polygon")).get(
            "points").split()]  # fmt: skip
        return max(ys) - min(ys)

    assert height(2.0) == pytest.approx(2.0 * height(1.0), rel=0.05)


def test_measures_carry_their_printed_numbers_and_dynamics_stand_at_their_place(passage):
    root = etree.fromstring(draw_loudness(steady(0.0), passage))
    texts = {text.text: float(text.get("x")) for text in root.iter(f"{SVG}text")}
    assert {"33", "34", "35", "36", "p", "f", "louder", "softer"} <= set(texts)
    assert texts["f"] == texts["35"] and texts["p"] == texts["33"]


def test_a_picture_has_a_name_and_brings_neither_style_nor_script(passage):
    for svg in (draw_tempo(steady(96.0), 96.0, passage), draw_loudness(steady(0.0), passage)):
        root = etree.fromstring(svg)
        assert root.get("role") == "img" and root.get("aria-label")
        assert not list(root.iter(f"{SVG}style", f"{SVG}script"))
        assert not [one for one in root.iter() if one.get("style")]
        colours = {one.get(kind) for one in root.iter() for kind in ("stroke", "fill")}
        assert colours <= {None, "none", "currentColor", "#b5651d"}


def test_words_name_the_slowest_and_fastest_measure_when_they_are_noticed(passage):
    points = [LinePoint(float(q), 88.0 if 4 <= q < 8 else 104.0 if q >= 12 else 96.0)
              for q in range(16)]  # fmt: skip
    assert tempo_words(points, 96.0, passage) == (
        "Slowest in measure 34 (88), fastest in measure 36 (104). "
        "The marked tempo is 96 quarters a minute."
    )
    assert tempo_words(points, 96.0, passage, figures=False) == (
        "Slowest in measure 34, fastest in measure 36."
    )
    unsure = [replace(point, se=8.0) for point in points]
    assert tempo_words(unsure, 96.0, passage, figures=False) == (
        "The tempo stays steady all the way."
    )


def test_words_compare_the_marked_dynamics_inside_the_take(passage):
    points = [LinePoint(float(q), -4.0 if q < 8 else 4.0) for q in range(16)]
    assert loudness_words(points, passage).startswith("Under f it is louder than under p (+8 LU).")
    assert "LU" not in loudness_words(points, passage, figures=False)
    alike = loudness_words(steady(0.0), passage, figures=False)
    assert alike == "Under f it is about as loud as under p."
    wrong_way = [LinePoint(p.quarters, -p.value) for p in points]
    assert "Under f it is softer than under p" in loudness_words(wrong_way, passage)


def test_a_passage_without_dynamics_is_told_by_loud_and_soft_measures_alone(passage):
    plain = replace(passage, notes=tuple(replace(n, dynamic=None) for n in passage.notes))
    points = [LinePoint(float(q), 4.0 if 4 <= q < 8 else 0.0 if q < 12 else -4.0)
              for q in range(16)]  # fmt: skip
    assert loudness_words(points, plain) == "Loudest in measure 34, softest in measure 36."
    assert loudness_words(steady(0.0), plain) == "The loudness stays about the same all the way."
    assert len(corners(draw_loudness(points, plain))) == 1


def test_a_line_without_points_is_refused(passage):
    with pytest.raises(ValueError, match="first edition"):
        draw_tempo([], 96.0, passage)
    with pytest.raises(ValueError, match="first edition"):
        loudness_words([], passage)
