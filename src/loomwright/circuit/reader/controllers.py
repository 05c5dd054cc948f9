"""Checks what only a controller can get wrong: names and pins that would be used twice."""

from __future__ import annotations

import re

from loomwright.circuit.reader.nodes import Map, Text
from loomwright.circuit.reader.problems import Problems

__all__ = ["check_controller"]

# Item names stand in fault ids and rules, so no dots, colons or brackets.
_ITEM = re.compile(r"[A-Za-z0-9_-]+(?: [A-Za-z0-9_-]+){0,5}")
_PIN = re.compile(r"[A-Za-z0-9+/_-]{1,20}")
_RULE_WORDS = frozenset({"and", "or", "not", "is"})


def check_controller(name: str, node: Map, problems: Problems) -> None:
    """Note names of inputs and outputs that a rule cannot use, and pins that serve two purposes.

    An input may share its pin with an output (a controller that watches what it drives).
    """
    pins: dict[str, str] = {}
    names: dict[str, str] = {}
    for key in ("supply", "earth"):
        entry = node.entries.get(key)
        if entry:
            _check_pin(f"{name} {key}", entry.value, pins, problems)
    for section in ("inputs", "outputs", "references"):
        entry = node.entries.get(section)
        if entry is None or not isinstance(entry.value, Map):
            continue
        own = {pin: owner for pin, owner in pins.items() if not owner.startswith(f"{name} input ")}
        for item, found in entry.value.entries.items():
            what = f"{name} {section[:-1]} {item}"
            if not _ITEM.fullmatch(item) or _RULE_WORDS & set(item.split()):
                problems.add(found.key.mark, f"'{item[:60]}' cannot be the name of one of the "
                             f"{section}.", "Use letters, digits, - and _, without and, or, not.")
            if item in names:
                problems.add(found.key.mark, f"'{item}' is the name of an input and an output.",
                             "Rename one of them, so that rules can tell them apart.")
            names[item] = what
            if isinstance(found.value, Map) and "pin" in found.value.entries:
                _check_pin(what, found.value.entries["pin"].value, own, problems)
        pins = {**pins, **own}


def _check_pin(what: str, node: object, pins: dict[str, str], problems: Problems) -> None:
    """Note a pin name that cannot stand in a point, or a pin that something else uses."""
    if not isinstance(node, Text) or node.blank:
        return
    if not _PIN.fullmatch(node.value):
        problems.add(node.mark, f"'{node.value[:40]}' cannot be the name of a pin.",
                     "Use letters, digits, +, -, / and _.")
    elif node.value in pins:
        problems.add(node.mark, f"{what} uses pin {node.value}, which is already "
                     f"{pins[node.value]}.", "Check the pin numbers.")
    else:
        pins[node.value] = what
