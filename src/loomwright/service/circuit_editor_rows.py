"""The rows of the editor's tables as entries of the file's sections, with what is wrong in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from loomwright.service.circuit_editor_cells import map_text, scalar, values_text, wire_cell
from loomwright.service.circuit_editor_sheet import COLUMNS, Rows, Sheet
from loomwright.service.circuit_editor_steps import steps_text

__all__ = ["CellProblem", "Row", "cell_problems", "section_rows", "used_rows", "value_of"]

NOT_READ = "# not readable yet:"
_UNITS = {"system": "V", "temperature": "degC", "reach": "min", "minutes": "min"}


@dataclass(frozen=True, slots=True)
class Row:
    """An entry of a section: its name, its cells in one form, and its line without indent."""

    name: str
    cells: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True)
class CellProblem:
    """What is wrong in a cell before the file's reader sees it."""

    table: str
    row: int
    cell: int
    what: str
    fix: str = ""


def used_rows(rows: Rows) -> tuple[int, ...]:
    """Return the numbers of the rows in which anything is typed."""
    return tuple(number for number, row in enumerate(rows) if any(map(str.strip, row)))


def value_of(key: str, typed: str) -> str:
    """Return a single value as YAML; a bare number gets the unit of its heading."""
    bare = " ".join(typed.split())
    if key in _UNITS and bare.replace(",", "", 1).replace(".", "", 1).isdigit():
        return f"{bare.replace(',', '.')} {_UNITS[key]}"
    return scalar(bare)


def section_rows(sheet: Sheet) -> dict[str, tuple[Row, ...]]:
    """Return the entries of every section of the file that the tables write."""
    tables = {name: [(number, tuple(" ".join(cell.split()) for cell in rows[number]))
                     for number in used_rows(rows)] for name, rows in sheet.tables.items()}
    bad = {(one.table, one.row, one.cell) for one in cell_problems(sheet)}
    writer = _Writer(bad)
    return {
        "places": tuple(writer.place(*one) for one in tables["places"]),
        "parts": tuple(writer.part(*one) for one in tables["parts"]),
        "wires": tuple(writer.wire(*one) for one in tables["wires"]),
        "states": tuple(writer.state(*one, 1) for one in tables["states"]),
        "should": tuple(writer.state(*one, 2) for one in tables["states"] if one[1][2]),
        "setup": tuple(writer.state(*one, 3) for one in tables["states"] if one[1][3]),
        # a browser that kept a draft from before this table sends none: the file's own stay
        **({"sequences": tuple(writer.sequence(*one) for one in tables["sequences"])}
           if "sequences" in tables else {}),
    }


class _Writer:
    """Writes rows; what cannot be read yet goes into a comment, so that it is not lost."""

    def __init__(self, bad: set[tuple[str, int, int]]) -> None:
        self.bad = bad

    def _row(self, table: str, number: int, cells: Sequence[str], text: str) -> Row:
        whole = (table, number, 0) in self.bad
        name = cells[0]
        if whole:
            text = f"{NOT_READ} {', '.join(cells)}"
        return Row("" if whole else name, (*cells, text), text)

    def _rest(self, table: str, number: int, cell: int, typed: str) -> str:
        """Return the comment that keeps a cell which cannot be read."""
        return f"  {NOT_READ} {typed}" if (table, number, cell) in self.bad else ""

    def place(self, number: int, cells: Sequence[str]) -> Row:
        """Return a place."""
        reach = value_of("reach", cells[1]) or "unknown"
        return self._row("places", number, cells, f"{scalar(cells[0])}: {{reach: {reach}}}")

    def part(self, number: int, cells: Sequence[str]) -> Row:
        """Return a part."""
        name, kind, typed, place, label = cells
        values, _ = values_text(kind, typed)
        inside = [f"{key}: {scalar(value)}" for key, value in
                  (("kind", kind), ("place", place), ("label", label)) if value]
        inside[1:1] = [values] if values else []
        text = f"{scalar(name)}: {{{', '.join(inside)}}}{self._rest('parts', number, 2, typed)}"
        return self._row("parts", number, (name, kind, values or typed, place, label), text)

    def wire(self, number: int, cells: Sequence[str]) -> Row:
        """Return a wire."""
        read = tuple(wire_cell(name, cell)
                     for name, cell in zip(COLUMNS["wires"], cells, strict=True))
        shown = [scalar(one) or "unknown" for one in read]
        while shown[-1] == "unknown" and len(shown) > 3:
            shown.pop()
        return self._row("wires", number, read, f"- [{', '.join(shown)}]")

    def state(self, number: int, cells: Sequence[str], which: int) -> Row:
        """Return a state: its conditions (1), what should be on (2), or its minutes (3)."""
        name, typed = cells[0], cells[which]
        if which == 3:
            value = value_of("minutes", typed)
        else:
            inside, _ = map_text(typed)
            value = f"{{{inside}}}{self._rest('states', number, which, typed)}"
        return self._row("states", number, (name, value if which == 3 else typed),
                         f"{scalar(name)}: {value}")

    def sequence(self, number: int, cells: Sequence[str]) -> Row:
        """Return a sequence of states."""
        name, typed = cells
        steps = steps_text(typed)[0] or "[]"
        text = f"{scalar(name)}: {steps}{self._rest('sequences', number, 1, typed)}"
        return self._row("sequences", number, (name, typed), text)


def cell_problems(sheet: Sheet) -> tuple[CellProblem, ...]:
    """Return what is wrong in cells: no name, a name twice, values that cannot be read."""
    found = []
    for table, rows in sheet.tables.items():
        seen: set[str] = set()
        for number in used_rows(rows):
            name = " ".join(rows[number][0].split())
            noun = table.removesuffix("s")
            if not name:
                found.append(CellProblem(table, number, 0, f"This {noun} has no name.",
                                         "Give it one."))
            elif name in seen and table != "wires":
                found.append(CellProblem(table, number, 0, f"'{name}' is given twice.",
                                         "Rename one of them."))
            seen.add(name)
    for number, row in enumerate(sheet.tables["parts"]):
        what = values_text(row[1].strip(), row[2])[1]
        if what:
            found.append(CellProblem("parts", number, 2, f"{row[0]}: {what}"))
    for number, row in enumerate(sheet.tables["states"]):
        found += [CellProblem("states", number, cell, f"{row[0]}: {what}") for cell in (1, 2)
                  if (what := map_text(row[cell])[1])]
    sequences = sheet.tables.get("sequences", ())
    found += [CellProblem("sequences", number, 1, f"{sequences[number][0]}: {what}")
              for number in used_rows(sequences) if (what := steps_text(sequences[number][1])[1])]
    return tuple(found)
