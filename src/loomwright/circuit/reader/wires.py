"""Reads the wire list of a circuit file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from loomwright.circuit.model import Wire, WireEnd
from loomwright.circuit.reader.colours import colour_code
from loomwright.circuit.reader.fields import (
    Limits,
    as_text,
    check_keys,
    good_id,
    quantity,
    shape_of,
)
from loomwright.circuit.reader.nodes import Items, Map, Node, Text
from loomwright.circuit.reader.parts import Parts
from loomwright.circuit.reader.problems import Problems, shown_list

__all__ = ["read_wires"]

_COLUMNS = ("id", "from", "to", "area", "length", "colour")
_AREAS_MM2 = Limits(0.01, 400.0)
_LENGTHS_M = Limits(0.0001, 200.0)
_AREA_MM2 = 1.0  # assumed where the file says nothing
_LENGTH_M = 2.0  # assumed where the file says nothing


@dataclass(frozen=True, slots=True)
class _Row:
    """One wire of the file, by column."""

    id: str
    cells: Mapping[str, Node]
    node: Node


def read_wires(node: Node | None, parts: Parts, problems: Problems) -> dict[str, Wire]:
    """Return all wires; each is `[id, from, to, area, length, colour]` or a mapping of these."""
    if node is None or (isinstance(node, Text) and node.blank):
        return {}
    if not isinstance(node, Items):
        problems.add(node.mark, f"'wires' must be a list, not {shape_of(node)}.",
                     "Write one '- [W1, BAT.+, F1.1]' line per wire.")
        return {}
    wires: dict[str, Wire] = {}
    seen: dict[str, int] = {}
    for item in node.items:
        if problems.full:
            break
        row = _row(item, problems)
        if row is None or not _new_id(row, seen, parts, problems):
            continue
        wire = _wire(row, parts, problems)
        if wire is not None:
            wires[row.id] = wire
    return wires


def _row(item: Node, problems: Problems) -> _Row | None:
    """Return one wire's cells by column name, or note why it is not a wire."""
    if isinstance(item, Map):
        cells: dict[str, Node] = {key: entry.value for key, entry in item.entries.items()}
        check_keys(item.entries, _COLUMNS, "a wire", problems)
    elif isinstance(item, Items) and len(item.items) <= len(_COLUMNS):
        cells = dict(zip(_COLUMNS, item.items, strict=False))
    else:
        what = f"{len(item.items)} values" if isinstance(item, Items) else shape_of(item)
        problems.add(item.mark, f"A wire has 3 to {len(_COLUMNS)} values, not {what}.",
                     "Write [id, from, to, area, length, colour].")
        return None
    missing = [name for name in _COLUMNS[:3] if name not in cells]
    if missing:
        problems.add(item.mark, f"This wire has no '{missing[0]}'.",
                     "Write [id, from, to]; an end nobody knows is 'unknown'.")
        return None
    id_node = cells["id"]
    if not isinstance(id_node, Text):
        problems.add(id_node.mark, "The name of a wire must be a text.", "Write it like 'W1'.")
        return None
    return _Row(id_node.value, cells, item) if good_id(id_node, "wire", problems) else None


def _new_id(row: _Row, seen: dict[str, int], parts: Parts, problems: Problems) -> bool:
    """Return whether the wire's id is its own."""
    mark = row.cells["id"].mark
    if row.id in parts.declared:
        problems.add(mark, f"'{row.id}' is already the name of a part.", "Rename the wire.")
        return False
    if row.id in seen:
        problems.add(mark, f"Wire '{row.id}' is given twice; the first is on line "
                     f"{seen[row.id]}.", "Rename one of them.")
        return False
    seen[row.id] = mark.line
    return True


def _wire(row: _Row, parts: Parts, problems: Problems) -> Wire | None:
    """Return one wire with defaults for what is not given, or None where an end is wrong."""
    start_known, start = _end(row, "from", parts, problems)
    end_known, end = _end(row, "to", parts, problems)
    area = _size(row, "area", "mm2", _AREAS_MM2, problems)
    length = _size(row, "length", "m", _LENGTHS_M, problems)
    colour = _colour(row, problems)
    if not start_known or not end_known:
        return None
    if start is None and end is None:
        problems.add(row.node.mark, f"Both ends of {row.id} are unknown.", "Give one end.")
        return None
    if start is None:  # the record keeps the known end first
        start, end = end, None
    if start is None or start == end:
        problems.add(row.cells["to"].mark, f"{row.id} ends where it starts.",
                     "Give its other end, or 'unknown'.")
        return None
    given = {"area": area, "length": length, "colour": colour or None}
    assumed = frozenset({"area": "area_mm2", "length": "length_m", "colour": "colour"}[key]
                        for key, value in given.items() if value is None)
    return Wire(row.id, start, end, area or _AREA_MM2, length or _LENGTH_M, colour, assumed,
                row.node.mark)


def _size(row: _Row, key: str, unit: str, limits: Limits, problems: Problems) -> float | None:
    node = row.cells.get(key)
    if node is None:
        return None
    return quantity(node, unit, f"{row.id} {key}", limits, problems)


def _colour(row: _Row, problems: Problems) -> str:
    node = row.cells.get("colour")
    text = as_text(node, f"{row.id} colour", problems) if node is not None else ""
    return colour_code(text, node.mark, problems) if text and node is not None else ""


def _end(row: _Row, key: str, parts: Parts, problems: Problems) -> tuple[bool, WireEnd | None]:
    """Return whether one end could be read, and the end (None where it is unknown)."""
    node = row.cells[key]
    if not isinstance(node, Text):
        problems.add(node.mark, f"{row.id} '{key}' must be a point, not {shape_of(node)}.",
                     "Write PART.PIN, like 'F1.2'.")
        return False, None
    if node.blank:
        return True, None
    name, dot, pin = (piece.strip() for piece in node.value.partition("."))
    if name not in parts.declared:
        problems.unknown(node.mark, f"{row.id} goes to '{node.value[:60]}', but there is no part "
                         f"'{name[:40]}'.", name, parts.declared)
        return False, None
    part = parts.good.get(name)
    if part is None:  # its own problem is reported with the part
        return False, None
    if not dot and len(part.pins) == 1:
        return True, WireEnd(name, part.pins[0])
    if pin in part.pins and (pin or not dot):
        return True, WireEnd(name, pin)
    _report_pin(node, name, pin, part.pins, problems)
    return False, None


def _report_pin(node: Text, name: str, pin: str, pins: tuple[str, ...],
                problems: Problems) -> None:
    """Note a pin the part does not have, listing those it has."""
    if pins == ("",):
        problems.add(node.mark, f"{name} has one point and no pins.", f"Write '{name}'.")
    elif not pin:
        problems.add(node.mark, f"{name} has several pins: {shown_list(pins)}.",
                     f"Say which one, like '{name}.{pins[0]}'.")
    else:
        problems.add(node.mark, f"{name} has no pin '{pin[:40]}'.", f"Its pins: "
                     f"{shown_list(pins)}.")
