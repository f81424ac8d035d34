"""A sound that nobody wrote is told where somebody played it, not where the room rings on."""

import numpy as np
import pytest
from tests.sound import hearing, melody
from tests.sound.takes import RATE_HZ, tone

from standlight.sound import Recording, perform
from standlight.sound.extras import added_of
from standlight.sound.following import ADDED, WRITTEN
from standlight.sound.noting import without_false_starts
from standlight.sound.settling import Sounding

LOUD_S, EXTRA_S, END_S = 0.5, 1.5, 2.0


def frames_of(wave):
    """The listener's frames of ``wave``, tracked between 60 and 64."""
    return hearing.frames_of(wave, RATE_HZ, (60.0, 64.0), 10.0)


def told(extra_db, attack):
    """What is told of a sound `extra_db` against the note before it, begun or faded in."""
    rng = np.random.default_rng(64)
    wave = 1e-4 * rng.normal(size=int(2.5 * RATE_HZ))
    first, extra = tone(60, EXTRA_S - LOUD_S, "horn", rng), tone(64, END_S - EXTRA_S, "horn", rng)
    if not attack:
        extra = extra * np.linspace(0.6, 1.0, len(extra))
    wave[int(LOUD_S * RATE_HZ) :][: len(first)] += first
    begin = int((EXTRA_S if attack else EXTRA_S - 0.05) * RATE_HZ)
    wave[begin : begin + len(extra)] += 10 ** (extra_db / 20) * extra
    sounds = (
        Sounding(WRITTEN, 0, LOUD_S, EXTRA_S, 60.0),
        Sounding(ADDED, 1, EXTRA_S, END_S, 64.0),
    )
    return added_of(sounds, frames_of(wave), 0.0)


@pytest.mark.parametrize("extra_db", [0.0, -3.0, -6.0])
def test_a_sound_that_somebody_played_is_told(extra_db):
    (one,) = told(extra_db, attack=True)
    assert one.onset_s == EXTRA_S and one.midi_heard == pytest.approx(64.0, abs=0.1)


def test_what_is_twenty_decibel_under_the_music_is_the_room():
    assert told(-24.0, attack=True) == ()


def test_what_fades_out_of_a_louder_note_without_a_start_is_the_room():
    assert told(-12.0, attack=False) == ()


@pytest.mark.parametrize("late_s", [0.0, 0.015])
@pytest.mark.parametrize("bump_s", [None, 1.1, 1.4])
def test_a_note_before_a_stop_ends_where_it_falls_silent(bump_s, late_s):
    rng = np.random.default_rng(65)
    wave = 1e-4 * rng.normal(size=int(2.5 * RATE_HZ))
    for midi, begin_s, seconds in ((60, LOUD_S, 0.4), (64, EXTRA_S, 0.5)):
        sound = tone(midi, seconds, "horn", rng)
        wave[int(begin_s * RATE_HZ) :][: len(sound)] += sound
    if bump_s is not None:  # somebody knocks against the stand
        wave[int(bump_s * RATE_HZ) :][:200] += 0.3 * rng.normal(size=200)
    ends_s = frames_of(wave).end_of(LOUD_S, EXTRA_S + late_s)
    assert ends_s == pytest.approx(LOUD_S + 0.4, abs=0.06)


@pytest.mark.parametrize(
    ("added", "sounds", "is_note"),
    [
        (72.0, 60.0, True),  # the tracker's octave of the note that sounds already
        (72.0, 72.0, False),  # an octave that was played
        (48.0, 60.0, True),
        (40.98, 60.0, True),  # a twelfth below: every third harmonic is there
        (79.02, 60.0, True),  # the third harmonic of a note that rings on
        (79.02, 79.02, False),
        (48.0, 48.0, False),
        (64.0, 60.0, False),  # no slip lies a third away
    ],
)
def test_an_octave_or_twelfth_without_a_start_is_the_note_beside_it(added, sounds, is_note):
    rng = np.random.default_rng(65)
    wave = 1e-4 * rng.normal(size=int(2.5 * RATE_HZ))
    whole = tone(sounds, 2.0 - LOUD_S, "horn", rng)
    wave[int(LOUD_S * RATE_HZ) :][: len(whole)] += whole
    found = without_false_starts(
        (Sounding(ADDED, 0, LOUD_S, 1.0, added), Sounding(WRITTEN, 0, 1.0, 2.0, 60.0)),
        frames_of(wave),
    )
    assert [one.onset_s for one in found] == ([LOUD_S] if is_note else [LOUD_S, 1.0])
    assert found[-1].kind == WRITTEN


@pytest.mark.parametrize(("sinks_db", "is_note"), [(9.0, True), (40.0, False)])
def test_a_note_that_swells_again_is_one_and_one_that_stops_is_two(sinks_db, is_note):
    """The level sinks and comes back where something seems to begin: by 9 dB that is a swell."""
    rng = np.random.default_rng(66)
    wave = 1e-4 * rng.normal(size=int(2.5 * RATE_HZ))
    whole = tone(60, 2.0 - LOUD_S, "horn", rng)
    seconds = LOUD_S + np.arange(len(whole)) / RATE_HZ
    sunk_db = sinks_db * np.maximum(0.0, 1.0 - np.abs(seconds - 0.98) / 0.09)
    wave[int(LOUD_S * RATE_HZ) :][: len(whole)] += whole * 10.0 ** (-sunk_db / 20.0)
    frames = frames_of(wave)
    frames.onset[100] = 1.0
    assert frames.starts(1.0)
    found = without_false_starts(
        (Sounding(ADDED, 0, LOUD_S, 1.0, 60.0), Sounding(WRITTEN, 0, 1.0, 2.0, 60.0)), frames
    )
    assert [one.onset_s for one in found] == ([LOUD_S] if is_note else [LOUD_S, 1.0])


def starts_told(both, begin_s, short_s, rng):
    """Where an added sound is told: the last ``short_s`` of ``both``, before a note at 64."""
    wave = 1e-4 * rng.normal(size=int(2.5 * RATE_HZ))
    after = tone(64, 0.5, "horn", rng)
    for at_s, sound in ((begin_s, both), (EXTRA_S + short_s, after)):
        wave[int(at_s * RATE_HZ) :][: len(sound)] += sound
    sounds = (
        Sounding(WRITTEN, 0, begin_s, EXTRA_S, 60.0),
        Sounding(ADDED, 1, EXTRA_S, EXTRA_S + short_s, 60.0),
        Sounding(WRITTEN, 1, EXTRA_S + short_s, END_S, 64.0),
    )
    return [one.onset_s for one in added_of(sounds, frames_of(wave), 0.0)]


@pytest.mark.parametrize("rest_s", [0.0, 0.04])
def test_a_short_sound_at_the_pitch_before_is_told_where_it_surely_begins(rest_s):
    short_s = 0.16
    rng = np.random.default_rng(65)
    held = tone(60, EXTRA_S + short_s - LOUD_S, "horn", rng)
    if rest_s:
        first = tone(60, EXTRA_S - rest_s - LOUD_S, "horn", rng)
        again, begin = tone(60, short_s, "horn", rng), int((EXTRA_S - LOUD_S) * RATE_HZ)
        held = np.zeros(begin + len(again))
        held[: min(len(first), begin)] = first[:begin]
        held[begin:] += again
    told_s = starts_told(held, LOUD_S, short_s, rng)
    assert told_s == ([EXTRA_S] if rest_s else [])


@pytest.mark.parametrize(("own_s", "is_told"), [(0.18, True), (0.6, False)])
def test_a_short_sound_at_the_pitch_before_is_told_beside_a_note_as_quick(own_s, is_told):
    """One that hardly sinks before it begins: of a sixteenth played twice, or a held note's end."""
    short_s = 0.16
    rng = np.random.default_rng(65)
    both = tone(60, own_s + short_s, "horn", rng)
    off_s = np.abs(np.arange(len(both)) / RATE_HZ - own_s)
    both = both * 10.0 ** (-6.0 * np.maximum(0.0, 1.0 - off_s / 0.03) / 20.0)
    told_s = starts_told(both, EXTRA_S - own_s, short_s, rng)
    assert told_s == ([EXTRA_S] if is_told else [])


@pytest.mark.parametrize(("sung", "is_note"), [(60.1, True), (60.62, False)])
def test_a_tone_a_little_off_its_written_pitch_is_one_with_what_it_began_as(sung, is_note):
    # a note written 60.62 semitones high, tuning and all, whose start is heard at 60
    rng = np.random.default_rng(67)
    wave = 1e-4 * rng.normal(size=int(2.5 * RATE_HZ))
    for midi, begin_s, seconds in ((60.0, LOUD_S, 0.5), (sung, 1.0, 1.0)):
        sound = tone(midi, seconds, "horn", rng)
        wave[int(begin_s * RATE_HZ) :][: len(sound)] += sound
    frames = frames_of(wave)
    frames.again[:] = -9.0  # nothing begins again
    found = without_false_starts(
        (Sounding(ADDED, 0, LOUD_S, 1.0, 60.0), Sounding(WRITTEN, 0, 1.0, 2.0, 60.62)), frames
    )
    assert [one.onset_s for one in found] == ([LOUD_S] if is_note else [LOUD_S, 1.0])


@pytest.mark.parametrize(
    ("sounds", "beside", "told_midi"),
    [
        (72.0, (70.0, 71.0), 72.0),  # tracked an octave low: none of its odd harmonics is there
        (60.0, (70.0, 71.0), 60.0),  # played so low
        (72.0, (62.0, 71.0), 60.0),  # nearer to a note beside as it was tracked
    ],
)
def test_an_added_sound_far_below_both_notes_is_told_in_the_octave_that_sounds(
    sounds, beside, told_midi
):
    rng = np.random.default_rng(67)
    wave = 1e-4 * rng.normal(size=int(2.5 * RATE_HZ))
    for midi, begin_s, until_s in (
        (beside[0], LOUD_S, 1.0), (sounds, 1.0, EXTRA_S), (beside[1], EXTRA_S, END_S)
    ):  # fmt: skip
        sound = tone(midi, until_s - begin_s, "horn", rng)
        wave[int(begin_s * RATE_HZ) :][: len(sound)] += sound
    frames = frames_of(wave)
    inside = frames.span(1.0, EXTRA_S)
    frames.midi[inside], frames.weight[inside] = 60.0, 1.0
    settled = (
        Sounding(WRITTEN, 0, LOUD_S, 1.0, beside[0]),
        Sounding(ADDED, 1, 1.0, EXTRA_S, 60.0),
        Sounding(WRITTEN, 1, EXTRA_S, END_S, beside[1]),
    )
    (one,) = added_of(settled, frames, 0.0)
    assert one.midi_heard == pytest.approx(told_midi)


@pytest.mark.parametrize("midi", [62.0, 79.0])
@pytest.mark.parametrize("seconds", [0.18, 0.26])
def test_what_is_too_soft_to_be_told_still_takes_its_time(midi, seconds):
    """The note after it is not late: nobody knows what the player makes of that time."""
    first, rest = (melody.played(part).samples for part in (melody.MELODY[:8], melody.MELODY[8:]))
    rng = np.random.default_rng(3)
    soft = 10.0 ** (-21.0 / 20.0) * tone(midi, seconds, "horn", rng)
    wave = np.concatenate([first, np.zeros(len(soft)), rest[melody.RATE_HZ // 2 :]])
    wave[len(first) : len(first) + len(soft)] += 0.3 * soft
    told = perform(
        Recording(wave.astype(np.float32), melody.RATE_HZ), melody.passage(), melody.TEMPO_QPM
    )
    late_ms = [note.asynchrony_ms for note in told.notes]
    assert told.added == () and {note.outcome for note in told.notes} == {"played"}
    assert max(abs(ms) for ms in late_ms if ms is not None) < 20.0
    assert sum(ms is None for ms in late_ms) == 0
