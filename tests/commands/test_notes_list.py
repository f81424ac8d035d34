"""``--notes NOTES.csv``: what a list may look like, and the words for every slip in it."""

import json

import pytest

from standlight.commands import main
from standlight.commands._notes_list import notes_list
from standlight.errors import UnreadableLine
from tests.commands.conftest import TRUMPET

THREE = "onset_quarters,duration_quarters,midi"
FOUR = THREE + ",drum"


def midis(text):
    return [note.midi for note in notes_list(text).passage.notes]


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        (f"{THREE}\n0,1,69\n1,1,\n2,1,69", 3, "rests have no row"),
        (f"{FOUR}\n0,1,69,\n1,1,,", 3, "rests have no row"),
        (f"{THREE}\n0,1,69\n1,1", 3, "neither a pitch"),
        (f"{THREE}\n0,1", 2, "cut short"),
        (f"{THREE}\n0,1,\n1,1,", 2, "neither a pitch .midi. nor a drum"),
        (f"{FOUR}\n0,1,,snare\n1,1", 3, "neither"),
        (f"{FOUR}\n0,1,69,\n1,1,,snare", 3, "either pitched or unpitched"),
        (f"{FOUR}\n0,1,,snare\n1,1,69,", 2, "either pitched or unpitched"),
        (f"{FOUR}\n0,1,38,snare", 2, "a drum's number"),
        (f"{THREE}\n0,5,1,69", 2, "decimal comma"),
        (f"{THREE}\n0,5,1,5,69", 2, "5 values stand under 3 columns.*write 1.5"),
    ],
)
def test_a_list_is_pitched_or_unpitched_and_no_row_is_neither(text, line, words):
    with pytest.raises(UnreadableLine, match=words) as refused:
        notes_list(text)
    assert f"at line {line} of the list" in str(refused.value)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("0,1,69.5", "no whole number"),
        ("0,1,128", "not from 0 to 127"),
        ("0,1,-1", "not from 0 to 127"),
        ("0,1,440.0", "a frequency"),
        ("0,1,nan", "no number"),
        ("-1,1,69", "onset_quarters is -1, below 0"),
        ("0,-1/2,69", "duration_quarters is -1/2, below 0"),
        ("0,1e-999,69", "a grace note"),
        ("1e999,1,69", "more than 100000 quarters"),
        ("0,1e999,69", "more than 100000 quarters"),
        ("0,1e999999999,69", "no number"),
        ("0,inf,69", "no number"),
        ("0,1/0,69", "no number"),
        (",1,69", "onset_quarters is empty"),
        ('0,1,"69', "no number|no table"),
    ],
)
def test_a_figure_that_no_note_has_is_refused_with_its_line(row, words):
    with pytest.raises(UnreadableLine, match=words) as refused:
        notes_list(f"{THREE}\n\n{row}")
    assert "line 3" in str(refused.value)


@pytest.mark.parametrize(
    "text",
    [
        f"{THREE}\n0,1,69.0\n1,1e0,7.1e1",
        f"{FOUR}\n0.0,1.0,69.0,\n1.0,1.0,71.0,",
        "onset_quarters, duration_quarters, midi\n0, 1, 69\n1, 1, 71",
        "onset_quarters;duration_quarters;midi\n0;1;69\n1;1;71",
        "onset_quarters\tduration_quarters\tmidi\n0\t1\t69\n1\t1\t71",
        '"Onset_Quarters","Duration_Quarters","MIDI"\n"0","1","69"\n"1","1","71"',
        f"{THREE},name\r\n0,1,69,A4\r\n1,1,71,B4\r\n,,,\r\n",
        f"{THREE}\n\n0,1,69\n\n1,1,71\n",
    ],
)
def test_what_spreadsheets_write_is_read(text):
    assert midis(text) == [69, 71]


def test_decimal_commas_between_semicolons_are_named():
    with pytest.raises(UnreadableLine, match="'0,5'.*line 2.*1.5 or 3/2"):
        notes_list("onset_quarters;duration_quarters;midi\n0,5;1;69")


def test_a_fourth_value_without_a_name_is_the_drum():
    passage = notes_list(f"{THREE}\n0,1,,snare\n1,1,,bass drum").passage
    assert [note.drum for note in passage.notes] == ["snare", "bass drum"]


def test_notes_out_of_order_name_the_line():
    with pytest.raises(UnreadableLine, match="1 comes after 2, at line 4"):
        notes_list(f"{THREE}\n0,1,60\n2,1,62\n1,1,64")


def test_a_byte_order_mark_is_no_part_of_a_name(tmp_path, capsys):
    path = tmp_path / "notes.csv"
    path.write_bytes(f"{THREE}\n0,1,69\n".encode("utf-8-sig"))
    late = tmp_path / "late.m4a"
    late.write_text("I was ill.\n" * 30)
    assert main(["listen", str(late), "--notes", str(path), "--tempo", "100", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)) == 1


@pytest.mark.parametrize(
    "data",
    [
        f"{THREE}\n0,1,69\n".encode("utf-16"),
        f"{FOUR}\n0,1,,große Trommel\n".encode("latin-1"),
        f"{THREE}\n0,1,69\n".encode("utf-16-le"),
        f"{THREE}\n0,1e999,69\n".encode(),
        b"\x00\x01\x02" * 400,
        b"",
    ],
)
def test_a_file_that_is_no_list_is_words_and_exit_1(tmp_path, data, capsys):
    path = tmp_path / "notes.csv"
    path.write_bytes(data)
    assert main(["listen", TRUMPET, "--notes", str(path), "--tempo", "100", "--json"]) == 1
    told = capsys.readouterr()
    assert told.out == "" and "notes.csv" in told.err


def heard_by_rows(tmp_path, capsys, rows):
    """The object for the trumpet take read against ``rows``."""
    path = tmp_path / "notes.csv"
    path.write_text("\n".join([THREE, *rows]))
    assert main(["listen", TRUMPET, "--notes", str(path), "--tempo", "100", "--json"]) == 0
    (answer,) = json.loads(capsys.readouterr().out)
    return answer


def test_of_rows_that_begin_together_the_highest_is_followed_and_index_counts_rows(
    tmp_path, capsys
):
    pitches = (69, 69, 70, 72, 72, 70, 69, 67, 65, 65, 67, 69)  # the tune of the spliced takes
    tune = [f"{at},1,{midi}" for at, midi in enumerate(pitches)]
    alone = heard_by_rows(tmp_path, capsys, tune)
    both = heard_by_rows(tmp_path, capsys, ["0,1,60", *tune[:5], "4,2,57", "4,1,50", *tune[5:]])
    assert [note["index"] for note in both["notes"]] == list(range(15))
    tops = [row for row in range(15) if row not in (0, 6, 7)]
    for note, row in zip(alone["notes"], tops, strict=True):
        assert both["notes"][row] == {**note, "index": row}
    for row, top in ((0, 1), (6, 5), (7, 5)):
        below = both["notes"][row]
        assert below["onset_s"] == both["notes"][top]["onset_s"]
        assert below["midi_heard"] is below["deviation_cents"] is None
        assert below["probability"] == 0.5
    codes = [verdict["code"] for verdict in both["verdicts"]]
    assert codes == [*(verdict["code"] for verdict in alone["verdicts"]), "top_of_chords"]


def test_strokes_that_begin_together_are_followed_once():
    listed = notes_list(f"{FOUR}\n0,1,,kick\n0,1,,hat\n1,1,,kick")
    assert listed.note_of_row == (0, 0, 1) and listed.row_of_note == (0, 2)
    assert [note.drum for note in listed.passage.notes] == ["kick", "kick"]
