"""From samples to a followed performance: pitch, onsets, loudness, quality, following."""

from standlight.sound.values import HeardNote, Performance, PitchTrack, Recording

__all__ = ["HeardNote", "Performance", "PitchTrack", "Recording"]
