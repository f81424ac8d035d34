"""``./run listen``: what its words choose, and what files it meets."""

import errno
import json
import os

import pytest

from standlight.commands import _exits, listen, main
from standlight.commands._parts import folded
from standlight.listening import METHOD, ListeningReport
from tests.commands.conftest import TRUMPET
from tests.commands.makers import csv, note, score, wav
from tests.sound.takes import make_strokes

PARTS = [
    ("Flûte", [note(pitch, 4) for pitch in ("C5", "D5", "E5", "F5")]),
    ("Clarinet in B♭", [note("C4", 4)] * 4),
    ("Horn", [note("G4", 4)] * 4),
    ("HORN", [note("A4", 4)] * 4),
    ("Kazoo", [note("B4", 4)] * 4),
]


@pytest.fixture
def asked(monkeypatch):
    """What a hearing is asked for, one (passage, terms) a take, without hearing it."""
    kept = []

    def heard(data, passage, terms):
        kept.append((passage, terms))
        return ListeningReport(METHOD, 1.0, 0.0)

    monkeypatch.setattr(listen, "listen_to", heard)
    return kept


@pytest.fixture
def piece(tmp_path):
    return score(tmp_path / "piece.musicxml", PARTS)


def words(piece, *more):
    return ["listen", TRUMPET, "--score", piece, "--tempo", "100", *more]


@pytest.mark.parametrize(
    ("name", "midi"),
    [("0", 72), ("flute", 72), ("FLÛTE", 72), ("Clarinet in Bb", 60), ("clarinet in b-flat", 60),
     ("Horn", 67), ("HORN", 69), ("3", 69)],
)  # fmt: skip
def test_a_part_is_found_by_index_and_by_name_however_it_is_typed(piece, name, midi, asked):
    assert main(words(piece, "--part", name)) == 0
    assert asked[0][0].notes[0].midi == midi


@pytest.mark.parametrize(
    ("name", "says"),
    [("Oboe", "there are: Fl"), ("horn", "use an index: 2, 3"), ("5", "counted from 1"),
     ("", "no part")],
)  # fmt: skip
def test_a_part_that_is_not_there_or_twice_is_told(piece, name, says, asked, capsys):
    assert main(words(piece, "--part", name)) == 1
    assert says in capsys.readouterr().err
    assert asked == []


def test_flats_and_sharps_are_folded_only_after_a_letter_of_theirs():
    assert folded("F sharp") == folded("F♯") == "f#"
    assert folded("Flat drum") == "flat drum"


@pytest.mark.parametrize(
    ("measures", "pitches"),
    [("2-3", [74, 76]), ("4", [77]), (" 1 - 2 ", [72, 74])],
)
def test_measures_are_the_printed_ones(piece, measures, pitches, asked):
    assert main(words(piece, "--part", "0", "--measures", measures)) == 0
    assert [one.midi for one in asked[0][0].notes] == pitches


@pytest.mark.parametrize(
    ("measures", "says"),
    [("3-2", "run backwards"), ("9", "its measures are 1 to 4"), ("2-9", "no measure '9'"),
     ("x", "no measure 'x'")],
)  # fmt: skip
def test_measures_that_are_not_there_are_told(piece, measures, says, asked, capsys):
    assert main(words(piece, "--part", "0", "--measures", measures)) == 1
    assert says in capsys.readouterr().err
    assert asked == []


@pytest.mark.parametrize("more", [("--measures", "1-2"), ("--part", "0")])
def test_what_needs_a_score_is_not_taken_beside_a_list(notes, more, asked, capsys):
    assert main(["listen", TRUMPET, "--notes", notes, "--tempo", "100", *more]) == 2
    assert f"{more[0]} needs a score" in capsys.readouterr().err
    assert asked == []


@pytest.mark.parametrize(
    ("name", "known"),
    [
        ("Timpani", "Timpani (pair 29/26 in)"),
        ("marimba", "Marimba (4.3 octave)"),
        ("xylophone", "Xylophone"),
        ("clarinet", "Clarinet in Bb"),
        ("clarinet in bb", "Clarinet in Bb"),
        ("baritone voice", "Baritone voice"),
    ],
)
def test_an_instrument_is_known_by_any_usual_name(notes, name, known, asked, capsys):
    told = ["listen", TRUMPET, "--notes", notes, "--tempo", "100", "--instrument", name]
    assert main(told) == 0
    assert asked[0][1].instrument == known
    assert f"{name!r} is heard as {known!r}" in capsys.readouterr().err


def test_a_name_of_the_table_is_taken_without_a_word(notes, asked, capsys):
    told = ["listen", TRUMPET, "--notes", notes, "--tempo", "100"]
    assert main([*told, "--instrument", "Clarinet in Bb"]) == 0
    assert asked[0][1].instrument == "Clarinet in Bb" and capsys.readouterr().err.count("\n") == 1


def test_an_unknown_instrument_leaves_it_to_the_part_and_says_what_is_done(
    piece, notes, asked, capsys
):
    assert main(words(piece, "--part", "0", "--instrument", "kazoo")) == 0
    assert asked[0][1].instrument is None and asked[0][0].instrument == "Flute"
    assert "the part's own, 'Flute', is used" in capsys.readouterr().err
    assert main(words(piece, "--part", "4", "--instrument", "kazoo")) == 0
    assert "pitched notes of no instrument in particular" in capsys.readouterr().err
    told = ["listen", TRUMPET, "--notes", notes, "--tempo", "100", "--instrument", "kazoo"]
    assert main(told) == 0
    assert asked[-1][1].instrument is None
    assert "pitched notes of no instrument in particular" in capsys.readouterr().err


def test_timpani_by_any_name_are_followed_by_their_strokes(tmp_path, capsys):
    made = make_strokes(3, count=12)
    take = wav(tmp_path / "strokes.wav", made.recording)
    rows = csv(tmp_path / "notes.csv", made.passage).replace(".csv", "2.csv")
    with open(rows, "w") as out, open(rows.replace("2.csv", ".csv")) as lines:
        out.write(lines.read().replace(",,snare", ",45,"))
    told = ["listen", take, "--notes", rows, "--tempo", "96", "--json"]
    assert main([*told, "--instrument", "timpani"]) == 0
    (answer,) = json.loads(capsys.readouterr().out)
    asked_of = {one["criterion"] for one in answer["readings"]}
    assert "evenness" in asked_of and "intonation" not in asked_of
    because = [one["because"] for one in answer["readings"] if one["name"] == "tuning of the take"]
    assert answer["tuning_cents"] is None and because and "ring too shortly" in because[0]


def test_another_a_moves_the_takes_tuning_and_every_note(notes, capsys):
    told = ["listen", TRUMPET, "--notes", notes, "--tempo", "100", "--json"]
    assert main(told) == 0 and main([*told, "--a4", "442"]) == 0
    usual, high = (json.loads(line)[0] for line in capsys.readouterr().out.splitlines())
    # ISO 16: 442 Hz lies 7.85 cents above 440 Hz
    assert usual["tuning_cents"] - high["tuning_cents"] == pytest.approx(7.85, abs=0.3)
    moved = [
        one["deviation_cents"] - other["deviation_cents"]
        for one, other in zip(usual["notes"], high["notes"], strict=True)
        if None not in (one["deviation_cents"], other["deviation_cents"])
    ]
    assert len(moved) >= 12 and moved == pytest.approx([7.85] * len(moved), abs=0.3)


@pytest.mark.parametrize("a4", ["69", "nan", "high", "-440", "4400"])
def test_an_a_that_nobody_tunes_to_is_called_wrongly(notes, a4, asked, capsys):
    assert main(["listen", TRUMPET, "--notes", notes, "--tempo", "100", "--a4", a4]) == 2
    assert asked == []


# --- files -------------------------------------------------------------------


def test_a_take_that_cannot_be_reached_loses_no_other(tmp_path, notes, capfd):
    loop = tmp_path / "loop.wav"
    loop.symlink_to(loop)
    folder = tmp_path / "folder.wav"
    folder.mkdir()
    text = tmp_path / "late.m4a"
    text.write_text("I was ill.\n" * 30)
    takes = [str(loop), TRUMPET, "gone.wav", str(folder), str(text)]
    assert main(["listen", *takes, "--notes", notes, "--tempo", "100", "--json"]) == 3
    told = capfd.readouterr()
    answers = json.loads(told.out)
    assert [answer["file"] for answer in answers] == takes
    codes = [[verdict["code"] for verdict in answer["verdicts"]] for answer in answers]
    assert codes == [["unreadable"], [], ["unreadable"], ["unreadable"], ["unreadable"]]
    assert len(answers[1]["notes"]) == 15
    assert len({frozenset(answer) for answer in answers}) == 1
    for answer in (answers[0], *answers[2:]):
        assert answer["notes"] == [] and answer["tuning_cents"] is None
        assert all(one["value"] is None and one["because"] for one in answer["readings"])
    for said in ("leads back to itself", "no file 'gone.wav'", "is a folder"):
        assert said in told.err
    lost = [str(loop), TRUMPET]
    assert main(["listen", *lost, "--notes", notes, "--tempo", "100", "--json"]) == 1
    assert len(json.loads(capfd.readouterr().out)) == 2


def test_in_words_a_take_that_is_not_there_stands_beside_the_others(notes, asked, capsys):
    assert main(["listen", "gone.wav", "--notes", notes, "--tempo", "100"]) == 3
    assert "There is no file 'gone.wav' here." in capsys.readouterr().out


def test_a_take_that_goes_away_while_others_are_heard_is_told_too(
    tmp_path, notes, monkeypatch, capsys
):
    monkeypatch.setattr(listen, "_out_of_reach", lambda name, terms: None)
    assert main(["listen", "gone.wav", "--notes", notes, "--tempo", "100", "--json"]) == 3
    (answer,) = json.loads(capsys.readouterr().out)
    assert [verdict["code"] for verdict in answer["verdicts"]] == ["unreadable"]


@pytest.mark.parametrize(
    ("word", "name", "code", "says"),
    [
        ("--notes", "folder", 1, "is a folder"),
        ("--score", "folder", 1, "is a folder"),
        ("--notes", "gone.csv", 3, "no file"),
        ("--score", "gone.xml", 3, "no file"),
        ("--score", "loop.xml", 1, "leads back to itself"),
        ("--notes", "loop.xml", 1, "leads back to itself"),
        ("--notes", "n" * 300, 3, "so long"),
        ("--score", "late.txt/tune.xml", 3, "a file named as a folder"),
    ],
)
def test_a_score_or_a_list_that_cannot_be_reached_is_words(
    tmp_path, word, name, code, says, capsys
):
    (tmp_path / "folder").mkdir()
    (tmp_path / "loop.xml").symlink_to(tmp_path / "loop.xml")
    (tmp_path / "late.txt").write_text("I was ill.")
    more = ("--part", "0") if word == "--score" else ()
    told = ["listen", TRUMPET, word, str(tmp_path / name), *more, "--tempo", "100", "--json"]
    assert main(told) == code
    out = capsys.readouterr()
    assert out.out == "" and says in out.err


def test_a_file_that_may_not_be_read_is_words(piece, monkeypatch, capsys):
    def refused(path):
        raise PermissionError(errno.EACCES, "Permission denied", str(path))

    monkeypatch.setattr(listen.Path, "read_bytes", refused)
    assert main(words(piece, "--part", "0")) == 1
    assert "may not be read" in capsys.readouterr().err


def test_what_no_row_names_is_told_in_the_systems_words():
    code, said = _exits.file_trouble(OSError(errno.EIO, "Input/output error", "a.wav"))
    assert code == 1 and said == "'a.wav' cannot be read: Input/output error."


def test_a_helper_that_is_stopped_is_words(notes, monkeypatch, capsys):
    monkeypatch.setattr(listen, "listen_to", lambda data, passage, terms: os._exit(9))
    told = ["listen", TRUMPET, TRUMPET, "--notes", notes, "--tempo", "100", "--json"]
    assert main(told) == 1
    out = capsys.readouterr()
    assert out.out == "" and "too little memory" in out.err
