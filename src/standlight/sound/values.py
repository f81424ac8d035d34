"""The values of the sound room: a recording, its frames, and a followed performance.

Signals are numpy arrays; their shape and unit stand in each docstring. Frames are
counted every ``HOP_S`` from the first decoded sample; frame ``t`` is centred at
``t * HOP_S`` seconds.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from standlight.sound.targets import EQUAL_TEMPERAMENT, PitchTarget

if TYPE_CHECKING:  # the decoding child starts faster without the score room
    from standlight.score.values import Passage

HOP_S = 0.010
"""Distance of frames. Source: the pitch trials in design, 10 ms; common in the literature."""


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Recording:
    """Decoded sound: ``samples`` is mono float32 in -1..1, counted, not taken from a header.

    ``picture_dropped`` is True when the file was a video; ``damaged`` when it could not be
    decoded to its end, so that only its readable beginning is here.
    """

    samples: np.ndarray = field(repr=False)
    rate_hz: int
    container: str = ""
    codec: str = ""
    channels: int = 1
    picture_dropped: bool = False
    damaged: bool = False

    def __post_init__(self) -> None:
        """Refuse anything but a one-dimensional float signal at a sane rate."""
        if self.samples.ndim != 1 or self.samples.dtype != np.float32:
            raise ValueError("samples must be one channel of float32 (channels not averaged?)")
        if self.rate_hz < 1_000:
            raise ValueError(f"a rate of {self.rate_hz} Hz is no audio rate (kHz given for Hz?)")

    @property
    def seconds(self) -> float:
        """Length in seconds by counting samples."""
        return len(self.samples) / self.rate_hz


@dataclass(frozen=True, slots=True, eq=False)
class PitchTrack:
    """Pitch by frame: ``midi`` (fractional, at A4 = 440 Hz), ``confidence`` 0..1, ``voiced``.

    All have shape ``(frames,)``; ``midi`` means something only where ``voiced`` is True.
    """

    midi: np.ndarray
    confidence: np.ndarray
    voiced: np.ndarray


@dataclass(frozen=True, slots=True)
class HeardNote:
    """What was heard of written note ``index``; absent values are ``None``.

    ``outcome`` is ``played``, ``other_pitch`` or ``missing``; times in seconds from the first
    decoded sample; ``loudness_lkfs`` is K-weighted over its sounding time (ITU-R BS.1770,
    ungated); ``sounding_share`` its sounding time over its written time at the local tempo.
    """

    index: int
    outcome: str
    onset_s: float | None = None
    offset_s: float | None = None
    midi_heard: float | None = None
    deviation_cents: float | None = None
    deviation_se_cents: float | None = None
    asynchrony_ms: float | None = None
    probability: float = 0.0
    loudness_lkfs: float | None = None
    sounding_share: float | None = None


@dataclass(frozen=True, slots=True)
class AddedSound:
    """A sound between the written notes that is not written; ``midi_heard`` None if unpitched."""

    onset_s: float
    offset_s: float
    midi_heard: float | None


@dataclass(frozen=True, slots=True)
class Resumed:
    """The player stopped and went on from written note ``to_index``."""

    onset_s: float
    to_index: int


@dataclass(frozen=True, slots=True)
class HeldNote:
    """The steady middle of one held note ``index``, ``seconds`` long.

    ``wander_cents`` and ``level_spread_db`` are standard deviations (robust) of its pitch and
    level around a smooth line, vibrato taken out of the pitch. ``vibrato_hz`` and
    ``vibrato_cents`` (to either side of the middle) are ``None`` where no vibrato is told.
    """

    index: int
    seconds: float
    wander_cents: float
    level_spread_db: float
    vibrato_hz: float | None = None
    vibrato_cents: float | None = None


@dataclass(frozen=True, slots=True)
class Roll:
    """The strokes of one rolled note ``index``: when each was struck, and its level in decibel."""

    index: int
    onsets_s: tuple[float, ...]
    levels_db: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Performance:
    """One take followed against its passage: everything a criterion may read.

    ``notes`` has one entry a written note, in order. ``shift_semitones`` is how far the whole
    take sounds from the written pitch (an octave, a wrong transposition); deviations are
    against the written pitch so shifted. ``tuning_cents`` is the take's own offset.
    ``fit`` is the share of written notes found at their pitch, each by how surely;
    ``explained_share`` the share of pitched sound (of strokes) that lies on the part,
    ``foreign_pitch_share`` of what is loud, off the part and no slip of a pitch track, and
    ``within_explained_share`` and ``within_foreign_share`` the same of what sounds from the first
    heard note to the last alone;
    ``sounding_share`` the time (or strokes) heard over the time (or strokes) written;
    ``median_confidence`` that of the pitched frames, None for strokes; ``rhythm_gain`` how much
    better strokes fit the written rhythm than its values shuffled (`chance.gain_over_chance`).
    ``onset_tolerance_ms`` is what an entry of this kind of sound may be off before it is
    worth words. ``sung`` is True for voices; ``target`` is what pitch is measured against;
    ``held`` and ``rolls`` are its long notes and its rolled notes looked into. ``left_out``
    are the notes of a repeat that was not played, and ``seams`` those at which the playing goes
    on after a repeat that was left out or taken: a new stretch, but no stop. ``prolonged`` are the
    notes that sounded on beyond their written time: held too long, or played twice.
    """

    passage: Passage
    notes: tuple[HeardNote, ...]
    added: tuple[AddedSound, ...]
    restarts: tuple[Resumed, ...]
    attempts: tuple[HeardNote, ...]
    shift_semitones: int
    tuning_cents: float | None
    tuning_se_cents: float | None
    tempo_qpm: float | None
    tempo_drift_percent: float | None
    tempo_drift_se_percent: float | None
    marked_tempo_qpm: float
    fit: float
    explained_share: float
    seconds: float
    sounding_share: float
    median_confidence: float | None
    foreign_pitch_share: float = 0.0
    within_explained_share: float = 1.0
    within_foreign_share: float = 0.0
    rhythm_gain: float | None = None
    loudness_trusted: bool = True
    onset_tolerance_ms: float = 50.0
    sung: bool = False
    target: PitchTarget = EQUAL_TEMPERAMENT
    held: tuple[HeldNote, ...] = ()
    rolls: tuple[Roll, ...] = ()
    left_out: frozenset[int] = frozenset()
    seams: frozenset[int] = frozenset()
    prolonged: frozenset[int] = frozenset()

    @property
    def begun_anew(self) -> frozenset[int]:
        """Notes before which time does not run on as written: after a jump, or at a seam."""
        return self.seams | {jump.to_index for jump in self.restarts}

    @property
    def unpitched(self) -> bool:
        """True when no written note has a pitch."""
        return all(note.midi is None for note in self.passage.notes)

    @property
    def struck(self) -> bool:
        """True when it was followed by its strokes in time, with a written pitch or without."""
        return self.median_confidence is None
