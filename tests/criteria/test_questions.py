"""Questions after rating: planted trouble beside high levels, clean takes beside low ones."""

import json
from dataclasses import replace

import numpy as np
import pytest
from tests.criteria.test_readings import play

from standlight.criteria import CRITERIA
from standlight.criteria.kept import HeardOn, kept_report
from standlight.criteria.questions import DOUBTS, LOUDNESS_UNSURE, UNSURE, questions
from standlight.kinds import reading_grade
from standlight.listening import Added, ListeningReport, NoteReading, Restart, report_as_json
from standlight.sound import Verdict
from standlight.sound.values import AddedSound, Resumed

TERMS = HeardOn(onset_tolerance_ms=50.0, marked_tempo_qpm=100.0)
LINE = [60, 62, 64, 65, 67, 69, 71, 72] * 2
"""Sixteen quarters, four measures."""


def body_of(performance, criteria, *codes):
    """The report a hearing would keep of ``performance``, through JSON and back."""
    fields = NoteReading.__dataclass_fields__
    report = ListeningReport(
        method="test", seconds=performance.seconds, first_note_s=0.0,
        verdicts=tuple(Verdict(code, "Said.") for code in codes),
        tuning_cents=performance.tuning_cents, tempo_qpm=performance.tempo_qpm,
        notes=tuple(
            NoteReading(**{name: getattr(note, name) for name in fields})
            for note in performance.notes
        ),
        restarts=tuple(Restart(one.onset_s, one.to_index) for one in performance.restarts),
        added=tuple(
            Added(one.onset_s, one.offset_s, one.midi_heard) for one in performance.added
        ),
        prolonged=tuple(sorted(performance.prolonged)),
        left_out=tuple(sorted(performance.left_out)),
        seams=tuple(sorted(performance.seams)),
        readings=tuple(r for key in criteria for r in CRITERIA[key].read(performance)),
    )  # fmt: skip
    return json.loads(json.dumps(report_as_json(report)))


def asked(performance, *codes, terms=TERMS, **levels):
    """The questions on ``levels`` beside the kept report of ``performance``."""
    levels = {key: str(level) for key, level in levels.items()}
    body = body_of(performance, levels, *codes)
    return questions(levels, kept_report(body, performance.passage, terms))


def with_fault(performance, index, outcome):
    notes = list(performance.notes)
    gone = {"onset_s": None, "asynchrony_ms": None} if outcome == "missing" else {}
    notes[index] = replace(
        notes[index], outcome=outcome, deviation_cents=None, deviation_se_cents=None, **gone
    )
    return replace(performance, notes=tuple(notes))


EARLY = play([1] * 16, midi=LINE, late_ms=[-180.0 if i in (2, 9, 13) else 0.0 for i in range(16)])
CLEAN = play([1] * 16, midi=LINE)


def test_rhythm_4_beside_three_entries_180_ms_early_asks_to_listen_again():
    (question,) = asked(EARLY, rhythm=4)
    assert question.sentence == (
        "You gave 4 for rhythm. Three entries are about 180 ms early, in measures 1, 3 and 4. "
        "Listen again?"
    )
    assert (question.criterion, question.level) == ("rhythm", 4)
    assert (question.first_measure, question.last_measure) == (0, 3)


def test_the_same_trouble_asks_nothing_of_level_3_and_much_more_of_it_does():
    assert asked(EARLY, rhythm=3) == ()
    worse = play(
        [1] * 16, midi=LINE, late_ms=[150.0 if i % 3 == 0 else -2.0 for i in range(16)]
    )
    (question,) = asked(worse, rhythm=3)
    assert "Six entries are about 150 ms late" in question.sentence


@pytest.mark.parametrize("level", [1, 2])
def test_low_levels_beside_a_take_in_which_nothing_is_off_ask_the_other_way(level):
    for key, words in (
        ("rhythm", "All 16 entries are close to the beat"),
        ("intonation", "None of 16 notes is sharp or flat"),
        ("notes", "All 16 written notes were heard"),
        ("pulse", "The tempo holds without a stop"),
    ):
        found = asked(CLEAN, **{key: level})
        assert [one.sentence for one in found] == [
            f"You gave {level} for {CRITERIA[key].name.lower()}. {words}, in measures 1, 2, 3 "
            "and 4. Listen again?"
        ], key


@pytest.mark.parametrize("level", [1, 2, 3, 4])
def test_levels_that_agree_with_what_was_read_are_left_alone(level):
    fits = EARLY if level <= 2 else CLEAN
    assert asked(fits, rhythm=level) == ()


def test_an_answer_that_is_no_level_is_never_asked_about():
    kept = kept_report(body_of(EARLY, ["rhythm"]), EARLY.passage, TERMS)
    assert questions({"rhythm": "not_heard"}, kept) == ()
    assert questions({"rhythm": "not_shown"}, kept) == ()
    assert questions({}, kept) == ()


@pytest.mark.parametrize("code", sorted(UNSURE))
def test_beside_every_verdict_that_makes_readings_unsure_nothing_is_asked(code):
    assert asked(EARLY, code, rhythm=4) == ()
    assert asked(CLEAN, code, rhythm=1) == ()


def test_a_video_whose_picture_was_dropped_is_asked_about_as_any_take():
    assert len(asked(EARLY, "picture_dropped", rhythm=4)) == 1


def test_entries_that_are_only_a_little_off_or_unsure_ask_nothing():
    little = play([1] * 16, midi=LINE, late_ms=[-90.0 if i < 5 else 0.0 for i in range(16)])
    assert asked(little, rhythm=4) == ()
    unsure = replace(EARLY, notes=tuple(replace(n, probability=0.7) for n in EARLY.notes))
    assert asked(unsure, rhythm=4) == ()


def test_a_singer_may_be_later_than_a_trumpeter_before_anything_is_asked():
    voice = replace(TERMS, onset_tolerance_ms=100.0, sung=True)
    sung = replace(EARLY, onset_tolerance_ms=100.0, sung=True)
    assert asked(sung, terms=voice, rhythm=4) == ()
    off = [230.0 if i in (2, 9, 13) else 0.0 for i in range(16)]
    later = play([1] * 16, midi=LINE, late_ms=off)
    assert len(asked(replace(later, sung=True), terms=voice, rhythm=4)) == 1


def test_a_short_take_shows_too_little_to_doubt_a_low_level():
    assert asked(play([1] * 8, midi=LINE[:8]), rhythm=1, notes=1, intonation=1) == ()


@pytest.mark.parametrize("key", ["rhythm", "notes", "pulse"])
def test_a_take_in_which_a_note_went_on_is_no_clean_take(key):
    longer = replace(CLEAN, prolonged=frozenset({6}))
    assert asked(CLEAN, **{key: 2}) != ()
    assert asked(longer, **{key: 2}) == asked(longer, **{key: 4}) == ()


def test_values_that_enter_late_as_a_kind_are_no_clean_rhythm():
    values = [1, 0.5, 0.5] * 8
    dragged = play(values, midi=(LINE * 2)[:24], late_ms=[0.0, 40.0, 40.0] * 8)
    assert CRITERIA["rhythm"].find(dragged) == ()
    said = [one.sentence for one in CRITERIA["rhythm"].read(dragged)]
    assert "Eighth notes enter late." in said
    assert asked(dragged, rhythm=1) == ()


def test_notes_clearly_flat_beside_level_4_are_asked_about_with_their_cents():
    flat = play(
        [1] * 16, midi=LINE, cents=[-60.0 if i in (4, 5, 6) else (-1.0) ** i for i in range(16)]
    )
    (question,) = asked(flat, intonation=4)
    assert "Three notes are about 60 cents flat, in measure 2." in question.sentence
    assert (question.first_measure, question.last_measure) == (1, 1)
    assert asked(flat, intonation=3) == ()
    assert asked(flat, intonation=2) == ()


def test_a_whole_take_below_the_ensembles_pitch_is_no_clean_take():
    low = play([1] * 16, midi=LINE, cents=[-40.0] * 16)
    assert asked(low, intonation=2) == ()


def test_two_notes_other_than_written_beside_level_4_are_asked_about_and_one_is_not():
    one = with_fault(CLEAN, 3, "other_pitch")
    assert asked(one, notes=4) == ()
    two = with_fault(one, 12, "missing")
    (question,) = asked(two, notes=4)
    assert "One note is not the written one and one note was not heard" in question.sentence
    assert asked(two, notes=3) == ()


def test_notes_of_a_repeat_that_was_left_out_are_not_held_against_a_level():
    missing = CLEAN
    for index in range(8, 16):
        missing = with_fault(missing, index, "missing")
    without = replace(missing, left_out=frozenset(range(8, 16)))
    assert CRITERIA["notes"].read(without)[1].value == 0.0
    assert asked(without, notes=4) == ()
    assert len(asked(missing, notes=4)) == 1


def test_stops_and_a_sure_drift_are_asked_about_beside_a_steady_pulse():
    stopped = replace(CLEAN, restarts=(Resumed(onset_s=7.0, to_index=8),))
    (question,) = asked(stopped, pulse=4)
    assert "The playing stopped one time, in measure 3." in question.sentence
    assert asked(stopped, pulse=3) == ()
    drifting = replace(CLEAN, tempo_drift_percent=9.0, tempo_drift_se_percent=0.5)
    assert "9 percent faster" in asked(drifting, pulse=4)[0].sentence
    assert "9 percent faster" in asked(drifting, pulse=3)[0].sentence
    unsure = replace(CLEAN, tempo_drift_percent=9.0, tempo_drift_se_percent=4.0)
    assert asked(unsure, pulse=4) == ()
    assert asked(unsure, pulse=1) == ()


LOUD = {"dynamics": ["p"] * 8 + ["f"] * 8}


def test_little_contrast_beside_a_high_level_and_much_beside_a_low_one():
    alike = play([1] * 16, midi=LINE, **LOUD, loudness=[-20.0, -20.4] * 8)
    (question,) = asked(alike, dynamics=4)
    assert "Little contrast is heard between p and f" in question.sentence
    assert asked(alike, dynamics=2) == ()
    wide = play([1] * 16, midi=LINE, **LOUD, loudness=[-28.0, -28.4] * 4 + [-20.0, -20.4] * 4)
    (question,) = asked(wide, dynamics=1)
    assert "The notes at f are 8 decibels louder than those at p" in question.sentence
    assert len(asked(wide, dynamics=2)) == 1
    assert asked(wide, dynamics=4) == ()
    for code in LOUDNESS_UNSURE:
        assert asked(alike, code, dynamics=4) == ()


def test_dots_that_sound_like_plain_notes_are_asked_about_at_the_top_only():
    marks = [("staccato",)] * 8 + [()] * 8
    alike = play([1] * 16, midi=LINE, marks=marks, share=[0.9, 0.92] * 8)
    (question,) = asked(alike, articulation=4)
    assert "Short notes (dots) sound about as long as plain notes" in question.sentence
    assert (question.first_measure, question.last_measure) == (0, 1)
    assert asked(alike, articulation=3) == ()
    short = play([1] * 16, midi=LINE, marks=marks, share=[0.4, 0.42] * 4 + [0.9, 0.92] * 4)
    assert len(asked(short, articulation=1)) == 1
    assert asked(short, articulation=4) == ()


def test_a_take_asks_at_most_two_questions_the_clearest_first():
    bad = play(
        [1] * 16, midi=LINE, late_ms=[300.0 if i in (2, 9, 13) else 0.0 for i in range(16)],
        cents=[-55.0 if i in (4, 5, 6) else (-1.0) ** i for i in range(16)],
    )  # fmt: skip
    bad = with_fault(with_fault(bad, 0, "other_pitch"), 15, "other_pitch")
    found = asked(bad, intonation=4, notes=4, rhythm=4)
    assert [one.criterion for one in found] == ["rhythm", "intonation"]


def test_a_passage_that_was_moved_since_is_not_asked_about():
    body = body_of(EARLY, ["rhythm"])
    assert kept_report(body, play([1] * 12).passage, TERMS) is None


def test_a_groups_take_is_asked_about_its_common_pulse_alone():
    body = body_of(CLEAN, ["pulse", "rhythm"]) | {"together": True, "notes": []}
    body["readings"] = [row for row in body["readings"] if row["criterion"] == "pulse"]
    for row in body["readings"]:
        if row["name"] == "drift":
            row.update(value=8.0, low=6.5, high=9.5)
        if row["name"] == "stops":
            row.update(value=None)
    kept = kept_report(body, CLEAN.passage, TERMS)
    (question,) = questions({"pulse": "4", "rhythm": "1"}, kept)
    assert question.criterion == "pulse"


def test_every_doubt_is_of_a_criterion_the_tool_reads_itself():
    assert all(CRITERIA[doubt.criterion.key].has_readings for doubt in DOUBTS)
    pairs = [(doubt.criterion.key, level) for doubt in DOUBTS for level in doubt.levels]
    assert len(pairs) == len(set(pairs))


PLANTED = (
    (EARLY, {"rhythm": 4}),
    (CLEAN, {"rhythm": 1, "intonation": 1}),
    (CLEAN, {"notes": 2, "pulse": 1}),
    (replace(CLEAN, restarts=(Resumed(7.0, 8),)), {"pulse": 4}),
    (play([1] * 16, midi=LINE, **LOUD, loudness=[-20.0, -20.4] * 8), {"dynamics": 4}),
    (with_fault(with_fault(CLEAN, 3, "missing"), 9, "missing"), {"notes": 4}),
)


def test_questions_read_at_grade_6_and_never_say_what_to_change():
    sentences = [q.sentence for take, levels in PLANTED for q in asked(take, **levels)]
    assert len(sentences) == 8
    for sentence in sentences:
        assert reading_grade(sentence).grade <= 6.0, sentence
        assert sentence.endswith("Listen again?") and "measure" in sentence
        assert not {"should", "wrong", "change", "correct"} & set(sentence.lower().split())


def test_players_who_scatter_as_good_ones_do_are_never_asked_about_at_the_top():
    rng = np.random.default_rng(7)
    asked_of_good, asked_of_planted = 0, 0
    for _ in range(200):
        late = rng.normal(0.0, 25.0, 16)
        asked_of_good += len(asked(play([1] * 16, midi=LINE, late_ms=late.tolist()), rhythm=4))
        late[rng.choice(16, 3, replace=False)] += 180.0
        asked_of_planted += len(asked(play([1] * 16, midi=LINE, late_ms=late.tolist()), rhythm=4))
    assert asked_of_good == 0
    assert asked_of_planted >= 195  # a planted entry may by chance lie under 100 ms


def test_a_kept_report_knows_what_was_added_and_which_notes_went_on():
    sound = AddedSound(3.1, 3.4, 61.0)
    performance = replace(CLEAN, added=(sound,), prolonged=frozenset({4}))
    kept = kept_report(body_of(performance, ["notes"]), performance.passage, TERMS)
    assert (kept.performance.added, kept.performance.prolonged) == ((sound,), frozenset({4}))
    early = body_of(CLEAN, ["notes"])
    del early["added"], early["prolonged"]  # an early edition kept neither
    kept = kept_report(early, CLEAN.passage, TERMS)
    assert (kept.performance.added, kept.performance.prolonged) == ((), frozenset())


def test_a_kept_report_knows_what_was_left_out_and_tells_a_repeat_from_a_stop():
    # two measures begin anew in time after a repeat that was taken: a jump, and no stop
    late = [0.0] * 8 + [4800.0] * 8
    taken = replace(play([1] * 16, midi=LINE, late_ms=late), seams=frozenset({8}))
    kept = kept_report(body_of(taken, ["pulse"]), taken.passage, TERMS)
    assert kept.performance.seams == {8}
    assert CRITERIA["pulse"].find(kept.performance) == ()
    gone = with_fault(with_fault(CLEAN, 3, "missing"), 4, "missing")
    gone = replace(gone, left_out=frozenset({3, 4}))
    body = body_of(gone, ["notes"])
    assert body["left_out"] == [3, 4]
    kept = kept_report(body, gone.passage, TERMS)
    assert kept.performance.left_out == {3, 4}
    assert CRITERIA["notes"].find(kept.performance) == ()
    del body["left_out"], body["seams"]  # an early edition kept neither
    kept = kept_report(body, gone.passage, TERMS)
    assert (kept.performance.left_out, kept.performance.seams) == (frozenset(), frozenset())
