"""The listener's frames of sounds by formula, for what is told of single sounds."""

import numpy as np

from standlight.sound import Recording
from standlight.sound.noting import Frames
from standlight.sound.onsets import onset_evidence, signs_of
from standlight.sound.pitch import pitch_candidates, pitch_path
from standlight.sound.rearticulation import again_odds


def frames_of(wave, rate_hz, written, beyond):
    """The frames of two notes, tracked between the ``written`` pitches and up to ``beyond`` away.

    ``wave`` is ``(n,)``, both distances are in semitones.
    """
    recording, (low, high) = Recording(wave.astype(np.float32), rate_hz), written
    candidates = pitch_candidates(recording, low - beyond, high + beyond)
    track, signs = pitch_path(candidates, low, high), signs_of(recording, 2)
    onset, again = onset_evidence(signs, track), again_odds(signs, track)
    return Frames(recording, track, onset, candidates, signs.level_db, again)
