"""Reads a readings file: what was observed on a circuit, where, with what, in which state."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from loomwright.circuit.model import BODY, Circuit, Mark
from loomwright.circuit.reader.fields import as_text, check_keys, on_or_off, shape_of
from loomwright.circuit.reader.nodes import Entry, Items, Map, Text, parse_yaml
from loomwright.circuit.reader.problems import Problems, shown_list
from loomwright.circuit.reader.text import check_text, read_text
from loomwright.circuit.remarks import TOP_KEYS
from loomwright.errors import UsageError
from loomwright.plant import ACTIONS
from loomwright.units import parse_quantity

__all__ = ["INSTRUMENTS", "QUANTITIES", "Reading", "read_readings", "read_readings_text"]

_KEYS = ("state", "quantity", "at", "to", "value", "instrument", "after")
_TOP = Mark(1, 1)
MOST_READ = {"V": 1_000.0, "A": 10_000.0, "ohm": 1e9}  # beyond any meter of a workshop
_UNITS = {"voltage": "V", "ac voltage": "V", "current": "A", "resistance": "ohm"}
_LEVELS = {
    "lit": ("off", "dim", "on"),
    "running": ("off", "slow", "on"),
    "input": ("off", "on", "no answer"),
    "output": ("off", "on", "no answer"),
    "heard": ("silent", "click", "chatter"),
    "turns": ("free", "stiff", "stuck"),
    "continuity": ("open", "closed"),
}
QUANTITIES = (*_UNITS, *_LEVELS)
INSTRUMENTS = ("meter", "test lamp", "21 W lamp", "clamp", "eye", "ear", "hand",
               "controller")
_USUAL = {"current": "clamp", "lit": "eye", "running": "eye", "heard": "ear", "turns": "hand",
          "input": "controller", "output": "controller"}
_OPEN_LOOP = re.compile(r"o\.?l\.?", re.IGNORECASE)  # what a meter shows out of its range


@dataclass(frozen=True, slots=True)
class Reading:
    """One observation: `value` as a text with its unit, or a word such as on, off, dim, OL.

    `after`: the repairs already done when it was taken.
    """

    state: str
    quantity: str
    at: str
    to: str
    value: str
    instrument: str
    mark: Mark = _TOP
    after: tuple[str, ...] = ()


def read_readings(path: str | Path, circuit: Circuit | None = None) -> tuple[Reading, ...]:
    """Read a readings file (a YAML or JSON list).

    Parameters
        circuit: where given, states, points and parts are checked against it
    Raises
        UsageError: the path is missing, a folder, not readable, or the file is over 1 MB
        FileProblemsError: everything wrong in the file, each with line, column and fix
    """
    return read_readings_text(read_text(Path(path)), circuit, str(path))


def read_readings_text(text: str, circuit: Circuit | None = None, file: str = "readings"
                       ) -> tuple[Reading, ...]:
    """Read readings from the text of a file; see `read_readings`."""
    problems = Problems(file)
    node = parse_yaml(check_text(text, problems), problems)
    remarks = False
    if isinstance(node, Map) and any(key in node.entries for key in TOP_KEYS):
        check_keys(node.entries, TOP_KEYS, "a readings file", problems)
        remarks = any(key in node.entries for key in TOP_KEYS[1:4])
        node = node.entries["readings"].value if "readings" in node.entries else None
    if remarks and (node is None or (isinstance(node, Items) and not node.items)):
        problems.stop()
        return ()  # codes, swaps or history alone
    if node is None or (isinstance(node, Text) and node.blank) or \
            (isinstance(node, Items) and not node.items):
        problems.add(_TOP, "There are no readings in the file.",
                     "Write '- {state: .., quantity: voltage, at: F1.2, value: 24.1 V}'.")
    elif not isinstance(node, Items):
        problems.add(node.mark, f"A readings file is a list, not {shape_of(node)}.",
                     "Start each reading with '- '.")
    problems.stop()
    items = node.items if isinstance(node, Items) else ()
    readings = [_reading(item, circuit, problems) for item in items if not problems.full]
    problems.stop()
    return tuple(reading for reading in readings if reading is not None)


def _reading(node: object, circuit: Circuit | None, problems: Problems) -> Reading | None:
    """Return one reading, or note everything wrong with it."""
    if not isinstance(node, Map):
        mark = node.mark if isinstance(node, Items | Text) else _TOP
        problems.add(mark, "A reading is a mapping.",
                     "Write '- {state: .., quantity: voltage, at: F1.2, value: 24.1 V}'.")
        return None
    entries = node.entries
    check_keys(entries, _KEYS, "a reading", problems)
    for key in ("state", "quantity", "at", "value"):
        if key not in entries:
            problems.add(node.mark, f"This reading has no '{key}'.", "Add it.")
    cells = {key: as_text(entry.value, f"'{key}'", problems) for key, entry in entries.items()
             if key in _KEYS and key != "after"}
    quantity = cells.get("quantity", "")
    if "quantity" in cells and quantity not in QUANTITIES:
        problems.unknown(entries["quantity"].value.mark, f"There is no quantity '{quantity}'.",
                         quantity, QUANTITIES)
        quantity = ""
    instrument = cells.get("instrument") or _USUAL.get(quantity, "meter")
    if instrument not in INSTRUMENTS:
        problems.unknown(entries["instrument"].value.mark, f"There is no instrument "
                         f"'{instrument}'.", instrument, INSTRUMENTS)
    value = _value(entries, cells, quantity, instrument, problems)
    if circuit is not None:
        _check_names(entries, cells, quantity, circuit, problems)
    return Reading(cells.get("state", ""), quantity, cells.get("at", ""), cells.get("to", ""),
                   value, instrument, node.mark, _after(entries, problems))


def _after(entries: Mapping[str, Entry], problems: Problems) -> tuple[str, ...]:
    """Return the repairs done before a reading: one, or a list of them."""
    if "after" not in entries:
        return ()
    node = entries["after"].value
    nodes = node.items if isinstance(node, Items) else (node,)
    names = [as_text(one, "'after'", problems) for one in nodes]
    return tuple(dict.fromkeys(name for name in names if name))


def _value(entries: Mapping[str, Entry], cells: Mapping[str, str], quantity: str, instrument: str,
           problems: Problems) -> str:
    """Return the value as text, levels as their word; note one the quantity cannot have."""
    if "value" not in cells or not quantity:
        return ""
    mark, text = entries["value"].value.mark, cells["value"]
    if not text:
        problems.add(mark, "The value is missing.", "Write what was read, or delete the reading.")
        return ""
    unit = _UNITS.get(quantity)
    if unit is None or (instrument.endswith("lamp") and quantity == "voltage"):
        return _level(mark, text, quantity if unit is None else "lit", problems)
    if unit == "ohm" and _OPEN_LOOP.fullmatch(text):
        return "OL"
    try:
        value = parse_quantity(text, unit)
    except UsageError as error:
        problems.add(mark, f"'value': {error.message}", error.next_step)
        return ""
    if unit == "ohm" and value < 0:
        problems.add(mark, f"A resistance cannot be '{text}'.", "Write it without the sign.")
    elif abs(value) > MOST_READ[unit]:
        problems.add(mark, f"'{text}' is more than any meter here shows.", "Check the unit.")
    return text


def _level(mark: Mark, text: str, quantity: str, problems: Problems) -> str:
    """Return a level of the quantity; yes and no count as on and off."""
    levels = _LEVELS[quantity]
    word = on_or_off(text) or text.lower()
    if quantity == "continuity":
        word = {"on": "closed", "off": "open"}.get(word, word)
    elif quantity == "heard":
        word = {"on": "click", "off": "silent"}.get(word, word)
    elif quantity == "turns":
        word = {"on": "free", "off": "stuck"}.get(word, word)
    if word not in levels:
        problems.add(mark, f"'{text}' is not a value of '{quantity}'.",
                     f"Use {shown_list(levels)}.")
        return ""
    return word


def _check_names(entries: Mapping[str, Entry], cells: Mapping[str, str], quantity: str,
                 circuit: Circuit, problems: Problems) -> None:
    """Note states, points, parts and wires that the circuit does not have."""
    state = cells.get("state", "")
    if "state" in cells and state not in circuit.states:
        problems.unknown(entries["state"].value.mark, f"There is no state '{state}'.", state,
                         circuit.states)
    what, known = _places_to_read(quantity, circuit)
    for key in ("at", "to"):
        name = cells.get(key, "")
        if not known or key not in cells or (key == "to" and not name):
            continue
        if key == "to" and quantity in {"lit", "running"} and _is_action(name, circuit):
            continue
        if name not in known:
            problems.unknown(entries[key].value.mark, f"There is no {what} '{name}'.", name, known)


def _is_action(text: str, circuit: Circuit) -> bool:
    """Return whether a text is something done while looking: `wiggle X1`, `heat K1`, `load`."""
    action, _, at = text.partition(" ")
    return action in ACTIONS and (at in circuit.parts if at else action == "load")


def _places_to_read(quantity: str, circuit: Circuit) -> tuple[str, tuple[str, ...]]:
    """Return what a quantity is read at, in a word, and the names of all of these."""
    if quantity == "ac voltage":
        return "point of a stator", tuple(
            point for part in circuit.parts.values() if part.kind == "stator"
            for point in part.points())
    if quantity in {"voltage", "resistance", "continuity"}:
        # a wire, a two-pin part or a connector way stands for its two sides
        ways = [point[:-1] for part in circuit.parts.values() if part.kind == "connector"
                for point in part.points() if point.endswith("a")]
        earthed = any(part.kind == "earth" for part in circuit.parts.values())
        body = (BODY, BODY.upper()) if earthed else ()
        return "point", (*circuit.points(), *circuit.wires, *circuit.parts, *ways, *body)
    if quantity == "current":
        return "wire, point or part", (*circuit.wires, *circuit.parts, *circuit.points())
    if quantity in {"lit", "running", "heard", "turns"}:
        return "part", tuple(circuit.parts)
    if quantity in {"input", "output"}:
        return quantity, _items(circuit, f"{quantity}s")
    return "", ()


def _items(circuit: Circuit, key: str) -> tuple[str, ...]:
    """Return the inputs or outputs of all controllers as `ECU.lock`."""
    found = []
    for part in circuit.parts.values():
        value = part.params.get(key)
        if isinstance(value, tuple):
            found += [f"{part.id}.{item.id}" for item in value if not isinstance(item, str)]
    return tuple(found)
