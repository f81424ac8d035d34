"""Extra sounds with the pitches of the next notes, or of the last ones, are an attempt."""

from fractions import Fraction

import numpy as np
import pytest

from standlight.music import Note
from standlight.score.values import Passage
from standlight.sound.following import ADDED, OTHER, WRITTEN, Path, Segment
from standlight.sound.stumbles import with_extras, with_stumbles
from standlight.sound.written import written_line

PITCHES = (60, 62, 64, 65, 67)
FRAMES_A_SOUND = 30


def line():
    notes = tuple(
        Note(Fraction(i), Fraction(1), measure=i // 4, midi=midi) for i, midi in enumerate(PITCHES)
    )
    return written_line(Passage("", "Flute", "", (), notes, Fraction(len(notes))))


def path_of(sounds):
    """A path whose segments last 0.3 s each, and the pitch track that it was read from.

    ``sounds`` are (kind, index, midi heard or None for silence).
    """
    segments = tuple(
        Segment(kind, index, 0.3 * place, 0.3 * (place + 1))
        for place, (kind, index, _) in enumerate(sounds)
    )
    midi = np.repeat([float(heard or 0.0) for _, _, heard in sounds], FRAMES_A_SOUND)
    weight = np.repeat([float(heard is not None) for _, _, heard in sounds], FRAMES_A_SOUND)
    return Path(segments, (), 0.9, 0.3), midi, weight


def told(sounds):
    path, midi, weight = path_of(sounds)
    found = with_stumbles(path, line(), midi, weight, 0.0)
    return [(one.kind, one.index) for one in found.segments], found.jumps


def test_notes_begun_and_begun_again_are_a_restart():
    segments, jumps = told([
        (WRITTEN, 0, 60), (WRITTEN, 1, 62), (ADDED, 2, 64), (ADDED, 2, 65),
        (WRITTEN, 2, 64), (WRITTEN, 3, 65), (WRITTEN, 4, 67),
    ])  # fmt: skip
    assert [index for _, index in segments] == [0, 1, 2, 3, 2, 3, 4]
    assert {kind for kind, _ in segments} == {WRITTEN}
    assert [index for _, index in jumps] == [2] and jumps[0][0] == pytest.approx(1.2)


def test_notes_repeated_after_they_were_played_are_a_restart_too():
    segments, jumps = told([
        (WRITTEN, 0, 60), (WRITTEN, 1, 62), (WRITTEN, 2, 64), (ADDED, 3, 62), (ADDED, 3, 64),
        (WRITTEN, 3, 65), (WRITTEN, 4, 67),
    ])  # fmt: skip
    assert [index for _, index in segments] == [0, 1, 2, 1, 2, 3, 4]
    assert [index for _, index in jumps] == [1] and jumps[0][0] == pytest.approx(0.9)


@pytest.mark.parametrize(
    "extra", [[(ADDED, 2, 64)], [(ADDED, 2, 66), (ADDED, 2, 61)], [(ADDED, 2, 64), (ADDED, 2, 70)]]
)
def test_one_sound_alone_and_other_pitches_stay_added(extra):
    sounds = [(WRITTEN, 0, 60), (WRITTEN, 1, 62), *extra, (WRITTEN, 2, 64), (WRITTEN, 3, 65)]
    segments, jumps = told(sounds)
    assert segments == [(kind, index) for kind, index, _ in sounds] and jumps == ()


def test_sounds_of_one_pitch_need_a_silence_before_going_on():
    notes = tuple(
        Note(Fraction(i), Fraction(1), measure=0, midi=60) for i in range(4)
    )
    same = written_line(Passage("", "Flute", "", (), notes, Fraction(4)))
    sounds = [(WRITTEN, 0, 60), (ADDED, 1, 60), (ADDED, 1, 60), (WRITTEN, 1, 60)]
    path, midi, weight = path_of(sounds)
    assert with_stumbles(path, same, midi, weight, 0.0) == path
    weight[85:90] = 0.0  # a breath of 50 ms
    assert with_stumbles(path, same, midi, weight, 0.0) == path
    weight[61:90] = 0.0
    assert with_stumbles(path, same, midi, weight, 0.0).jumps == ((pytest.approx(0.9), 1),)


def two_alike(lengths_s, *, marks=frozenset(), second=62):
    """A path of sounds of ``lengths_s`` that takes note 1 for wrong, and 2 (its pitch) for long."""
    notes = tuple(
        Note(Fraction(i), Fraction(1), measure=0, midi=midi, marks=marks)
        for i, midi in enumerate((60, 62, second, 64))
    )
    ends = np.cumsum(lengths_s)
    segments = tuple(
        Segment(kind, index, float(end - length), float(end))
        for kind, index, end, length in zip(
            (WRITTEN, OTHER, WRITTEN, WRITTEN), range(4), ends, lengths_s, strict=True
        )
    )
    path = Path(segments, (), 0.9, 0.5)
    return path, written_line(Passage("", "Viola", "", (), notes, Fraction(4)))


def test_an_extra_sound_before_two_notes_of_one_pitch_is_no_wrong_note():
    found = with_extras(*two_alike([0.5, 0.3, 1.05, 0.5]))
    assert [(one.kind, one.index) for one in found.segments] == [
        (WRITTEN, 0), (ADDED, 1), (WRITTEN, 1), (WRITTEN, 2), (WRITTEN, 3)
    ]  # fmt: skip
    starts = [one.start_s for one in found.segments]
    assert starts == pytest.approx([0.0, 0.5, 0.8, 1.325, 1.85])


@pytest.mark.parametrize(
    "changed",
    [
        {"lengths_s": [0.5, 0.5, 0.55, 0.5]},  # the second note has its own length
        {"lengths_s": [0.5, 0.3, 1.60, 0.5]},  # longer than both: somebody stopped
        {"lengths_s": [0.5, 1.2, 1.05, 0.5]},  # too long for an extra sound
        {"lengths_s": [0.5, 0.3, 1.05, 0.5], "second": 63},
        {"lengths_s": [0.5, 0.3, 1.05, 0.5], "marks": frozenset({"fermata"})},
    ],
)
def test_a_wrong_note_stays_one_where_the_next_is_not_held_for_both(changed):
    path, written = two_alike(**changed)
    assert with_extras(path, written) == path
