"""Codes of a standards document with paraphrases of our own, to mark what a kind of work serves.

The official text is not shipped; `NOTICE` stands wherever the paraphrases are shown.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from importlib.resources import files

NOTICE = (
    "Codes of the US National Core Arts Standards 2014 (music, ensembles). The standards and their "
    "text belong to the National Coalition for Core Arts Standards. The words beside the codes "
    "are short paraphrases of our own: unofficial, and not endorsed by the coalition. Read the "
    "official text before you rely on a code."
)
"""The rights notice."""


@dataclass(frozen=True, slots=True)
class Standard:
    """One code: its artistic process, component and level, and our own paraphrase."""

    code: str
    process: str
    component: str
    level: str
    paraphrase: str


def _read() -> dict[str, Standard]:
    """The table, code by code; sources in data/SOURCES.md."""
    place = files("standlight.programme") / "data" / "standards.tsv"
    rows = csv.DictReader(place.read_text("utf-8").splitlines(), delimiter="\t")
    return {
        row["code"]: Standard(
            row["code"], row["process"], row["component"], row["level"], row["paraphrase"]
        )
        for row in rows
    }


STANDARDS = _read()
"""Every code, in the order of the table."""
