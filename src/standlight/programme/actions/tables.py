"""Editing the tables of passage finding: the lead director's, for the whole programme."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from django.db import transaction

from standlight.errors import NotAllowed
from standlight.passages import SHIPPED_TABLES, Rows, differing, edited
from standlight.programme.models import Account, EditedTable
from standlight.programme.tables import tables_in_force


@transaction.atomic
def keep_table(
    account: Account, name: str, rows: Rows, *, put_back: Collection[str] = ()
) -> int:
    """Keep ``rows`` of one table; how many of its cells now differ from what ships.

    Rows that are not among them stay as they are; the rows named in ``put_back`` become what
    ships. Only cells that differ are kept. Raises `NotAllowed` for anybody but the lead
    director, `StandlightError` for what cannot stand.
    """
    _may_change(account)
    present = tables_in_force(account.programme).changes.get(name, {})
    wanted = {key: cells for key, cells in {**present, **rows}.items() if key not in put_back}
    tables = edited(SHIPPED_TABLES, {name: wanted})
    return _keep(account, name, differing(SHIPPED_TABLES, tables).get(name, {}))


@transaction.atomic
def put_table_back(account: Account, name: str) -> None:
    """Let the whole table be as it ships; raises `NotAllowed` for anybody but the lead."""
    _may_change(account)
    _keep(account, name, {})


def _keep(account: Account, name: str, rows: Mapping[str, Mapping[str, object]]) -> int:
    """Write the row of a table, or take it away when nothing differs; how many cells do."""
    if rows:
        EditedTable.objects.update_or_create(
            programme=account.programme, name=name, defaults={"rows": rows}
        )
    else:
        EditedTable.objects.filter(programme=account.programme, name=name).delete()
    return sum(len(cells) for cells in rows.values())


def _may_change(account: Account) -> None:
    """Refuse everybody but the lead director: the tables count for every group."""
    if not (account.is_director and account.is_lead):
        raise NotAllowed(
            "the tables count for every group, so the lead director changes them"
        )
