"""``./run score`` with a MIDI file, as a person or a program calls them."""

from standlight.commands import main
from tests.commands.test_score_commands import answer
from tests.midi_makers import midi_of


def test_a_midi_file_is_told_of_like_a_score(capsys, tmp_path):
    file = tmp_path / "march.mid"
    file.write_bytes(midi_of(("Flute", 73, False, [(0, 480, 72), (480, 960, 74)])))
    told = answer(capsys, "score", str(file), "--notes", "--json")
    (part,) = told["parts"]
    assert (part["name"], part["lowest_midi"], part["highest_midi"]) == ("Flute", 72, 74)
    assert [(one["onset_quarters"], one["duration_quarters"]) for one in part["notes"]] == [
        ("0", "1"), ("1", "2"),
    ]  # fmt: skip
    file.write_bytes(b"MThd")
    assert main(["score", str(file)]) == 1
    assert "the MIDI file is damaged" in capsys.readouterr().err
