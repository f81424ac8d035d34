"""The table of criteria: whole, plain, and read from performances made by hand."""

import re
from dataclasses import replace

import pytest
from tests.sound.real_takes import passage

from standlight.criteria import CRITERIA, Criterion, Reading, spots_of
from standlight.criteria.figures import median_interval, robust_spread
from standlight.passages import counted
from standlight.sound import HeardNote, Performance

KEYS = ["tone", "intonation", "notes", "rhythm", "pulse", "dynamics", "articulation",
        "expression", "diction", "vowels", "bowing", "shifts", "open_strings", "evenness",
        "sticking"]  # fmt: skip


def performance(notes, **more):
    written = passage([60] * len(notes), [1] * len(notes))
    facts = {
        "passage": written,
        "notes": tuple(notes),
        "added": (),
        "restarts": (),
        "attempts": (),
        "shift_semitones": 0,
        "tuning_cents": 0.0,
        "tuning_se_cents": 1.0,
        "tempo_qpm": 100.0,
        "tempo_drift_percent": 0.5,
        "tempo_drift_se_percent": 1.0,
        "marked_tempo_qpm": 100.0,
        "fit": 1.0,
        "explained_share": 1.0,
        "seconds": 10.0,
        "sounding_share": 1.0,
        "median_confidence": 0.99,
    }
    return Performance(**{**facts, **more})


def note(index, cents=0.0, ms=0.0, outcome="played"):
    if outcome != "played":
        return HeardNote(index=index, outcome=outcome, probability=0.9)
    return HeardNote(
        index=index, outcome=outcome, onset_s=0.6 * index, offset_s=0.6 * index + 0.5,
        midi_heard=60.0 + cents / 100, deviation_cents=cents, deviation_se_cents=1.5,
        asynchrony_ms=ms, probability=0.95, loudness_lkfs=-20.0, sounding_share=0.9,
    )  # fmt: skip


def test_the_table_holds_the_agreed_keys_in_order():
    assert list(CRITERIA) == KEYS
    assert [c.key for c in CRITERIA.values()] == KEYS


def test_tone_expression_and_diction_are_for_ears_and_say_so():
    by_ear = {key for key, criterion in CRITERIA.items() if not criterion.has_readings}
    alone = {"vowels", "bowing", "shifts", "open_strings", "sticking"}
    assert by_ear == {"tone", "expression", "diction", *alone}
    assert all("person's e" in CRITERIA[key].by_ear for key in by_ear)
    for key in alone:
        assert len(CRITERIA[key].families) == 1


def test_every_level_has_its_own_words_in_short_sentences():
    for criterion in CRITERIA.values():
        assert sorted(criterion.descriptors) == [1, 2, 3, 4]
        assert len(set(criterion.descriptors.values())) == 4
        assert criterion.question.endswith("?")
        for words in criterion.descriptors.values():
            for sentence in re.split(r"[.:]", words):
                assert len(sentence.split()) <= 18, sentence


def test_a_criterion_without_all_levels_is_refused():
    with pytest.raises(ValueError, match="each level"):
        asks = CRITERIA["tone"].asks
        Criterion("x", "X", "X?", {1: "a"}, ("voice",), asks, by_ear="a person's ear")


def test_an_absent_figure_without_a_reason_is_refused():
    with pytest.raises(ValueError, match="without a reason"):
        Reading("x", "x", None, None, None, "", 0)


def test_a_flat_note_is_a_trouble_only_beyond_what_listeners_notice():
    # Larrouy-Maestri 2018: about 25 cents; a note 20 off, or 40 off but unsure, is left alone
    notes = [note(i) for i in range(8)]
    notes[2] = note(2, cents=-20)
    notes[4] = note(4, cents=-40)
    notes[6] = replace(note(6, cents=40), deviation_se_cents=15.0)
    found = CRITERIA["intonation"].find(performance(notes))
    assert [(one.index, one.one) for one in found] == [(4, "note a little flat")]


def test_intonation_is_silent_with_few_notes():
    readings = CRITERIA["intonation"].read(performance([note(i) for i in range(3)]))
    assert all(r.value is None and "at least 5" in r.because for r in readings)


def test_the_spread_of_notes_has_an_interval_around_it():
    notes = [note(i, cents=c) for i, c in enumerate([-12, -6, -3, 0, 0, 3, 6, 12])]
    spread = CRITERIA["intonation"].read(performance(notes))[1]
    assert spread.low < spread.value < spread.high
    assert spread.value == pytest.approx(1.4826 * 4.5)


def test_entries_are_early_or_late_from_50_ms_on():
    notes = [note(i) for i in range(8)]
    notes[1], notes[3], notes[5] = note(1, ms=-45), note(3, ms=-70), note(5, ms=130)
    found = CRITERIA["rhythm"].find(performance(notes))
    assert [one.one for one in found] == ["entry a little early", "entry late"]


def test_spots_name_printed_measures_and_count_in_words():
    notes = [note(i) for i in range(16)]
    for index in (8, 9, 12, 13):
        notes[index] = note(index, ms=-80)
    notes[1] = note(1, outcome="missing")
    spots = spots_of(performance(notes), list(CRITERIA.values()))
    assert [spot.sentence for spot in spots] == [
        "Measure 1: one written note not heard.",
        "Measures 3 to 4: four entries a little early.",
    ]
    assert [(s.first_measure, s.last_measure) for s in spots] == [(0, 0), (2, 3)]


def test_notes_are_counted_with_their_uncertainty():
    notes = [note(i) for i in range(8)]
    notes[2] = HeardNote(index=2, outcome="missing", probability=0.6)
    notes[3] = note(3, outcome="missing")
    notes[5] = replace(note(5), probability=0.3)
    missing = CRITERIA["notes"].read(performance(notes))[1]
    assert (missing.low, missing.value, missing.high) == (1.0, 2.0, 3.0)


def test_a_small_tempo_change_is_not_called_a_change():
    # Drake & Botte 1993: 3 percent in a sequence
    notes = [note(i) for i in range(10)]
    drift = CRITERIA["pulse"].read(performance(notes, tempo_drift_percent=2.5))[1]
    assert drift.sentence == "The tempo holds from start to end."
    more = performance(notes, tempo_drift_percent=-8.0)
    assert "slower: 8 percent" in CRITERIA["pulse"].read(more)[1].sentence


def test_dynamics_are_silent_without_two_marked_regions_and_when_overloaded():
    plain = CRITERIA["dynamics"].read(performance([note(i) for i in range(8)]))[0]
    assert plain.value is None and "two dynamic markings" in plain.because
    loud = performance([note(i) for i in range(8)], loudness_trusted=False)
    assert "overloaded" in CRITERIA["dynamics"].read(loud)[0].because


def test_small_statistics_are_arithmetic():
    assert counted(2, "note", "notes") == "two notes"
    assert robust_spread([5.0, 5.0, 5.0]) == 0.0
    # Conover, Practical Nonparametric Statistics (from memory): n = 16, ranks 4 and 12
    value, low, high = median_interval(range(1, 17))
    assert (value, low, high) == (8.5, 5.0, 12.0)


@pytest.mark.parametrize(
    ("soft", "missing", "words"),
    [
        (0, 0, "All 10 entries are close to the beat."),
        (0, 2, "All 8 entries are close to the beat."),
        (1, 0, "All 9 entries are close to the beat. One more could not be timed."),
        (2, 1, "All 7 entries are close to the beat. Two more could not be timed."),
    ],
)
def test_who_is_told_of_the_entries_is_told_how_many_could_not_be_timed(soft, missing, words):
    notes = [note(i) for i in range(10)]
    notes[:soft] = [replace(one, asynchrony_ms=None) for one in notes[:soft]]
    notes[10 - missing :] = [note(i, outcome="missing") for i in range(10 - missing, 10)]
    scatter = CRITERIA["rhythm"].read(performance(notes))[0]
    assert (scatter.n_notes, scatter.sentence) == (10 - soft - missing, words)
