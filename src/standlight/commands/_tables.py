"""Reading a typed table from a file, for the commands that take one."""

from __future__ import annotations

from pathlib import Path

from standlight.errors import StandlightError


def table_text(path: Path) -> str:
    """The file's text; raises `StandlightError` for a folder and for what is not UTF-8."""
    if path.is_dir():
        raise StandlightError(f"{path} is a folder, not a table", slip="name the file in it?")
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as problem:
        raise StandlightError(
            "the table is not in UTF-8", where=path.name, slip="a spreadsheet, not a CSV?"
        ) from problem
