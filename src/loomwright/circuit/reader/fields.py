"""Reads single values of the file: texts, mappings, names and quantities, noting what is wrong."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from loomwright.circuit.reader.nodes import Entry, Items, Map, Node, Text
from loomwright.circuit.reader.problems import Problems
from loomwright.errors import UsageError
from loomwright.units import parse_quantity

__all__ = ["OFF_WORDS", "ON_WORDS", "Limits", "as_map", "as_text", "check_keys", "good_id",
           "note_glued", "on_or_off", "quantity", "shape_of"]

ON_WORDS = frozenset({"on", "yes", "true"})
OFF_WORDS = frozenset({"off", "no", "false"})
_ID = re.compile(r"[A-Za-z0-9_-]{1,40}")
_LONGEST = 200  # a title or name longer than this is a slip of the keyboard


@dataclass(frozen=True, slots=True)
class Limits:
    """The lowest and highest value a quantity may have; `above` leaves the lowest itself out."""

    low: float
    high: float
    above: bool = False


def shape_of(node: Node) -> str:
    """Return what a node is, in words."""
    if isinstance(node, Map):
        return "a mapping (key: value)"
    return "a list" if isinstance(node, Items) else f"'{node.value[:40]}'"


def as_map(node: Node, what: str, problems: Problems) -> Mapping[str, Entry]:
    """Return the entries of a mapping; left empty it has none, anything else is a problem."""
    if isinstance(node, Map):
        return node.entries
    if not (isinstance(node, Text) and node.blank):
        problems.add(node.mark, f"{what} must be a mapping, not {shape_of(node)}.",
                     "Write 'key: value' lines, indented.")
    return {}


def as_text(node: Node, what: str, problems: Problems) -> str:
    """Return one text, '' where nothing is known; a list or mapping is a problem."""
    if not isinstance(node, Text):
        problems.add(node.mark, f"{what} must be a text, not {shape_of(node)}.",
                     "Write one value.")
        return ""
    if len(node.value) > _LONGEST:
        problems.add(node.mark, f"{what} is longer than {_LONGEST} characters.", "Shorten it.")
        return ""
    return "" if node.blank else " ".join(node.value.split())


def check_keys(entries: Mapping[str, Entry], known: Iterable[str], what: str,
               problems: Problems) -> None:
    """Note every key that is not known, with the nearest known one."""
    names = list(known)
    for name, entry in entries.items():
        if name in names or note_glued(entry, problems):
            continue
        problems.unknown(entry.key.mark, f"'{name}' is not a key of {what}.", name, names)


def note_glued(entry: Entry, problems: Problems) -> bool:
    """Note a key without a value that is two words too few or too many; return whether it was one.

    `{kind:fuse}` has the one key 'kind:fuse', and in `{value: 11,9 V}` the comma ends the value.
    """
    name, value = entry.key.value, entry.value
    if not (isinstance(value, Text) and value.blank):
        return False
    key, colon, rest = name.partition(":")
    if colon and key.strip() and rest.strip():
        problems.add(entry.key.mark, f"A space is missing after the colon of '{name[:60]}'.",
                     f"Write '{key.strip()}: {rest.strip()[:60]}'.")
        return True
    if name[:1].isdigit():
        problems.add(entry.key.mark, f"The comma before '{name[:60]}' ends the value.",
                     "Write a decimal point, or the value in quotes, like '11,9 V'.")
        return True
    return False


def good_id(key: Text, what: str, problems: Problems) -> bool:
    """Return whether an id can be used in points, fault ids and wires; note it where not."""
    if _ID.fullmatch(key.value):
        return True
    name, colon, _ = key.value.partition(":{")
    if colon and _ID.fullmatch(name):
        problems.add(key.mark, f"A space is missing after the colon of '{name}:'.",
                     f"Write '{name}: {{...}}'.")
        return False
    problems.add(key.mark, f"'{key.value[:60]}' cannot be the name of a {what}.",
                 "Use letters, digits, - and _ (at most 40); the longer name goes in 'label'.")
    return False


def quantity(node: Node, unit: str, what: str, limits: Limits, problems: Problems) -> float | None:
    """Return a quantity that must lie within limits.

    Returns
        float | None: the value in `unit`; None where it is not known or wrong
    """
    text = as_text(node, what, problems)
    if not text:
        return None
    try:
        value = parse_quantity(text, unit)
    except UsageError as error:
        problems.add(node.mark, f"{what}: {error.message}", error.next_step)
        return None
    if limits.low <= value <= limits.high and not (limits.above and value == limits.low):
        return value
    span = f"greater than {limits.low:g}" if limits.above else f"at least {limits.low:g}"
    span += f" and at most {limits.high:g} {unit}"
    problems.add(node.mark, f"{what}: '{text}' is out of range.", f"It must be {span}.")
    return None


def on_or_off(text: str) -> str:
    """Return 'on' or 'off' for yes, no, on, off, true and false in any case; otherwise ''."""
    word = text.lower()
    return "on" if word in ON_WORDS else "off" if word in OFF_WORDS else ""
