"""Reading the score file that a person names on the command line."""

from __future__ import annotations

from pathlib import Path

from standlight import workshop


def score_bytes(file: Path) -> bytes:
    """The bytes of a score for `read_score`; a MIDI file is first made one.

    Raises `UnreadableScore` for a MIDI file that cannot be read; other files come as they are.
    """
    data = file.read_bytes()
    return workshop.score_of_midi(data, name=file.name) if workshop.is_midi(data) else data
