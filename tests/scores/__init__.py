"""Scores for tests: the public MusicXML suite and a few real editions (credits in CREDITS.md)."""

from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent
REAL = sorted(file.name for file in (FOLDER / "real").glob("*.mxl"))
SUITE = sorted(file.name for file in (FOLDER / "suite").iterdir() if file.name != "LICENSE")


@cache
def real(name: str) -> bytes:
    return (FOLDER / "real" / name).read_bytes()


@cache
def suite(start: str) -> bytes:
    """The suite file whose name starts so."""
    (name,) = [name for name in SUITE if name.startswith(start)]
    return (FOLDER / "suite" / name).read_bytes()
