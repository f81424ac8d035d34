"""Tables that are edited: what comes of an edit, and every slip as a sentence."""

import csv
from fractions import Fraction
from pathlib import Path

import pytest

from standlight.errors import StandlightError
from standlight.passages import SHIPPED_TABLES, find_passages, look, survey_piece
from standlight.passages.tables import VOICE_STAGES, cells_of, differing, edited
from standlight.score import line_to_musicxml, read_score
from standlight.score.singing_range import midi_named

TRADE = Path(__file__).resolve().parents[1] / "authorities" / "trade"
LINE = (
    "time 4/4 key C tempo 96  C5 q C6 C5 C6 | A5 q D5 A5 C5 | C5 e D5 E5 F5 G5 F5 E5 D5 | "
    "C5 q C5 C5 h | C5 q D5 E5 F5 | G5 q G5 A5 h | C5 q F5 A5 C6 | C5 w"
)


def survey(tables=SHIPPED_TABLES, **more):
    read = read_score(line_to_musicxml(LINE, instrument="Flute"))
    return survey_piece(read, length_measures=4, tables=tables, **more)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"colours": {}}, "no table named 'colours'"),
        ({"weights": {"loudness": {"weight": 1}}}, "weights has no row 'loudness'"),
        ({"weights": {"leaps": {"heft": 1}}}, "no cell 'heft', at weights, leaps"),
        ({"weights": {"leaps": {"weight": -0.5}}}, "-0.5 is not between 0 and 3, at leaps"),
        ({"weights": {"leaps": {"weight": 3.5}}}, "3.5 is not between 0 and 3"),
        ({"weights": {"leaps": {"weight": float("nan")}}}, "nan is not between"),
        ({"weights": {"leaps": {"weight": True}}}, "True is not between"),
        ({"weights": {"leaps": {"weight": "2"}}}, "'2' is not between"),
        ({"ranges": {"Kazoo": {"school_low_midi": 60}}}, "ranges has no row 'Kazoo'"),
        ({"ranges": {"Snare drum": {"school_low_midi": 60}}}, "no row 'Snare drum'"),
        # A clarinet's E3 to C3 as written, though it sounds a whole tone lower.
        ({"ranges": {"Clarinet in Bb": {"school_high_midi": 46}}}, "runs from E3 down to C3"),
        ({"ranges": {"Flute": {"school_high_midi": 200}}}, "school range reaches 200"),
        ({"ranges": {"Flute": {"school_high_midi": 72.5}}}, "reaches 72.5, which is no pitch"),
        ({"ranges": {"Flute": {"grade1_low_midi": None}}}, "grade 1 range has one end only"),
        (
            {"ranges": {"Flute": {"school_low_midi": None, "school_high_midi": None}}},
            "the school range is empty, at Flute",
        ),
        ({"grades": {"6": {"tuplets": True}}}, "grades has no row '6'"),
        ({"grades": {"1": {"most_fifths": 8}}}, "8 sharps or flats are not between 0 and 7"),
        ({"grades": {"1": {"most_fifths": True}}}, "True sharps or flats"),
        ({"grades": {"1": {"shortest_value_quarters": "1/3"}}}, "'1/3' is no shortest value"),
        ({"grades": {"1": {"tuplets": "no"}}}, "yes or no, not 'no', at grade 1"),
        ({"grades": {"1": {"range_name": "grade3"}}}, "'grade3' is no range"),
        ({"grades": {"1": {"words": "  "}}}, "words of 1 to 160 characters, at grade 1"),
        ({"grades": {"1": {"words": "x" * 161}}}, "words of 1 to 160"),
        (
            {"weights": {key: {"weight": 0} for key in SHIPPED_TABLES.weights}},
            "no feature counts",
        ),
    ],
)
def test_every_slip_is_a_sentence_and_the_shipped_tables_stay(changes, words):
    before = {name: cells_of(SHIPPED_TABLES, name) for name in ("ranges", "grades", "weights")}
    with pytest.raises(StandlightError, match=words):
        edited(SHIPPED_TABLES, changes)
    assert {name: cells_of(SHIPPED_TABLES, name) for name in before} == before


def test_an_edit_changes_its_cells_and_no_other():
    tables = edited(
        SHIPPED_TABLES,
        {
            "ranges": {"Flute": {"grade1_low_midi": None, "grade1_high_midi": None}},
            "grades": {"2": {"shortest_value_quarters": "1/2", "words": " plain "}},
        },
    )
    assert tables.ranges["Flute"].grade1 is None
    assert tables.ranges["Flute"].named("grade1") == SHIPPED_TABLES.ranges["Flute"].school
    assert tables.grades[2].shortest_value_quarters == Fraction(1, 2)
    assert tables.grades[2].words == "plain"
    for kept in ("Oboe", "Clarinet in Bb"):
        assert tables.ranges[kept] == SHIPPED_TABLES.ranges[kept]
    assert tables.grades[1] == SHIPPED_TABLES.grades[1]
    assert tables.weights == SHIPPED_TABLES.weights


def test_the_differences_lead_from_one_edition_to_the_other_and_are_the_fewest():
    # The whole row is given, as a form does; one cell of it differs.
    row = cells_of(SHIPPED_TABLES, "grades")["1"] | {"most_fifths": 2}
    other = edited(SHIPPED_TABLES, {"grades": {"1": row}, "weights": {"key": {"weight": 2}}})
    changes = differing(SHIPPED_TABLES, other)
    assert changes == {"grades": {"1": {"most_fifths": 2}}, "weights": {"key": {"weight": 2.0}}}
    assert edited(SHIPPED_TABLES, changes) == other
    assert differing(other, other) == {}


def test_a_weight_of_nothing_takes_its_feature_out_of_demand():
    quiet = edited(SHIPPED_TABLES, {"weights": {"leaps": {"weight": 0}}})
    only = edited(
        SHIPPED_TABLES,
        {"weights": {key: {"weight": int(key == "leaps")} for key in SHIPPED_TABLES.weights}},
    )
    # Measures 1 to 4 leap by fifths and octaves, 4 to 7 mostly step.
    shipped, without, alone = (survey(tables) for tables in (SHIPPED_TABLES, quiet, only))
    leaping = [look(one, 0, 0, 3).demand for one in (shipped, without, alone)]
    stepping = [look(one, 0, 3, 6).demand for one in (shipped, without, alone)]
    assert leaping[1] < leaping[0] and leaping[2] > stepping[2]
    assert "leaps" not in without.scales["lines"].sorted_values
    assert list(alone.scales["lines"].sorted_values) == ["leaps"]
    found = [find_passages(one, []).parts[0].passage.demand for one in (shipped, without)]
    assert found[0] != found[1]


def test_a_narrowed_range_adds_a_flag_in_written_notes():
    narrow = edited(SHIPPED_TABLES, {"ranges": {"Flute": {"school_high_midi": midi_named("A5")}}})
    assert look(survey(), 0, 0, 3).flags == ()
    assert look(survey(narrow), 0, 0, 3).flags == (
        "Two notes above the school range (written A5).",
    )


def test_a_grade_s_descriptor_decides_what_goes_beyond_it():
    strict = edited(SHIPPED_TABLES, {"grades": {"1": {"shortest_value_quarters": "1"}}})
    assert look(survey(grade=1), 0, 0, 3).flags == ()
    flags = look(survey(strict, grade=1), 0, 0, 3).flags
    assert flags == ("Beyond grade 1: values shorter than quarter notes.",)
    empty = {"grade1_low_midi": None, "grade1_high_midi": None}
    low = {"grade1_low_midi": 60, "grade1_high_midi": midi_named("G5")}
    for cells, expected in ((empty, ()), (low, ("Beyond grade 1: written C6, above G5.",))):
        tables = edited(SHIPPED_TABLES, {"ranges": {"Flute": cells}})
        assert look(survey(tables, grade=1), 0, 0, 3).flags == expected


def test_shipped_ranges_are_those_of_the_trade_s_charts():
    """tests/authorities/trade/instruments.tsv (transpositions and ranges of published charts)."""
    with (TRADE / "instruments.tsv").open(encoding="utf-8") as file:
        rows = {row["instrument"]: row for row in csv.DictReader(file, delimiter="\t")}
    cells = cells_of(SHIPPED_TABLES, "ranges")
    compared = [name for name in rows if name in cells]
    assert len(compared) >= 30
    for name in compared:
        low, high = (int(rows[name][f"sounding_{end}_midi"]) for end in ("low", "high"))
        assert (cells[name]["school_low_midi"], cells[name]["school_high_midi"]) == (low, high)


def test_voice_stages_are_those_of_the_source_table_and_lie_low_to_high():
    """tests/authorities/trade/voices.tsv (after Cooksey and Gackle, from memory)."""
    with (TRADE / "voices.tsv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file, delimiter="\t"))
    assert [stage.name for stage in VOICE_STAGES] == [row["stage_or_part"] for row in rows]
    for stage, row in zip(VOICE_STAGES, rows, strict=True):
        low, high = map(midi_named, stage.range_names)
        assert (low, high) == (int(row["range_low_midi"]), int(row["range_high_midi"]))
        tessitura = list(map(midi_named, stage.tessitura_names))
        assert low <= tessitura[0] < tessitura[1] <= high, stage.name
