"""``./run fit``: the contract for outside runs, and tables that are odd."""

import csv
import io
import json

import numpy as np
import pytest

from standlight.commands import main
from tests.ratings.facet_tables import AUTHORITIES, CRITERIA, TAM, planted_rows

SYNTHETIC = str(AUTHORITIES / "synthetic_mfrm.csv")


@pytest.fixture
def written(tmp_path):
    def write(text):
        path = tmp_path / "ratings.csv"
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


def long_table(rows, extra=(), values=lambda row: ()):
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["student", "task", "criterion", "rater", "level", *extra])
    writer.writerows([*row, *values(row)] for row in rows)
    return out.getvalue()


def answer(capsys, *words, code=0):
    assert main(["fit", *words, "--json"]) == code
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize(("model", "key"), [("rating-scale", "rsm"), ("partial-credit", "pcm")])
def test_the_answer_is_the_contracts_and_agrees_with_the_reference_program(capsys, model, key):
    told = answer(capsys, SYNTHETIC, "--model", model)
    assert set(told) >= {"deviance", "mean", "variance", "parameters", "thresholds", "students",
                         "reliability", "comparable", "remarks"}
    reference = TAM[key]
    assert told["deviance"] == pytest.approx(reference["deviance"], abs=1e-3)
    assert told["variance"] == pytest.approx(reference["variance"], abs=1e-3)
    parts = {row["par"]: row["xsi"] for row in reference["xsi"]}
    assert told["mean"] == pytest.approx(-np.mean([parts[name] for name in CRITERIA]), abs=1e-3)
    named = {"task": "taskt{}", "criterion": "{}", "rater": "raterr{}"}
    for facet, pattern in named.items():
        own = [row for row in told["parameters"] if row["facet"] == facet]
        assert set(own[0]) >= {"facet", "element", "logits", "se", "infit", "outfit",
                               "infit_z", "outfit_z", "real_se"}
        assert own[0]["real_se"] >= own[0]["se"]
        theirs = np.array([parts[pattern.format(row["element"])] for row in own])
        assert [row["logits"] for row in own] == pytest.approx(
            list(theirs - theirs.mean()), abs=1e-3)
    assert len(told["thresholds"]) == (3 if key == "rsm" else 9)
    assert all(row["se"] > 0 for row in told["thresholds"])
    assert len(told["students"]) == 80
    assert set(told["students"][0]) >= {"id", "eap", "se", "wle", "wle_se", "fair"}
    assert [len(classes) for classes in told["comparable"].values()] == [1, 1, 1, 1]


def test_a_long_table_gives_what_the_wide_one_gives(capsys, written):
    with open(SYNTHETIC, newline="") as file:
        rows = [(row["student"], row["task"], name, row["rater"], row[name])
                for row in csv.DictReader(file) for name in CRITERIA]
    assert answer(capsys, written(long_table(rows[::-1]))) == answer(capsys, SYNTHETIC)


def test_people_read_who_is_strict_and_what_was_noticed(capsys):
    assert main(["fit", SYNTHETIC]) == 0
    told = capsys.readouterr().out
    assert told.index("  3: +0.51") < told.index("  1: -0.51")
    assert "fair levels:" in told


def with_halo(seed, deviation):
    """The planted ratings, each recording with a day of its own that all criteria share."""
    random = np.random.default_rng(seed)
    cumulated = np.array([0, -1.5, -1.5, 0])
    rows = []
    for student in range(150):
        place = random.normal(0.3, 1.2)
        for task, hard in enumerate((-0.8, -0.2, 0.3, 0.7)):
            day = place + random.normal(0, deviation)
            for rater, strict in enumerate((-0.6, 0.0, 0.6)):
                for criterion, steep in enumerate((-0.6, 0.0, 0.6)):
                    weights = np.exp(np.arange(4) * (day - hard - strict - steep) - cumulated)
                    level = random.choice(4, p=weights / weights.sum())
                    rows.append((f"s{student}", f"t{task}", f"c{criterion}", f"r{rater}", level))
    return rows


def test_with_the_recording_as_object_a_halo_does_not_shrink_the_scale(capsys, written):
    path = written(long_table(with_halo(2, 1.2)))
    spread = {}
    for measured in ("student", "recording"):
        told = answer(capsys, path, "--object", measured)
        place = {row["element"]: row["logits"] for row in told["parameters"]}
        spread[measured] = (place["r2"] - place["r0"] + place["c2"] - place["c0"]) / 2.4
        # Students join the tasks; recordings, each of one task, could not.
        assert [len(classes) for classes in told["comparable"].values()] == [1, 1, 1, 1]
        assert len(told["students"]) == (150 if measured == "student" else 600)
    assert spread["recording"] == pytest.approx(1, abs=0.05)
    assert spread["student"] < 0.85


def test_the_same_work_on_two_occasions_is_two_recordings(capsys, written):
    rows = planted_rows(5)[0]
    twice = long_table(rows + rows[:30], ("occasion",), lambda row: ("one",))
    assert any("30 ratings stood there twice" in remark
               for remark in answer(capsys, written(twice))["remarks"])
    lines = long_table(rows + rows[:30]).splitlines()
    head, body = lines[0] + ",occasion", lines[1:]
    told = answer(capsys, written("\n".join(
        [head, *(f"{line},{'two' if n >= len(rows) else 'one'}" for n, line in enumerate(body))])))
    assert told["remarks"] == []
    raters = [row for row in told["parameters"] if row["facet"] == "rater"]
    assert sum(row["n_ratings"] for row in raters) == len(rows) + 30


def test_own_ensembles_have_means_of_their_own_and_classes_are_told_apart(capsys, written):
    low, top = planted_rows(8, mean=-0.5)[0], planted_rows(9, mean=1.5)[0]
    rows = [("low" + row[0], *row[1:3], "x", row[4]) for row in low if row[3] == "r1"]
    rows += [("top" + row[0], *row[1:3], "y", row[4]) for row in top if row[3] == "r1"]
    told = answer(capsys, written(long_table(rows, ("ensemble",), lambda row: (row[0][:3],))))
    assert set(told["means"]) == {"low", "top"}
    assert [len(told["comparable"][facet]) for facet in ("student", "task", "rater")] == [2, 1, 2]
    assert any("do not join" in remark for remark in told["remarks"])


def test_what_players_give_themselves_is_not_in_the_link(capsys, written):
    rows = planted_rows(6)[0]
    own = [(*row[:3], "self", 4) for row in rows[:40]]
    text = long_table(rows + own, ("rater_class",),
                      lambda row: ("self" if row[3] == "self" else "director",))
    told = answer(capsys, written(text))
    assert "40 rows by self, peer or guest are not in the link; left out." in told["remarks"]
    assert not any(row["element"] == "self" for row in told["parameters"])


@pytest.mark.parametrize(("text", "said"), [
    ("", "no column student, task, rater"),
    ("student;task;rater;tone\nA;x;p;1\n", "another separator?"),
    ("student,task,rater\nA,x,p\n", "no column of a criterion"),
    ("student,task,rater,tone,tone\nA,x,p,1,2\n", "the same name"),
    ("student,task,rater,tone\nA,x,p,\n", "no rating is left"),
    ("student,task,rater,tone\nA,x,p,3\nB,x,p,3\n", "every rating is level 3"),
])
def test_what_cannot_be_measured_is_one_sentence_and_no_answer(capsys, written, text, said):
    assert main(["fit", written(text)]) == 1
    out, err = capsys.readouterr()
    assert said in err
    assert out == ""
    assert err.count("\n") == 1


def test_cells_that_are_no_level_are_named_with_their_line_and_the_rest_is_measured(
    capsys, written
):
    text = ("student,task,rater,tone,rhythm\nA,x,p,1,2\nA,y,p,not_shown,3\nB,x,p,-1,2.5\n"
            "B,y,p,2,1\n,y,p,2,1\nC,x,p,101,3\n")
    assert main(["fit", written(text), "--json"]) == 1
    out, err = capsys.readouterr()
    assert [student["id"] for student in json.loads(out)["students"]] == ["A", "B", "C"]
    assert "line 4: '-1' for tone is no whole level" in err
    assert "line 4: '2.5' for rhythm" in err
    assert "line 6 lacks a student" in err
    assert "line 7: '101' for tone" in err


def test_a_table_that_is_not_there_and_a_model_that_is_none(capsys, tmp_path):
    assert main(["fit", str(tmp_path / "none.csv")]) == 3
    assert main(["fit", str(tmp_path)]) == 1
    assert main(["fit", SYNTHETIC, "--model", "graded"]) == 2
