"""The loader of reference tables and the register of their sources.

A table is a CSV file: a header row, a row of units, then the values. The columns `source` (ids of
the register, joined by ';') and `grade` say how far each row may be trusted: `published` stands in
a document that was read, `practice` is common in the trade, `memory` was not confirmed anywhere.
"""

from __future__ import annotations

import csv
import functools
import io
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from types import MappingProxyType

from loomwright.errors import UnknownNameError

__all__ = ["GRADES", "Source", "Table", "source", "table", "table_names"]

GRADES = ("published", "practice", "memory")
_FOLDER = files("loomwright.data") / "csv"
_REGISTER = "sources"


@dataclass(frozen=True, slots=True)
class Source:
    """One entry of the register.

    `grade` is A (regulator, military manual, standard text, open textbook), B (maker) or
    C (secondary page); empty for `practice` and `memory`.
    """

    id: str
    title: str
    grade: str
    where: str
    note: str


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its columns, the unit of each ('' for none), its rows and the source ids used."""

    name: str
    columns: tuple[str, ...]
    units: Mapping[str, str]
    rows: tuple[Mapping[str, str], ...]
    sources: tuple[str, ...]

    def numbers(self, column: str) -> tuple[float, ...]:
        """Return the numbers of a column, empty cells left out.

        Parameters
            column: a column whose cells are all numbers or empty
        Returns
            tuple of float: in the unit of the column
        Raises
            UnknownNameError: no such column
            ValueError: a cell that is not a number
        """
        if column not in self.columns:
            raise UnknownNameError(f"column in table '{self.name}'", column, self.columns)
        return tuple(float(row[column]) for row in self.rows if row[column])


def table_names() -> tuple[str, ...]:
    """Return the name of every table, sorted; the register of sources is not one of them."""
    names = (item.name.removesuffix(".csv") for item in _FOLDER.iterdir())
    return tuple(sorted(name for name in names if name != _REGISTER))


@functools.cache
def table(name: str) -> Table:
    """Return a reference table, read once.

    Parameters
        name: the file name without its ending, such as 'conductor_iec60228'
    Raises
        UnknownNameError: no such table, with the nearest name
    """
    if name not in table_names():
        raise UnknownNameError("table", name, table_names())
    columns, (units, *rows) = _read(name)
    used = {one for row in rows for one in row["source"].split(";")}
    return Table(
        name=name,
        columns=columns,
        units=MappingProxyType(units),
        rows=tuple(MappingProxyType(row) for row in rows),
        sources=tuple(sorted(used)),
    )


def source(source_id: str) -> Source:
    """Return one entry of the register of sources.

    Raises
        UnknownNameError: no such id
    """
    register = _sources()
    if source_id not in register:
        raise UnknownNameError("source", source_id, register)
    return register[source_id]


@functools.cache
def _sources() -> Mapping[str, Source]:
    _, rows = _read(_REGISTER)
    return MappingProxyType({row["id"]: Source(**row) for row in rows})


def _read(name: str) -> tuple[tuple[str, ...], list[dict[str, str]]]:
    """Return the columns and all rows after the header of one file of the package."""
    text = (_FOLDER / f"{name}.csv").read_text(encoding="utf-8")
    reader = csv.DictReader(io.StringIO(text), strict=True)
    rows = list(reader)
    return tuple(reader.fieldnames or ()), rows
