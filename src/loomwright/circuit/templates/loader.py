"""Reads the template library and fills a template's values in.

A template file is two YAML documents. The first says what it is and lists its parameters; the
second is a circuit file in which `<name>` stands for a parameter's value.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources

import yaml

from loomwright.errors import QuantityError, UnknownNameError
from loomwright.units import parse_quantity

__all__ = ["Parameter", "Template", "template", "template_names", "template_text"]

_LIBRARY = "library"
_PLACE = re.compile(r"<([a-z][a-z0-9 ]*)>")
_DIVIDER = "\n---\n"
_HEAD_KEYS = {"group", "about", "caution", "systems", "parameters"}
_UNITS = ("V", "A", "ohm", "W", "mm2", "m", "min", "s")


@dataclass(frozen=True, slots=True)
class Parameter:
    """A value of a template that can be set; `defaults` by system voltage, with their unit."""

    name: str
    unit: str
    meaning: str
    defaults: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Template:
    """A template: what it is of, for which systems, its parameters, and its text to fill in."""

    name: str
    title: str
    group: str
    about: str
    caution: str
    systems: tuple[str, ...]
    parameters: Mapping[str, Parameter]
    body: str


@functools.cache
def template_names() -> tuple[str, ...]:
    """Return the names of all templates in alphabetical order."""
    folder = resources.files(__package__) / _LIBRARY
    return tuple(sorted(file.name.removesuffix(".yaml") for file in folder.iterdir()
                        if file.name.endswith(".yaml")))


@functools.cache
def template(name: str) -> Template:
    """Return a template by its name.

    Raises
        UnknownNameError: there is no such template
    """
    if name not in template_names():
        raise UnknownNameError("template", name, template_names())
    file = resources.files(__package__) / _LIBRARY / f"{name}.yaml"
    head, _, body = file.read_text(encoding="utf-8").partition(_DIVIDER)
    return _template(name, yaml.safe_load(head), body)


def _template(name: str, head: Mapping[str, object], body: str) -> Template:
    """Return the template of a head and a body, or say what is wrong with our own file."""
    strangers = set(head) - _HEAD_KEYS
    systems, given = head["systems"], head["parameters"]
    if strangers or not isinstance(systems, list) or not isinstance(given, dict):
        raise ValueError(f"template {name}: wrong head {sorted(strangers)}")
    parameters = {key: _parameter(key, row, tuple(systems)) for key, row in given.items()}
    used = set(_PLACE.findall(body))
    if used != {"system", *parameters}:
        raise ValueError(f"template {name}: {sorted(used ^ {'system', *parameters})} is only in "
                         "one of parameters and circuit")
    title = re.search(r"^title: (.*)$", body, re.MULTILINE)
    return Template(name, title[1] if title else name, str(head["group"]), str(head["about"]),
                    str(head.get("caution", "")), tuple(systems), parameters, body)


def _parameter(name: str, row: Mapping[str, str], systems: tuple[str, ...]) -> Parameter:
    defaults = {system: row.get(system, row.get("default", "")) for system in systems}
    unit = defaults[systems[0]].partition(" ")[2]
    if unit not in _UNITS or not row.get("meaning"):
        raise ValueError(f"template parameter {name}: no unit or no meaning")
    return Parameter(name, unit, row["meaning"], defaults)


def template_text(name: str, /, **parameters: str) -> str:
    """Return a plain circuit file made from a template.

    Parameters
        name: of the template, see `template_names`
        parameters: values with their unit by parameter name, a space written as `_`; `system`
            is the system voltage. What is not given has the template's default for that system.
    Returns
        str: the text of a circuit file, which `read_circuit_text` reads
    Raises
        UnknownNameError: no such template, or it has no such parameter or system
        QuantityError: no unit, a wrong unit, or not more than nothing
    Validity
        lengths, areas, ratings and loads of all templates are assumed; the circuit is of no
        make's vehicle
    """
    found = template(name)
    given = {key.replace("_", " "): value for key, value in parameters.items()}
    system = _system(found, given.pop("system", found.systems[0]))
    values = {"system": system}
    for key, parameter in found.parameters.items():
        values[key] = parameter.defaults[system]
    for key, value in given.items():
        if key not in found.parameters:
            raise UnknownNameError("parameter", key, ["system", *found.parameters])
        values[key] = _checked(found.parameters[key], value)
    shown = ", ".join(f"{key} {value}" for key, value in values.items())
    head = (f"# Made from the template '{name}' with: {shown}.\n"
            "# Lengths, areas, ratings and loads are assumed: put in those of the vehicle.\n")
    return head + _PLACE.sub(lambda match: values[match[1]], found.body)


def _system(found: Template, typed: str) -> str:
    """Return the system as the template writes it."""
    try:
        wanted = parse_quantity(typed, "V")
    except QuantityError:
        wanted = 0.0
    for system in found.systems:
        if parse_quantity(system, "V") == wanted:
            return system
    raise UnknownNameError("system", typed, found.systems)


def _checked(parameter: Parameter, typed: str) -> str:
    """Return a value in the parameter's unit, more than nothing."""
    value = parse_quantity(typed, parameter.unit)
    if value <= 0:
        raise QuantityError(f"'{typed}' for '{parameter.name}' is not more than 0 "
                            f"{parameter.unit}.",
                            next_step=f"Give {parameter.meaning}, like "
                            f"'{next(iter(parameter.defaults.values()))}'.")
    return f"{value:.12g} {parameter.unit}"
