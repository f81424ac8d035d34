"""``./run agree``: figures for people and as JSON, and what happens to bad tables."""

import json
from pathlib import Path

import pytest

from standlight.commands import main
from standlight.ratings import agree

DATA = json.loads(
    (Path(__file__).parents[1] / "authorities/ratings/agreement.json").read_text()
)["shrout_fleiss"]


@pytest.fixture
def table(tmp_path):
    """The six targets and four judges of Shrout & Fleiss 1979 as ratings of tone."""
    rows = ["student,task,rater,tone,rhythm"]
    rows += [
        f"S{target},march,J{judge},{level},"
        for target, levels in enumerate(DATA["data"])
        for judge, level in enumerate(levels)
    ]
    path = tmp_path / "ratings.csv"
    path.write_text("\n".join(rows), encoding="utf-8")
    return path


def told(words, capsys, code=0):
    assert main(words) == code
    return json.loads(capsys.readouterr().out)


def test_the_json_holds_the_printed_figures_with_raters_by_name(table, capsys):
    answer = told(["agree", str(table), "--json"], capsys)
    tone, rhythm = answer["criteria"]
    for form, row in zip(("ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)"),
                         DATA["psych_ICC"], strict=True):
        figure = tone["figures"][form]
        assert figure["estimate"] == pytest.approx(row["ICC"], abs=6e-9)
        assert figure["low"] == pytest.approx(row["lower bound"], abs=6e-9)
    assert (tone["n_objects"], tone["raters"]) == (6, ["J0", "J1", "J2", "J3"])
    assert [pair["raters"] for pair in tone["pairs"]][:2] == [["J0", "J1"], ["J0", "J2"]]
    assert len(tone["pairs"]) == 6
    same = agree(DATA["data"])
    assert tone["figures"]["alpha_ordinal"]["low"] == same.figure("alpha_ordinal").low
    assert tone["figures"]["kendalls_w"]["test"]["df"] == [5]
    assert {figure["because"] for figure in rhythm["figures"].values()} == {"Nobody gave a level."}
    assert answer["faults"] == answer["remarks"] == []


def test_the_seed_moves_the_bootstrap_and_no_formula(table, capsys):
    one = told(["agree", str(table), "--json"], capsys)["criteria"][0]["figures"]
    other = told(["agree", str(table), "--json", "--seed", "9"], capsys)["criteria"][0]["figures"]
    assert one["alpha_interval"]["estimate"] == other["alpha_interval"]["estimate"]
    assert one["alpha_interval"]["low"] != other["alpha_interval"]["low"]
    assert one["ICC(2,1)"] == other["ICC(2,1)"]


def test_without_json_it_speaks_in_words(table, capsys):
    assert main(["agree", str(table)]) == 0
    said = capsys.readouterr().out
    assert "tone: 6 recordings, 4 raters\n" in said
    assert "  ICC(2,1): 0.29 (0.02 to 0.76), from 6 recordings.\n" in said
    assert "Kendall's W: 0.89" in said and "Chi-square 17.74, df 5." in said
    assert "J0 and J1:\n" in said
    assert "rhythm: 0 recordings, 0 raters\n" in said
    assert "nan" not in said


def test_a_bad_cell_is_told_and_the_rest_is_answered(table, capsys):
    table.write_text(table.read_text() + "\nS9,march,J0,loud,\n", encoding="utf-8")
    assert main(["agree", str(table), "--json"]) == 1
    heard = capsys.readouterr()
    fault = "line 26: 'loud' for tone is no whole level"
    assert json.loads(heard.out)["faults"] == [fault]
    assert f"ratings.csv: {fault}\n" in heard.err
    assert json.loads(heard.out)["criteria"][0]["n_objects"] == 6


def test_what_cannot_be_read_is_a_sentence_and_an_exit_code(tmp_path, capsys):
    assert main(["agree", str(tmp_path / "nowhere.csv")]) == 3
    assert main(["agree", str(tmp_path)]) == 1
    assert "is a folder" in capsys.readouterr().err
    (tmp_path / "sheet.csv").write_bytes(b"PK\x03\x04\xff\xfe\x00")
    assert main(["agree", str(tmp_path / "sheet.csv")]) == 1
    assert "not in UTF-8" in capsys.readouterr().err
    (tmp_path / "plain.csv").write_text("name,level\nA,3\n")
    assert main(["agree", str(tmp_path / "plain.csv")]) == 1
    assert "no column student, task, rater" in capsys.readouterr().err
    assert main(["agree", str(tmp_path / "plain.csv"), "--seed", "-1"]) == 2


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (["A,m,x,3", "B,m,x,2"], "There is one rater only"),
        (["A,m,x,3", "B,m,y,2"], "No object was rated twice."),
        (["A,m,x,3", "A,m,y,3", "B,m,x,3", "B,m,y,3"], "Every level given is the same"),
    ],
)
def test_data_that_hold_no_figure_give_the_reason(tmp_path, capsys, rows, words):
    path = tmp_path / "thin.csv"
    path.write_text("\n".join(["student,task,rater,tone", *rows]))
    assert main(["agree", str(path)]) == 0
    assert words in capsys.readouterr().out
