"""Use cases of templates and exchange: list, fill in, export and import circuits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from loomwright.circuit import parse_fault, read_circuit, read_circuit_text, solve_all
from loomwright.circuit.exchange import (
    read_netlist,
    read_wire_list,
    spice_text,
    wire_list_text,
    with_wires,
)
from loomwright.circuit.reader.text import read_text
from loomwright.circuit.templates import Template, template, template_names, template_text
from loomwright.errors import Problem, UnknownNameError

if TYPE_CHECKING:
    from loomwright.circuit.model import Circuit

__all__ = [
    "FilledTemplate", "Imported", "as_spice", "as_wire_list", "circuit_notes", "fill_template",
    "from_spice", "from_wire_list", "list_templates", "one_template",
]

_SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
_EMPTY_CIRCUIT = "loomwright: 1\n"


@dataclass(frozen=True, slots=True)
class FilledTemplate:
    """A circuit file made from a template, with what the healthy circuit does not do as wanted."""

    text: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Imported:
    """A circuit file made from a file of another form, and what could not be stated."""

    text: str
    problems: tuple[Problem, ...] = ()


def list_templates() -> tuple[Template, ...]:
    """Return all templates by group and name."""
    return tuple(sorted(map(template, template_names()), key=lambda one: (one.group, one.name)))


def one_template(name: str) -> Template:
    """Return one template with its parameters; UnknownNameError where there is none."""
    return template(name)


def fill_template(name: str, values: Mapping[str, str]) -> FilledTemplate:
    """Return a circuit file made from a template.

    Parameters
        values: by parameter name, each with its unit
    Returns
        FilledTemplate: the text, and notes where with these values a fuse blows or a state does
            not do what it should
    Raises
        UnknownNameError: no such template, parameter or system
        QuantityError: a value without its unit, or out of range
    """
    text = template_text(name, **{key.strip().replace(" ", "_"): value
                                  for key, value in values.items()})
    return FilledTemplate(text, circuit_notes(read_circuit_text(text, name)))


def circuit_notes(circuit: Circuit) -> tuple[str, ...]:
    """Return where a healthy circuit's fuse blows or a state does not do what it should."""
    notes = []
    for state, result in solve_all(circuit).items():
        notes += [f"{state}: {note}" for note in result.notes if "blown" in note]
        for item, wanted in circuit.should.get(state, {}).items():
            part, _, inner = item.partition(".")
            level = {**result.inputs.get(part, {}), **result.outputs.get(part, {})}
            is_on = level[inner] if inner else result.parts[part].doing == "on"
            if is_on != (wanted == "on"):
                notes.append(f"{state}: {item} should be {wanted} but is not.")
    return tuple(notes)


def as_spice(file: str, state: str, faults: Sequence[str] = ()) -> str:
    """Return one state of a circuit file as a SPICE netlist; see `exchange.spice_text`."""
    circuit = read_circuit(file)
    return spice_text(circuit.with_faults([parse_fault(circuit, one) for one in faults]), state)


def from_spice(file: str) -> Imported:
    """Return a circuit file made from a SPICE netlist; see `exchange.read_netlist`."""
    found = read_netlist(read_text(Path(file)), file)
    return Imported(found.text, found.problems)


def as_wire_list(file: str, separator: str = "comma") -> str:
    """Return a circuit file's wires as a table; the separator is comma, semicolon or tab."""
    if separator not in _SEPARATORS:
        raise UnknownNameError("separator", separator, _SEPARATORS)
    return wire_list_text(read_circuit(file), _SEPARATORS[separator])


def from_wire_list(file: str, into: str | None = None) -> Imported:
    """Return a circuit file with the wires of a table.

    Parameters
        file: the table
        into: a circuit file whose wires are replaced; None gives a file that only has wires
    Raises
        FileProblemsError: rows that cannot be read, or wires that do not fit the circuit's parts
    """
    rows = read_wire_list(read_text(Path(file)), file)
    if into is None:
        return Imported(with_wires(_EMPTY_CIRCUIT, rows))
    text = with_wires(read_text(Path(into)), rows)
    read_circuit_text(text, into)
    return Imported(text)
