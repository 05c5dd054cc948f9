"""Checks that cannot be taken on this vehicle: they stay known, and are not proposed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from loomwright.diagnosis.table import Table

__all__ = ["without_checks"]


def without_checks(table: Table, ids: Iterable[str]) -> Table:
    """Return the table with some checks not on offer; without any, the table itself.

    The predictions are shared, not copied: a reading taken there all the same counts as before.
    Unknown ids are no error, as a check may be asked for that the table does not offer.
    """
    left_out = frozenset(ids) & {one.id for one in table.checks if one.offer}
    if not left_out:
        return table
    return table.derived(("left out", left_out), lambda: _without(table, left_out))


def _without(table: Table, left_out: frozenset[str]) -> Table:
    checks = tuple(replace(one, offer=False) if one.id in left_out else one
                   for one in table.checks)
    known = dict(zip(checks, table.models, strict=True))
    return replace(table, checks=checks, _extra=table._extra | known, _wider={}, _left={})
