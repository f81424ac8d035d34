"""``./run score``, ``passages`` and ``engrave``, as a person or a program calls them."""

import json

import pytest

from standlight.commands import main
from standlight.score import read_score
from tests.scores import FOLDER, real

MARCH = str(FOLDER / "real" / "tenth_regiment_hall.mxl")


def answer(capsys, *words: str) -> dict:
    assert main(words) == 0
    return json.loads(capsys.readouterr().out)


def test_score_says_parts_measures_order_and_remarks(capsys):
    told = answer(capsys, "score", MARCH, "--json")
    score = read_score(real("tenth_regiment_hall.mxl"))
    assert set(told) == {"title", "movements", "parts", "measures", "play_order", "remarks"}
    assert set(told["parts"][0]) == {
        "index", "name", "instrument", "transposition_semitones", "lowest_midi", "highest_midi",
        "n_notes", "unpitched",
    }  # fmt: skip
    assert [part["n_notes"] for part in told["parts"]] == [len(one.notes) for one in score.parts]
    assert told["play_order"] == list(score.play_order)
    assert told["measures"][1]["onset_quarters"] == str(score.measures[1].onset_quarters)


def test_notes_are_listed_when_asked_for(capsys):
    drums = str(FOLDER / "suite" / "73a-Percussion.xml")
    told = answer(capsys, "score", drums, "--notes", "--json")
    pitched, stroke = told["parts"][0]["notes"][0], told["parts"][1]["notes"][0]
    assert set(pitched) == {
        "onset_quarters", "duration_quarters", "midi", "written_midi", "measure", "voice",
        "staff", "drum",
    }  # fmt: skip
    assert pitched["drum"] is None and isinstance(pitched["midi"], int)
    assert stroke["midi"] is None and stroke["drum"]


def test_people_read_sentences(capsys):
    assert main(["score", MARCH]) == 0
    out = capsys.readouterr().out
    assert "28 parts, 104 measures" in out
    assert "Clarinet in Bb 1 (Clarinet in Bb)" in out


def test_passages_are_fair_and_give_a_reason_or_say_why_not(capsys):
    told = answer(capsys, "passages", MARCH, "--criteria", "rhythm,articulation", "--json")
    assert [row["index"] for row in told["parts"]] == list(range(28))
    notes = answer(capsys, "score", MARCH, "--notes", "--json")["parts"]
    for row in told["parts"]:
        assert row["because"]
        if row["passage"] is None:
            continue
        first, last = row["passage"]["first"], row["passage"]["last"]
        assert last - first + 1 == 8 and 0 <= row["passage"]["demand"] <= 1
        drummed = row["name"] in ("Timpani", "Bells")  # articulation is not asked of them
        asked = {"rhythm"} if drummed else {"rhythm", "articulation"}
        assert set(row["passage"]["shows"]) == asked
        assert all(0.3 <= value <= 1 for value in row["passage"]["shows"].values())
        assert any(first <= note["measure"] <= last for note in notes[row["index"]]["notes"])
    assert told["demand_sd"] <= told["common_window_sd"] / 2
    assert told["note_rate_sd"] > 0


def test_passages_of_an_unknown_criterion_are_refused(capsys):
    assert main(["passages", MARCH, "--criteria", "sparkle"]) == 2
    assert "no criterion 'sparkle'" in capsys.readouterr().err


def test_engrave_writes_a_drawing(tmp_path, capsys):
    out = tmp_path / "passage.svg"
    words = ["engrave", MARCH, "--part", "clarinet in bb 1", "--measures", "8-15", "-o", str(out)]
    assert main(words) == 0
    assert "measures 9 to 16 as printed" in capsys.readouterr().err
    assert 'id="n0"' in out.read_text(encoding="utf-8")


@pytest.mark.parametrize(("ending", "begins"), [("png", b"\x89PNG"), ("PDF", b"%PDF-")])
def test_engrave_writes_a_picture_or_a_page(tmp_path, capsys, ending, begins):
    out = tmp_path / f"passage.{ending}"
    words = ["engrave", MARCH, "--part", "26", "--measures", "30-37", "-o", str(out)]
    assert main([*words, "--paper", "letter", "--dpi", "100"]) == 0
    assert "measures 31 to 38 as printed" in capsys.readouterr().err
    assert out.read_bytes().startswith(begins)


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["engrave", MARCH, "--part", "0", "--measures", "0-1", "-o", "x.doc"], 2, ".pdf"),
        (["engrave", MARCH, "--part", "0", "--measures", "0-1", "-o", "x.png", "--dpi", "1"], 2,
         "36 to 600"),
        (["engrave", MARCH, "--part", "28", "--measures", "0-1", "-o", "x.svg"], 1, "counted from"),
        (["engrave", MARCH, "--part", "Kazoo", "--measures", "0", "-o", "x.svg"], 1, "no part"),
        (["engrave", MARCH, "--part", "0", "--measures", "a", "-o", "x.svg"], 1, "8-15"),
        (["engrave", MARCH, "--part", "0", "--measures", "103-200", "-o", "x.svg"], 1, "104"),
        (["score", __file__], 1, "not XML"),
        (["score", "no-such-file.mxl"], 3, "no file"),
        (["passages", MARCH, "--length", "0"], 2, "1 to 64"),
    ],
)
def test_slips_have_their_code_and_sentence(words, code, says, capsys):
    assert main(words) == code
    assert says in capsys.readouterr().err
