"""A real take and its part, for the commands that listen."""

import pytest

from tests.sound.real_takes import RECORDINGS

TRUMPET = str(RECORDINGS / "spliced" / "trumpet_ode_sd15c_sd30ms_1wrong.flac")
PITCHES = (69, 69, 70, 72, 72, 70, 69, 67, 65, 65, 67, 69, 69, 67, 67)
VALUES = (*[1.0] * 12, 1.5, 0.5, 2.0)


@pytest.fixture
def notes(tmp_path):
    rows, onset = ["onset_quarters,duration_quarters,midi"], 0.0
    for midi, value in zip(PITCHES, VALUES, strict=True):
        rows.append(f"{onset},{value},{midi}")
        onset += value
    path = tmp_path / "notes.csv"
    path.write_text("\n".join(rows), encoding="utf-8")
    return str(path)
