"""The tables of passage finding as one programme has edited them.

Only cells that differ from what ships are kept, so a later edition of a shipped table reaches
a programme in every cell that it has not edited.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field

from standlight.errors import StandlightError
from standlight.passages import SHIPPED_TABLES, Cell, Changes, Tables, differing, edited
from standlight.programme.models import EditedTable, Programme

EDITION_DIGITS = 16
"""Hexadecimal digits of an edition: 64 bits tell a school's few editions apart."""


@dataclass(frozen=True, slots=True)
class ProgrammeTables:
    """The tables in force; equal, and one key of a cache, when their ``edition`` is.

    ``changes`` are the edits in force. ``fallen`` says in a sentence each which kept edits
    a later edition of the shipped tables no longer allows; they are not in force.
    """

    edition: str
    tables: Tables = field(compare=False)
    changes: Mapping[str, Mapping[str, Mapping[str, Cell]]] = field(compare=False)
    fallen: tuple[str, ...] = field(compare=False, default=())


def tables_of(programme: Programme) -> tuple[str, Tables]:
    """An edition (equal for equal tables, "" as they ship) and the tables of a programme."""
    found = tables_in_force(programme)
    return found.edition, found.tables


def tables_in_force(programme: Programme) -> ProgrammeTables:
    """The tables of a programme with what it has edited. One query."""
    kept = dict(EditedTable.objects.filter(programme=programme).values_list("name", "rows"))
    return with_changes(kept) if kept else ProgrammeTables("", SHIPPED_TABLES, {})


def with_changes(kept: Changes, shipped: Tables = SHIPPED_TABLES) -> ProgrammeTables:
    """``shipped`` with the edits that were kept; a row that cannot stand there falls by itself.

    >>> found = with_changes({"weights": {"leaps": {"weight": 2}, "gone": {"weight": 2}}})
    >>> found.tables.weights["leaps"], found.fallen
    (2.0, ("the table of weights has no row 'gone' (misspelt?)",))
    """
    tables, fallen = shipped, []
    for name, rows in sorted(kept.items()):
        for key, cells in sorted(rows.items()):
            try:
                tables = edited(tables, {name: {key: cells}})
            except StandlightError as slip:
                fallen.append(str(slip))
    changes = differing(shipped, tables)
    return ProgrammeTables(_edition(changes), tables, changes, tuple(fallen))


def _edition(changes: Changes) -> str:
    """A digest of the edits, "" for none."""
    if not changes:
        return ""
    text = json.dumps(changes, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:EDITION_DIGITS]
