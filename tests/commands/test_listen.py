"""``./run listen``: the contract for outside runs."""

import json

import pytest

from standlight.commands import main
from standlight.commands._notes_list import notes_list
from standlight.errors import UnreadableLine
from standlight.score import line_to_musicxml
from tests.commands.conftest import TRUMPET


def test_takes_and_a_renamed_text_give_one_json_list_in_order(tmp_path, notes, capsys):
    text = tmp_path / "late.m4a"
    text.write_text("I was ill.\n" * 30)
    assert main(["listen", TRUMPET, str(text), "--notes", notes, "--tempo", "100", "--json"]) == 0
    first, second = json.loads(capsys.readouterr().out)
    assert first["file"] == TRUMPET and second["file"] == str(text)
    assert [note["index"] for note in first["notes"]] == list(range(15))
    # the planted wrong note of the trumpet take, and no other
    told = [note["index"] for note in first["notes"] if note["outcome"] != "played"]
    assert told == [6]
    assert [verdict["code"] for verdict in second["verdicts"]] == ["unreadable"]
    assert second["notes"] == []


def test_a_score_and_a_part_do_the_same_as_a_list(tmp_path, capsys):
    score = tmp_path / "tune.musicxml"
    score.write_bytes(
        line_to_musicxml(
            "A4 q A4 q Bb4 q C5 q | C5 q Bb4 q A4 q G4 q | F4 q F4 q G4 q A4 q | A4 q. G4 e G4 h",
            instrument="Flute",
        )
    )
    words = ["listen", TRUMPET, "--score", str(score), "--part", "0", "--tempo", "100", "--json"]
    assert main(words) == 0
    whole = json.loads(capsys.readouterr().out)[0]
    assert len(whole["notes"]) == 15
    assert main([*words, "--measures", "1-2"]) == 0
    assert len(json.loads(capsys.readouterr().out)[0]["notes"]) == 8


def test_without_json_it_speaks_in_words(notes, capsys):
    assert main(["listen", TRUMPET, "--notes", notes, "--tempo", "100"]) == 0
    said = capsys.readouterr().out
    assert "tuning of the take" in said and "person's ear" in said


def test_called_wrongly_it_says_so(notes, capsys):
    assert main(["listen", TRUMPET, "--tempo", "100"]) == 2
    assert main(["listen", TRUMPET, "--notes", notes, "--tempo", "-3"]) == 2
    assert main(["listen", "nowhere.wav", "--notes", notes, "--tempo", "100"]) == 3


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a,b\n1,2", "no rows under"),
        ("onset_quarters,duration_quarters,midi\n0,1,sixty", "line 2"),
        ("onset_quarters,duration_quarters,midi\n1,1,60\n0,1,62", "order"),
        ("onset_quarters,duration_quarters,midi\n0,0,60", "line 2"),
    ],
)
def test_a_list_that_cannot_be_read_names_the_row(text, words):
    with pytest.raises(UnreadableLine, match=words):
        notes_list(text)


def test_drums_come_without_a_pitch():
    head = "onset_quarters,duration_quarters,midi,drum\n"
    passage = notes_list(head + "0,1/2,,snare\n1/2,1/2,,").passage
    assert [note.drum for note in passage.notes] == ["snare", "drum"]
