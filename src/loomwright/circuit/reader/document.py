"""Reads a whole circuit file into a frozen `Circuit`, or reports every problem in it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from loomwright.circuit.model import Circuit, Mark, Part, Place
from loomwright.circuit.reader.conditions import (
    check_rules,
    read_setup,
    read_should,
    read_states,
)
from loomwright.circuit.reader.fields import (
    Limits,
    as_map,
    as_text,
    check_keys,
    quantity,
    shape_of,
)
from loomwright.circuit.reader.nodes import Entry, Map, parse_yaml
from loomwright.circuit.reader.parts import read_parts
from loomwright.circuit.reader.problems import Problems
from loomwright.circuit.reader.sense import check_sense
from loomwright.circuit.reader.sequences import read_sequences
from loomwright.circuit.reader.text import check_text, read_text
from loomwright.circuit.reader.wires import read_wires

__all__ = ["read_circuit", "read_circuit_text"]

KEYS = ("loomwright", "title", "system", "temperature", "places", "parts", "wires", "states",
        "should", "setup", "sequences")
_TOP = Mark(1, 1)
_REACH_MIN = 1.0  # assumed where the file says nothing
_REACHES_MIN = Limits(0.0, 600.0)
_SYSTEM_V = Limits(0.1, 1000.0)
_TEMPERATURE_C = 20.0
_TEMPERATURES_C = Limits(-60.0, 150.0)


def read_circuit(path: str | Path) -> Circuit:
    """Read a circuit file.

    Returns
        Circuit: the circuit; what the file leaves out is taken from defaults and marked assumed
    Raises
        UsageError: the path is missing, a folder, not readable, or the file is over 1 MB
        FileProblemsError: everything wrong in the file, each with line, column and fix
    """
    return read_circuit_text(read_text(Path(path)), str(path))


def read_circuit_text(text: str, file: str = "circuit") -> Circuit:
    """Read a circuit from the text of a file; `file` is its name in messages.

    Raises
        UsageError: the text is over 1 MB
        FileProblemsError: everything wrong in the text, each with line, column and fix
    """
    problems = Problems(file)
    top = _top(check_text(text, problems), problems)
    system_v = _system(top, problems)
    temperature = top.get("temperature")
    temperature_c = None if temperature is None else \
        quantity(temperature.value, "degC", "'temperature'", _TEMPERATURES_C, problems)
    places = _places(top.get("places"), problems)
    part_entries = as_map(top["parts"].value, "'parts'", problems) if "parts" in top else {}
    parts = read_parts(part_entries, system_v, places if "places" in top else None, problems)
    wires = read_wires(top["wires"].value if "wires" in top else None, parts, problems)
    states = read_states(top.get("states"), parts, problems)
    check_rules(part_entries, parts, states, problems)
    should = read_should(top.get("should"), states, parts, problems)
    minutes = read_setup(top.get("setup"), states, problems)
    sequences = read_sequences(top.get("sequences"), states, parts, problems)
    check_sense(parts, wires, top["parts"].key.mark if "parts" in top else _TOP, problems)
    problems.stop()
    return Circuit(
        title=as_text(top["title"].value, "'title'", problems) if "title" in top else "",
        system_v=system_v, places={**places, **_unnamed_places(parts.good, places)},
        parts=parts.good, wires=wires, states=states, should=should, file=file,
        temperature_c=_TEMPERATURE_C if temperature_c is None else temperature_c,
        minutes_to_set=minutes, sequences=sequences,
    )


def _top(text: str, problems: Problems) -> Mapping[str, Entry]:
    """Return the top keys of the file once it is known to be a circuit file."""
    node = parse_yaml(text, problems)
    if node is None:
        problems.add(_TOP, "The file is empty.", "Start it with 'loomwright: 1'.")
    elif not isinstance(node, Map):
        problems.add(node.mark, f"A circuit file is a mapping, not {shape_of(node)}.",
                     "Start it with 'loomwright: 1'.")
    problems.stop()
    entries = node.entries if isinstance(node, Map) else {}
    check_keys(entries, KEYS, "a circuit file", problems)
    version = entries.get("loomwright")
    if version is None:
        problems.add(_TOP, "The file does not say that it is a circuit file.",
                     "Add the line 'loomwright: 1'.")
    elif as_text(version.value, "'loomwright'", problems) != "1":
        problems.add(version.value.mark, f"Version {shape_of(version.value)} of the circuit file "
                     "is not known.", "Write 'loomwright: 1'.")
    if "title" in entries:
        as_text(entries["title"].value, "'title'", problems)
    return entries


def _system(top: Mapping[str, Entry], problems: Problems) -> float:
    """Return the system voltage [V]; 12 V stands in while problems are collected."""
    entry = top.get("system")
    before = len(problems)
    value = quantity(entry.value, "V", "'system'", _SYSTEM_V, problems) \
        if entry else None
    if value is None and len(problems) == before:
        problems.add(entry.key.mark if entry else _TOP, "The system voltage is missing.",
                     "Add the line 'system: 24 V'.")
    return value or 12.0


def _places(entry: Entry | None, problems: Problems) -> dict[str, Place]:
    """Return the places, each `{reach: 3 min}` or the minutes alone."""
    entries = as_map(entry.value, "'places'", problems) if entry else {}
    places: dict[str, Place] = {}
    for name, place in entries.items():
        reach = place.value
        if isinstance(reach, Map):
            check_keys(reach.entries, ("reach",), "a place", problems)
            found = reach.entries.get("reach")
            if found is None:
                places[name] = Place(name, _REACH_MIN, assumed=True)
                continue
            reach = found.value
        minutes = quantity(reach, "min", f"The reach of '{name}'", _REACHES_MIN,
                           problems)
        places[name] = Place(name, _REACH_MIN if minutes is None else minutes,
                             assumed=minutes is None)
    return places


def _unnamed_places(parts: Mapping[str, Part], places: Mapping[str, Place]) -> dict[str, Place]:
    """Return a place with the default reach for each one that parts name and the file does not."""
    return {name: Place(name, _REACH_MIN, assumed=True) for part in parts.values()
            for name in (part.place, *part.seen_from) if name not in places}
