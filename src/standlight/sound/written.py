"""The written part as arrays, as the follower needs it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standlight.score.values import Passage


@dataclass(frozen=True, slots=True, eq=False)
class WrittenLine:
    """One player's notes as arrays of shape ``(notes,)``.

    ``midi`` is the sounding pitch (nan is never used: an unpitched line has zeros and
    ``pitched`` False); ``onset_quarters``, ``sounding_quarters`` (the written duration) and
    ``step_quarters`` (to the next onset; for the last note its duration); ``measure_start``
    is True where a note is the first of its measure; ``free`` where a fermata or breath lets
    time stand still; ``tremolo`` where one note may be many strokes.
    """

    midi: np.ndarray
    onset_quarters: np.ndarray
    sounding_quarters: np.ndarray
    step_quarters: np.ndarray
    measure_start: np.ndarray
    free: np.ndarray
    tremolo: np.ndarray
    pitched: bool

    def __len__(self) -> int:
        """Number of written notes."""
        return len(self.midi)


def written_line(passage: Passage) -> WrittenLine:
    """``passage`` as arrays; a line that mixes pitches and strokes counts as unpitched."""
    notes = passage.notes
    pitched = bool(notes) and all(note.midi is not None for note in notes)
    onset = np.array([float(note.onset_quarters) for note in notes])
    sounding = np.array([float(note.duration_quarters) for note in notes])
    step = np.append(np.diff(onset), sounding[-1:]) if len(notes) else onset
    measures = np.array([note.measure for note in notes])
    return WrittenLine(
        midi=np.array([float(note.midi) if pitched else 0.0 for note in notes]),
        onset_quarters=onset,
        sounding_quarters=np.minimum(sounding, np.maximum(step, 1e-3)),
        step_quarters=np.maximum(step, 1e-3),
        measure_start=np.append(True, np.diff(measures) > 0)[: len(notes)],
        free=np.array([bool(note.marks & {"fermata", "breath_after"}) for note in notes]),
        tremolo=np.array(["tremolo" in note.marks for note in notes]),
        pitched=pitched,
    )
