"""``./run listen --json``: every key, when it is null and why, and what ``index`` counts."""

import json

import pytest

from standlight.commands import main
from tests.commands.conftest import PITCHES, TRUMPET
from tests.commands.makers import csv, note, score, wav
from tests.sound.takes import make_strokes, make_take

NOTE_KEYS = {
    "index", "outcome", "onset_s", "offset_s", "midi_heard", "deviation_cents",
    "deviation_se_cents", "asynchrony_ms", "probability",
}  # fmt: skip
READING_KEYS = {"criterion", "name", "value", "low", "high", "unit", "n_notes", "because"}
CONTRACT = {
    "file", "method", "verdicts", "tuning_cents", "tempo_qpm", "notes", "added", "restarts",
    "attempts", "readings",
}  # fmt: skip


def answers(capfd, takes, *more):
    assert main(["listen", *takes, *more, "--json"]) == 0
    out = capfd.readouterr().out
    assert out.count("\n") == 1 and out.endswith("\n")
    told = json.loads(out)
    assert isinstance(told, list) and [one["file"] for one in told] == list(takes)
    return told


def reading(answer, name):
    return next((one for one in answer["readings"] if one["name"] == name), None)


def check_keys(answer):
    """Every key of the contract, and every absent value with its reason."""
    assert set(answer) >= CONTRACT
    assert all(set(verdict) == {"code", "sentence"} for verdict in answer["verdicts"])
    for one in answer["readings"]:
        assert set(one) >= READING_KEYS
        assert (one["value"] is not None and one["low"] is not None) or one["because"]
    for one in (*answer["notes"], *answer["attempts"]):
        check_note(one)
    assert [one["index"] for one in answer["notes"]] == list(range(len(answer["notes"])))
    played = [one for one in answer["notes"] if one["outcome"] == "played"]
    if any(one["asynchrony_ms"] is None for one in played):
        assert reading(answer, "entries not timed")["because"]
    if any(one["deviation_cents"] is None for one in played):
        unclear = reading(answer, "notes of unclear pitch")
        assert (unclear or reading(answer, "tuning of the take"))["because"]
    if answer["tuning_cents"] is None:
        assert reading(answer, "tuning of the take")["because"]
    if answer["tempo_qpm"] is None:
        assert reading(answer, "tempo")["because"]


def check_note(one):
    """What may be null, by outcome."""
    assert set(one) == NOTE_KEYS and 0.0 <= one["probability"] <= 1.0
    assert one["outcome"] in ("played", "other_pitch", "missing")
    null = {key for key, value in one.items() if value is None}
    if one["outcome"] == "missing":
        assert null == NOTE_KEYS - {"index", "outcome", "probability"}
        return
    assert one["onset_s"] < one["offset_s"]
    assert ("deviation_cents" in null) == ("deviation_se_cents" in null)
    if one["outcome"] == "other_pitch":
        assert "deviation_cents" in null and "midi_heard" not in null


@pytest.fixture(scope="module")
def restarted(tmp_path_factory):
    """A made take that stops once, goes back, and has one sound that nobody wrote."""
    folder = tmp_path_factory.mktemp("restarted")
    made = make_take(4, timbre="clarinet", count=20, restart=True, added=1, snr_db=40, echo=0.1)
    return (
        made, wav(folder / "take.wav", made.recording), csv(folder / "notes.csv", made.passage)
    )


def test_added_sounds_restarts_and_attempts_have_their_keys(restarted, capfd):
    made, take, notes = restarted
    (answer,) = answers(capfd, [take], "--notes", notes, "--tempo", "96")
    check_keys(answer)
    (added,) = answer["added"]
    assert set(added) == {"onset_s", "offset_s", "midi_heard"}
    assert added["onset_s"] == pytest.approx(made.added[0], abs=0.05)
    assert added["onset_s"] < added["offset_s"]
    (restart,) = answer["restarts"]
    assert set(restart) == {"onset_s", "to_index"} and restart["to_index"] == made.restart_to
    again = [one for one in made.played if one.index == made.restart_to]
    assert restart["onset_s"] == pytest.approx(again[-1].onset_s, abs=0.05)
    # the abandoned attempts, in time, all before the restart; the last complete one is reported
    indexes = [one["index"] for one in answer["attempts"]]
    assert indexes and indexes == sorted(indexes) and indexes[0] == made.restart_to
    assert all(one["onset_s"] < restart["onset_s"] for one in answer["attempts"])
    for index in indexes:
        assert answer["notes"][index]["onset_s"] >= restart["onset_s"]
    last = made.last_played()
    apart = [abs(one["onset_s"] - last[one["index"]].onset_s) for one in answer["notes"]]
    assert max(apart) < 0.05


def test_absent_values_have_a_reason_whatever_the_outcome(tmp_path, capfd):
    made = make_take(11, timbre="trumpet", count=24, wrong=2, skipped=2, snr_db=40, echo=0.1)
    take = wav(tmp_path / "take.wav", made.recording)
    notes = csv(tmp_path / "notes.csv", made.passage)
    first, second = answers(capfd, [take, TRUMPET], "--notes", notes, "--tempo", "96")
    check_keys(first)
    told = {one["index"]: one["outcome"] for one in first["notes"]}
    assert set(told.values()) == {"played", "other_pitch", "missing"}
    assert {told[index] for index in made.skipped} == {"missing"}
    assert {told[index] for index in made.wrong} == {"other_pitch"}
    # the other take is another piece: no note, and every reading says why
    check_refused(second)


def check_refused(answer):
    assert set(answer) >= CONTRACT and answer["verdicts"]
    assert answer["notes"] == answer["added"] == answer["restarts"] == answer["attempts"] == []
    assert answer["tuning_cents"] is None and answer["tempo_qpm"] is None
    assert all(one["value"] is None and one["because"] for one in answer["readings"])


def test_drums_go_through_to_the_answer(tmp_path, capfd):
    made = make_strokes(5, skipped=1, count=24)
    take = wav(tmp_path / "take.wav", made.recording)
    notes = csv(tmp_path / "notes.csv", made.passage)
    assert ",,snare" in (tmp_path / "notes.csv").read_text()
    (answer,) = answers(capfd, [take], "--notes", notes, "--tempo", "96")
    check_keys(answer)
    last = made.last_played()
    assert [one["index"] for one in answer["notes"]] == list(range(len(made.passage.notes)))
    for one in answer["notes"]:
        assert one["midi_heard"] is None and one["deviation_cents"] is None
        if one["outcome"] == "played":
            assert one["onset_s"] == pytest.approx(last[one["index"]].onset_s, abs=0.03)
    assert answer["tuning_cents"] is None
    assert reading(answer, "tuning of the take")["because"] == "the part has no pitches"


NAMES = {65: "F4", 67: "G4", 69: "A4", 70: "Bb4", 72: "C5"}


def measures_of_the_tune():
    """The trumpet's tune with a chord, grace notes and two ties, one over a barline."""
    top = [NAMES[midi] for midi in PITCHES]
    grace = note("E4", grace=True) + note("F4", grace=True)
    chord = note("C4") + note("F4", chord=True) + note("A4", chord=True)
    return [
        chord + note(top[1]) + grace + note(top[2]) + note(top[3]),
        "".join(note(one) for one in top[4:8]),
        note("F4") + note("C4", chord=True) + "".join(note(p) for p in top[9:12]),
        note("A4", 1.0, tie=("start",)) + note("A4", 0.5, tie=("stop",)) + note("G4", 0.5)
        + note("G4", 2.0, tie=("start",)),
        note("G4", 0.5, tie=("stop",)),
    ]  # fmt: skip


def test_with_a_score_index_counts_ties_once_no_grace_note_and_the_top_of_a_chord(
    tmp_path, capfd
):
    piece = score(tmp_path / "tune.musicxml", [("Trumpet", measures_of_the_tune())])
    whole = ["--score", piece, "--part", "trumpet", "--tempo", "100"]
    (answer,) = answers(capfd, [TRUMPET], *whole)
    check_keys(answer)
    # the transposition is not written, so the part sounds as printed: 15 notes, not 23
    assert [one["index"] for one in answer["notes"]] == list(range(15))
    told = [one["index"] for one in answer["notes"] if one["outcome"] != "played"]
    assert told == [6]
    heard = [round(one["midi_heard"]) for one in answer["notes"] if one["outcome"] == "played"]
    assert heard == [midi for index, midi in enumerate(PITCHES) if index != 6]
    # of a passage it counts from the passage's own first note
    (part,) = answers(capfd, [TRUMPET], *whole, "--measures", "1-2")
    assert [one["index"] for one in part["notes"]] == list(range(8))
