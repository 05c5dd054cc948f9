"""Wire lists as tables: comma separated for other programs, and read from any spreadsheet."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from loomwright.circuit.model import Circuit, Mark
from loomwright.circuit.reader.colours import COLOURS, colour_code
from loomwright.circuit.reader.problems import Problems, shown_list
from loomwright.circuit.reader.text import check_text
from loomwright.errors import QuantityError, UsageError
from loomwright.units import parse_quantity

__all__ = ["WireRow", "gauge_area_mm2", "pasted_cells", "read_wire_list", "wire_list_text",
           "with_wires"]

_HEADER = ("id", "from", "to", "area mm2", "length m", "colour")
# What people and programs call the columns, letters and figures only.
_COLUMN_WORDS = {
    "id": ("id", "wire", "wireid", "wireno", "wirenumber", "wirename", "no", "nr", "number", "name",
           "cable", "conductor"),
    "from": ("from", "start", "source", "frompoint", "end1", "enda", "origin", "frompart",
             "fromcomponent"),
    "from pin": ("frompin", "startpin", "sourcepin", "pin1", "pina", "fromterminal", "fromcavity"),
    "to": ("to", "end", "destination", "target", "topoint", "end2", "endb", "topart",
           "tocomponent"),
    "to pin": ("topin", "endpin", "destinationpin", "targetpin", "pin2", "pinb", "toterminal",
               "tocavity"),
    "area": ("area", "size", "csa", "section", "crosssection", "crosssectionalarea", "wiresize",
             "awg", "gauge"),
    "length": ("length", "len", "wirelength"),
    "colour": ("colour", "color", "col", "wirecolour", "wirecolor"),
}
_COLUMN = {word: name for name, words in _COLUMN_WORDS.items() for word in words}
_UNITS = {"area": ("mm2", "mm2"), "length": ("m", "m")}  # unit read, unit where none is given
_HEADER_UNIT = re.compile(r"[(\[]?\b(mm2|mm²|mm\^2|sqmm|awg|cm|mm|m)\b[)\]]?\s*$", re.IGNORECASE)
_THOUSANDS = re.compile(r"\d+\.\d{3},\d+$")
_TOP_KEY = re.compile(r"^[^\s#-]")
_GAUGE = re.compile(r"(?:awg\s*#?\s*(\d{1,2}|[1-4]/0)|#?(\d{1,2}|[1-4]/0)\s*awg)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class WireRow:
    """One wire of a list; None where the list gives nothing."""

    id: str
    start: str
    end: str  # '' unknown
    area_mm2: float | None = None
    length_m: float | None = None
    colour: str = ""

    def text(self) -> str:
        """Return the wire as a line of a circuit file."""
        cells = [self.id, self.start, self.end or "unknown",
                 "unknown" if self.area_mm2 is None else f"{self.area_mm2:.12g} mm2",
                 "unknown" if self.length_m is None else f"{self.length_m:.12g} m",
                 self.colour or "unknown"]
        while cells[-1] == "unknown" and len(cells) > 3:
            cells.pop()
        return f"  - [{', '.join(cells)}]"


def wire_list_text(circuit: Circuit, separator: str = ",") -> str:
    """Return a circuit's wires as a table with a header line; what is assumed is left empty.

    Parameters
        separator: between columns; with ';' or a tab the decimal sign is a comma, as
            spreadsheets of most of Europe have it
    """
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\n")
    writer.writerow(_HEADER)
    for wire in circuit.wires.values():
        sizes = ["" if key in wire.assumed else f"{value:.12g}"
                 for key, value in (("area_mm2", wire.area_mm2), ("length_m", wire.length_m))]
        if separator != ",":
            sizes = [size.replace(".", ",") for size in sizes]
        writer.writerow([wire.id, wire.start.point, wire.end.point if wire.end else "", *sizes,
                         wire.colour])
    return out.getvalue()


def read_wire_list(text: str, file: str = "wire list") -> tuple[WireRow, ...]:
    """Return the wires of a table: comma, semicolon, bar or tab between columns, as pasted.

    The first line names the columns, in any order and common spelling: id, from, to, area,
    length, colour; pins may have columns of their own (`from pin`). Other columns are left out.
    A size has its unit in the cell or the header, otherwise it is in mm2 and m; decimal commas
    are read.

    Raises
        FileProblemsError: every row that cannot be read, with its line
        UsageError: the text is over 1 MB
    """
    problems = Problems(file)
    clean = check_text(text, problems)
    rows = _rows(clean)
    if not rows:
        problems.add(Mark(1, 1), "The list is empty.", "Start it with a line of column names.")
        problems.stop()
    columns, units = _columns(rows[0][1], rows[0][0], problems)
    problems.stop()
    found: dict[str, WireRow] = {}
    for line, cells in rows[1:]:
        named = {name: cells[at].strip() for name, at in columns.items() if at < len(cells)}
        row = _row(line, named, units, problems)
        if row is not None and row.id in found:
            problems.add(Mark(line, 1), f"Wire '{row.id}' is given twice.", "Rename one of them.")
        elif row is not None:
            found[row.id] = row
    problems.stop()
    return tuple(found.values())


def gauge_area_mm2(text: str) -> float | None:
    """Return the area [mm2] of `AWG 14` or `4/0 AWG`; None where the text is no gauge.

    Definition of ASTM B258 (from memory): gauge n has 0.127 mm times 92^((36 - n)/39) diameter;
    a stranded conductor of the gauge has about that area of copper.
    """
    found = _GAUGE.fullmatch(text.strip())
    if found is None:
        return None
    typed = found[1] or found[2]
    gauge = 1 - int(typed[0]) if "/" in typed else int(typed)
    diameter_mm = 0.127 * 92 ** ((36 - gauge) / 39)
    return float(math.pi / 4 * diameter_mm**2) if gauge <= 40 else None


def pasted_cells(text: str) -> tuple[Mapping[str, str], ...] | None:
    """Return the rows of a pasted table by column name, each cell as pasted; None without header.

    Columns are found as in `read_wire_list`, but the wire's name may be missing. Pins of columns
    of their own are joined to their part, and a unit of the header is put behind bare numbers.
    """
    rows = _rows(text)
    columns, units = _columns(rows[0][1], rows[0][0], Problems("paste")) if rows else ({}, {})
    if not {"from", "to"} <= set(columns):
        return None
    found = []
    for _, cells in rows[1:]:
        named = {name: cells[at].strip() for name, at in columns.items() if at < len(cells)}
        row = {"id": named.get("id", ""), "from": _end(named, "from"), "to": _end(named, "to"),
               "colour": named.get("colour", "")}
        for key, (_, usual) in _UNITS.items():
            size = named.get(key, "")
            bare = re.fullmatch(r"[\d.,/]+", size)
            row[key] = f"{size} {units.get(key) or usual}" if bare else size
        found.append(row)
    return tuple(found)


def _rows(text: str) -> list[tuple[int, list[str]]]:
    """Return the lines that hold anything, cut by the separator that gives most columns."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    separator = max("\t;|,", key=first.count)
    reader = csv.reader(io.StringIO(text), delimiter=separator)
    try:
        return [(reader.line_num, cells) for cells in reader if any(cell.strip() for cell in cells)]
    except csv.Error as error:
        raise UsageError(f"The list cannot be cut into cells: {error}.",
                         next_step="Save it as comma separated text.") from error


def _columns(header: list[str], line: int, problems: Problems
             ) -> tuple[dict[str, int], dict[str, str]]:
    """Return where each known column stands, and the units that headers give."""
    columns: dict[str, int] = {}
    units: dict[str, str] = {}
    for at, title in enumerate(header):
        bare, unit = title.strip(), ""
        found = _HEADER_UNIT.search(bare)
        if found and found.start() > 0:
            bare, unit = bare[: found.start()], found[1].lower().replace("²", "2")
        name = _COLUMN.get(re.sub(r"[^a-z0-9]", "", bare.lower()))
        if name is not None and name not in columns:
            columns[name] = at
            if bare.lower() == "awg":
                unit = "awg"
            units[name] = "mm2" if unit in {"sqmm", "mm^2"} else unit
    for name in ("id", "from", "to"):
        if name not in columns:
            problems.add(Mark(line, 1), f"There is no column '{name}'.",
                         f"Columns here: {shown_list(cell.strip() for cell in header)}.")
    return columns, units


def _row(line: int, cells: Mapping[str, str], units: Mapping[str, str], problems: Problems
         ) -> WireRow | None:
    """Return one wire, or note what is wrong with it."""
    name, before = cells.get("id", ""), len(problems)
    start, end = _end(cells, "from"), _end(cells, "to")
    if not name or not (start or end):
        problems.add(Mark(line, 1), "This row has no wire name." if not name
                     else f"{name} has no ends.", "Give its id and at least one end.")
        return None
    if not start:
        start, end = end, ""
    area = _size(line, "area", cells, units, problems)
    length = _size(line, "length", cells, units, problems)
    colour = _colour(line, cells.get("colour", ""), problems)
    return WireRow(name, start, end, area, length, colour) if len(problems) == before else None


def _end(cells: Mapping[str, str], which: str) -> str:
    """Return an end as PART.PIN; separators such as `F1:2` are read too."""
    part, pin = cells.get(which, ""), cells.get(f"{which} pin", "")
    if part.lower() in {"", "unknown", "?", "-"}:
        return ""
    joined = f"{part}.{pin}" if pin else part
    return re.sub(r"\s*[:.]\s*", ".", joined, count=1)


def _size(line: int, key: str, cells: Mapping[str, str], units: Mapping[str, str],
          problems: Problems) -> float | None:
    """Return an area [mm2] or length [m]; None where nothing is given."""
    typed = cells.get(key, "").replace("²", "2")
    if typed.lower() in {"", "unknown", "?", "-"}:
        return None
    unit, usual = _UNITS[key]
    by_gauge = units.get(key) == "awg" and re.fullmatch(r"\d{1,2}|[1-4]/0", typed)
    gauge = gauge_area_mm2(f"{typed} awg" if by_gauge else typed) if key == "area" else None
    if gauge:
        return float(f"{gauge:.3g}")
    if _THOUSANDS.match(typed):
        typed = typed.replace(".", "")
    try:
        bare = re.fullmatch(r"[-+\d.,eE]+", typed)
        value = parse_quantity(f"{typed} {units.get(key) or usual}" if bare else typed, unit)
    except QuantityError as error:
        problems.add(Mark(line, 1), f"{cells['id']} {key}: {error.message}", error.next_step)
        return None
    if value <= 0:
        problems.add(Mark(line, 1), f"{cells['id']} {key} '{typed}' is not more than 0 {unit}.",
                     f"Give it in {unit}.")
        return None
    return value


def _colour(line: int, typed: str, problems: Problems) -> str:
    """Return a colour's code; colour words in English are read too."""
    if typed.lower() in {"", "unknown", "?", "-"}:
        return ""
    codes = {word: code for code, word in COLOURS.items()}
    words = [codes.get(word.strip().lower(), word.strip())
             for word in re.split(r"[/\-+]|\s+", typed) if word.strip()]
    return colour_code("/".join(words), Mark(line, 1), problems)


def with_wires(circuit_text: str, rows: Iterable[WireRow]) -> str:
    """Return a circuit file's text with its wires replaced by those of a list.

    All else stays as typed, comments too. Without a `wires:` the list goes to the end.
    """
    block = ["wires:", *(row.text() for row in rows)]
    lines = circuit_text.splitlines()
    start = next((at for at, line in enumerate(lines) if re.match(r"wires\s*:", line)), None)
    if start is None:
        return "\n".join([*lines, *block, ""])
    stop = next((at for at in range(start + 1, len(lines)) if _TOP_KEY.match(lines[at])),
                len(lines))
    return "\n".join([*lines[:start], *block, *lines[stop:], ""])
