"""Which readings are drawn, and that what is drawn says the same as the words beside it."""

import re
from dataclasses import replace

import numpy as np
import pytest

from standlight.criteria import CRITERIA, spots_of
from standlight.criteria.kept import HeardOn, kept_report
from standlight.criteria.limits import entry_limit_ms
from standlight.music import Note
from standlight.programme.queries.reading_marks import notation_marks, readings_of
from standlight.score import DOUBTED, PASSED, SAID
from standlight.sound import PitchTarget
from tests.criteria.test_questions import LINE, body_of
from tests.criteria.test_readings import JUST_MAJOR, play

BOTH = ["intonation", "rhythm", "notes"]
FAMILIES = ("woodwind", "brass", "strings", "voice", "percussion", "other")


def line(count=16, *, family="brass", target=None, se=1.0, **more):
    """A performance of ``count`` quarters, with the limits of a family's sound."""
    if family == "percussion":
        more["drums"] = True
    found = play([1] * count, midi=(LINE * 4)[:count], **more)
    notes = tuple(
        replace(note, deviation_se_cents=None if note.deviation_cents is None else se)
        for note in found.notes
    )
    return replace(
        found, notes=notes, onset_tolerance_ms=entry_limit_ms(family), sung=family == "voice",
        target=target or found.target,
    )  # fmt: skip


def terms(performance):
    return HeardOn(
        performance.onset_tolerance_ms, 100.0, performance.sung, performance.target
    )


def body(performance, criteria=BOTH):
    """The report kept of it, with the places that its words name."""
    kept = body_of(performance, criteria)
    kept["spots"] = [
        {"criterion": s.criterion, "first_measure": s.first_measure,
         "last_measure": s.last_measure, "sentence": s.sentence}
        for s in spots_of(performance, [CRITERIA[key] for key in criteria])
    ]  # fmt: skip
    return kept


def marks(performance, criteria=BOTH):
    kept = kept_report(body(performance, criteria), performance.passage, terms(performance))
    return {mark.index: mark for mark in notation_marks(kept, criteria)}


def one_off(*, cents=0.0, ms=0.0, **more):
    """Sixteen notes of which note 5 is off."""
    off = [cents if i == 5 else 0.0 for i in range(16)]
    late = [ms if i == 5 else 0.0 for i in range(16)]
    return line(cents=off, late_ms=late, **more)


# Hill & Summers 2007 (JASA): just-noticeable interval difference of amateurs, about 10 cents.
@pytest.mark.parametrize(("cents", "drawn"), [(9.9, set()), (-9.9, set()), (10.1, {5})])
def test_a_note_is_drawn_only_beyond_what_a_listener_notices(cents, drawn):
    assert set(marks(one_off(cents=cents))) == drawn


# Onset matching window of 50 ms (the default of mir_eval, tests/authorities of the listening room).
@pytest.mark.parametrize(("ms", "drawn"), [(49.0, set()), (-49.0, set()), (-51.0, {5})])
def test_an_entry_is_drawn_only_beyond_the_matching_window(ms, drawn):
    assert set(marks(one_off(ms=ms))) == drawn


@pytest.mark.parametrize(
    ("cents", "se", "manner"),
    [(20.0, 1.0, PASSED), (26.0, 1.0, DOUBTED), (-28.0, 1.0, SAID), (-60.0, 20.0, DOUBTED)],
)
def test_pitch_is_called_out_beyond_25_cents_and_two_standard_errors(cents, se, manner):
    mark = marks(one_off(cents=cents, se=se))[5]
    assert (mark.cents, mark.cents_as, mark.unsure) == (cents, manner, False)


# 50 ms, strings 70, voices 100: the limits docs/method.md gives for words on entries.
@pytest.mark.parametrize(
    ("family", "ms", "manner"),
    [
        ("brass", -51.0, SAID), ("percussion", 51.0, SAID),
        ("strings", -69.0, PASSED), ("strings", -71.0, SAID),
        ("voice", -95.0, PASSED), ("voice", 101.0, SAID),
    ],
)  # fmt: skip
def test_an_entry_is_called_out_from_the_limit_of_its_kind_of_sound(family, ms, manner):
    mark = marks(one_off(ms=ms, family=family))[5]
    assert (mark.ms, mark.ms_as) == (ms, manner)


def test_a_note_that_was_found_without_certainty_is_an_outline_and_keeps_its_number():
    found = one_off(ms=90.0)
    notes = list(found.notes)
    notes[5] = replace(notes[5], probability=0.7)
    mark = marks(replace(found, notes=tuple(notes)))[5]
    assert (mark.unsure, mark.ms_as) == (True, SAID)


def test_the_takes_own_tuning_moves_no_mark():
    flat = marks(one_off(cents=30.0))
    sharp = marks(line(cents=[70.0 if i == 5 else 40.0 for i in range(16)]))
    assert [(m.index, m.cents) for m in flat.values()] == [(5, 30.0)]
    assert [(m.index, m.cents) for m in sharp.values()] == [(5, 30.0)]


def test_a_voice_that_drifts_is_marked_from_its_own_centre_and_a_player_is_not():
    drift = [-5.0 * i + (4.0 if i % 2 else -4.0) for i in range(16)]
    assert marks(line(cents=drift, family="voice")) == {}
    assert [m.cents_as for m in marks(line(cents=drift)).values()].count(SAID) > 3


def test_marks_count_from_just_intervals_or_the_drone_where_the_check_asks_for_them():
    just = [40.0 + cents for cents in JUST_MAJOR * 2]
    assert marks(line(cents=just, target=PitchTarget("just", tonic=0))) == {}
    drone = line(cents=just, target=PitchTarget("drone", tonic=0))
    assert {round(m.cents) for m in marks(drone).values()} == {40}
    assert len(marks(drone)) == 16
    assert readings_of(body(drone), BOTH, drone.passage, terms(drone)).tuning.endswith(
        "marks count from the drone."
    )


def test_a_criterion_that_is_not_asked_is_not_drawn():
    far = one_off(cents=30.0, ms=90.0)
    only_time = marks(far, ["rhythm"])[5]
    assert (only_time.cents, only_time.ms) == (None, 90.0)
    assert marks(far, ["tone"]) == {}


def with_note(performance, index, **more):
    notes = list(performance.notes)
    notes[index] = replace(notes[index], deviation_cents=None, deviation_se_cents=None, **more)
    return replace(performance, notes=tuple(notes))


def test_a_missing_note_is_drawn_whatever_is_asked():
    gone = with_note(line(), 3, outcome="missing", asynchrony_ms=None, midi_heard=None)
    assert [m.outcome for m in marks(gone, ["notes"]).values()] == ["missing"]
    kept = kept_report(body(gone), gone.passage, terms(gone))
    assert [m.outcome for m in notation_marks(kept, ["tone"])] == ["missing"]


def test_the_notes_of_a_repeat_that_was_left_out_are_not_drawn_as_missing():
    base = line()
    silent = {3, 4, 9}
    notes = tuple(
        replace(n, outcome="missing", onset_s=None, asynchrony_ms=None, deviation_cents=None)
        if n.index in silent else n for n in base.notes
    )  # fmt: skip
    gone = replace(base, notes=notes, left_out=frozenset({3, 4}))
    assert set(marks(gone)) == {9}
    shown = readings_of(body(gone), BOTH, gone.passage, terms(gone))
    assert {mark.index for mark in shown.marks} == {9}
    alone = replace(gone, left_out=frozenset(silent))
    assert not readings_of(body(alone), BOTH, alone.passage, terms(alone)).otherwise


def test_another_pitch_is_named_as_the_part_writes_it():
    found = line()
    # A clarinet in B flat sounds a whole tone under what it reads: sounding D5 is its written E5.
    old = found.passage.notes[1]
    clarinet = Note(
        old.onset_quarters, old.duration_quarters, old.midi, old.measure,
        written_midi=old.midi + 2,
    )  # fmt: skip
    passage = replace(
        found.passage, notes=(found.passage.notes[0], clarinet, *found.passage.notes[2:])
    )
    wrong = with_note(
        replace(found, passage=passage), 1, outcome="other_pitch", midi_heard=74.0
    )
    assert [m.heard for m in marks(wrong).values()] == ["E5"]


def test_nothing_is_marked_on_a_passage_that_has_other_notes_by_now():
    off = one_off(ms=90.0)
    found = readings_of(body(off), BOTH, line(20).passage, terms(off))
    assert (found.marks, found.moved) == ((), True)
    assert readings_of(body(off), BOTH, off.passage, terms(off)).moved is False


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("scatter", [0.2, 0.6, 1.0, 2.0])
@pytest.mark.parametrize("seed", range(5))
def test_colour_stands_where_the_sentence_counts_and_where_it_names_a_place_and_nowhere_else(
    family, scatter, seed
):
    chance = np.random.default_rng([seed, FAMILIES.index(family)])
    planted = line(
        32, family=family, se=float(chance.uniform(1.0, 8.0)),
        cents=list(chance.normal(0.0, 25.0 * scatter, 32) + np.linspace(0.0, -20.0, 32)),
        late_ms=list(chance.normal(0.0, 60.0 * scatter, 32)),
    )  # fmt: skip
    found = readings_of(body(planted), BOTH, planted.passage, terms(planted))
    coloured = {
        "intonation": {m.index for m in found.marks if m.cents is not None and m.cents_as == SAID},
        "rhythm": {m.index for m in found.marks if m.ms is not None and m.ms_as == SAID},
    }
    said = {figure.sentence for figure in found.figures}
    for key, nothing, counted in (
        ("rhythm", "All 32 entries are close to the beat.", r"(\S+) entr\w+ of 32 (is|are) early"),
        ("intonation", "None of 32 notes stands out", r"(\S+) notes? of 32 stands? out as sharp"),
    ):
        sentences = [one for one in said if one.startswith(nothing) or re.match(counted, one)]
        if family == "percussion" and key == "intonation":
            assert not sentences and not coloured[key]
            continue
        (sentence,) = sentences
        assert (not coloured[key]) is sentence.startswith(nothing)
        number = re.match(counted, sentence)
        if number is not None:
            assert len(coloured[key]) == as_number(number.group(1))
    for spot in found.spots:
        notes = [
            index for index in coloured[spot.criterion]
            if spot.first_measure <= planted.passage.notes[index].measure <= spot.last_measure
        ]  # fmt: skip
        way = spot.sentence.rstrip(".").split()[-1]
        same = [
            m for m in found.marks if m.index in notes
            and WAYS[way](m.cents if spot.criterion == "intonation" else m.ms)
        ]  # fmt: skip
        assert len(same) >= as_number(spot.sentence.split(": ")[1].split()[0])


WAYS = {
    "sharp": lambda value: value > 0, "late": lambda value: value > 0,
    "flat": lambda value: value < 0, "early": lambda value: value < 0,
}  # fmt: skip


def as_number(word):
    words = (
        "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
        "twelve",
    )  # fmt: skip
    word = word.lower()
    return words.index(word) + 1 if word in words else int(word)


def test_at_most_three_sentences_and_an_absent_figure_gives_its_reason():
    kept = {
        "notes": [{}],
        "spots": [
            {"criterion": "rhythm", "first_measure": n, "last_measure": n, "sentence": f"Spot {n}."}
            for n in range(5)
        ],
        "readings": [
            {"criterion": "intonation", "name": "spread", "value": None, "low": None, "high": None,
             "unit": "cents", "n_notes": 2, "because": "too few notes"},
            {"criterion": "rhythm", "name": "asynchrony", "value": 23.4, "low": 18.0, "high": 29.0,
             "unit": "ms", "n_notes": 14, "because": ""},
        ],
    }  # fmt: skip
    found = readings_of(kept, BOTH)
    assert found.sentences == ("Spot 0.", "Spot 1.", "Spot 2.")
    assert [f.figure for f in found.figures] == [
        "spread: too few notes", "asynchrony: 23.4 ms, likely 18.0 to 29.0; 14 notes",
    ]


def test_a_note_that_went_on_is_marked_whatever_the_check_asks_for():
    longer = line(prolonged=frozenset({6}))
    for criteria in (BOTH, ("dynamics",)):
        (mark,) = marks(longer, criteria).values()
        assert (mark.index, mark.longer, mark.outcome) == (6, True, "played")
        assert (mark.cents, mark.ms) == (None, None)
